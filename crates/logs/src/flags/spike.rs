//! A spike: a jump from one record to the next that is undone within two records. Light is not judged:
//! clouds do that.
use super::batch::Batch;
use super::climate::{ClimateDoubt, Column, Logger, Reading, Rule};
use super::marks::Marks;

pub(super) struct Spike {
    code: &'static str,
    words: &'static str,
    of: Column,
    jump: f64,
    records: u32,
    /// Longest step between records that is judged, s.
    longest_step: i64,
    /// The last value before the jump.
    base: f64,
    /// Records since the jump, and whether it went up.
    out: Marks,
    n: u32,
    up: bool,
    found: Marks,
}

impl Spike {
    fn new(code: &'static str, words: &'static str, of: Column, logger: &Logger<'_>) -> Self {
        let limit = |name| logger.setting.value(code, name);
        Spike {
            code,
            words,
            of,
            jump: limit("jump"),
            records: limit("records") as u32,
            longest_step: (limit("interval") * 60.0) as i64,
            base: f64::NAN,
            out: Marks::default(),
            n: 0,
            up: false,
            found: Marks::default(),
        }
    }

    pub fn temperature(logger: &Logger<'_>) -> Self {
        Self::new("temperature-spike", "temperature", Column::Temperature, logger)
    }

    pub fn humidity(logger: &Logger<'_>) -> Self {
        Self::new("humidity-spike", "humidity", Column::Humidity, logger)
    }

    fn settle_on(&mut self, x: f64) {
        self.base = x;
        if self.n > 0 {
            self.out.clear();
            self.n = 0;
        }
    }

    fn away(&mut self, x: f64, row: &Reading) {
        let off = x - self.base;
        if self.n > 0 && off.abs() < self.jump / 2.0 {
            self.found.join(&self.out);
            self.settle_on(x);
        } else if self.n >= self.records || (self.n > 0 && (off > 0.0) != self.up) {
            self.settle_on(x);
        } else {
            self.up = off > 0.0;
            self.n += 1;
            self.out.add(&row.spot);
        }
    }
}

impl Rule for Spike {
    #[inline]
    fn see(&mut self, row: &Reading) {
        let x = row.value(self.of);
        if x.is_nan() || self.base.is_nan() || !row.joined || row.step > self.longest_step {
            self.settle_on(x);
        } else if self.n > 0 || (x - self.base).abs() > self.jump {
            self.away(x, row);
        } else {
            self.base = x;
        }
    }

    fn see_all(&mut self, batch: &Batch<'_>) {
        let (values, extent) = (batch.values(self.of), batch.extent(self.of));
        let (Some(first), Some(last)) = (values.first(), values.last()) else { return };
        let near = (first - self.base).abs() <= self.jump && extent.jump <= self.jump && !extent.gaps;
        if extent.is_empty() {
            self.settle_on(f64::NAN);
        } else if near && self.n == 0 && batch.all_joined() && batch.steps.1 <= self.longest_step {
            self.base = *last;
        } else {
            batch.readings(0..batch.len()).for_each(|row| self.see(&row));
        }
    }

    fn finish(&mut self, logger: &Logger<'_>) -> Vec<ClimateDoubt> {
        let jump = logger.setting.limit(self.code, "jump");
        let text = format!(
            "{{n}} of a {} that jumps by more than {} {} and is back within {} records ({})",
            self.words, jump.value, jump.unit, self.records, jump.source
        );
        vec![ClimateDoubt::new(self.code, text, std::mem::take(&mut self.found), Some(self.of))]
    }
}

#[cfg(test)]
mod tests {
    use super::super::sample::{Log, doubt};

    fn spikes(step: u32, values: &[f64]) -> Vec<usize> {
        doubt(&Log::of(step, values).doubts(), "temperature-spike").map(|d| d.marks.records().collect()).unwrap_or_default()
    }

    #[test]
    fn a_record_ten_degrees_off_between_two_alike_is_a_spike_and_so_are_two() {
        assert_eq!(spikes(300, &[20.0, 20.1, 30.0, 20.2, 20.1]), [2]);
        assert_eq!(spikes(300, &[20.0, 20.1, 9.0, 9.5, 20.2, 20.1]), [2, 3]);
    }

    #[test]
    fn a_vent_that_opens_a_change_that_stays_and_a_slow_logger_make_no_spike() {
        assert!(spikes(300, &[28.0, 24.0, 23.0, 24.0, 26.0, 28.0]).is_empty(), "4 °C and slowly back");
        assert!(spikes(300, &[20.0, 28.0, 28.0, 28.0, 28.0, 20.0, 20.0, 20.0]).is_empty(), "stays away for four records");
        assert!(spikes(3600, &[20.0, 30.0, 20.0]).is_empty(), "a sunny hour");
    }

    #[test]
    fn a_cloud_edge_is_no_spike_of_light() {
        let mut log = Log::of(300, &[20.0; 5]);
        log.light = vec![900.0, 120.0, 1100.0, 80.0, 1000.0];
        assert!(log.doubts().is_empty(), "{:?}", log.doubts());
    }

    #[test]
    fn a_humidity_of_30_between_two_of_75_is_a_spike() {
        let mut log = Log::of(300, &[20.0; 5]);
        log.humidity = vec![75.0, 76.0, 30.0, 75.0, 74.0];
        assert_eq!(doubt(&log.doubts(), "humidity-spike").unwrap().marks.runs, std::slice::from_ref(&(2..3)));
        log.humidity = vec![75.0, 66.0, 58.0, 66.0, 75.0];
        assert!(log.doubts().is_empty(), "an opened door");
    }
}
