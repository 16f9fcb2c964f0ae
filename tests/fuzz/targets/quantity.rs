//! Text and unit → value. A value is finite; written plainly it is read as itself; a unit goes there and back.
#![no_main]
use crosshouse_fuzz::{chosen, first};
use crosshouse_logs::declare::{BelowDetection, Column, Meaning};
use crosshouse_logs::fuzzing::Numbers;
use crosshouse_readings::quantity::{NumberStyle, number};
use crosshouse_readings::units::{Quantity, UNITS, find};
use libfuzzer_sys::fuzz_target;

const STYLES: [(char, Option<char>); 6] =
    [('.', None), (',', None), ('.', Some(',')), (',', Some('.')), ('.', Some(' ')), ('.', Some('\''))];

const QUANTITIES: [Quantity; 8] = [
    Quantity::Mass,
    Quantity::Volume,
    Quantity::Temperature,
    Quantity::Light,
    Quantity::Conductivity,
    Quantity::Count,
    Quantity::Humidity,
    Quantity::Area,
];

const BELOW: [Option<BelowDetection>; 4] = [None, Some(BelowDetection::Zero), Some(BelowDetection::Half), Some(BelowDetection::Missing)];

fuzz_target!(|data: &[u8]| {
    let (style, data) = first(data);
    let (quantity, data) = first(data);
    let Ok(text) = std::str::from_utf8(data) else { return };
    let mut lines = text.splitn(3, '\n');
    let (unit, content, text) = (lines.next().unwrap_or(""), lines.next().unwrap_or(""), lines.next().unwrap_or("").trim());
    let (decimal, thousands) = chosen(&STYLES, style);
    let (style, below) = (NumberStyle { decimal, thousands }, chosen(&BELOW, style / 8));
    let quantity = chosen(&QUANTITIES, quantity);
    plainly(text, style);
    there_and_back(unit, quantity, text, style);
    let column = Column {
        unit: Some(unit.to_owned()),
        content: Some(content.to_owned()),
        lamp: Some(content.to_owned()),
        scale: Some(500 + content.len() as u32),
        below_detection: below,
        traces: vec!["trace".to_owned()],
        ..Column::plain("x", Meaning::Mass)
    };
    let Some(numbers) = Numbers::of(&column, quantity, style) else { return };
    numbers.below_detection(&column, text);
    if let Ok(x) = numbers.read(text) {
        assert!(x.is_finite(), "{text} {unit} is {x}");
    }
});

/// The quick way agrees with the thorough one, and a value written out is read as itself.
fn plainly(text: &str, style: NumberStyle) {
    let quick = Numbers::plain(style).read(text);
    assert_eq!(quick, number(text, style), "{text}");
    let Ok(x) = quick else { return };
    assert!(x.is_finite(), "{text} is {x}");
    let written = x.to_string().replace('.', &style.decimal.to_string());
    assert_eq!(Numbers::plain(style).read(&written), Ok(x), "{text} as {written}");
}

fn there_and_back(unit: &str, quantity: Quantity, text: &str, style: NumberStyle) {
    let (Ok(unit), Ok(x)) = (find(unit, quantity), number(text, style)) else { return };
    assert!(UNITS.contains(unit));
    let canonical = unit.to_canonical(x);
    if canonical.is_finite() && x.abs() < 1e290 && (x == 0.0 || x.abs() > 1e-290) {
        let back = unit.from_canonical(canonical);
        assert!((back - x).abs() <= 1e-12 * x.abs().max(1000.0), "{x} {} is {canonical}, and back {back}", unit.name());
    }
}
