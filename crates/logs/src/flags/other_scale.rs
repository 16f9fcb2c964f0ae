//! A temperature column that behaves like the other scale, as a whole or from some record on: hours of
//! values no house has, which are everyday ones in the other unit and join what stands beside them.
use super::batch::Batch;
use super::climate::{ClimateDoubt, Column, Logger, Reading, Rule};
use super::marks::{Marks, Spell};
use super::spell;

/// Records so far apart say nothing of each other, s.
const FAR: i64 = 86_400;

pub(super) struct OtherScale {
    code: &'static str,
    /// The limit in `rules.toml`, and whether values above it are meant.
    limit: &'static str,
    above: bool,
    at: f64,
    least: f64,
    /// The last value before the spell with its instant, and whether the spell joins it in the other scale.
    last: Option<(i64, f64)>,
    joins: [Option<bool>; 2],
    now: Spell,
    now_last: f64,
    found: Marks,
    longest: i64,
}

impl OtherScale {
    fn new(code: &'static str, limit: &'static str, above: bool, logger: &Logger<'_>) -> Self {
        OtherScale {
            code,
            limit,
            above,
            at: logger.setting.value(code, limit),
            least: logger.setting.value(code, "hours") * 3600.0,
            last: None,
            joins: [None; 2],
            now: Spell::default(),
            now_last: f64::NAN,
            found: Marks::default(),
            longest: 0,
        }
    }

    /// °F in a column of °C.
    pub fn fahrenheit(logger: &Logger<'_>) -> Self {
        Self::new("temperature-like-fahrenheit", "above", true, logger)
    }

    /// °C in a column of °F.
    pub fn celsius(logger: &Logger<'_>) -> Self {
        Self::new("temperature-like-celsius", "below", false, logger)
    }

    /// The value, °C, if the cell was in the other scale.
    fn other(&self, x: f64) -> f64 {
        if self.above { (x - 32.0) / 1.8 } else { 1.8 * x + 32.0 }
    }

    /// Whether a value of the spell, in the other scale, lies nearer to one beside it.
    fn nearer(&self, inside: f64, beside: f64) -> bool {
        (beside - self.other(inside)).abs() < (beside - inside).abs()
    }

    fn open(&mut self, x: f64, instant: i64) {
        let beside = self.last.filter(|(t, _)| instant - t <= FAR);
        self.joins = [beside.map(|(_, y)| self.nearer(x, y)), None];
    }

    fn close(&mut self, beside: Option<f64>) {
        self.joins[1] = beside.map(|y| self.nearer(self.now_last, y));
        let joins = !self.joins.contains(&Some(false));
        if joins && self.now.length() as f64 > self.least {
            self.found.join(&self.now.marks);
            self.longest = self.longest.max(self.now.length());
        }
        self.now.clear();
    }
}

impl Rule for OtherScale {
    #[inline]
    fn see(&mut self, row: &Reading) {
        let x = row.temperature;
        let fits = if self.above { x > self.at } else { x < self.at };
        if !fits && !self.now.is_open() {
            if !x.is_nan() {
                self.last = Some((row.spot.instant, x));
            }
            return;
        }
        if x.is_nan() {
            return;
        }
        let far = self.now.is_open() && row.spot.instant - self.now.to > FAR;
        if far || !fits {
            self.close((!far).then_some(x));
            self.last = Some((row.spot.instant, x)).filter(|_| !fits);
        }
        if fits {
            if !self.now.is_open() {
                self.open(x, row.spot.instant);
            }
            self.now.add(&row.spot);
            self.now_last = x;
        }
    }

    fn see_all(&mut self, batch: &Batch<'_>) {
        let extent = batch.extent(Column::Temperature);
        let fits = if self.above { extent.high > self.at } else { extent.low < self.at };
        if fits || self.now.is_open() {
            batch.readings(0..batch.len()).for_each(|row| self.see(&row));
        } else if let Some(last) = batch.values(Column::Temperature).iter().rposition(|x| !x.is_nan()) {
            batch.readings(last..last + 1).for_each(|row| self.see(&row));
        }
    }

    fn finish(&mut self, logger: &Logger<'_>) -> Vec<ClimateDoubt> {
        if self.now.is_open() {
            self.close(None);
        }
        let limit = logger.setting.limit(self.code, self.limit);
        let (other, side) = if self.above { ("°F", "above") } else { ("°C in a column of °F", "below") };
        let text = format!(
            "{{n}} of a temperature that behaves like {other}: {side} {} °C for up to {} without a break, and usual in the other unit ({})",
            limit.value,
            spell(self.longest),
            limit.source
        );
        vec![ClimateDoubt::new(self.code, text, std::mem::take(&mut self.found), Some(Column::Temperature))]
    }
}

#[cfg(test)]
mod tests {
    use super::super::sample::{Log, doubt};

    fn house(hours: usize) -> Vec<f64> {
        (0..hours * 6).map(|i| 17.5 - 3.0 * (i as f64 * std::f64::consts::TAU / 144.0).cos()).collect()
    }

    fn found(values: &[f64], code: &str) -> Vec<std::ops::Range<usize>> {
        doubt(&Log::of(600, values).doubts(), code).map(|d| d.marks.runs.clone()).unwrap_or_default()
    }

    #[test]
    fn a_column_that_turns_to_fahrenheit_for_a_day_is_doubted_from_the_first_to_the_last_such_record() {
        let mut values = house(96);
        values[200..350].iter_mut().for_each(|x| *x = 1.8 * *x + 32.0);
        assert_eq!(found(&values, "temperature-like-fahrenheit"), std::slice::from_ref(&(200..350)));
    }

    #[test]
    fn a_column_in_fahrenheit_from_end_to_end_is_doubted() {
        let values: Vec<f64> = house(48).iter().map(|x| 1.8 * x + 32.0).collect();
        assert_eq!(found(&values, "temperature-like-fahrenheit"), std::slice::from_ref(&(0..288)));
    }

    #[test]
    fn a_tunnel_that_is_shut_through_a_hot_afternoon_is_not_fahrenheit() {
        let mut values = house(96);
        for (i, x) in values[200..236].iter_mut().enumerate() {
            *x += 1.8 * (i.min(35 - i) as f64);
        }
        assert!(found(&values, "temperature-like-fahrenheit").is_empty());
    }

    #[test]
    fn celsius_in_a_column_of_fahrenheit_is_doubted_and_a_frost_of_two_days_is_not() {
        let mut values = house(120);
        values[200..400].iter_mut().for_each(|x| *x = (*x - 32.0) / 1.8);
        assert_eq!(found(&values, "temperature-like-celsius"), std::slice::from_ref(&(200..400)));
        let mut frost = house(120);
        for (i, x) in frost.iter_mut().enumerate() {
            *x -= 24.0 * ((i as f64 - 150.0) / 60.0).clamp(0.0, 1.0) - 24.0 * ((i as f64 - 500.0) / 60.0).clamp(0.0, 1.0);
        }
        assert!(found(&frost, "temperature-like-celsius").is_empty());
    }
}
