//! Pounds and ounces in one cell.
use super::{NumberFault, NumberFaultKind, NumberStyle, number, trim};

/// 1 oz = 45 359 237 / 1.6·10⁹ kg, exact: whole numbers keep 35 oz exact to the last bit.
const KG_PER_OUNCE: (f64, f64) = (45_359_237.0, 16e8);

/// Mass in kg of "2 lb 3 oz", "2lb3oz", "2 lbs", "35 oz", "2.5 lb", "2 lb 3 1/2 oz".
///
/// The whole is counted in ounces first, so that 2 lb 3 oz is 35 oz exactly.
///
/// # Errors
/// [`NumberFault`] for anything else: a number without a unit, ounces first, 16 ounces or more beside
/// pounds, a fraction of a pound beside ounces, a sign.
pub fn pounds_ounces(text: &str, style: NumberStyle) -> Result<f64, NumberFault> {
    let trimmed = trim(text);
    let ounces = total_ounces(trimmed, style).ok_or_else(|| not_a_mass(trimmed))?;
    kilograms(ounces, trimmed)
}

fn kilograms(ounces: f64, text: &str) -> Result<f64, NumberFault> {
    let mass = ounces * KG_PER_OUNCE.0 / KG_PER_OUNCE.1;
    if mass.is_finite() { Ok(mass) } else { Err(NumberFault::out_of_range(text)) }
}

/// Mass in kg of "2-3": pounds, a dash, ounces, where a log is declared to write so. "2 lb 3 oz" is read too.
///
/// # Errors
/// [`NumberFault`] for anything else: one number alone, 16 ounces or more, a fraction of a pound.
pub fn pounds_dash_ounces(text: &str, style: NumberStyle) -> Result<f64, NumberFault> {
    let trimmed = trim(text);
    let parts = trimmed.split_once(['-', '\u{2013}', '\u{2212}']);
    let ounces = parts.and_then(|(pounds, ounces)| {
        let (pounds, ounces) = (unsigned(pounds, style)?, unsigned(ounces, style)?);
        (pounds.fract() == 0.0 && ounces < 16.0).then_some(16.0 * pounds + ounces)
    });
    match ounces {
        Some(ounces) => kilograms(ounces, trimmed),
        None => pounds_ounces(text, style).map_err(|fault| NumberFault {
            expected: "pounds and ounces such as \"2-3\" (2 lb 3 oz), with fewer than 16 ounces".to_owned(),
            ..fault
        }),
    }
}

fn unsigned(text: &str, style: NumberStyle) -> Option<f64> {
    let text = trim(text);
    let signed = text.starts_with(['-', '+', '\u{2212}']);
    number(text, style).ok().filter(|_| !signed)
}

fn total_ounces(text: &str, style: NumberStyle) -> Option<f64> {
    let (first, unit, rest) = measure(text, style)?;
    let rest = trim(rest);
    match (unit, rest.is_empty()) {
        (ImperialUnit::Ounce, true) => Some(first),
        (ImperialUnit::Pound, true) => Some(16.0 * first),
        (ImperialUnit::Pound, false) => {
            let rest = if style.decimal == ',' { rest } else { trim(rest.strip_prefix(',').unwrap_or(rest)) };
            let (second, unit, end) = measure(rest, style)?;
            let sound = unit == ImperialUnit::Ounce && trim(end).is_empty() && second < 16.0 && first.fract() == 0.0;
            sound.then_some(16.0 * first + second)
        }
        (ImperialUnit::Ounce, false) => None,
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum ImperialUnit {
    Pound,
    Ounce,
}

const WORDS: [(&str, ImperialUnit); 8] = [
    ("lb", ImperialUnit::Pound),
    ("lbs", ImperialUnit::Pound),
    ("pound", ImperialUnit::Pound),
    ("pounds", ImperialUnit::Pound),
    ("oz", ImperialUnit::Ounce),
    ("ozs", ImperialUnit::Ounce),
    ("ounce", ImperialUnit::Ounce),
    ("ounces", ImperialUnit::Ounce),
];

/// One unsigned number with its unit at the start of `text`, and what follows.
fn measure(text: &str, style: NumberStyle) -> Option<(f64, ImperialUnit, &str)> {
    let word_at = text.find(char::is_alphabetic)?;
    let (written, tail) = text.split_at_checked(word_at)?;
    let word_end = tail.find(|c: char| !c.is_alphabetic()).unwrap_or(tail.len());
    let (word, rest) = tail.split_at_checked(word_end)?;
    let word = word.to_lowercase();
    let (_, unit) = WORDS.into_iter().find(|(name, _)| *name == word)?;
    let unsigned = !trim(written).starts_with(['-', '+', '\u{2212}']);
    let value = number(written, style).ok().filter(|_| unsigned)?;
    Some((value, unit, rest.strip_prefix('.').unwrap_or(rest)))
}

fn not_a_mass(text: &str) -> NumberFault {
    NumberFault {
        kind: NumberFaultKind::NotAMass,
        found: text.to_owned(),
        expected: "pounds and ounces such as \"2 lb 3 oz\", with fewer than 16 ounces beside pounds".to_owned(),
        mend: "correct the cell; or, if this text means \"not weighed\", add it to `missing`".to_owned(),
    }
}
