//! Columns of measured values: their unit, by the header, the row of units, the cells or the size of the values.
use crate::columns::Column;
use crate::draft::{Line, Question, key, many, quoted};
use crate::log::Log;
use crate::numbers::{self, is_number, is_pounds_ounces};
use crate::ranges::{self, ByRange, shown};
use crate::words::{self, HeaderUnit};
use crosshouse_readings::units::Quantity;

mod light;
mod mass;
mod water;

/// The quantity of a measured meaning.
pub(crate) fn quantity(is: &str) -> Option<Quantity> {
    Some(match is {
        "mass" => Quantity::Mass,
        "count" | "plants" => Quantity::Count,
        "area" => Quantity::Area,
        "temperature" => Quantity::Temperature,
        "humidity" => Quantity::Humidity,
        "light" => Quantity::Light,
        "co2" => Quantity::Co2,
        "feed-volume" | "drain-volume" => Quantity::Volume,
        "feed-ec" | "drain-ec" => Quantity::Conductivity,
        "feed-ph" | "drain-ph" => Quantity::Acidity,
        "moisture" => Quantity::MoistureFraction,
        "measure" => Quantity::MoistureFraction,
        _ => return None,
    })
}

/// A unit that is written somewhere, and where.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Named {
    pub unit: HeaderUnit,
    pub by: &'static str,
}

impl Named {
    pub fn known(&self) -> Option<&'static str> {
        match self.unit {
            HeaderUnit::Known(name) => Some(name),
            HeaderUnit::Hidden { .. } => None,
        }
    }
}

/// The unit in the row below the header, else in the header.
pub(crate) fn named_unit(column: &Column, quantity: Quantity) -> Option<Named> {
    let below = words::named(&column.unit_below, quantity).map(|unit| Named { unit, by: "the row of units" });
    below.or_else(|| words::in_header(&column.header, quantity).map(|unit| Named { unit, by: "the header" }))
}

/// A column with its keys, before it is a line.
struct Keys {
    text: String,
    because: String,
    questions: Vec<Question>,
    said: String,
}

impl Keys {
    fn known(unit: &str, because: impl Into<String>) -> Self {
        Keys { text: format!(", unit = {}", quoted(unit)), because: because.into(), questions: Vec::new(), said: format!(" in {unit}") }
    }

    fn none(because: impl Into<String>) -> Self {
        Keys { text: String::new(), because: because.into(), questions: Vec::new(), said: String::new() }
    }

    fn asked(question: Question) -> Self {
        Keys { text: ", unit = \"?\"".into(), because: String::new(), questions: vec![question], said: ", unit asked".into() }
    }
}

/// The line of a measured column.
pub(crate) fn line(log: &Log, column: &Column, is: &str) -> Line {
    let values = numbers::sorted(&log.body, column.index, log.style());
    let keys = keys_of(log, column, is, &values);
    let text = format!("{} = {{ is = \"{is}\"{} }}", key(&column.header), keys.text);
    let because = [evidence(log, column, &values), keys.because].into_iter().filter(|t| !t.is_empty()).collect::<Vec<_>>().join("; ");
    let mut line = Line::sure(text, because).saying(format!("\"{}\" is {}{}", column.header, is.replace('-', " "), keys.said));
    line.questions = keys.questions;
    line
}

fn keys_of(log: &Log, column: &Column, is: &str, values: &[f64]) -> Keys {
    match is {
        "mass" => mass::keys(log, column, values),
        "light" => light::keys(column, values),
        "feed-ec" | "drain-ec" => water::conductivity(column, is, values),
        "feed-volume" | "drain-volume" => water::volume(column, is, values),
        "feed-ph" | "drain-ph" | "plants" => Keys::none(""),
        "count" => count(column),
        "measure" => Keys {
            text: ", name = \"soluble solids\", unit = \"%\", combine = \"mean\"".into(),
            said: ", soluble solids in %".into(),
            ..Keys::none("the header says so")
        },
        _ => plain(column, is, values),
    }
}

/// "2,880 of 2,880 cells are numbers, 63.1 to 77.5".
fn evidence(log: &Log, column: &Column, values: &[f64]) -> String {
    if column.filled == 0 {
        return "no cell is filled".into();
    }
    let coded: usize = column.codes.values().sum();
    let of = column.filled - coded;
    let mut text = if column.is_pounds_ounces() {
        let weighed = log.body.filled(column.index).find(|s| is_pounds_ounces(s.cell.text));
        let example = weighed.map_or("", |s| s.cell.text);
        format!("{} of {} cells are pounds and ounces such as \"{example}\"", many(column.pounds_ounces + column.numbers), many(of))
    } else {
        let (low, high) = (values.first().copied().unwrap_or(f64::NAN), values.last().copied().unwrap_or(f64::NAN));
        format!("{} of {} cells are numbers, {} to {}", many(values.len()), many(of), shown(low), shown(high))
    };
    let odd: Vec<String> = log
        .body
        .filled(column.index)
        .filter(|s| !is_number(s) && !is_pounds_ounces(s.cell.text) && !column.codes.contains_key(s.cell.text))
        .take(2)
        .map(|s| format!("{} \"{}\"", log.body.place(&s), s.cell.text))
        .collect();
    if !odd.is_empty() {
        text.push_str(&format!(", but not {}", odd.join(" nor ")));
    }
    text.push_str(&impossible(log, column));
    text
}

/// Values that no pH is, with the first of them.
fn impossible(log: &Log, column: &Column) -> String {
    let acid = log.chosen().any(|(c, choice)| c.index == column.index && matches!(choice.is, "feed-ph" | "drain-ph"));
    let mut odd = log.body.filled(column.index).filter(|s| numbers::value(s, log.style()).is_some_and(|x| !(2.0..=11.0).contains(&x)));
    match odd.next().filter(|_| acid) {
        Some(first) => format!("; no pH is {} \"{}\"", log.body.place(&first), first.cell.text),
        None => String::new(),
    }
}

fn plain(column: &Column, is: &str, values: &[f64]) -> Keys {
    let Some(quantity) = quantity(is) else { return Keys::none("") };
    if let Some(Named { unit: HeaderUnit::Known(unit), by }) = named_unit(column, quantity) {
        return Keys::known(unit, format!("unit by {by}"));
    }
    match ranges::judge(is, values) {
        ByRange::Sure { unit, because } => Keys::known(unit, because),
        ByRange::Open { seen } => {
            Keys::asked(Question::new("unit", format!("in which unit is \"{}\"?", column.header), seen).or_each(ranges::units(is)))
        }
    }
}

fn count(column: &Column) -> Keys {
    let dozen = named_unit(column, Quantity::Count).and_then(|n| n.known()).filter(|u| *u == "dozen");
    dozen.map_or_else(|| Keys::none(""), |u| Keys::known(u, "unit by the header"))
}
