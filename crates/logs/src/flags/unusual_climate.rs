//! Temperature, light and CO₂ outside their usual range: single records.
use super::batch::Batch;
use super::climate::{ClimateDoubt, Column, Logger, Reading, Rule};
use super::marks::Marks;
use super::rules::between;

pub(super) struct Unusual {
    code: &'static str,
    words: &'static str,
    of: Column,
    low: f64,
    high: f64,
    found: Marks,
}

impl Unusual {
    fn new(code: &'static str, words: &'static str, of: Column, logger: &Logger<'_>) -> Self {
        let limit = |name| logger.setting.value(code, name);
        Unusual { code, words, of, low: limit("below"), high: limit("above"), found: Marks::default() }
    }

    pub fn temperature(logger: &Logger<'_>) -> Self {
        Self::new("temperature-unusual", "an air temperature", Column::Temperature, logger)
    }

    pub fn light(logger: &Logger<'_>) -> Self {
        Self::new("light-unusual", "photosynthetic light (PPFD)", Column::Light, logger)
    }

    pub fn co2(logger: &Logger<'_>) -> Self {
        Self::new("co2-unusual", "a carbon dioxide content", Column::Co2, logger)
    }
}

impl Rule for Unusual {
    #[inline]
    fn see(&mut self, row: &Reading) {
        let x = row.value(self.of);
        if x < self.low || x > self.high {
            self.found.add(&row.spot);
        }
    }

    fn see_all(&mut self, batch: &Batch<'_>) {
        let extent = batch.extent(self.of);
        if extent.low < self.low || extent.high > self.high {
            batch.readings(0..batch.len()).for_each(|row| self.see(&row));
        }
    }

    fn finish(&mut self, logger: &Logger<'_>) -> Vec<ClimateDoubt> {
        let limit = |name| logger.setting.limit(self.code, name);
        let text = format!("{{n}} of {} outside {}", self.words, between(&limit("below"), &limit("above")));
        vec![ClimateDoubt::new(self.code, text, std::mem::take(&mut self.found), Some(self.of))]
    }
}

#[cfg(test)]
mod tests {
    use super::super::sample::{Log, doubt};
    use super::super::{Logger, Setting};
    use crate::declare::LimitChange;

    #[test]
    fn fifty_degrees_are_kept_and_doubted() {
        let found = Log::of(300, &[20.0, 50.0, f64::NAN, 45.0, 2.0]).doubts();
        let unusual = doubt(&found, "temperature-unusual").unwrap();
        assert_eq!(unusual.marks.runs, std::slice::from_ref(&(1..2)));
        assert_eq!(unusual.told(1), "1 record of an air temperature outside 2 to 45 °C (common practice, no source)");
    }

    #[test]
    fn fifty_degrees_under_the_top_of_a_high_tunnel_are_no_doubt() {
        let log = Log::of(300, &[20.0, 50.0, 54.0]);
        let tunnel = Logger { setting: Setting { house: "high tunnel", ..Setting::default() }, ..log.logger() };
        assert_eq!(doubt(&log.doubts_by(tunnel), "temperature-unusual").unwrap().marks.runs, std::slice::from_ref(&(2..3)));
    }

    #[test]
    fn a_limit_that_the_season_changed_holds_and_a_rule_that_it_took_out_is_silent() {
        let log = Log::of(300, &[20.0, 50.0, 54.0]);
        let change = |limit: Option<&str>, value| LimitChange {
            rule: "temperature-unusual".into(),
            limit: limit.map(str::to_owned),
            value,
            reason: "shaded sensor".into(),
            ..LimitChange::default()
        };
        let by = |changes: &[LimitChange]| {
            let setting = Setting { changes, ..Setting::default() };
            doubt(&log.doubts_by(Logger { setting, ..log.logger() }), "temperature-unusual").map(|d| d.marks.records().collect::<Vec<_>>())
        };
        assert_eq!(by(&[change(Some("above"), 52.0)]), Some(vec![2]));
        assert_eq!(by(&[change(None, f64::NAN)]), None);
    }

    #[test]
    fn light_above_the_full_sun_and_carbon_dioxide_at_3000_are_doubted() {
        let mut log = Log::of(300, &[20.0; 4]);
        log.light = vec![0.0, 2000.0, 2400.0, f64::NAN];
        log.co2 = vec![420.0, 1500.0, 3000.0, 150.0];
        let found = log.doubts();
        assert_eq!(doubt(&found, "light-unusual").unwrap().marks.runs, std::slice::from_ref(&(2..3)));
        assert_eq!(doubt(&found, "co2-unusual").unwrap().marks.runs, std::slice::from_ref(&(2..4)));
    }
}
