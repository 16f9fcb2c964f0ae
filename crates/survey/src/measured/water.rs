//! Volumes and conductivities of feed and drain.
use super::{Keys, Named, named_unit};
use crate::columns::Column;
use crate::draft::Question;
use crate::numbers;
use crate::ranges::{self, ByRange, shown};
use crate::words::HeaderUnit;
use crosshouse_readings::units::{Quantity, ec_ppm_readings};

pub(super) fn volume(column: &Column, is: &str, values: &[f64]) -> Keys {
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

pub(super) fn conductivity(column: &Column, is: &str, values: &[f64]) -> Keys {
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
