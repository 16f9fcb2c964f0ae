//! Which date style a column is of: every style is tried on every cell.
use crate::body::{Body, Spot};
use crate::codes::is_code;
use crate::weeks::{self, Weeks};
use crosshouse_logs::raw::{DayAndTime, Days, RawCell, RawKind, styles_tried};
use jiff::civil::Date;

/// What the days of a column show.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct DayColumn {
    pub style: Style,
    pub twelve_hour: bool,
    /// Cells that are days, and cells that are not blank nor a code.
    pub days: usize,
    pub filled: usize,
    /// Days with a time behind them, and with an offset from UTC.
    pub timed: usize,
    pub with_offset: usize,
    /// The first cells that are no days, as a person finds them.
    pub not_days: Vec<String>,
}

#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Style {
    /// Serial days of a workbook.
    Workbook,
    Only(&'static str),
    /// Weeks in place of days.
    Weeks(Weeks),
    /// Each of them fits every cell; cells that they read differently.
    Several {
        styles: Vec<&'static str>,
        examples: Vec<String>,
        in_order: Vec<&'static str>,
    },
    /// None fits every cell: the best first, and a cell that it does not read.
    Mixed {
        styles: Vec<&'static str>,
        fits: usize,
        example: String,
    },
}

impl DayColumn {
    /// The style declared, or the first of those asked about.
    pub fn first(&self) -> &'static str {
        match &self.style {
            Style::Workbook => "workbook",
            Style::Only(style) => style,
            Style::Weeks(weeks) => weeks.style,
            Style::Several { styles, .. } | Style::Mixed { styles, .. } => styles.first().copied().unwrap_or("year-month-day"),
        }
    }

    pub fn reader(&self) -> Option<Reader> {
        match self.style {
            Style::Weeks(weeks) => Some(Reader::Weeks(weeks)),
            _ => Days::of(self.first(), self.twelve_hour).map(Reader::Days),
        }
    }
}

/// Reads the days of a column, or the Mondays of its weeks.
#[derive(Debug, Clone)]
pub(crate) enum Reader {
    Days(Days),
    Weeks(Weeks),
}

impl Reader {
    pub fn read(&self, cell: RawCell<'_>) -> Option<DayAndTime> {
        match self {
            Reader::Days(days) => days.read(cell),
            Reader::Weeks(weeks) => weeks.read(cell.text),
        }
    }
}

/// `None`: fewer than three in five cells are days.
pub(crate) fn judge(body: &Body, column: usize) -> Option<DayColumn> {
    if !looks_like_days(body, column) {
        return of_weeks(body, column);
    }
    judge_spots(body, body.filled(column).filter(|s| !is_code(s.cell.text)).collect())
}

fn of_weeks(body: &Body, column: usize) -> Option<DayColumn> {
    let weeks = weeks::judge(body, column)?;
    let filled = body.filled(column).filter(|s| !is_code(s.cell.text)).count();
    Some(DayColumn { style: Style::Weeks(weeks), twelve_hour: false, days: filled, filled, timed: 0, with_offset: 0, not_days: Vec::new() })
}

/// The same of any cells: the heads of a wide sheet.
pub(crate) fn judge_spots(body: &Body, spots: Vec<Spot<'_>>) -> Option<DayColumn> {
    let twelve_hour = spots.iter().any(|s| has_half(s.cell.text));
    let serial = spots.iter().filter(|s| is_serial(s)).count();
    let tried: Vec<(&'static str, Days)> = styles_tried().iter().filter_map(|s| Days::of(s, twelve_hour).map(|d| (*s, d))).collect();
    let texts: Vec<&Spot<'_>> = spots.iter().filter(|s| !is_serial(s)).collect();
    let some: Vec<&Spot<'_>> = texts.iter().copied().filter(|s| tried.iter().any(|(_, d)| d.has_day(s.cell))).collect();
    let days = serial + some.len();
    if days * 5 < spots.len() * 3 || days == 0 {
        return None;
    }
    let style = if some.is_empty() { Style::Workbook } else { style_of(body, &some, &tried) };
    let mut judged = DayColumn { style, twelve_hour, days, filled: spots.len(), timed: 0, with_offset: 0, not_days: Vec::new() };
    let reader = judged.reader()?;
    for spot in &spots {
        match reader.read(spot.cell) {
            Some(found) => {
                judged.timed += usize::from(found.seconds.is_some_and(|s| s != 0 || !is_serial(spot)));
                judged.with_offset += usize::from(found.offset.is_some());
            }
            None if judged.not_days.len() < 3 => judged.not_days.push(format!("{} \"{}\"", body.place(spot), spot.cell.text)),
            None => {}
        }
    }
    Some(judged)
}

fn is_serial(spot: &Spot<'_>) -> bool {
    matches!(spot.cell.is, RawKind::Serial(days) if days >= 1.0)
}

/// Whether one of the first forty cells is a day of any style.
fn looks_like_days(body: &Body, column: usize) -> bool {
    let tried: Vec<Days> = styles_tried().iter().filter_map(|s| Days::of(s, true)).collect();
    body.filled(column).take(40).any(|s| is_serial(&s) || (s.cell.is == RawKind::Text && tried.iter().any(|d| d.has_day(s.cell))))
}

/// am or pm behind a digit.
pub(crate) fn has_half(text: &str) -> bool {
    let low = text.to_lowercase();
    let bare = low.trim_end_matches('.').replace(".m", "m");
    ["am", "pm"].iter().any(|half| bare.strip_suffix(half).is_some_and(|rest| rest.trim_end().ends_with(|c: char| c.is_ascii_digit())))
}

fn style_of(body: &Body, spots: &[&Spot<'_>], tried: &[(&'static str, Days)]) -> Style {
    let mut fits: Vec<(usize, usize)> =
        tried.iter().enumerate().map(|(i, (_, d))| (spots.iter().filter(|s| d.has_day(s.cell)).count(), i)).collect();
    fits.sort_by_key(|(n, i)| (std::cmp::Reverse(*n), *i));
    let most = fits.first().map_or(0, |f| f.0);
    let named = |i: usize| tried.get(i);
    let best: Vec<&(&'static str, Days)> = fits.iter().filter(|(n, _)| *n == most).filter_map(|(_, i)| named(*i)).collect();
    let Some((first, rest)) = best.split_first() else { return Style::Workbook };
    if most < spots.len() {
        let failing = spots.iter().find(|s| !first.1.has_day(s.cell));
        let example = failing.map_or_else(String::new, |s| format!("{} \"{}\"", body.place(s), s.cell.text));
        let styles = fits.iter().filter(|(n, _)| *n > 0).filter_map(|(_, i)| named(*i)).map(|(s, _)| *s).take(4).collect();
        return Style::Mixed { styles, fits: most, example };
    }
    if rest.is_empty() {
        return Style::Only(first.0);
    }
    Style::Several {
        styles: best.iter().map(|(s, _)| *s).collect(),
        examples: examples(body, spots, &best),
        in_order: in_order(spots, &best),
    }
}

/// Up to three cells that the styles read differently, with what each makes of them.
fn examples(body: &Body, spots: &[&Spot<'_>], styles: &[&(&'static str, Days)]) -> Vec<String> {
    let mut list: Vec<String> = Vec::new();
    for spot in spots {
        let read: Vec<Option<Date>> = styles.iter().map(|(_, d)| d.read(spot.cell).map(|s| s.day)).collect();
        if read.windows(2).all(|w| w.first() == w.last()) {
            continue;
        }
        let mut days: Vec<String> = Vec::new();
        for day in read.into_iter().flatten().map(|d| d.strftime("%-d %B %Y").to_string()) {
            if !days.contains(&day) {
                days.push(day);
            }
        }
        list.push(format!("{} \"{}\" is {}", body.place(spot), spot.cell.text, days.join(" or ")));
        if list.len() == 3 {
            break;
        }
    }
    list
}

/// The styles by which the rows of each file follow in time.
fn in_order(spots: &[&Spot<'_>], styles: &[&(&'static str, Days)]) -> Vec<&'static str> {
    let ordered = |days: &Days| {
        let read: Vec<(usize, Option<Date>)> = spots.iter().map(|s| (s.part, days.read(s.cell).map(|d| d.day))).collect();
        read.windows(2).all(|w| match w {
            [(a, before), (b, after)] => a != b || before <= after,
            _ => true,
        })
    };
    styles.iter().filter(|(_, d)| ordered(d)).map(|(s, _)| *s).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::body;

    fn style(text: &str) -> Style {
        judge(&body(text), 0).unwrap().style
    }

    #[test]
    fn one_day_beyond_the_twelfth_decides_for_the_whole_column() {
        assert_eq!(style("Date,kg\n05/06/2031,1\n05/13/2031,2\n"), Style::Only("month/day/year"));
    }

    #[test]
    fn days_that_two_styles_read_are_asked_about_with_rows_that_differ() {
        let Style::Several { styles, examples, in_order } = style("Date,kg\n06/06/2031,1\n05/06/2031,1\n06/07/2031,2\n") else { panic!() };
        assert_eq!(styles, ["day/month/year", "month/day/year"]);
        assert_eq!(examples, ["row 3 \"05/06/2031\" is 5 June 2031 or 6 May 2031", "row 4 \"06/07/2031\" is 6 July 2031 or 7 June 2031"]);
        assert!(in_order.is_empty());
    }

    #[test]
    fn a_column_of_two_styles_is_never_read_row_by_row() {
        let Style::Mixed { styles, fits, example } = style("Date,kg\n25/6/2031,1\n26/6/2031,1\n2031-06-27,2\n") else { panic!() };
        assert_eq!((styles, fits, example.as_str()), (vec!["day/month/year", "year-month-day"], 2, "row 4 \"2031-06-27\""));
    }

    #[test]
    fn a_day_that_does_not_exist_changes_nothing() {
        let found = judge(&body("Date,kg\n06/31/2031,1\n07/01/2031,1\n07/15/2031,2\n"), 0).unwrap();
        assert_eq!(found.style, Style::Only("month/day/year"));
        assert_eq!((found.days, found.filled, found.not_days.as_slice()), (2, 3, ["row 2 \"06/31/2031\"".to_owned()].as_slice()));
    }

    #[test]
    fn the_half_of_the_day_is_seen() {
        assert!(has_half("04/01/2031 12:00 AM") && has_half("6:30p.m.") && !has_half("2031-04-01 06:00") && !has_half("team"));
    }
}
