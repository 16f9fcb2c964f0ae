//! Units told by the size of the values: only where the ranges of the possible units do not overlap.
//! Limits are common practice, no source: a house with a crop in it.
use crate::numbers::quantile;

/// What the values say of the unit.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum ByRange {
    Sure { unit: &'static str, because: String },
    Open { seen: String },
}

struct Range {
    is: &'static str,
    unit: &'static str,
    /// Where the middle value of a season lies.
    middle: (f64, f64),
}

const fn range(is: &'static str, unit: &'static str, low: f64, high: f64) -> Range {
    Range { is, unit, middle: (low, high) }
}

#[rustfmt::skip]
static RANGES: &[Range] = &[
    range("temperature", "°C", 5.0, 42.0),
    range("temperature", "°F", 44.0, 108.0),
    range("humidity", "%", 12.0, 103.0),
    range("humidity", "fraction", 0.1, 1.03),
    range("moisture", "%", 3.0, 95.0),
    range("moisture", "fraction", 0.03, 0.95),
    range("co2", "ppm", 150.0, 5000.0),
    range("feed-ec", "mS/cm", 0.2, 12.0),
    range("feed-ec", "µS/cm", 150.0, 12000.0),
    range("feed-ec", "ppm", 75.0, 8400.0),
    range("drain-ec", "mS/cm", 0.2, 20.0),
    range("drain-ec", "µS/cm", 150.0, 20000.0),
    range("drain-ec", "ppm", 75.0, 14000.0),
    range("mass", "kg", 0.004, 60.0),
    range("mass", "g", 4.0, 60_000.0),
    range("mass", "lb", 0.01, 130.0),
    range("mass", "oz", 0.1, 2100.0),
    range("feed-volume", "L", 0.02, 5000.0),
    range("feed-volume", "mL", 20.0, 5e6),
    range("feed-volume", "US gal", 0.005, 1300.0),
    range("feed-volume", "imperial gal", 0.005, 1100.0),
    range("drain-volume", "L", 0.005, 5000.0),
    range("drain-volume", "mL", 5.0, 5e6),
    range("drain-volume", "US gal", 0.001, 1300.0),
    range("drain-volume", "imperial gal", 0.001, 1100.0),
    range("area", "m2", 0.02, 200.0),
    range("area", "ft2", 0.2, 2000.0),
];

/// The units that a meaning may have, those first that the values allow.
pub(crate) fn units(is: &str) -> Vec<&'static str> {
    RANGES.iter().filter(|r| r.is == is).map(|r| r.unit).collect()
}

/// Whether a middle value can be one of this meaning and unit. Without a range, anything can.
pub(crate) fn possible(is: &str, unit: &str, middle: f64) -> bool {
    RANGES.iter().find(|r| r.is == is && r.unit == unit).is_none_or(|r| middle >= r.middle.0 && middle <= r.middle.1)
}

/// The only unit in whose range the middle value lies.
pub(crate) fn judge(is: &str, sorted: &[f64]) -> ByRange {
    // Zeros say nothing of a unit: nights without light, days without a pick.
    let values: Vec<f64> = sorted.iter().copied().filter(|x| *x != 0.0).collect();
    let (low, middle, high) = (quantile(&values, 0.25), quantile(&values, 0.5), quantile(&values, 0.75));
    let spread = format!("half of the values lie between {} and {}", shown(low), shown(high));
    if values.is_empty() {
        return ByRange::Open { seen: "no value but zero".to_owned() };
    }
    let fitting: Vec<&Range> = RANGES.iter().filter(|r| r.is == is && middle >= r.middle.0 && middle <= r.middle.1).collect();
    let others: Vec<&str> = RANGES.iter().filter(|r| r.is == is && !fitting.iter().any(|f| f.unit == r.unit)).map(|r| r.unit).collect();
    match fitting.as_slice() {
        [only] if !others.is_empty() => {
            ByRange::Sure { unit: only.unit, because: format!("{spread}: no crop grows with such values in {}", others.join(" or ")) }
        }
        _ => ByRange::Open { seen: spread },
    }
}

/// A number as a person writes it: at most four significant digits.
pub(crate) fn shown(x: f64) -> String {
    if !x.is_finite() {
        return "none".to_owned();
    }
    let digits = if x.abs() >= 1000.0 || x == 0.0 { 0 } else { (3 - x.abs().log10().floor() as i32).clamp(0, 6) as usize };
    let text = format!("{x:.digits$}");
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn unit(is: &str, values: &[f64]) -> Option<&'static str> {
        match judge(is, values) {
            ByRange::Sure { unit, .. } => Some(unit),
            ByRange::Open { .. } => None,
        }
    }

    #[test]
    fn a_house_of_70_is_fahrenheit_and_one_of_20_is_celsius() {
        assert_eq!(unit("temperature", &[61.0, 70.0, 88.0]), Some("°F"));
        assert_eq!(unit("temperature", &[16.0, 20.0, 29.0]), Some("°C"));
        assert_eq!(unit("temperature", &[40.0, 43.0, 47.0]), None);
    }

    #[test]
    fn pounds_and_kilograms_overlap_and_millisiemens_do_not() {
        assert_eq!(unit("mass", &[0.4, 1.2, 2.0]), None);
        assert_eq!(unit("feed-ec", &[2.1, 2.3, 2.6]), Some("mS/cm"));
        assert_eq!(unit("feed-ec", &[2100.0, 2300.0, 2600.0]), None, "µS/cm, or ppm");
    }

    #[test]
    fn numbers_are_shown_short() {
        assert_eq!((shown(0.035), shown(77.5), shown(12_345.0), shown(0.0)), ("0.035".into(), "77.5".into(), "12345".into(), "0".into()));
    }
}
