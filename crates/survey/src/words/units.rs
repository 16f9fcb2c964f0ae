//! Units as headers and unit rows write them.
use crosshouse_readings::units::{self, Quantity, Unit};

/// A unit that a header names for a quantity.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum HeaderUnit {
    /// As the site file spells it.
    Known(&'static str),
    /// A word that hides an assumption, and the question behind it.
    Hidden { word: String, question: String },
}

/// The unit that a text as a whole names.
pub(crate) fn named(text: &str, quantity: Quantity) -> Option<HeaderUnit> {
    let text = text.trim();
    if text.is_empty() {
        return None;
    }
    match units::find(text, quantity) {
        Ok(unit) => Some(HeaderUnit::Known(Unit::name(unit))),
        Err(fault) => fault.question.map(|question| HeaderUnit::Hidden { word: text.to_owned(), question }),
    }
}

/// The unit inside a header: in brackets, else its last words, else its first.
pub(crate) fn in_header(header: &str, quantity: Quantity) -> Option<HeaderUnit> {
    candidates(header).iter().find_map(|c| named(c, quantity))
}

fn candidates(header: &str) -> Vec<String> {
    let mut list: Vec<String> = Vec::new();
    for (open, close) in [('(', ')'), ('[', ']'), ('{', '}')] {
        if let Some((_, rest)) = header.split_once(open)
            && let Some((inside, _)) = rest.split_once(close)
        {
            list.push(inside.trim().to_owned());
        }
    }
    let words: Vec<&str> =
        header.split(|c: char| c.is_whitespace() || matches!(c, '_' | ',' | ':' | '.')).filter(|w| !w.is_empty()).collect();
    for length in (1..=words.len().min(3)).rev() {
        list.push(words.get(words.len() - length..).unwrap_or_default().join(" "));
    }
    if let Some((_, last)) = header.rsplit_once('/') {
        list.push(last.trim().to_owned());
    }
    if words.len() > 1 {
        list.extend(words.first().map(|w| (*w).to_owned()));
    }
    list
}

const ALL: [Quantity; 14] = [
    Quantity::Mass,
    Quantity::Volume,
    Quantity::Area,
    Quantity::Temperature,
    Quantity::Humidity,
    Quantity::Light,
    Quantity::Illuminance,
    Quantity::Irradiance,
    Quantity::Conductivity,
    Quantity::Acidity,
    Quantity::MoistureFraction,
    Quantity::Count,
    Quantity::Co2,
    Quantity::Duration,
];

/// Whether a cell of a unit row may stand there: a unit of anything, and no number.
pub(crate) fn unit_like(text: &str) -> bool {
    let number = text.trim().parse::<f64>().is_ok();
    !number && ALL.iter().any(|q| named(text, *q).is_some())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn units_in_brackets_behind_and_before_the_name() {
        let known = |header, quantity| match in_header(header, quantity) {
            Some(HeaderUnit::Known(name)) => name,
            other => panic!("{header}: {other:?}"),
        };
        assert_eq!(known("Temp (°F)", Quantity::Temperature), "°F");
        assert_eq!(known("Temp. °C", Quantity::Temperature), "°C");
        assert_eq!(known("weight_kg", Quantity::Mass), "kg");
        assert_eq!(known("Sq ft", Quantity::Area), "ft2");
        assert_eq!(known("PPFD µmol/m²s", Quantity::Light), "µmol/m2/s");
        assert_eq!(known("Drain mL", Quantity::Volume), "mL");
    }

    #[test]
    fn a_bare_gallon_hides_a_country() {
        assert!(matches!(in_header("Feed gal", Quantity::Volume), Some(HeaderUnit::Hidden { .. })));
        assert_eq!(in_header("Feed", Quantity::Volume), None);
    }

    #[test]
    fn a_number_is_no_unit() {
        assert!(unit_like("°F") && unit_like("umol") && !unit_like("1") && !unit_like("B2-07"));
    }
}
