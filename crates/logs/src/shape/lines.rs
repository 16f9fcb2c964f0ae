//! What each line below the header is: a row, or something the declared structure explains.
use super::header::{Header, is_comment};
use crate::declare::Log;
use crate::source::Grid;

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Line {
    Preamble,
    Comment,
    Blank,
    Header,
    UnitRow,
    RepeatedHeader,
    Totals,
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
            Line::Row => "row",
        }
    }
}

/// The kind of every row of the grid.
pub(crate) fn kinds(grid: &Grid, log: &Log, header: &Header) -> Vec<Line> {
    let mut unit_row_due = log.layout.unit_row;
    (0..grid.len())
        .map(|row| {
            if grid.number(row) <= log.layout.skip_lines {
                return Line::Preamble;
            }
            if row == header.row {
                return Line::Header;
            }
            let kind = kind(grid, log, header, row);
            if row > header.row && unit_row_due && matches!(kind, Line::Row | Line::Totals) {
                unit_row_due = false;
                return Line::UnitRow;
            }
            kind
        })
        .collect()
}

pub(crate) fn kind(grid: &Grid, log: &Log, header: &Header, row: usize) -> Line {
    if grid.is_blank(row) {
        return Line::Blank;
    }
    if is_comment(grid, row, log) {
        return Line::Comment;
    }
    let mut declared = header.positions.iter().zip(&log.columns).filter_map(|(p, c)| p.map(|p| (p, c))).peekable();
    if declared.peek().is_some() && declared.all(|(p, c)| grid.cell(row, p).text == c.header) {
        return Line::RepeatedHeader;
    }
    let first = grid.first_word(row).trim_end_matches([':', '.']).trim();
    if log.layout.totals.iter().any(|t| t.trim().trim_end_matches([':', '.']).eq_ignore_ascii_case(first)) {
        return Line::Totals;
    }
    Line::Row
}
