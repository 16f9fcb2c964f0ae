//! Light: of a quantum sensor, or lux under a lamp that only a person knows.
use super::{Keys, Named, named_unit};
use crate::columns::Column;
use crate::draft::{Question, quoted};
use crate::numbers;
use crate::ranges::shown;
use crate::words::{HeaderUnit, tokens};
use crosshouse_readings::units::{LAMPS, Quantity};

pub(super) fn keys(column: &Column, values: &[f64]) -> Keys {
    let high = numbers::quantile(values, 0.99);
    let words = tokens(&column.header);
    let says = |word: &str| words.iter().any(|w| w == word);
    if let Some(Named { unit: HeaderUnit::Known(unit), by }) = named_unit(column, Quantity::Light) {
        return Keys::known(unit, format!("unit by {by}"));
    }
    if let Some(unit) = named_unit(column, Quantity::Illuminance).and_then(|n| n.known()) {
        let ask = format!("light of which lamp, or of the sun, fell on the sensor of \"{}\"?", column.header);
        let seen = format!("one value in a hundred lies above {}", shown(high));
        let question = Question::new("lamp", ask, seen).or_each(LAMPS.iter().map(|l| l.name));
        return Keys {
            text: format!(", unit = {}, lamp = \"?\"", quoted(unit)),
            questions: vec![question],
            said: format!(" in {unit}, lamp asked"),
            ..Keys::none("")
        };
    }
    if let Some(unit) = named_unit(column, Quantity::Irradiance).and_then(|n| n.known()) {
        return Keys::known(unit, "watts are no photosynthetic light: the column stays unread, and is asked about by check");
    }
    if says("ppfd") || (says("par") && high > 600.0) {
        let because = if says("ppfd") { "PPFD is counted in µmol" } else { "no sunlight has so many watts between 400 and 700 nm" };
        return Keys::known("umol/m2/s", because);
    }
    let seen = format!("one value in a hundred lies above {}", shown(high));
    Keys::asked(
        Question::new("unit", format!("in which unit is \"{}\"?", column.header), seen)
            .or("umol/m2/s", "a quantum sensor")
            .or("lux", "then add lamp = \"sun and sky\" or another"),
    )
}
