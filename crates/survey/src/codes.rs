//! Cells that say "no value": words among numbers, and numbers that no sensor reads.
use crate::body::Body;
use std::collections::BTreeMap;

const WORDS: [&str; 33] = [
    "n/a",
    "na",
    "n.a.",
    "n.a",
    "nan",
    "null",
    "none",
    "nil",
    "-",
    "--",
    "---",
    "–",
    "—",
    ".",
    "..",
    "x",
    "k.a.",
    "k. a.",
    "s/d",
    "missing",
    "nv",
    "n.d.",
    "nd",
    "no data",
    "fehlt",
    "#n/a",
    "#na",
    "nr",
    "not recorded",
    "not read",
    "err",
    "error",
    "?",
];
const NUMBERS: [&str; 11] = ["-999", "-9999", "-99", "-999.9", "-999,9", "-99.9", "-99,9", "-999.0", "-9999.0", "-888", "-6999"];

/// Whether a text is a word for "no value" wherever a number or a day is due.
pub(crate) fn is_code(text: &str) -> bool {
    WORDS.contains(&text.to_lowercase().as_str())
}

/// A number that loggers write where a sensor is silent. It is none where such a value can be.
pub(crate) fn is_silent_sensor(text: &str) -> bool {
    NUMBERS.contains(&text)
}

/// Codes found in a column of numbers or days, as written, with how often.
pub(crate) fn found(body: &Body, column: usize, numeric: bool) -> BTreeMap<String, usize> {
    let mut codes: BTreeMap<String, usize> = BTreeMap::new();
    for spot in body.filled(column) {
        let text = spot.cell.text;
        if is_code(text) || (numeric && is_silent_sensor(text)) {
            *codes.entry(text.to_owned()).or_default() += 1;
        }
    }
    codes
}
