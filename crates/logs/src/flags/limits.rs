//! What each quantity can be at all: a value outside is set aside. What is possible and unusual is kept and
//! doubted: `rules.toml`.

/// Limits of one quantity in its canonical unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Limits {
    /// Stem of codes: `temperature` in `temperature-impossible`.
    pub code: &'static str,
    pub words: &'static str,
    pub unit: &'static str,
    pub possible: (f64, f64),
    pub whole: bool,
}

const ANY: (f64, f64) = (f64::NEG_INFINITY, f64::INFINITY);
const FROM_ZERO: (f64, f64) = (0.0, f64::INFINITY);

const fn limits(code: &'static str, words: &'static str, unit: &'static str, possible: (f64, f64)) -> Limits {
    Limits { code, words, unit, possible, whole: false }
}

pub(crate) static MASS: Limits = limits("mass", "a mass", "kg", FROM_ZERO);
pub(crate) static COUNT: Limits = Limits { whole: true, ..limits("count", "a number of fruit", "fruit", FROM_ZERO) };
pub(crate) static PLANTS: Limits = Limits { whole: true, ..limits("plants", "a number of plants", "plants", FROM_ZERO) };
pub(crate) static PLANTS_SHARE: Limits = limits("plants", "a number of plants", "plants", FROM_ZERO);
pub(crate) static AREA: Limits = limits("area", "an area", "m²", (1e-6, 1e6));
pub(crate) static PLACE: Limits = Limits { whole: true, ..limits("place", "a number from 1", "", (1.0, 1e6)) };
pub(crate) static MEASURE: Limits = limits("measure", "a number", "", ANY);
/// Above 100 and up to 103 % is kept as 100: capacitive sensors read 1 to 3 % too much near saturation.
pub(crate) static HUMIDITY: Limits = limits("humidity", "a relative humidity", "%", (0.0, 103.0));
pub(crate) static TEMPERATURE: Limits = limits("temperature", "an air temperature", "°C", (-40.0, 70.0));
pub(crate) static LIGHT: Limits = limits("light", "photosynthetic light (PPFD)", "µmol m⁻² s⁻¹", (-10.0, 3000.0));
pub(crate) static CO2: Limits = limits("co2", "a carbon dioxide content", "ppm", (0.0, 20_000.0));
pub(crate) static FEED_VOLUME: Limits = limits("feed-volume", "a volume of feed", "L", FROM_ZERO);
pub(crate) static DRAIN_VOLUME: Limits = limits("drain-volume", "a volume of drain", "L", FROM_ZERO);
pub(crate) static FEED_EC: Limits = limits("feed-ec", "an EC of feed", "dS/m", (0.0, 20.0));
pub(crate) static DRAIN_EC: Limits = limits("drain-ec", "an EC of drain", "dS/m", (0.0, 30.0));
pub(crate) static FEED_PH: Limits = limits("feed-ph", "a pH of feed", "", (2.0, 11.0));
pub(crate) static DRAIN_PH: Limits = limits("drain-ph", "a pH of drain", "", (2.0, 11.0));
pub(crate) static MOISTURE: Limits = limits("moisture", "a water content by volume", "%", (0.0, 100.0));

/// A unit that strays into a column of the canonical one, with what is usual there (limits: as in `rules.toml`;
/// lux of daylight: 54 lx per µmol m⁻² s⁻¹, Thimijan and Heins 1983).
struct Other {
    code: &'static str,
    unit: &'static str,
    read: fn(f64) -> f64,
    usual: (f64, f64),
}

static OTHER: [Other; 4] = [
    Other { code: "temperature", unit: "°F", read: |x| (x - 32.0) / 1.8, usual: (2.0, 45.0) },
    Other { code: "feed-ec", unit: "µS/cm", read: |x| x / 1000.0, usual: (0.8, 4.5) },
    Other { code: "drain-ec", unit: "µS/cm", read: |x| x / 1000.0, usual: (0.8, 8.0) },
    Other { code: "light", unit: "lux of daylight", read: |x| x / 54.0, usual: (50.0, 2300.0) },
];

/// At most three decimals.
fn shown(x: f64) -> f64 {
    (x * 1000.0).round() / 1000.0
}

impl Limits {
    pub fn is_possible(&self, x: f64) -> bool {
        x.is_finite() && x >= self.possible.0 && x <= self.possible.1 && (!self.whole || (x - x.round()).abs() < 1e-9)
    }

    /// The unit that an impossible value may have been written in, where it is then an everyday one: "2400 µS/cm is
    /// 2.4 dS/m". Proposed to a person, never taken.
    pub fn would_be(&self, x: f64) -> Option<String> {
        let like = OTHER.iter().find(|o| o.code == self.code && (o.usual.0..=o.usual.1).contains(&(o.read)(x)))?;
        Some(format!("{} {} would be {} {}: is that the unit of this cell?", shown(x), like.unit, shown((like.read)(x)), self.unit))
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
    fn a_value_that_is_an_everyday_one_in_another_unit_is_told_as_such() {
        assert_eq!(FEED_EC.would_be(2400.0).as_deref(), Some("2400 µS/cm would be 2.4 dS/m: is that the unit of this cell?"));
        assert_eq!(TEMPERATURE.would_be(77.0).as_deref(), Some("77 °F would be 25 °C: is that the unit of this cell?"));
        assert_eq!((FEED_EC.would_be(58.0), TEMPERATURE.would_be(-127.0), FEED_PH.would_be(58.0)), (None, None, None));
    }

    #[test]
    fn limits_are_told_in_words() {
        assert_eq!(HUMIDITY.possible_words(), "0 to 103 %");
        assert_eq!(COUNT.possible_words(), "a whole number, 0 or more");
        assert_eq!(FEED_PH.possible_words(), "2 to 11");
    }
}
