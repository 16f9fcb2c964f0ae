//! How a log writes its days: the words year, month, day in the order and with the marks of the file.
use serde::{Deserialize, Serialize};

/// A declared date style, such as `day.month.year`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct DateStyle {
    pub(crate) words: String,
    pub(crate) parts: Vec<Part>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) enum Part {
    Year,
    Month,
    MonthName,
    Day,
    Mark(char),
}

const WORDS: [(&str, Part); 5] =
    [("month-name", Part::MonthName), ("month_name", Part::MonthName), ("year", Part::Year), ("month", Part::Month), ("day", Part::Day)];

/// The styles tried where none is declared.
pub(crate) const TRIED: [&str; 12] = [
    "year-month-day",
    "year/month/day",
    "year.month.day",
    "yearmonthday",
    "day.month.year",
    "day/month/year",
    "day-month-year",
    "month/day/year",
    "month-day-year",
    "day-month-name-year",
    "day month-name year",
    "month-name day, year",
];

impl DateStyle {
    /// # Errors
    /// What is wrong with the words.
    pub fn parse(words: &str) -> Result<DateStyle, String> {
        let mut parts = Vec::new();
        let mut rest = words.trim();
        if rest == "workbook" {
            return Ok(DateStyle { words: rest.to_owned(), parts });
        }
        while let Some(first) = rest.chars().next() {
            if let Some((word, part)) = WORDS.iter().find(|(w, _)| rest.starts_with(w)) {
                parts.push(*part);
                rest = rest.get(word.len()..).unwrap_or("");
            } else if first.is_alphanumeric() {
                return Err(format!("\"{rest}\" does not begin with year, month, month-name or day"));
            } else {
                parts.push(Part::Mark(first));
                rest = rest.get(first.len_utf8()..).unwrap_or("");
            }
        }
        let count = |wanted: &[Part]| parts.iter().filter(|p| wanted.contains(p)).count();
        let each_once = count(&[Part::Year]) == 1 && count(&[Part::Month, Part::MonthName]) == 1 && count(&[Part::Day]) == 1;
        if each_once {
            Ok(DateStyle { words: words.trim().to_owned(), parts })
        } else {
            Err("name year, month and day once each".to_owned())
        }
    }

    /// The same style with day and month exchanged, where both are written as numbers.
    pub(crate) fn swapped(&self) -> Option<DateStyle> {
        let exchanged = |part: &Part| match part {
            Part::Day => Part::Month,
            Part::Month => Part::Day,
            other => *other,
        };
        let parts: Vec<Part> = self.parts.iter().map(exchanged).collect();
        let word = |part: &Part| match part {
            Part::Year => "year".to_owned(),
            Part::Month => "month".to_owned(),
            Part::MonthName => "month-name".to_owned(),
            Part::Day => "day".to_owned(),
            Part::Mark(c) => c.to_string(),
        };
        parts
            .contains(&Part::Day)
            .then(|| DateStyle { words: parts.iter().map(word).collect(), parts })
            .filter(|s| s.parts.contains(&Part::Month))
    }

    /// Serial days of a workbook rather than written dates.
    pub fn is_serial(&self) -> bool {
        self.parts.is_empty()
    }

    /// A day written in this style, for messages.
    pub fn example(&self) -> String {
        if self.is_serial() {
            return "a serial day of a workbook such as 48033".to_owned();
        }
        let shown = |part: &Part| match part {
            Part::Year => "2031".to_owned(),
            Part::Month => "07".to_owned(),
            Part::MonthName => "Jul".to_owned(),
            Part::Day => "24".to_owned(),
            Part::Mark(c) => c.to_string(),
        };
        self.parts.iter().map(shown).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ok_words_with_their_marks() {
        assert_eq!(DateStyle::parse("day.month.year").unwrap().example(), "24.07.2031");
        assert_eq!(DateStyle::parse("day-month_name-year").unwrap().example(), "24-Jul-2031");
        assert_eq!(DateStyle::parse("month-name day, year").unwrap().example(), "Jul 24, 2031");
        assert!(DateStyle::parse("workbook").unwrap().is_serial());
    }

    #[test]
    fn err_a_word_missing_twice_or_unknown() {
        assert_eq!(DateStyle::parse("day.month").unwrap_err(), "name year, month and day once each");
        assert_eq!(DateStyle::parse("day.day.year").unwrap_err(), "name year, month and day once each");
        assert_eq!(DateStyle::parse("dd.mm.yyyy").unwrap_err(), "\"dd.mm.yyyy\" does not begin with year, month, month-name or day");
    }
}
