//! A sensor that stands still: the same value for hours; air for two hours while the light moves.
use super::batch::Batch;
use super::climate::{ClimateDoubt, Column, Logger, Reading, Rule};
use super::marks::{Marks, Spell, Spot};
use super::{many, spell};

pub(super) struct Stuck {
    code: &'static str,
    words: &'static str,
    unit: &'static str,
    of: Column,
    limits: Limits,
    value: f64,
    /// The first record of the value: most values stand for no longer.
    first: Option<Spot>,
    same: Spell,
    light: (f64, f64),
    found: Marks,
    spells: usize,
    /// Length, start and value.
    longest: (i64, i64, f64),
}

struct Limits {
    records: usize,
    hours: f64,
    /// Air that warms and dries in the light cannot stand still while it changes: hours, and change.
    in_light: Option<(f64, f64)>,
    /// From this value on, other hours hold.
    wet: Option<(f64, f64)>,
    /// Values up to here may stand for ever, and from here on.
    free: (f64, f64),
}

impl Limits {
    /// How long the value must stand to be doubted, s; `None`: it may stand for ever.
    fn least(&self, value: f64, light_moved: f64) -> Option<f64> {
        if value <= self.free.0 || value >= self.free.1 {
            return None;
        }
        let hours = match (self.wet, self.in_light) {
            (Some((from, hours)), _) if value >= from => hours,
            (_, Some((hours, moves))) if light_moved >= moves => hours,
            _ => self.hours,
        };
        Some(hours * 3600.0)
    }
}

const WORDS: [(&str, &str, &str, Column); 4] = [
    ("temperature-stuck", "temperature", "°C", Column::Temperature),
    ("humidity-stuck", "humidity", "%", Column::Humidity),
    ("light-stuck", "light", "µmol m⁻² s⁻¹", Column::Light),
    ("co2-stuck", "carbon dioxide", "ppm", Column::Co2),
];

impl Stuck {
    pub fn all(logger: &Logger<'_>) -> [Self; 4] {
        WORDS.map(|(code, words, unit, of)| Stuck {
            code,
            words,
            unit,
            of,
            limits: Self::limits(code, of, logger),
            value: f64::NAN,
            first: None,
            same: Spell::default(),
            light: (f64::INFINITY, f64::NEG_INFINITY),
            found: Marks::default(),
            spells: 0,
            longest: (0, 0, 0.0),
        })
    }

    fn limits(code: &str, of: Column, logger: &Logger<'_>) -> Limits {
        let limit = |name| logger.setting.value(code, name);
        let some = |a: f64, b: f64| (!a.is_nan()).then_some((a, b));
        let low = limit("above");
        // Humidity at saturation is a doubt of its own: pegged.
        let high = if of == Column::Humidity { logger.setting.value("humidity-pegged", "at") } else { f64::INFINITY };
        Limits {
            records: limit("records") as usize,
            hours: limit("hours"),
            in_light: some(limit("hours-in-light"), limit("light-moves")),
            wet: some(limit("wet"), limit("hours-wet")),
            free: (if low.is_nan() { f64::NEG_INFINITY } else { low }, high),
        }
    }

    fn go_on(&mut self, row: &Reading) {
        if let Some(first) = self.first.take() {
            self.same.add(&first);
        }
        self.same.add(&row.spot);
    }

    #[inline]
    fn light_seen(&mut self, light: f64) {
        if light < self.light.0 {
            self.light.0 = light;
        }
        if light > self.light.1 {
            self.light.1 = light;
        }
    }

    /// The fewest records that can stand for long enough to be doubted, where successive ones lie at most
    /// `step` s apart.
    fn fewest(&self, step: i64) -> usize {
        let or_never = |hours: Option<f64>| hours.filter(|h| !h.is_nan()).unwrap_or(f64::INFINITY);
        let limits = &self.limits;
        let hours = or_never(Some(limits.hours)).min(or_never(limits.wet.map(|w| w.1))).min(or_never(limits.in_light.map(|l| l.0)));
        let steps = (hours * 3600.0 / step.max(1) as f64).floor().max(0.0);
        limits.records.max(steps as usize)
    }

    fn is_free(&self, value: f64) -> bool {
        value <= self.limits.free.0 || value >= self.limits.free.1
    }

    /// Whether a value may stand for `fewest` records somewhere in a range: then it fills one of the stretches
    /// of half as many.
    fn may_stand(&self, values: &[f64], fewest: usize) -> bool {
        let stands = |stretch: &[f64]| match stretch {
            [x, rest @ ..] => !self.is_free(*x) && rest.iter().all(|y| y == x),
            [] => false,
        };
        fewest < 2 || values.chunks_exact(fewest / 2).any(stands)
    }

    /// Forgets the value that stood.
    fn forget(&mut self) {
        self.same.clear();
        self.value = f64::NAN;
        self.first = None;
    }

    /// Sees records up to the first that differs from the one before; where the next one stands.
    fn see_out(&mut self, batch: &Batch<'_>) -> usize {
        let values = batch.values(self.of);
        let stays = |i: usize, x: f64| x == self.value && batch.joined(i);
        let stayed = values.iter().enumerate().position(|(i, x)| !stays(i, *x)).unwrap_or(values.len());
        let from = if self.is_free(self.value) { stayed } else { 0 };
        let end = (stayed + 1).min(values.len());
        batch.readings(from..end).for_each(|row| self.see(&row));
        end
    }

    /// Sees the first of records that have one value, and the others where it matters how long it stands.
    fn see_standing(&mut self, batch: &Batch<'_>, from: usize) {
        let free = batch.values(self.of).get(from).is_some_and(|x| self.is_free(*x));
        let until = if free { from + 1 } else { batch.len() };
        batch.readings(from..until).for_each(|row| self.see(&row));
    }

    fn judge(&mut self) {
        let moved = self.light.1 - self.light.0;
        let long = self.limits.least(self.value, moved).is_some_and(|least| self.same.length() as f64 >= least);
        if self.same.records >= self.limits.records && long {
            self.found.join(&self.same.marks);
            self.spells += 1;
            if self.same.length() > self.longest.0 {
                self.longest = (self.same.length(), self.same.from, self.value);
            }
        }
        self.same.clear();
    }
}

impl Rule for Stuck {
    #[inline]
    fn see(&mut self, row: &Reading) {
        let x = row.value(self.of);
        if x == self.value && row.joined {
            self.go_on(row);
        } else {
            if self.same.is_open() {
                self.judge();
            }
            self.value = x;
            self.first = Some(row.spot);
            self.light = (f64::INFINITY, f64::NEG_INFINITY);
        }
        self.light_seen(row.light);
    }

    fn see_all(&mut self, batch: &Batch<'_>) {
        let values = batch.values(self.of);
        if batch.extent(self.of).is_empty() {
            return batch.readings(0..1.min(batch.len())).for_each(|row| self.see(&row));
        }
        let from = self.see_out(batch);
        // The value that stands at the end may go on in the next batch.
        let last = (from..values.len()).rev().find(|i| !batch.joined(*i) || values.get(i - 1) != values.get(*i));
        let Some(last) = last else { return batch.readings(from..values.len()).for_each(|row| self.see(&row)) };
        let between = values.get(from - 1..last).unwrap_or_default();
        if self.may_stand(between, self.fewest(batch.longest_joined())) {
            batch.readings(from..last).for_each(|row| self.see(&row));
        } else {
            self.forget();
        }
        self.see_standing(batch, last);
    }

    fn finish(&mut self, logger: &Logger<'_>) -> Vec<ClimateDoubt> {
        self.judge();
        let (length, from, value) = self.longest;
        let text = format!(
            "{} of {} unchanged, the longest of {} at {value:.1} {} from {} standard time ({})",
            many(self.spells, "spell"),
            self.words,
            spell(length),
            self.unit,
            logger.stamp(from),
            logger.setting.limit(self.code, "hours").source,
        );
        vec![ClimateDoubt::new(self.code, text, std::mem::take(&mut self.found), Some(self.of))]
    }
}

#[cfg(test)]
mod tests {
    use super::super::sample::{Log, doubt, moving};

    #[test]
    fn a_temperature_that_stands_for_two_days_is_doubted() {
        let mut log = Log::of(300, &moving(1000));
        log.temperature[100..676].fill(24.3);
        let found = log.doubts();
        let stuck = doubt(&found, "temperature-stuck").unwrap();
        assert_eq!(stuck.marks.runs, std::slice::from_ref(&(100..676)));
        let head = "1 spell of temperature unchanged, the longest of 47 h 55 min at 24.3 °C from 1970-01-01 08:20 standard time";
        assert!(stuck.text.starts_with(head), "{}", stuck.text);
    }

    #[test]
    fn three_hours_of_one_temperature_are_doubted_under_changing_light_alone() {
        let mut log = Log::of(300, &moving(200));
        log.temperature[100..136].fill(24.3);
        assert!(doubt(&log.doubts(), "temperature-stuck").is_none());
        log.light = (0..200).map(|i| f64::from(i % 36) * 20.0).collect();
        assert_eq!(doubt(&log.doubts(), "temperature-stuck").unwrap().marks.runs, std::slice::from_ref(&(100..136)));
    }

    #[test]
    fn dark_nights_changing_air_and_a_held_set_point_of_an_hour_are_not_stuck() {
        let mut log = Log::of(300, &moving(1000));
        log.light = vec![0.0; 1000];
        log.temperature[100..112].fill(18.0);
        log.humidity[300..500].fill(100.0);
        assert!(log.doubts().iter().all(|d| !d.code.ends_with("-stuck")), "{:?}", log.doubts());
    }

    #[test]
    fn a_light_that_stands_at_400_for_three_hours_and_carbon_dioxide_for_two_days_are_doubted() {
        let mut log = Log::of(300, &moving(1000));
        log.light = (0..1000).map(|i| f64::from(i % 9) * 50.0).collect();
        log.light[50..90].fill(400.0);
        log.co2 = (0..1000).map(|i| 420.0 + f64::from(i % 5)).collect();
        log.co2[200..776].fill(431.0);
        let found = log.doubts();
        assert_eq!(doubt(&found, "light-stuck").unwrap().marks.files[0].rows, 40);
        assert_eq!(doubt(&found, "co2-stuck").unwrap().marks.files[0].rows, 576);
    }
}
