//! The reader's units: the trial is computed in kilograms, figures convert once, when drawn.

/// Pound (avoirdupois), exact: the international yard and pound agreement of 1959.
const KG_PER_LB: f64 = 0.453_592_37;
const G_PER_OZ: f64 = 28.349_523_125;
/// Square foot, exact: (0.3048 m)².
const M2_PER_FT2: f64 = 0.092_903_04;

/// Which mass unit the figures use.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Reader {
    #[default]
    Kilograms,
    Pounds,
}

/// How a response is shown: values times `factor`.
#[derive(Debug, Clone, PartialEq)]
pub struct Scale {
    pub factor: f64,
    /// Unit of a value: "lb per plant".
    pub unit: String,
    /// Unit of a difference: percentage points for shares.
    pub difference_unit: String,
}

impl Scale {
    /// For a response in `unit`, such as "kg per plant", "g" or "1" (a share).
    pub fn of(unit: &str, reader: Reader) -> Scale {
        let plain = |factor: f64, unit: String| Scale { factor, difference_unit: unit.clone(), unit };
        if unit == "1" {
            return Scale { factor: 100.0, unit: "%".into(), difference_unit: "percentage points".into() };
        }
        match (reader, unit.split_once(' ').map_or((unit, ""), |(mass, rest)| (mass, rest))) {
            (Reader::Pounds, ("kg", "per m²")) => plain(M2_PER_FT2 / KG_PER_LB, "lb per ft²".into()),
            (Reader::Pounds, ("kg", rest)) => plain(1.0 / KG_PER_LB, format!("lb {rest}").trim().into()),
            (Reader::Pounds, ("g", rest)) => plain(1.0 / G_PER_OZ, format!("oz {rest}").trim().into()),
            _ => plain(1.0, unit.into()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_kilogram_a_plant_is_2_2046_pounds_a_plant() {
        let scale = Scale::of("kg per plant", Reader::Pounds);
        assert_eq!(scale.unit, "lb per plant");
        assert!((scale.factor - 2.204_622_621_85).abs() < 1e-9);
    }

    #[test]
    fn a_kilogram_a_square_metre_is_0_2048_pounds_a_square_foot() {
        let scale = Scale::of("kg per m²", Reader::Pounds);
        assert!((scale.factor - 0.204_816_14).abs() < 1e-7);
    }

    #[test]
    fn differences_of_shares_are_percentage_points() {
        let scale = Scale::of("1", Reader::Pounds);
        assert_eq!((scale.unit.as_str(), scale.difference_unit.as_str()), ("%", "percentage points"));
        assert_eq!(Scale::of("d", Reader::Pounds).unit, "d");
    }
}
