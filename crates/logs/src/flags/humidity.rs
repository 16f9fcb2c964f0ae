//! Humidity too low or too high for too long, and humidity pegged at saturation.
use super::batch::Batch;
use super::climate::{ClimateDoubt, Column, Logger, Reading, Rule};
use super::marks::{LongSpells, Marks, Spell};
use super::spell;

pub(super) struct Humidity {
    low: f64,
    high: f64,
    dry: LongSpells,
    wet: LongSpells,
    pegged: Pegged,
}

impl Humidity {
    pub fn new(logger: &Logger<'_>) -> Self {
        let limit = |rule, name| logger.setting.value(rule, name);
        Humidity {
            low: limit("humidity-low", "below"),
            high: limit("humidity-high", "above"),
            dry: LongSpells::lasting(limit("humidity-low", "hours")),
            wet: LongSpells::lasting(limit("humidity-high", "hours")),
            pegged: Pegged::new(logger),
        }
    }
}

impl Rule for Humidity {
    #[inline]
    fn see(&mut self, row: &Reading) {
        let x = row.humidity;
        self.dry.see(x < self.low, row.joined, &row.spot);
        self.wet.see(x > self.high, row.joined, &row.spot);
        self.pegged.see(row);
    }

    fn see_all(&mut self, batch: &Batch<'_>) {
        let extent = batch.extent(Column::Humidity);
        let rows = || batch.readings(0..batch.len());
        if extent.low < self.low || self.dry.now.is_open() {
            rows().for_each(|row| self.dry.see(row.humidity < self.low, row.joined, &row.spot));
        }
        if extent.high > self.high || self.wet.now.is_open() {
            rows().for_each(|row| self.wet.see(row.humidity > self.high, row.joined, &row.spot));
        }
        if extent.high >= self.pegged.at || self.pegged.all.is_open() {
            rows().for_each(|row| self.pegged.see(&row));
        }
    }

    fn finish(&mut self, logger: &Logger<'_>) -> Vec<ClimateDoubt> {
        self.dry.close();
        self.wet.close();
        let told = |code: &'static str, side: &str, name: &str, spells: &mut LongSpells| {
            let (limit, hours) = (logger.setting.limit(code, name), logger.setting.value(code, "hours"));
            let text = format!(
                "{{n}} in spells {side} {} % of more than {hours} h, the longest of {} ({})",
                limit.value,
                spell(spells.longest),
                limit.source
            );
            ClimateDoubt::new(code, text, std::mem::take(&mut spells.found), Some(Column::Humidity))
        };
        let mut doubts =
            vec![told("humidity-low", "below", "below", &mut self.dry), told("humidity-high", "above", "above", &mut self.wet)];
        doubts.extend(self.pegged.finish(logger));
        doubts
    }
}

/// At saturation for a day, or for an hour while the sun warms the air: a wet or dead sensor.
struct Pegged {
    at: f64,
    least: f64,
    sunny_least: f64,
    sun: f64,
    all: Spell,
    sunny: Spell,
    /// Temperature at the start of the sunny part.
    warmed_from: f64,
    sunny_told: bool,
    /// Sunny parts of the spell that is open.
    parts: Marks,
    found: Marks,
    longest: i64,
}

impl Pegged {
    fn new(logger: &Logger<'_>) -> Self {
        let limit = |name| logger.setting.value("humidity-pegged", name);
        Pegged {
            at: limit("at"),
            least: limit("hours") * 3600.0,
            sunny_least: limit("sunny-hours") * 3600.0,
            sun: limit("sun"),
            all: Spell::default(),
            sunny: Spell::default(),
            warmed_from: f64::NAN,
            sunny_told: false,
            parts: Marks::default(),
            found: Marks::default(),
            longest: 0,
        }
    }

    #[inline]
    fn see(&mut self, row: &Reading) {
        let fits = row.humidity >= self.at;
        if self.all.is_open() && !(fits && row.joined) {
            self.close();
        }
        if fits {
            self.go_on(row);
        }
    }

    fn go_on(&mut self, row: &Reading) {
        self.all.add(&row.spot);
        if row.light.is_nan() || row.light <= self.sun {
            self.sunny.clear();
            return;
        }
        if !self.sunny.is_open() {
            self.warmed_from = row.temperature;
            self.sunny_told = false;
        }
        self.sunny.add(&row.spot);
        if self.sunny_told {
            self.parts.add(&row.spot);
        } else if self.sunny.length() as f64 > self.sunny_least && row.temperature > self.warmed_from {
            self.parts.join(&self.sunny.marks);
            self.sunny_told = true;
        }
    }

    fn close(&mut self) {
        let long = self.all.length() as f64 > self.least;
        let marks = if long { &self.all.marks } else { &self.parts };
        if !marks.is_empty() {
            self.found.join(marks);
            self.longest = self.longest.max(self.all.length());
        }
        self.all.clear();
        self.sunny.clear();
        self.parts.clear();
    }

    fn finish(&mut self, logger: &Logger<'_>) -> Vec<ClimateDoubt> {
        self.close();
        let limit = |name| logger.setting.limit("humidity-pegged", name);
        let (hours, sunny) = (limit("hours"), limit("sunny-hours"));
        let text = format!(
            "{{n}} of a humidity pegged at {} % for more than {} h, or for more than {} h while the sun warms the air, the longest of {} ({})",
            self.at,
            hours.value,
            sunny.value,
            spell(self.longest),
            sunny.source
        );
        vec![ClimateDoubt::new("humidity-pegged", text, std::mem::take(&mut self.found), Some(Column::Humidity))]
    }
}

#[cfg(test)]
mod tests {
    use super::super::sample::{Log, doubt};

    #[test]
    fn two_dry_hours_are_doubted_and_half_an_hour_is_not() {
        let mut log = Log::of(600, &[20.0; 40]);
        log.humidity[0..4].fill(10.0);
        log.humidity[10..23].fill(10.0);
        let found = log.doubts();
        let dry = doubt(&found, "humidity-low").unwrap();
        assert_eq!(dry.marks.runs, std::slice::from_ref(&(10..23)));
        assert!(dry.text.contains("the longest of 2 h"));
    }

    #[test]
    fn thirteen_wet_hours_are_doubted_and_a_dewy_night_of_eleven_is_not() {
        let mut log = Log::of(3600, &[20.0; 60]);
        log.humidity[0..12].fill(98.5);
        log.humidity[20..34].fill(98.5);
        assert_eq!(doubt(&log.doubts(), "humidity-high").unwrap().marks.runs, std::slice::from_ref(&(20..34)));
    }

    #[test]
    fn humidity_at_100_for_a_day_and_a_night_is_pegged_and_a_foggy_night_is_not() {
        let mut log = Log::of(600, &[20.0; 400]);
        log.humidity[0..72].fill(100.0);
        assert!(doubt(&log.doubts(), "humidity-pegged").is_none());
        log.humidity[100..246].fill(100.0);
        assert_eq!(doubt(&log.doubts(), "humidity-pegged").unwrap().marks.runs, std::slice::from_ref(&(100..246)));
    }

    #[test]
    fn humidity_at_100_while_the_sun_warms_the_air_is_pegged_and_in_a_dull_morning_it_is_not() {
        let mut log = Log::of(600, &[20.0; 60]);
        log.temperature = (0..60).map(|i| 15.0 + f64::from(i) * 0.2).collect();
        log.humidity[10..30].fill(100.0);
        log.light = vec![250.0; 60];
        assert!(doubt(&log.doubts(), "humidity-pegged").is_none());
        log.light[20..30].fill(600.0);
        assert_eq!(doubt(&log.doubts(), "humidity-pegged").unwrap().marks.runs, std::slice::from_ref(&(20..30)));
        log.light[26..30].fill(100.0);
        assert!(doubt(&log.doubts(), "humidity-pegged").is_none(), "less than an hour");
    }
}
