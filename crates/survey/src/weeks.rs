//! Days written as weeks of ISO 8601: `2031-W24`, `KW 24`, or 24 under a header that says week.
use crate::body::Body;
use crate::codes::is_code;
use crosshouse_logs::raw::DayAndTime;
use jiff::civil::{Date, ISOWeekDate, Weekday};

/// How a column writes its weeks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Weeks {
    /// As the site file writes it.
    pub style: &'static str,
    pub with_year: bool,
}

const NAMES: [&str; 12] = ["w", "wk", "week", "kw", "woche", "s", "sem", "semana", "semaine", "week no", "weeknr", "v"];
/// Stands for a year that nobody wrote, where weeks are only told apart.
const SOME_YEAR: i16 = 2001;

/// Year (where written), and week.
fn parts(text: &str) -> Option<(&'static str, Option<i16>, i8)> {
    let low = text.trim().to_lowercase();
    let year = low.get(..4).filter(|y| y.bytes().all(|b| b.is_ascii_digit()) && (low.starts_with("19") || low.starts_with("20")));
    let (rest, year) = match year {
        Some(y) => (low.get(4..).unwrap_or(""), y.parse().ok()),
        None => (low.as_str(), None),
    };
    let style = match (year, rest.chars().next()) {
        (None, _) => "week",
        (Some(_), Some('-')) => "year-week",
        (Some(_), Some('/')) => "year/week",
        (Some(_), Some(' ')) => "year week",
        (Some(_), _) => "yearweek",
    };
    let rest = rest.trim_start_matches(['-', '/', ' ']);
    let letters = rest.trim_end_matches(|c: char| c.is_ascii_digit());
    let digits = rest.get(letters.len()..).unwrap_or("");
    let named = NAMES.contains(&letters.trim_end_matches(['.', ' ', '-']));
    let week: i8 = digits.parse().ok()?;
    let plain = letters.is_empty() && digits.len() <= 2;
    let known = named || (plain && year.is_none());
    (known && digits.len() <= 2 && (1..=53).contains(&week)).then_some((style, year, week))
}

/// A week that says so: by its year, or by a word. `W01` alone may be the id of a unit.
pub(crate) fn is_named(text: &str) -> bool {
    let letters = text.chars().filter(|c| c.is_alphabetic()).count();
    parts(text).is_some_and(|(_, year, _)| letters > 1 || (year.is_some() && letters > 0))
}

/// `None`: not every cell is a week, or some do not say so, and nor does the header.
pub(crate) fn judge(body: &Body, column: usize) -> Option<Weeks> {
    let says = crate::words::tokens(body.header(column)).iter().any(|w| NAMES.contains(&w.as_str()) && w != "s" && w != "v");
    of_texts(body.filled(column).map(|s| s.cell.text).filter(|t| !is_code(t)), says)
}

/// The same of any texts; `says`: something beside them says that they are weeks.
pub(crate) fn of_texts<'t>(texts: impl Iterator<Item = &'t str>, says: bool) -> Option<Weeks> {
    let mut found: Option<Weeks> = None;
    let mut bare = false;
    for text in texts {
        let (style, year, _) = parts(text)?;
        bare |= !is_named(text);
        let here = Weeks { style, with_year: year.is_some() };
        if *found.get_or_insert(here) != here {
            return None;
        }
    }
    found.filter(|_| says || !bare)
}

impl Weeks {
    /// The Monday of the week; of some year where none is written.
    pub fn read(self, text: &str) -> Option<DayAndTime> {
        let (_, year, week) = parts(text)?;
        let monday = ISOWeekDate::new(year.unwrap_or(SOME_YEAR), week, Weekday::Monday).ok()?;
        Some(DayAndTime { day: Date::from(monday), seconds: None, offset: None })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::body;

    #[test]
    fn weeks_are_known_by_their_letters_or_by_their_header() {
        let judged = |text: &str| judge(&body(text), 0).map(|w| (w.style, w.with_year));
        assert_eq!(judged("Date,kg\n2031-W24,1\n2031-W25,2\n"), Some(("year-week", true)));
        assert_eq!(judged("Datum,kg\nKW 24,1\nKW 25,2\n"), Some(("week", false)));
        assert_eq!(judged("Week,kg\n24,1\n25,2\n"), Some(("week", false)));
        assert_eq!(judged("Line,kg\n24,1\n25,2\n"), None);
        assert_eq!(judged("Week,kg\n24,1\n61,2\n"), None);
        assert_eq!(judged("No,kg\nW01,1\nW02,2\n"), None, "units of a plan");
    }

    #[test]
    fn a_week_begins_on_its_monday() {
        // ISO 8601: week 1 holds the year's first Thursday, 2 January 2031; week 24 begins on 9 June.
        let weeks = Weeks { style: "year-week", with_year: true };
        assert_eq!(weeks.read("2031-W24").unwrap().day, jiff::civil::date(2031, 6, 9));
    }
}
