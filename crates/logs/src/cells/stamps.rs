//! The day, or the day and time, of a row: by the declared style, or by the only style that fits
//! every row.
use super::date_style::{DateStyle, TRIED};
use super::dates::{self, DateFault, days_of, serial_date};
use super::times::{TimeFault, time_of_day};
use crate::source::{CellView, Kind};
use jiff::civil::Date;

/// A day with the seconds since its midnight, and the offset where the cell writes one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Stamp {
    pub date: Date,
    /// Seconds since the day's midnight; `None` where only a day is written.
    pub seconds: Option<i64>,
    pub offset: Option<i32>,
    pub short_year: bool,
}

impl Stamp {
    /// Seconds of the civil stamp since 1970-01-01T00:00:00 of the same clock.
    pub fn local(&self) -> Option<i64> {
        Some(days_of(self.date) * 86_400 + self.seconds?)
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum StampFault {
    Date(DateFault),
    Time(TimeFault),
}

/// How the stamps of one log are read.
#[derive(Debug, Clone)]
pub(crate) struct Dating {
    pub style: DateStyle,
    pub twelve_hour: bool,
    pub from_1904: bool,
}

/// What looking for an undeclared style found.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Search {
    /// Every cell is a date of a workbook: no style is needed.
    NotNeeded,
    Only(DateStyle),
    /// Several styles fit every row; the first row that they read differently, by its index.
    Several(Vec<&'static str>, usize),
    /// No style fits every row; the best one, and the first row it fails on.
    None(&'static str, usize),
}

impl Dating {
    /// Reads a day with what may follow it.
    pub fn read(&self, cell: CellView<'_>) -> Result<Stamp, StampFault> {
        match cell.kind {
            Kind::Serial(days) => serial(days),
            Kind::Number(x) if self.style.is_serial() => serial(if self.from_1904 { x + 1462.0 } else { x }),
            _ if self.style.is_serial() => match cell.text.parse::<f64>() {
                Ok(x) if x.is_finite() => serial(x),
                _ => Err(StampFault::Date(DateFault::NotInStyle)),
            },
            _ => self.written(cell.text),
        }
    }

    fn written(&self, text: &str) -> Result<Stamp, StampFault> {
        let found = dates::read(text, &self.style).map_err(StampFault::Date)?;
        let plain = Stamp { date: found.date, seconds: None, offset: None, short_year: found.short_year };
        let rest = found.rest.trim_start_matches(|c: char| c.is_whitespace() || matches!(c, ',' | 'T' | 't'));
        if found.rest.trim().is_empty() {
            return Ok(plain);
        }
        if rest.len() == found.rest.len() {
            return Err(StampFault::Date(DateFault::NotInStyle));
        }
        let time = time_of_day(rest, self.twelve_hour).map_err(StampFault::Time)?;
        Ok(Stamp { seconds: Some(time.seconds), offset: time.offset, ..plain })
    }

    /// Reads a time of day of its own column.
    pub fn time(&self, cell: CellView<'_>) -> Result<(i64, Option<i32>), StampFault> {
        match cell.kind {
            Kind::Serial(days) | Kind::Number(days) if (0.0..=1.0).contains(&days) => Ok(((days * 86_400.0).round() as i64, None)),
            Kind::Serial(days) if (1.0..LAST_SERIAL).contains(&days) => Ok(((days.fract() * 86_400.0).round() as i64, None)),
            _ => time_of_day(cell.text, self.twelve_hour).map(|t| (t.seconds, t.offset)).map_err(StampFault::Time),
        }
    }
}

/// The serial day after 31 December 9999, the last that workbooks know.
const LAST_SERIAL: f64 = 2_958_466.0;

fn serial(days: f64) -> Result<Stamp, StampFault> {
    if !(1.0..LAST_SERIAL).contains(&days) {
        return Err(StampFault::Date(DateFault::NoSuchDay));
    }
    let seconds = (days * 86_400.0).round() as i64;
    let date = serial_date(seconds.div_euclid(86_400)).ok_or(StampFault::Date(DateFault::NoSuchDay))?;
    Ok(Stamp { date, seconds: Some(seconds.rem_euclid(86_400)), offset: None, short_year: false })
}

/// Looks for the one style that fits all the cells. Cells that fit no style at all are left out,
/// as long as they are fewer than half: they are faults of their own.
pub(crate) fn search<'c>(cells: impl Iterator<Item = CellView<'c>> + Clone, twelve_hour: bool) -> Search {
    let texts = || cells.clone().enumerate().filter(|(_, c)| !matches!(c.kind, Kind::Serial(_)) && !c.text.is_empty());
    let total = texts().count();
    if total == 0 {
        return Search::NotNeeded;
    }
    let dating = |words: &str| DateStyle::parse(words).ok().map(|style| Dating { style, twelve_hour, from_1904: false });
    let tried: Vec<(&'static str, Dating)> = TRIED.iter().filter_map(|w| dating(w).map(|d| (*w, d))).collect();
    let read = |d: &Dating, c: CellView<'_>| !matches!(d.read(c), Err(StampFault::Date(_)));
    let dates: Vec<(usize, CellView<'c>)> = texts().filter(|(_, c)| tried.iter().any(|(_, d)| read(d, *c))).collect();
    let fits = |d: &Dating| dates.iter().filter(|(_, c)| read(d, *c)).count();
    let most = tried.iter().map(|(_, d)| fits(d)).max().unwrap_or(0);
    let best: Vec<&(&'static str, Dating)> = tried.iter().filter(|(_, d)| fits(d) == most).collect();
    let Some((first, rest)) = best.split_first() else { return Search::NotNeeded };
    if most < dates.len() || dates.len() * 2 < total {
        let failing = texts().find(|(_, c)| !read(&first.1, *c)).map_or(0, |(i, _)| i);
        return Search::None(first.0, failing);
    }
    if rest.is_empty() {
        return Search::Only(first.1.style.clone());
    }
    let day = |d: &Dating, c: CellView<'_>| d.read(c).ok().map(|s| s.date);
    let differing = dates.iter().find(|(_, c)| rest.iter().any(|(_, d)| day(d, *c) != day(&first.1, *c)));
    Search::Several(best.iter().map(|(w, _)| *w).collect(), differing.map_or(0, |(i, _)| *i))
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    fn text(text: &str) -> CellView<'_> {
        CellView { text, kind: Kind::Text }
    }

    fn dating(style: &str) -> Dating {
        Dating { style: DateStyle::parse(style).unwrap(), twelve_hour: false, from_1904: false }
    }

    #[test]
    fn ok_iso_stamps_with_t_and_offset() {
        let stamp = dating("year-month-day").read(text("2031-03-24T06:30:00-06:00")).unwrap();
        assert_eq!((stamp.date, stamp.seconds, stamp.offset), (date(2031, 3, 24), Some(23_400), Some(-21_600)));
    }

    #[test]
    fn ok_serial_days_of_a_workbook_round_to_the_second() {
        let cell = CellView { text: "", kind: Kind::Serial(48_033.0 + 0.270_833_333_3) };
        let stamp = dating("workbook").read(cell).unwrap();
        assert_eq!((stamp.date, stamp.seconds), (date(2031, 7, 4), Some(23_400)));
    }

    #[test]
    fn err_a_serial_before_the_calendar_of_workbooks_or_behind_it_is_no_time_of_day() {
        let time = |days: f64| dating("workbook").time(CellView { text: &crate::cells::serial_text(days), kind: Kind::Serial(days) });
        assert_eq!(time(48_033.25), Ok((21_600, None)));
        for days in [-1.2, 3e6, f64::NAN] {
            assert_eq!(time(days), Err(StampFault::Time(TimeFault::NotATime)), "{days}");
        }
    }

    #[test]
    fn ok_plain_numbers_of_a_1904_workbook() {
        let d = Dating { from_1904: true, ..dating("workbook") };
        assert_eq!(d.read(CellView { text: "46571", kind: Kind::Number(46_571.0) }).unwrap().date, date(2031, 7, 4));
    }

    #[test]
    fn err_text_glued_to_a_date() {
        assert_eq!(dating("year-month-day").read(text("2031-07-04x")), Err(StampFault::Date(DateFault::NotInStyle)));
    }

    #[test]
    fn the_only_style_that_fits_every_row_is_found() {
        let cells = [text("4/7/2031"), text("25/7/2031")];
        assert_eq!(search(cells.iter().copied(), false), Search::Only(DateStyle::parse("day/month/year").unwrap()));
    }

    #[test]
    fn a_word_among_dates_is_left_out_and_a_second_style_is_not() {
        let cells = [text("4/7/2031"), text("25/7/2031"), text("today")];
        assert_eq!(search(cells.iter().copied(), false), Search::Only(DateStyle::parse("day/month/year").unwrap()));
        let mixed = [text("4/7/2031"), text("25/7/2031"), text("2031-07-26")];
        assert_eq!(search(mixed.iter().copied(), false), Search::None("day/month/year", 2));
    }

    #[test]
    fn two_styles_that_fit_are_a_question_and_not_a_guess() {
        let cells = [text("7/7/2031"), text("4/7/2031")];
        assert_eq!(search(cells.iter().copied(), false), Search::Several(vec!["day/month/year", "month/day/year"], 1));
    }
}
