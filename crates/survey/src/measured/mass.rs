//! Masses: pounds and ounces in one cell, boxes, and units that only a person knows.
use super::{Keys, Named, named_unit};
use crate::columns::Column;
use crate::draft::{Question, quoted};
use crate::log::Log;
use crate::numbers;
use crate::ranges::{self, ByRange, shown};
use crate::words::{HeaderUnit, tokens};
use crosshouse_readings::units::Quantity;

pub(super) fn keys(log: &Log, column: &Column, values: &[f64]) -> Keys {
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
