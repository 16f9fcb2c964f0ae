//! What each line below the header is: a row, or something the declared structure explains.
use super::header::{Header, is_comment};
use crate::declare::Log;
use crate::source::{Grid, matches};

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Line {
    Preamble,
    Comment,
    Blank,
    Header,
    UnitRow,
    RepeatedHeader,
    Totals,
    Trailer,
    /// A row of a wide sheet without a filled cell.
    Unfilled,
    Row,
}

impl Line {
    pub fn words(self) -> &'static str {
        match self {
            Line::Preamble => "preamble",
            Line::Comment => "comment",
            Line::Blank => "blank",
            Line::Header => "header",
            Line::UnitRow => "unit row",
            Line::RepeatedHeader => "repeated header",
            Line::Totals => "totals",
            Line::Trailer => "trailer",
            Line::Unfilled => "row without a pick",
            Line::Row => "row",
        }
    }
}

/// The kind of every row of the grid.
pub(crate) fn kinds(grid: &Grid, log: &Log, header: &Header) -> Vec<Line> {
    let mut unit_row_due = log.layout.unit_row;
    let trailer = trailer(grid, log, header);
    (0..grid.len())
        .map(|row| {
            if grid.number(row) <= log.layout.skip_lines {
                return Line::Preamble;
            }
            if header.rows.contains(&row) {
                return Line::Header;
            }
            let kind = kind(grid, log, header, row);
            if row >= trailer && kind != Line::Blank {
                return Line::Trailer;
            }
            if row > header.last() && unit_row_due && matches!(kind, Line::Row | Line::Totals) {
                unit_row_due = false;
                return Line::UnitRow;
            }
            kind
        })
        .collect()
}

/// The first row of the trailer: from the declared word on, or so many lines that are not blank.
fn trailer(grid: &Grid, log: &Log, header: &Header) -> usize {
    let below = || header.last() + 1..grid.len();
    let ends = |word: &String| below().find(|r| grid.first_word(*r).starts_with(word.trim()));
    let at_word = log.layout.ends_at.as_ref().and_then(ends);
    let counted = below().rev().filter(|r| !grid.is_blank(*r)).take(log.layout.trailer_lines as usize).last();
    at_word.into_iter().chain(counted).min().unwrap_or(grid.len())
}

pub(crate) fn kind(grid: &Grid, log: &Log, header: &Header, row: usize) -> Line {
    if grid.is_blank(row) {
        return Line::Blank;
    }
    if is_comment(grid, row, log) {
        return Line::Comment;
    }
    let declared = || header.positions.iter().flatten();
    let repeats = |line: &Vec<String>| {
        let text = |p: usize| line.get(p).map_or("", String::as_str);
        declared().any(|p| !text(*p).is_empty()) && declared().all(|p| grid.cell(row, *p).text == text(*p))
    };
    if header.lines.iter().any(repeats) {
        return Line::RepeatedHeader;
    }
    let word = |text: &str| text.trim().trim_end_matches([':', '.']).trim().to_lowercase();
    let first = word(grid.first_word(row));
    if log.layout.totals.iter().any(|t| matches(&word(t), &first)) {
        return Line::Totals;
    }
    Line::Row
}
