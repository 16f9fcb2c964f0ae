//! Numbers and masses as written in a log, by a declared style.
use std::fmt;

mod fraction;
mod imperial;

pub use imperial::{pounds_dash_ounces, pounds_ounces};

/// How a file writes its numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct NumberStyle {
    pub decimal: char,
    pub thousands: Option<char>,
}

impl Default for NumberStyle {
    fn default() -> Self {
        NumberStyle { decimal: '.', thousands: None }
    }
}

impl NumberStyle {
    /// The style in words: `decimal mark "," and thousands mark "."`.
    fn words(self) -> String {
        match self.thousands {
            Some(mark) => format!("decimal mark \"{}\" and thousands mark \"{mark}\"", self.decimal),
            None => format!("decimal mark \"{}\" and no thousands mark", self.decimal),
        }
    }
}

/// Text that is no number (or mass) by the declared style.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NumberFault {
    pub kind: NumberFaultKind,
    pub found: String,
    pub expected: String,
    pub mend: String,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NumberFaultKind {
    Unreadable,
    OtherMark,
    OutOfRange,
    NotAMass,
}

impl NumberFault {
    /// Stable code.
    pub fn code(&self) -> &'static str {
        match self.kind {
            NumberFaultKind::Unreadable => "number-unreadable",
            NumberFaultKind::OtherMark => "decimal-mark",
            NumberFaultKind::OutOfRange => "number-out-of-range",
            NumberFaultKind::NotAMass => "mass-unreadable",
        }
    }

    /// A number that no double holds.
    pub fn out_of_range(text: &str) -> NumberFault {
        NumberFault {
            kind: NumberFaultKind::OutOfRange,
            found: text.to_owned(),
            expected: "a number below 1e308".to_owned(),
            mend: "correct the cell".to_owned(),
        }
    }

    /// One clause.
    pub fn title(&self) -> &'static str {
        match self.kind {
            NumberFaultKind::Unreadable => "not a number",
            NumberFaultKind::OtherMark => "not the declared decimal mark",
            NumberFaultKind::OutOfRange => "a number too large to hold",
            NumberFaultKind::NotAMass => "not a mass",
        }
    }
}

impl fmt::Display for NumberFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "expected {}, found \"{}\"", self.expected, self.found)
    }
}

impl std::error::Error for NumberFault {}

/// The number that `text` writes: a sign, digits with the declared marks, an exponent, or a vulgar
/// fraction ("2 1/4", "¾", "2¼"). Spaces round it are ignored.
///
/// # Errors
/// [`NumberFault`]: the other decimal mark is never taken in silence ("2,5" where "." is declared), nor is a
/// thousands mark that was not declared or does not part groups of three.
pub fn number(text: &str, style: NumberStyle) -> Result<f64, NumberFault> {
    let trimmed = trim(text);
    let (sign, body) = signed(trimmed);
    let value = match fraction::vulgar(body) {
        Some(value) => value,
        None => decimal(body, style).ok_or_else(|| fault(trimmed, style))?,
    };
    if value.is_finite() { Ok(sign * value) } else { Err(NumberFault::out_of_range(trimmed)) }
}

fn trim(text: &str) -> &str {
    text.trim_matches(|c: char| c.is_whitespace() || c == '\u{feff}')
}

fn signed(text: &str) -> (f64, &str) {
    match text.strip_prefix(['-', '\u{2212}']) {
        Some(rest) => (-1.0, rest),
        None => (1.0, text.strip_prefix('+').unwrap_or(text)),
    }
}

/// Digits, marks and exponent; `None` if the text is not that. The text is rewritten with "." and
/// without thousands marks, so that the standard parser rounds it correctly.
fn decimal(text: &str, style: NumberStyle) -> Option<f64> {
    let (mantissa, exponent) = split_exponent(text)?;
    let (whole, part) = match mantissa.split_once(style.decimal) {
        Some((whole, part)) => (whole, part),
        None => (mantissa, ""),
    };
    if !part.bytes().all(|b| b.is_ascii_digit()) {
        return None;
    }
    let whole = ungrouped(whole, style.thousands)?;
    if whole.is_empty() && part.is_empty() {
        return None;
    }
    format!("0{whole}.{part}0e{exponent}").parse().ok()
}

/// The exponent as written after "e" or "E"; "0" if none.
fn split_exponent(text: &str) -> Option<(&str, &str)> {
    let Some((mantissa, exponent)) = text.split_once(['e', 'E']) else { return Some((text, "0")) };
    let digits = exponent.strip_prefix(['+', '-']).unwrap_or(exponent);
    let sound = !digits.is_empty() && digits.len() <= 4 && digits.bytes().all(|b| b.is_ascii_digit());
    sound.then_some((mantissa, exponent))
}

/// Whole digits without thousands marks, which must part groups of three.
fn ungrouped(whole: &str, thousands: Option<char>) -> Option<String> {
    let all_digits = |s: &str| s.bytes().all(|b| b.is_ascii_digit());
    let Some(mark) = thousands.filter(|&mark| whole.chars().any(|c| same_mark(c, mark))) else {
        return all_digits(whole).then(|| whole.to_owned());
    };
    let groups: Vec<&str> = whole.split(|c| same_mark(c, mark)).collect();
    let (first, rest) = groups.split_first()?;
    let sound = (1..=3).contains(&first.len()) && all_digits(first) && rest.iter().all(|g| g.len() == 3 && all_digits(g));
    sound.then(|| groups.concat())
}

/// A space as thousands mark is met as a no-break, thin or figure space too, an apostrophe as a curved one.
fn same_mark(c: char, mark: char) -> bool {
    c == mark
        || (mark == ' ' && matches!(c, '\u{a0}' | '\u{202f}' | '\u{2009}' | '\u{2007}'))
        || (mark == '\'' && matches!(c, '\u{2019}' | '\u{2bc}' | '\u{b4}'))
}

fn fault(text: &str, style: NumberStyle) -> NumberFault {
    let other = if style.decimal == '.' { ',' } else { '.' };
    let body = signed(text).1;
    let only_marks = body.starts_with(|c: char| c.is_ascii_digit() || c == other);
    if body.contains(other) && only_marks && body.chars().all(|c| c.is_ascii_digit() || matches!(c, '.' | ',')) {
        return NumberFault {
            kind: NumberFaultKind::OtherMark,
            found: text.to_owned(),
            expected: format!("a number with {}", style.words()),
            mend: format!(
                "correct the cell; or, if the file writes numbers so, declare decimal = \"{other}\" or thousands = \"{other}\" for this log"
            ),
        };
    }
    NumberFault {
        kind: NumberFaultKind::Unreadable,
        found: text.to_owned(),
        expected: format!("a number with {}", style.words()),
        mend: "correct the cell; or, if this text means \"no value\", add it to `missing`".to_owned(),
    }
}

#[cfg(test)]
mod tests;
