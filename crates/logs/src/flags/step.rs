//! A level shift: from one record to the next the temperature jumps, and the whole day after (its lowest,
//! mean and highest value) lies off the day before by about as much. A cold front takes hours; an opened
//! vent spares the night. Often a moved, changed or recalibrated sensor.
use super::batch::Batch;
use super::climate::{ClimateDoubt, Column, Logger, Reading, Rule};
use super::marks::{Marks, Spot};

const DAY: i64 = 86_400;
const HOUR: i64 = 3600;
/// Share of the jump by which the day must have shifted, and hours of a day that must have records.
const OF_JUMP: f64 = 0.6;
const ENOUGH: u32 = 20;
/// Jumps that wait for their day at once: a sensor that jumps more often has not shifted.
const MOST: usize = 8;

/// Lowest, highest and mean of values.
#[derive(Debug, Clone, Copy)]
struct Level {
    low: f64,
    high: f64,
    sum: f64,
    n: u32,
}

const EMPTY: Level = Level { low: f64::INFINITY, high: f64::NEG_INFINITY, sum: 0.0, n: 0 };

impl Level {
    fn add(&mut self, x: f64) {
        self.join(&Level { low: x, high: x, sum: x, n: 1 });
    }

    fn join(&mut self, other: &Level) {
        self.low = self.low.min(other.low);
        self.high = self.high.max(other.high);
        self.sum += other.sum;
        self.n += other.n;
    }

    fn mean(&self) -> f64 {
        self.sum / f64::from(self.n)
    }
}

struct Candidate {
    at: Spot,
    jump: f64,
    before: Level,
    after: Level,
    /// Hours with records since, and the last of them.
    hours: u32,
    hour: i64,
}

pub(super) struct Step {
    jump: f64,
    shift: f64,
    longest_step: i64,
    usual: (f64, f64),
    /// The last 24 clock hours: which hour it is, and its level.
    day: [(i64, Level); 24],
    /// The hour of the last record, and its end.
    hour: i64,
    hour_end: i64,
    last: f64,
    waiting: Vec<Candidate>,
    found: Vec<(Spot, f64)>,
}

impl Step {
    pub fn new(logger: &Logger<'_>) -> Self {
        let limit = |name| logger.setting.value("temperature-step", name);
        let usual = |name| logger.setting.value("temperature-unusual", name);
        Step {
            jump: limit("jump"),
            shift: limit("shift"),
            longest_step: (limit("interval") * 60.0) as i64,
            usual: (usual("below"), usual("above")),
            day: [(i64::MIN, EMPTY); 24],
            hour: i64::MIN,
            hour_end: i64::MIN,
            last: f64::NAN,
            waiting: Vec::new(),
            found: Vec::new(),
        }
    }

    fn slot(&mut self) -> Option<&mut (i64, Level)> {
        self.day.get_mut(self.hour.rem_euclid(24) as usize)
    }

    fn turn_hour(&mut self, instant: i64) {
        self.hour = instant.div_euclid(HOUR);
        self.hour_end = (self.hour + 1) * HOUR;
        let hour = self.hour;
        if let Some(slot) = self.slot().filter(|s| s.0 != hour) {
            *slot = (hour, EMPTY);
        }
    }

    /// The level of the 24 hours up to now, if enough of them have records.
    fn day_before(&self) -> Option<Level> {
        let recent = self.day.iter().filter(|(hour, level)| *hour > self.hour - 24 && *hour <= self.hour && level.n > 0);
        let (mut level, mut hours) = (EMPTY, 0);
        for (_, l) in recent {
            level.join(l);
            hours += 1;
        }
        (hours >= ENOUGH).then_some(level)
    }

    fn consider(&mut self, x: f64, row: &Reading) {
        let usual = |v: f64| v >= self.usual.0 && v <= self.usual.1;
        if row.joined
            && row.step <= self.longest_step
            && usual(x)
            && usual(self.last)
            && self.waiting.len() < MOST
            && let Some(before) = self.day_before()
        {
            let jump = x - self.last;
            self.waiting.push(Candidate { at: row.spot, jump, before, after: EMPTY, hours: 0, hour: i64::MIN });
        }
    }

    fn wait(&mut self, x: f64, instant: i64) {
        // They wait in the order of time.
        while self.waiting.first().is_some_and(|c| instant >= c.at.instant + DAY) {
            let over = self.waiting.remove(0);
            self.judge(&over);
        }
        for c in &mut self.waiting {
            c.after.add(x);
            if c.hour != self.hour {
                c.hour = self.hour;
                c.hours += 1;
            }
        }
    }

    fn judge(&mut self, c: &Candidate) {
        let least = self.shift.max(OF_JUMP * c.jump.abs());
        let shifts = [c.after.low - c.before.low, c.after.mean() - c.before.mean(), c.after.high - c.before.high];
        if c.hours >= ENOUGH && shifts.iter().all(|s| s * c.jump.signum() >= least) {
            self.found.push((c.at, c.after.mean() - c.before.mean()));
        }
    }
}

impl Rule for Step {
    #[inline]
    fn see(&mut self, row: &Reading) {
        let x = row.temperature;
        if x.is_nan() {
            return;
        }
        if row.spot.instant >= self.hour_end {
            self.turn_hour(row.spot.instant);
        }
        if (x - self.last).abs() > self.jump {
            self.consider(x, row);
        }
        if !self.waiting.is_empty() {
            self.wait(x, row.spot.instant);
        }
        if let Some(slot) = self.slot() {
            slot.1.add(x);
        }
        self.last = x;
    }

    fn see_all(&mut self, batch: &Batch<'_>) {
        let (values, extent) = (batch.values(Column::Temperature), batch.extent(Column::Temperature));
        if extent.is_empty() {
            return;
        }
        let jumps = extent.jump > self.jump || values.first().is_some_and(|x| (x - self.last).abs() > self.jump);
        if extent.gaps || jumps || !self.waiting.is_empty() {
            return batch.readings(0..batch.len()).for_each(|row| self.see(&row));
        }
        let mut from = 0;
        while let Some(instant) = batch.instants().get(from) {
            if *instant >= self.hour_end {
                self.turn_hour(*instant);
            }
            let until = batch.until(from, self.hour_end);
            if let Some(slot) = self.slot() {
                values.get(from..until).unwrap_or_default().iter().for_each(|x| slot.1.add(*x));
            }
            from = until;
        }
        self.last = values.last().copied().unwrap_or(self.last);
    }

    fn finish(&mut self, logger: &Logger<'_>) -> Vec<ClimateDoubt> {
        // What waits for its day's end at the last record has that day, if it has enough hours.
        for c in std::mem::take(&mut self.waiting) {
            self.judge(&c);
        }
        let largest = self.found.iter().max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()).then(b.0.record.cmp(&a.0.record)));
        let Some((at, shift)) = largest.copied() else { return Vec::new() };
        let (jump, least) = (logger.setting.limit("temperature-step", "jump"), logger.setting.limit("temperature-step", "shift"));
        let text = format!(
            "temperature jumps by more than {} °C between two records and stays there for the day after, by {:+.1} °C at {} standard time ({}; {} °C for the day: {}): was the sensor moved, changed or recalibrated?",
            jump.value,
            shift,
            logger.stamp(at.instant),
            jump.source,
            least.value,
            least.source
        );
        let mut marks = Marks::default();
        self.found.iter().for_each(|(spot, _)| marks.add(spot));
        vec![ClimateDoubt::new("temperature-step", text, marks, Some(Column::Temperature))]
    }
}

#[cfg(test)]
mod tests {
    use super::super::sample::{Log, doubt};

    /// Four days of a house that swings between 16 and 26 °C, in five-minute records.
    fn days() -> Vec<f64> {
        (0..4 * 288).map(|i| 21.0 - 5.0 * (f64::from(i) * std::f64::consts::TAU / 288.0).cos()).collect()
    }

    fn steps(values: &[f64]) -> Vec<usize> {
        doubt(&Log::of(300, values).doubts(), "temperature-step").map(|d| d.marks.records().collect()).unwrap_or_default()
    }

    #[test]
    fn a_sensor_that_reads_four_degrees_more_from_one_record_on_has_shifted() {
        let mut values = days();
        values[600..].iter_mut().for_each(|x| *x += 4.0);
        assert_eq!(steps(&values), [600]);
    }

    #[test]
    fn a_cold_front_of_eight_degrees_over_three_hours_is_no_step() {
        let mut values = days();
        for (i, x) in values.iter_mut().enumerate().skip(600) {
            *x -= 8.0 * ((i - 600) as f64 / 36.0).min(1.0);
        }
        assert!(steps(&values).is_empty());
    }

    #[test]
    fn a_vent_that_drops_the_noon_by_four_degrees_is_no_step() {
        let mut values = days();
        values[2 * 288 + 130..2 * 288 + 190].iter_mut().for_each(|x| *x -= 4.0);
        assert!(steps(&values).is_empty());
    }

    #[test]
    fn a_heater_that_fails_for_a_night_is_no_step() {
        let mut values = days();
        values[2 * 288..2 * 288 + 80].iter_mut().for_each(|x| *x -= 5.0);
        assert!(steps(&values).is_empty());
    }
}
