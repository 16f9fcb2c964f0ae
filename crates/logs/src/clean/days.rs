//! The day (and time) of a row, and what is said where there is none.
use crate::account::{Book, Draft, Why};
use crate::cells::{DateFault, DateStyle, Dating, Stamp, StampFault, days_of, is_missing};
use crate::declare::{Column, Log, Meaning, SiteDeclaration};
use crate::shape::{Table, codes};
use jiff::civil::Date;
use jiff::tz::TimeZone;

/// The date columns of a table, and how they are read.
pub(super) struct Days {
    /// Declared column of the day (or of day and time).
    pub column: usize,
    pub dating: Dating,
    /// Where a stamp with an offset is a day of the site.
    zone: Option<TimeZone>,
    season: (Option<Date>, Option<Date>),
}

/// A day so far from the season is none of it: a reset clock, a mistyped year, a workbook of the
/// other epoch (common practice, no source).
const MARGIN_DAYS: i64 = 400;

impl Days {
    /// The same columns, with stamps that carry an offset turned to the site's civil time.
    pub fn in_zone(mut self, name: &str) -> Self {
        self.zone = TimeZone::get(name).ok();
        self
    }

    /// The same columns; days more than 400 days before or after the site's season are set aside.
    pub fn in_season(mut self, site: &SiteDeclaration) -> Self {
        self.season = (site.seeded.or(site.transplanted), site.ended);
        self
    }

    /// How a day lies outside the season, in words.
    pub fn outside(&self, day: Date) -> Option<String> {
        let before = self.season.0.filter(|first| days_of(day) < days_of(*first) - MARGIN_DAYS);
        let after = self.season.1.filter(|last| days_of(day) > days_of(*last) + MARGIN_DAYS);
        before
            .map(|first| format!("more than {MARGIN_DAYS} days before {first}, when the season began here"))
            .or_else(|| after.map(|last| format!("more than {MARGIN_DAYS} days after {last}, the last day of the trial here")))
    }

    fn at_site(&self, stamp: Stamp) -> Stamp {
        let local = || {
            let instant = stamp.local()? - i64::from(stamp.offset?);
            Some(self.zone.as_ref()?.to_datetime(jiff::Timestamp::from_second(instant).ok()?))
        };
        match local() {
            Some(civil) => Stamp {
                date: civil.date(),
                seconds: Some(i64::from(civil.hour()) * 3600 + i64::from(civil.minute()) * 60 + i64::from(civil.second())),
                offset: None,
                ..stamp
            },
            None => stamp,
        }
    }

    /// By the declared style, or the only one that fits every row; `None` where there is no telling:
    /// every row is then set aside, with the question.
    pub fn of(log: &Log, table: &Table, book: &mut Book) -> Option<Self> {
        let column = table.index(log, &Meaning::DateTime).or_else(|| table.index(log, &Meaning::Date))?;
        let twelve_hour = log.layout.twelve_hour;
        let from_1904 = table.grid.from_1904;
        let style = match &log.layout.date_style {
            Some(_) => log.layout.style()?,
            None => Self::search(log, table, column, book)?,
        };
        let dating = Dating { style, twelve_hour, from_1904 };
        if super::day_order::contradicted(log, table, column, &dating, book) {
            return None;
        }
        if from_1904 && dating.style.is_serial() {
            book.infer(&table.name, "epoch of serial days", "1904", "the workbook says so");
        }
        Some(Days { column, dating, zone: None, season: (None, None) })
    }

    fn search(log: &Log, table: &Table, column: usize, book: &mut Book) -> Option<DateStyle> {
        use crate::cells::StyleSearch;
        let declared = log.columns.get(column)?;
        let missing = codes(log, declared);
        let used: Vec<usize> = table.rows.iter().copied().filter(|r| !is_missing(table.cell(*r, column).text, missing)).collect();
        let cells = used.iter().map(|r| table.cell(*r, column));
        let text = |i: usize| used.get(i).map_or("", |r| table.cell(*r, column).text);
        let (found, expected, mend, at) = match crate::cells::search_style(cells, log.layout.twelve_hour) {
            StyleSearch::NotNeeded => return DateStyle::parse("year-month-day").ok(),
            StyleSearch::Only(style) => {
                book.infer(
                    &table.name,
                    format!("date style of column \"{}\"", declared.header),
                    style.words.clone(),
                    format!("the only one tried that fits its {} dates", used.len()),
                );
                return Some(style);
            }
            StyleSearch::Several(styles, at) => (
                format!(
                    "\"{}\", which {} read differently",
                    text(at),
                    styles.iter().map(|s| format!("\"{s}\"")).collect::<Vec<_>>().join(" and ")
                ),
                "one style that fits every date".to_owned(),
                format!("which is it? Declare date_style = \"{}\"", styles.join("\" or \"")),
                at,
            ),
            StyleSearch::None(best, at) => (
                format!("\"{}\"", text(at)),
                format!("dates of one style (\"{best}\" fits most)"),
                "declare date_style in the site file".to_owned(),
                at,
            ),
        };
        let row = used.get(at).map(|r| table.grid.number(*r));
        book.fault(Draft {
            code: "date-style-undeclared".into(),
            title: "the date style is not declared and the dates do not show it".into(),
            file: table.name.clone(),
            row,
            column: Some(declared.header.clone()),
            found,
            expected,
            mend,
            fatal: true,
            ..Draft::default()
        });
        for row in &table.rows {
            let why = "no date style is declared, and the dates do not show which it is".to_owned();
            book.row_aside(
                table.source(*row),
                Some(&declared.header),
                Why { code: "date-style-undeclared", found: table.cell(*row, column).text, why },
            );
        }
        None
    }

    /// The day of a row; a row without one is set aside.
    pub fn read(&self, log: &Log, table: &Table, row: usize, book: &mut Book) -> Option<Stamp> {
        let column = log.columns.get(self.column)?;
        let cell = table.cell(row, self.column);
        if is_missing(cell.text, codes(log, column)) {
            book.row_aside(
                table.source(row),
                Some(&column.header),
                Why { code: "date-missing", found: cell.text, why: "the row has no date: its place in the season cannot be told".into() },
            );
            return None;
        }
        match self.dating.read(cell).map(|stamp| self.at_site(stamp)) {
            Ok(stamp) => match self.outside(stamp.date) {
                None => Some(stamp),
                Some(how) => {
                    let header = column.header.as_str();
                    outside_fault(table, row, header, cell.text, &how, book);
                    book.row_aside(
                        table.source(row),
                        Some(header),
                        Why { code: OUTSIDE, found: cell.text, why: format!("the day lies {how}") },
                    );
                    None
                }
            },
            Err(fault) => {
                self.unreadable(log, table, row, column, fault, book);
                None
            }
        }
    }

    pub fn unreadable(&self, log: &Log, table: &Table, row: usize, column: &Column, fault: StampFault, book: &mut Book) {
        let index = log.columns.iter().position(|c| c == column).unwrap_or(self.column);
        let found = table.cell(row, index).text;
        let said = stamp_words(fault, &self.dating);
        book.fault(Draft {
            code: said.code.into(),
            title: said.title.into(),
            file: table.name.clone(),
            row: Some(table.grid.number(row)),
            column: Some(column.header.clone()),
            found: found.to_owned(),
            expected: said.expected.clone(),
            mend: said.mend,
            ..Draft::default()
        });
        book.row_aside(
            table.source(row),
            Some(&column.header),
            Why { code: said.code, found, why: format!("{}: expected {}", said.title, said.expected) },
        );
    }
}

const OUTSIDE: &str = "date-outside-season";

/// A day that cannot be one of this season.
pub(super) fn outside_fault(table: &Table, row: usize, header: &str, found: &str, how: &str, book: &mut Book) {
    book.fault(Draft {
        code: OUTSIDE.into(),
        title: "a day far outside the season".into(),
        file: table.name.clone(),
        row: Some(table.grid.number(row)),
        column: Some(header.to_owned()),
        found: found.to_owned(),
        expected: format!("a day of the season: this one lies {how}"),
        mend: "correct the year (or the logger's clock), or seeded, transplanted and ended in the site file".into(),
        ..Draft::default()
    });
}

struct StampWords {
    code: &'static str,
    title: &'static str,
    expected: String,
    mend: String,
}

fn stamp_words(fault: StampFault, dating: &Dating) -> StampWords {
    let style = &dating.style;
    use crate::cells::TimeFault;
    let missing = "correct the cell; or, if this text means \"no value\", add it to `missing`";
    match fault {
        StampFault::Date(DateFault::NotInStyle) => StampWords {
            code: "date-unreadable",
            title: "not a date",
            expected: format!("a date such as {} (date_style = \"{}\")", style.example(), style.words),
            mend: format!("{missing}; or correct date_style"),
        },
        StampFault::Date(DateFault::NoSuchDay) => StampWords {
            code: "date-impossible",
            title: "a day that does not exist",
            expected: format!("a day of the calendar, written like {} (date_style = \"{}\")", style.example(), style.words),
            mend: "correct the cell; or, if day and month are the other way round in this file, correct date_style".into(),
        },
        StampFault::Time(TimeFault::NotATime) => StampWords {
            code: "time-unreadable",
            title: "not a time of day",
            expected: if dating.twelve_hour { "a time such as 6:30 am or 12:05 pm" } else { "a time such as 6:30 or 18:30:00" }.into(),
            mend: missing.into(),
        },
        StampFault::Time(TimeFault::HalfMissing) => StampWords {
            code: "time-unreadable",
            title: "neither am nor pm",
            expected: "a time such as 6:30 pm (time_style = \"12-hour\")".into(),
            mend: "correct the cell; or, if the log counts 24 hours, declare time_style = \"24-hour\"".into(),
        },
        StampFault::Time(TimeFault::HalfUndeclared) => StampWords {
            code: "time-unreadable",
            title: "am or pm in a log of 24 hours",
            expected: "a time such as 18:30".into(),
            mend: "if the log counts twice 12 hours, declare time_style = \"12-hour\"".into(),
        },
    }
}

/// Two-digit years are told once a file.
pub(super) fn told_short_years(log: &Log, table: &Table, column: usize, short: u64, book: &mut Book) {
    if short > 0
        && let Some(column) = log.columns.get(column)
    {
        book.infer(
            &table.name,
            format!("years of column \"{}\"", column.header),
            "2000 to 2099",
            format!("{short} dates write two digits"),
        );
    }
}
