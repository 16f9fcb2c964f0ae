//! The reader's units: kilograms or pounds. The trial is computed in kilograms; the page converts once, on
//! output, and the CSV tables hold both.

/// Pound (avoirdupois), exact: the international yard and pound agreement of 1959.
const KG_PER_LB: f64 = 0.453_592_37;
const G_PER_OZ: f64 = 28.349_523_125;
/// Square foot, exact: (0.3048 m)².
const M2_PER_FT2: f64 = 0.092_903_04;

/// Which mass unit the words of the report use.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reader {
    Kilograms,
    Pounds,
}

impl Reader {
    /// Reads `reader_units` of the season file.
    pub fn from_key(key: &str) -> Option<Self> {
        match key {
            "kg" => Some(Reader::Kilograms),
            "lb" => Some(Reader::Pounds),
            _ => None,
        }
    }

    pub fn other(self) -> Self {
        match self {
            Reader::Kilograms => Reader::Pounds,
            Reader::Pounds => Reader::Kilograms,
        }
    }
}

/// How a quantity in the trial's unit is shown to the reader.
#[derive(Debug, Clone, PartialEq)]
pub struct Scale {
    /// Shown value = value × factor.
    pub factor: f64,
    /// Unit of a value: "lb per plant".
    pub unit: String,
    /// Unit of a difference: as `unit`, but percentage points for shares.
    pub difference_unit: String,
}

impl Scale {
    /// The scale for a response whose unit is worded `unit`, such as "kg per plant".
    pub fn of(unit: &str, reader: Reader) -> Self {
        let unit = unit.trim();
        if is_share(unit) {
            return Scale { factor: 100.0, unit: "%".into(), difference_unit: "percentage points".into() };
        }
        match (reader, mass_prefix(unit)) {
            (Reader::Pounds, Some(("kg", rest))) => pounds(rest),
            (Reader::Pounds, Some(("g", rest))) => plain(1.0 / G_PER_OZ, format!("oz{rest}")),
            _ => plain(1.0, unit.to_owned()),
        }
    }

    /// Whether the reader's other mass unit would show other digits.
    pub fn is_mass(unit: &str) -> bool {
        mass_prefix(unit.trim()).is_some()
    }

    pub fn show(&self, value: f64) -> f64 {
        value * self.factor
    }
}

fn plain(factor: f64, unit: String) -> Scale {
    Scale { factor, difference_unit: unit.clone(), unit }
}

fn is_share(unit: &str) -> bool {
    matches!(unit, "1" | "share" | "0–1" | "fraction") || unit.starts_with("share of")
}

/// Splits "kg per plant" into ("kg", " per plant").
fn mass_prefix(unit: &str) -> Option<(&'static str, &str)> {
    ["kg", "g"].into_iter().find_map(|mass| {
        let rest = unit.strip_prefix(mass)?;
        let ends = rest.is_empty() || rest.starts_with([' ', '/', '\u{a0}']);
        ends.then_some((mass, rest))
    })
}

fn pounds(rest: &str) -> Scale {
    for area in ["m²", "m2", "square metre"] {
        if let Some(before) = rest.strip_suffix(area) {
            return plain(M2_PER_FT2 / KG_PER_LB, format!("lb{before}ft²"));
        }
    }
    plain(1.0 / KG_PER_LB, format!("lb{rest}"))
}

/// Ending of a CSV column name for a unit: "kg per plant" → "kg_per_plant".
pub fn column_suffix(unit: &str) -> String {
    let worded = unit.replace('²', "2").replace('³', "3").replace('%', "percent").replace('°', "deg");
    let mut out = String::new();
    for c in worded.to_lowercase().chars() {
        match c {
            c if c.is_ascii_alphanumeric() => out.push(c),
            _ if !out.ends_with('_') => out.push('_'),
            _ => {}
        }
    }
    out.trim_matches('_').to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(a: f64, b: f64) {
        assert!((a - b).abs() <= 1e-12 * b.abs(), "{a} is not {b}");
    }

    #[test]
    fn a_kilogram_per_plant_is_2_2046_pounds_per_plant() {
        let scale = Scale::of("kg per plant", Reader::Pounds);
        near(scale.show(0.453_592_37), 1.0);
        assert_eq!(scale.unit, "lb per plant");
    }

    #[test]
    fn a_kilogram_per_square_metre_is_0_2048_pounds_per_square_foot() {
        // 1 lb/ft² = 4.882 427 636 383 kg/m², computed from the exact pound and foot.
        let scale = Scale::of("kg per m²", Reader::Pounds);
        assert!((scale.show(4.882_427_636_383) - 1.0).abs() < 1e-12);
        assert_eq!(scale.unit, "lb per ft²");
    }

    #[test]
    fn grams_become_ounces_for_readers_in_pounds() {
        let scale = Scale::of("g", Reader::Pounds);
        near(scale.show(28.349_523_125), 1.0);
        assert_eq!(scale.unit, "oz");
    }

    #[test]
    fn a_share_is_shown_in_per_cent_and_its_difference_in_points() {
        let scale = Scale::of("1", Reader::Kilograms);
        near(scale.show(0.12), 12.0);
        assert_eq!(scale.difference_unit, "percentage points");
    }

    #[test]
    fn a_unit_that_only_starts_like_a_mass_is_left_alone() {
        assert_eq!(Scale::of("grade", Reader::Pounds).unit, "grade");
        assert_eq!(Scale::of("d", Reader::Pounds).factor, 1.0);
    }

    #[test]
    fn column_names_carry_the_unit() {
        assert_eq!(column_suffix("kg per m²"), "kg_per_m2");
        assert_eq!(column_suffix("percentage points"), "percentage_points");
    }
}
