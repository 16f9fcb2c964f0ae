//! A written day to a civil date.
use super::date_style::{DateStyle, Part};
use jiff::civil::Date;

/// Why a text is no date of the style.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum DateFault {
    NotInStyle,
    /// The right form, but no such day: 31 February.
    NoSuchDay,
}

/// A date, how much of the text it took, and whether its year had two digits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Read<'t> {
    pub date: Date,
    pub rest: &'t str,
    pub short_year: bool,
}

/// Days from 1970-01-01 to a civil date.
///
/// Method: Hinnant, "chrono-compatible low-level date algorithms" (2013), days_from_civil.
pub(crate) fn days_of(date: Date) -> i64 {
    let (month, day) = (i64::from(date.month()), i64::from(date.day()));
    let year = i64::from(date.year()) - i64::from(month <= 2);
    let era = year.div_euclid(400);
    let year_of_era = year.rem_euclid(400);
    let day_of_year = (153 * ((month + 9) % 12) + 2) / 5 + day - 1;
    era * 146_097 + year_of_era * 365 + year_of_era / 4 - year_of_era / 100 + day_of_year - 719_468
}

/// The civil date of a serial day of the 1900 system.
pub(crate) fn serial_date(day: i64) -> Option<Date> {
    const TO_1970: i64 = 25_569;
    let span = jiff::Span::new().try_days(day.checked_sub(TO_1970)?).ok()?;
    jiff::civil::date(1970, 1, 1).checked_add(span).ok()
}

struct Cursor<'t> {
    rest: &'t str,
}

impl<'t> Cursor<'t> {
    fn blanks(&mut self) {
        self.rest = self.rest.trim_start();
    }

    /// Digits, at least one and at most `most`; exactly `most` where `exact`.
    fn digits(&mut self, most: usize, exact: bool) -> Option<(i16, usize)> {
        let length = self.rest.bytes().take(most).take_while(u8::is_ascii_digit).count();
        if length == 0 || (exact && length != most) {
            return None;
        }
        let (digits, rest) = self.rest.split_at_checked(length)?;
        self.rest = rest;
        digits.parse().ok().map(|n| (n, length))
    }

    fn mark(&mut self, mark: char) -> bool {
        if mark.is_whitespace() {
            self.blanks();
            return true;
        }
        self.blanks();
        let Some(rest) = self.rest.strip_prefix(mark) else { return false };
        self.rest = rest;
        self.blanks();
        true
    }

    /// Letters that only name what follows: the W of `W19`.
    fn letters(&mut self) {
        self.rest = self.rest.trim_start_matches(|c: char| c.is_alphabetic() || c.is_whitespace() || c == '.');
    }

    fn month_name(&mut self) -> Option<i16> {
        let length = self.rest.find(|c: char| !c.is_alphabetic()).unwrap_or(self.rest.len());
        let (word, rest) = self.rest.split_at_checked(length)?;
        self.rest = rest.strip_prefix('.').unwrap_or(rest);
        month_named(word)
    }
}

/// English, German, French and Spanish names, in full or shortened to three letters and more.
const NAMES: [&[&str]; 12] = [
    &["january", "januar", "jänner", "janvier", "enero"],
    &["february", "februar", "février", "fevrier", "febrero"],
    &["march", "märz", "maerz", "mrz", "mars", "marzo"],
    &["april", "avril", "abril"],
    &["may", "mai", "mayo"],
    &["june", "juni", "juin", "junio"],
    &["july", "juli", "juillet", "julio"],
    &["august", "août", "aout", "agosto"],
    &["september", "septembre", "septiembre"],
    &["october", "oktober", "octobre", "octubre"],
    &["november", "novembre", "noviembre"],
    &["december", "dezember", "décembre", "decembre", "diciembre"],
];

fn month_named(word: &str) -> Option<i16> {
    let word = word.to_lowercase();
    if word.chars().count() < 3 {
        return None;
    }
    let months = NAMES.iter().enumerate().filter(|(_, names)| names.iter().any(|n| n.starts_with(&word)));
    let mut found = months.map(|(i, _)| i as i16 + 1);
    let only = found.next()?;
    found.next().is_none().then_some(only)
}

/// A day of a week of ISO 8601: week 1 holds the year's first Thursday.
fn week_date(year: i16, week: i16, week_day: i16) -> Option<Date> {
    let week_day = jiff::civil::Weekday::from_monday_one_offset(i8::try_from(week_day).ok()?).ok()?;
    jiff::civil::ISOWeekDate::new(year, i8::try_from(week).ok()?, week_day).ok().map(|week| week.date())
}

/// Reads a date of `style` at the start of `text`.
pub(crate) fn read<'t>(text: &'t str, style: &DateStyle) -> Result<Read<'t>, DateFault> {
    let mut cursor = Cursor { rest: text.trim() };
    let (mut year, mut month, mut day, mut short_year) = (style.year.unwrap_or(0), 0, 0, false);
    let (mut week, mut week_day) = (None, i16::from(style.week_day.unwrap_or(0)));
    for (i, part) in style.parts.iter().enumerate() {
        let joined = |j: usize| style.parts.get(j).is_some_and(|p| !matches!(p, Part::Mark(_)));
        let exact = joined(i + 1) || (i > 0 && joined(i - 1));
        match part {
            Part::Mark(mark) => {
                if !cursor.mark(*mark) {
                    return Err(DateFault::NotInStyle);
                }
            }
            Part::Year => {
                let (value, digits) = cursor.digits(4, exact).ok_or(DateFault::NotInStyle)?;
                short_year = digits == 2;
                year = match digits {
                    2 => 2000 + value,
                    4 => value,
                    _ => return Err(DateFault::NotInStyle),
                };
            }
            Part::Month => month = cursor.digits(2, exact).ok_or(DateFault::NotInStyle)?.0,
            Part::MonthName => month = cursor.month_name().ok_or(DateFault::NotInStyle)?,
            Part::Day => day = cursor.digits(2, exact).ok_or(DateFault::NotInStyle)?.0,
            Part::Week => {
                cursor.letters();
                week = Some(cursor.digits(2, exact && style.year.is_none()).ok_or(DateFault::NotInStyle)?.0);
            }
            Part::WeekDay => week_day = cursor.digits(1, false).ok_or(DateFault::NotInStyle)?.0,
        }
    }
    if cursor.rest.starts_with(|c: char| c.is_ascii_digit()) {
        return Err(DateFault::NotInStyle);
    }
    if let Some(week) = week {
        let date = week_date(year, week, week_day).ok_or(DateFault::NoSuchDay)?;
        return Ok(Read { date, rest: cursor.rest, short_year });
    }
    let date = Date::new(year, i8::try_from(month).unwrap_or(0), i8::try_from(day).unwrap_or(0));
    date.map(|date| Read { date, rest: cursor.rest, short_year }).map_err(|_| DateFault::NoSuchDay)
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    fn by(style: &str, text: &str) -> Result<Date, DateFault> {
        read(text, &DateStyle::parse(style).unwrap()).map(|r| r.date)
    }

    #[test]
    fn ok_the_same_day_in_eight_styles() {
        let day = Ok(date(2031, 7, 4));
        for (style, text) in [
            ("day.month.year", "4.7.2031"),
            ("day.month.year", "04. 07. 31"),
            ("month/day/year", "07/04/2031"),
            ("year-month-day", "2031-07-04"),
            ("yearmonthday", "20310704"),
            ("day-month_name-year", "4-Jul-2031"),
            ("month-name day, year", "July 4, 2031"),
            ("day month-name year", "4 Juillet 2031"),
        ] {
            assert_eq!(by(style, text), day, "{style} {text}");
        }
    }

    #[test]
    fn ok_what_follows_a_date_is_left_for_the_time() {
        let style = DateStyle::parse("month/day/year").unwrap();
        let found = read("7/4/31 6:30 PM", &style).unwrap();
        assert_eq!((found.rest, found.short_year), (" 6:30 PM", true));
    }

    #[test]
    fn weeks_of_iso_8601_are_read_with_their_day() {
        let by_week = |style: &str, year, day, text: &str| read(text, &DateStyle::completed(style, year, day).unwrap()).map(|r| r.date);
        // ISO 8601: week 1 holds the year's first Thursday; 2031-01-02 is a Thursday, so week 19 begins on 5 May.
        let (monday, wednesday) = (Ok(date(2031, 5, 5)), Ok(date(2031, 5, 7)));
        for text in ["2031-W19", "2031-w19", "2031-19", "2031-W 19"] {
            assert_eq!(by_week("year-week", None, Some(1), text), monday, "{text}");
        }
        assert_eq!(by_week("yearweek", None, Some(1), "2031W19"), monday);
        for text in ["week 19", "Week19", "wk. 19", "19", "KW 19"] {
            assert_eq!(by_week("week", Some(2031), Some(3), text), wednesday, "{text}");
        }
        assert_eq!(by_week("year-week-weekday", None, None, "2031-W19-3"), wednesday);
        // ISO 8601: the first days of January may lie in the last week of the year before.
        assert_eq!(by_week("year-week", None, Some(7), "2031-W52"), Ok(date(2031, 12, 28)));
        assert_eq!(by_week("week", Some(2031), Some(1), "1"), Ok(date(2030, 12, 30)));
        assert_eq!(by_week("week", Some(2031), Some(1), "53"), Err(DateFault::NoSuchDay));
        assert_eq!(by_week("week", Some(2031), Some(1), "week"), Err(DateFault::NotInStyle));
    }

    #[test]
    fn a_date_without_a_year_is_of_the_declared_one() {
        let style = DateStyle::completed("month/day", Some(2031), None).unwrap();
        assert_eq!(read("7/4", &style).map(|r| r.date), Ok(date(2031, 7, 4)));
        assert_eq!(read("2/29", &style).map(|r| r.date), Err(DateFault::NoSuchDay));
        assert_eq!(read("7/4/2032", &style).map(|r| r.rest), Ok("/2032"));
    }

    #[test]
    fn err_days_that_do_not_exist() {
        assert_eq!(by("day.month.year", "31.02.2031"), Err(DateFault::NoSuchDay));
        assert_eq!(by("month/day/year", "24/07/2031"), Err(DateFault::NoSuchDay));
        assert_eq!(by("day.month.year", "00.01.2031"), Err(DateFault::NoSuchDay));
    }

    #[test]
    fn err_another_style() {
        for (style, text) in [
            ("day.month.year", "2031-07-04"),
            ("month/day/year", "7/4/203"),
            ("month/day/year", "7/4/20311"),
            ("day.month.year", "today"),
            ("year-month-day", ""),
            ("day-month_name-year", "4-Ju-2031"),
        ] {
            assert_eq!(by(style, text), Err(DateFault::NotInStyle), "{style} {text}");
        }
    }

    #[test]
    fn days_count_from_1970() {
        assert_eq!(days_of(date(1970, 1, 1)), 0);
        assert_eq!(days_of(date(2000, 3, 1)), 11_017);
        assert_eq!(serial_date(25_569), Some(date(1970, 1, 1)));
        assert_eq!(serial_date(48_033), Some(date(2031, 7, 4)));
    }

    proptest::proptest! {
        /// Reference: the week that the date library gives the day.
        #[test]
        fn a_written_week_reads_back(days in 0i64..36_500) {
            let day = serial_date(36_526 + days).unwrap();
            let week = day.iso_week_date();
            let style = DateStyle::parse("year-week-weekday").unwrap();
            let text = format!("{}-W{:02}-{}", week.year(), week.week(), week.weekday().to_monday_one_offset());
            proptest::prop_assert_eq!(read(&text, &style).unwrap().date, day);
        }

        #[test]
        fn a_written_day_reads_back(days in 0i64..36_500, style in 0usize..super::super::date_style::TRIED.len()) {
            let style = DateStyle::parse(super::super::date_style::TRIED[style]).unwrap();
            let day = serial_date(36_526 + days).unwrap();
            let name = ["Jan","Feb","Mar","Apr","May","Jun","Jul","Aug","Sep","Oct","Nov","Dec"][day.month() as usize - 1];
            let text: String = style.parts.iter().map(|p| match p {
                Part::Year => format!("{:04}", day.year()),
                Part::Month => format!("{:02}", day.month()),
                Part::MonthName => name.to_owned(),
                Part::Day => format!("{:02}", day.day()),
                Part::Week | Part::WeekDay => unreachable!(),
                Part::Mark(c) => c.to_string(),
            }).collect();
            proptest::prop_assert_eq!(read(&text, &style).unwrap().date, day);
            proptest::prop_assert_eq!(days_of(day), days + 36_526 - 25_569);
        }
    }
}
