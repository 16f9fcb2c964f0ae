//! What each quantity may be: the possible, and the usual. A value outside the first is set aside,
//! one outside the second is kept and flagged.

/// Limits of one quantity in its canonical unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Limits {
    /// Stem of codes: `temperature` in `temperature-impossible`.
    pub code: &'static str,
    pub words: &'static str,
    pub unit: &'static str,
    pub possible: (f64, f64),
    /// Kept and flagged outside.
    pub usual: (f64, f64),
    pub whole: bool,
    pub source: &'static str,
}

const ANY: (f64, f64) = (f64::NEG_INFINITY, f64::INFINITY);
const FROM_ZERO: (f64, f64) = (0.0, f64::INFINITY);
const PRACTICE: &str = "common practice, no source";

const fn limits(code: &'static str, words: &'static str, unit: &'static str, possible: (f64, f64), usual: (f64, f64)) -> Limits {
    Limits { code, words, unit, possible, usual, whole: false, source: PRACTICE }
}

pub(crate) static MASS: Limits = limits("mass", "a mass", "kg", FROM_ZERO, ANY);
pub(crate) static COUNT: Limits = Limits { whole: true, ..limits("count", "a number of fruit", "fruit", FROM_ZERO, ANY) };
pub(crate) static PLANTS: Limits = Limits { whole: true, ..limits("plants", "a number of plants", "plants", FROM_ZERO, ANY) };
pub(crate) static PLANTS_SHARE: Limits = limits("plants", "a number of plants", "plants", FROM_ZERO, ANY);
pub(crate) static AREA: Limits = limits("area", "an area", "m²", (1e-6, 1e6), ANY);
pub(crate) static PLACE: Limits = Limits { whole: true, ..limits("place", "a number from 1", "", (1.0, 1e6), ANY) };
pub(crate) static MEASURE: Limits = limits("measure", "a number", "", ANY, ANY);
/// Above 100 and up to 103 % is kept as 100: capacitive sensors read 1 to 3 % too much near saturation.
pub(crate) static HUMIDITY: Limits = limits("humidity", "a relative humidity", "%", (0.0, 103.0), (15.0, 98.0));
pub(crate) static TEMPERATURE: Limits = limits("temperature", "an air temperature", "°C", (-40.0, 70.0), (2.0, 45.0));
pub(crate) static LIGHT: Limits = limits("light", "photosynthetic light (PPFD)", "µmol m⁻² s⁻¹", (-10.0, 3000.0), (-10.0, 2300.0));
pub(crate) static CO2: Limits = limits("co2", "a carbon dioxide content", "ppm", (0.0, 20_000.0), (200.0, 2000.0));
pub(crate) static FEED_VOLUME: Limits = limits("feed-volume", "a volume of feed", "L", FROM_ZERO, ANY);
pub(crate) static DRAIN_VOLUME: Limits = limits("drain-volume", "a volume of drain", "L", FROM_ZERO, ANY);
pub(crate) static FEED_EC: Limits = limits("feed-ec", "an EC of feed", "dS/m", (0.0, 20.0), (0.8, 4.5));
pub(crate) static DRAIN_EC: Limits = limits("drain-ec", "an EC of drain", "dS/m", (0.0, 30.0), (0.0, 8.0));
pub(crate) static FEED_PH: Limits = limits("feed-ph", "a pH of feed", "", (2.0, 11.0), (5.0, 6.8));
pub(crate) static DRAIN_PH: Limits = limits("drain-ph", "a pH of drain", "", (2.0, 11.0), (4.8, 7.5));
pub(crate) static MOISTURE: Limits = limits("moisture", "a water content by volume", "%", (0.0, 100.0), (5.0, 90.0));

impl Limits {
    pub fn is_possible(&self, x: f64) -> bool {
        x.is_finite() && x >= self.possible.0 && x <= self.possible.1 && (!self.whole || (x - x.round()).abs() < 1e-9)
    }

    pub fn is_usual(&self, x: f64) -> bool {
        x >= self.usual.0 && x <= self.usual.1
    }

    /// "0 to 103 %", "0 kg or more", "a whole number, 0 or more".
    pub fn possible_words(&self) -> String {
        let whole = if self.whole { "a whole number, " } else { "" };
        let unit = if self.unit.is_empty() || self.whole { String::new() } else { format!(" {}", self.unit) };
        match self.possible {
            (low, high) if high.is_infinite() => format!("{whole}{low}{unit} or more"),
            (low, high) => format!("{whole}{low} to {high}{unit}"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_humidity_of_104_and_a_ph_of_58_are_impossible() {
        assert!(!HUMIDITY.is_possible(104.0) && HUMIDITY.is_possible(103.0));
        assert!(!FEED_PH.is_possible(58.0) && FEED_PH.is_possible(5.8));
    }

    #[test]
    fn a_negative_mass_and_half_a_fruit_are_impossible() {
        assert!(!MASS.is_possible(-0.1) && MASS.is_possible(0.0));
        assert!(!COUNT.is_possible(2.5) && !COUNT.is_possible(-1.0) && COUNT.is_possible(12.0));
        assert!(!MASS.is_possible(f64::NAN));
    }

    #[test]
    fn limits_are_told_in_words() {
        assert_eq!(HUMIDITY.possible_words(), "0 to 103 %");
        assert_eq!(COUNT.possible_words(), "a whole number, 0 or more");
        assert_eq!(FEED_PH.possible_words(), "2 to 11");
    }
}
