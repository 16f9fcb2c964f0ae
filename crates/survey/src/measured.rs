//! Columns of measured values: their unit, by the header, the row of units, the cells or the size of the values.
use crate::columns::Column;
use crate::draft::{Line, Question, key, many, quoted};
use crate::log::Log;
use crate::numbers::{self, is_number, is_pounds_ounces};
use crate::ranges::{self, ByRange, shown};
use crate::words::{self, HeaderUnit, tokens};
use crosshouse_readings::units::{LAMPS, Quantity, ec_ppm_readings};

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
        "mass" => mass(log, column, values),
        "light" => light(column, values),
        "feed-ec" | "drain-ec" => conductivity(column, is, values),
        "feed-volume" | "drain-volume" => volume(column, is, values),
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

fn mass(log: &Log, column: &Column, values: &[f64]) -> Keys {
    if column.is_pounds_ounces() {
        return Keys::known("lb oz", "");
    }
    match named_unit(column, Quantity::Mass) {
        Some(Named { unit: HeaderUnit::Known(unit), by }) => Keys::known(unit, format!("unit by {by}")),
        Some(Named { unit: HeaderUnit::Hidden { word, .. }, .. }) => boxes(column, &word),
        None if tokens(&column.header).iter().any(|w| BOXES.contains(&w.as_str())) => boxes(column, "box"),
        None => Keys::asked(mass_question(log, column, values)),
    }
}

/// Boxes in other languages than that of the unit table.
const BOXES: [&str; 8] = ["kiste", "kisten", "steige", "steigen", "caja", "cajas", "caisse", "caisses"];

fn boxes(column: &Column, word: &str) -> Keys {
    let ask = format!("what does one of \"{}\" hold, net?", column.header);
    let question = Question::new("content", ask, "")
        .or_plain("a mass such as \"25 lb\" or \"10 kg\"", "as found on the scale, not as the box is called");
    Keys {
        text: format!(", unit = {}, content = \"?\"", quoted(word)),
        questions: vec![question],
        said: ", content asked".into(),
        ..Keys::none("")
    }
}

/// What a fruit would weigh in each unit is the best help to whoever answers.
fn mass_question(log: &Log, column: &Column, values: &[f64]) -> Question {
    let middle = numbers::quantile(values, 0.5);
    let mut seen = match ranges::judge("mass", values) {
        ByRange::Open { seen } => seen,
        ByRange::Sure { because, .. } => because,
    };
    let fruit = log.column("count").map(|c| numbers::sorted(&log.body, c.index, log.style()).iter().sum::<f64>()).filter(|n| *n > 0.0);
    if let Some(fruit) = fruit {
        let each = values.iter().sum::<f64>() / fruit;
        let grams = |factor: f64| format!("{} g", shown(each * factor));
        seen.push_str(&format!(
            "; with the counts a fruit then weighs {} (kg), {} (g), {} (lb) or {} (oz)",
            grams(1000.0),
            grams(1.0),
            grams(453.592_37),
            grams(28.349_523_125)
        ));
    }
    let likely: Vec<&str> = ranges::units("mass").into_iter().filter(|u| ranges::possible("mass", u, middle)).collect();
    Question::new("unit", format!("in which unit is \"{}\" weighed?", column.header), seen).or_each(likely)
}

fn volume(column: &Column, is: &str, values: &[f64]) -> Keys {
    match named_unit(column, Quantity::Volume) {
        Some(Named { unit: HeaderUnit::Known(unit), by }) => Keys::known(unit, format!("unit by {by}")),
        Some(Named { unit: HeaderUnit::Hidden { word, .. }, .. }) => {
            let kind = if word.to_lowercase().starts_with("gal") { "gal" } else { "fl oz" };
            let question = Question::new("unit", format!("which {word} is \"{}\" in?", column.header), "")
                .or(&format!("US {kind}"), if kind == "gal" { "3.785 L" } else { "29.57 mL" })
                .or(&format!("imperial {kind}"), if kind == "gal" { "4.546 L" } else { "28.41 mL" });
            Keys::asked(question)
        }
        None => {
            let seen = match ranges::judge(is, values) {
                ByRange::Open { seen } | ByRange::Sure { because: seen, .. } => seen,
            };
            Keys::asked(Question::new("unit", format!("in which unit is \"{}\"?", column.header), seen).or_each(ranges::units(is)))
        }
    }
}

fn conductivity(column: &Column, is: &str, values: &[f64]) -> Keys {
    let hidden = |word: &str| ["ppm", "tds", "mg/l"].iter().any(|w| word.to_lowercase().contains(w));
    let middle = numbers::quantile(values, 0.5);
    let scales = ec_ppm_readings(middle).map(|(scale, ec)| format!("{} mS/cm on scale {scale}", shown(ec)));
    match named_unit(column, Quantity::Conductivity) {
        Some(Named { unit: HeaderUnit::Known(unit), by }) => return Keys::known(unit, format!("unit by {by}")),
        Some(Named { unit: HeaderUnit::Hidden { word, .. }, .. }) if hidden(&word) => {
            let seen = format!("the middle value {} is {}", shown(middle), scales.join(", "));
            let mut question = Question::new("scale", format!("which scale does the meter of \"{}\" show?", column.header), seen);
            for scale in ["500", "640", "700"] {
                question = question.or_plain(scale, "");
            }
            return Keys {
                text: ", unit = \"ppm\", scale = \"?\"".into(),
                questions: vec![question],
                said: " in ppm, scale asked".into(),
                ..Keys::none("")
            };
        }
        _ => {}
    }
    match ranges::judge(is, values) {
        ByRange::Sure { unit, because } => Keys::known(unit, because),
        ByRange::Open { seen } => {
            let mut question = Question::new("unit", format!("in which unit is \"{}\"?", column.header), seen)
                .or("µS/cm", format!("the middle value is then {} mS/cm", shown(middle / 1000.0)))
                .or("ppm", format!("it is then {}; add scale = 500, 640 or 700", scales.join(", ")));
            if ranges::possible(is, "mS/cm", middle) || middle < 100.0 {
                question = question.or("mS/cm", "");
            }
            Keys::asked(question)
        }
    }
}

fn light(column: &Column, values: &[f64]) -> Keys {
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
