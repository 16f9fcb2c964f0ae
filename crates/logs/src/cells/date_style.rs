//! How a log writes its days: the words year, month, day in the order and with the marks of the file.
use serde::{Deserialize, Serialize};

/// A declared date style, such as `day.month.year`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct DateStyle {
    pub(crate) words: String,
    pub(crate) parts: Vec<Part>,
    /// Year of dates that are written without one.
    pub(crate) year: Option<i16>,
    /// Day of the week (Monday 1 to Sunday 7) that a week without one stands for.
    pub(crate) week_day: Option<i8>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) enum Part {
    Year,
    Month,
    MonthName,
    Day,
    /// Number of a week of ISO 8601, letters before it left out: `W19`, `week 19`.
    Week,
    /// Day of the week, 1 for Monday.
    WeekDay,
    Mark(char),
}

const WORDS: [(&str, Part); 7] = [
    ("month-name", Part::MonthName),
    ("month_name", Part::MonthName),
    ("year", Part::Year),
    ("month", Part::Month),
    ("day", Part::Day),
    ("weekday", Part::WeekDay),
    ("week", Part::Week),
];

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
    /// A style that writes the whole day.
    ///
    /// # Errors
    /// What is wrong with the words.
    pub fn parse(words: &str) -> Result<DateStyle, String> {
        DateStyle::completed(words, None, None)
    }

    /// A style whose dates lack a year or a day of the week, which are the same for the whole log.
    ///
    /// # Errors
    /// What is wrong with the words, or which of the two is lacking.
    pub fn completed(words: &str, year: Option<i16>, week_day: Option<i8>) -> Result<DateStyle, String> {
        let mut parts = Vec::new();
        let mut rest = words.trim();
        if rest == "workbook" {
            return Ok(DateStyle { words: rest.to_owned(), parts, year: None, week_day: None });
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
        let [years, months, days] = [count(&[Part::Year]), count(&[Part::Month, Part::MonthName]), count(&[Part::Day])];
        let [weeks, week_days] = [count(&[Part::Week]), count(&[Part::WeekDay])];
        let dated = years == 1 || (years == 0 && year.is_some());
        let of_weeks = weeks == 1 && months + days == 0 && week_days <= 1;
        if of_weeks && dated && week_days == 0 && week_day.is_none() {
            return Err("which day does a week stand for? Declare week_day = \"monday\" or another day".to_owned());
        }
        if of_weeks && years == 0 && !dated {
            return Err("the weeks of which year? Declare year = 2031 or another year".to_owned());
        }
        if dated && (of_weeks || (months == 1 && days == 1 && weeks + week_days == 0)) {
            let year = year.filter(|_| years == 0);
            return Ok(DateStyle { words: words.trim().to_owned(), parts, year, week_day: week_day.filter(|_| week_days == 0) });
        }
        Err("name year, month and day once each".to_owned())
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
            Part::Week => "week".to_owned(),
            Part::WeekDay => "weekday".to_owned(),
            Part::Mark(c) => c.to_string(),
        };
        parts
            .contains(&Part::Day)
            .then(|| DateStyle { words: parts.iter().map(word).collect(), parts, year: self.year, week_day: self.week_day })
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
            Part::Week => "W30".to_owned(),
            Part::WeekDay => "4".to_owned(),
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
    fn a_year_or_a_day_of_the_week_that_is_not_written_must_be_declared() {
        assert_eq!(DateStyle::completed("month/day", Some(2031), None).unwrap().example(), "07/24");
        assert_eq!(DateStyle::completed("year-week", None, Some(1)).unwrap().example(), "2031-W30");
        assert!(DateStyle::parse("year-week").unwrap_err().starts_with("which day does a week stand for?"));
        assert!(DateStyle::completed("week", None, Some(1)).unwrap_err().starts_with("the weeks of which year?"));
        assert!(DateStyle::completed("week/day", Some(2031), Some(1)).is_err());
    }

    #[test]
    fn err_a_word_missing_twice_or_unknown() {
        assert_eq!(DateStyle::parse("day.month").unwrap_err(), "name year, month and day once each");
        assert_eq!(DateStyle::parse("day.day.year").unwrap_err(), "name year, month and day once each");
        assert_eq!(DateStyle::parse("dd.mm.yyyy").unwrap_err(), "\"dd.mm.yyyy\" does not begin with year, month, month-name or day");
    }
}
