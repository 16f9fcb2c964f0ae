//! Rows that carry a doubt and that the season leaves out, with its reason.
use crate::account::{Book, Why};
use crate::declare::{LeaveOut, Season};
use crosshouse_readings::Source;

/// Code of rows set aside because the season says so.
pub(super) const CODE: &str = "left-out";

/// What the season says of rows with one of these doubts.
pub(super) fn word<'s>(season: &'s Season, doubts: &[String], site: &str) -> Option<&'s LeaveOut> {
    season.leave_out.iter().find(|l| doubts.iter().any(|d| l.speaks_of(d, site)))
}

/// What the sentence of a doubt ends with, where its rows are left out.
pub(super) fn told(season: &Season, doubt: &str, site: &str) -> &'static str {
    if season.leave_out.iter().any(|l| l.speaks_of(doubt, site)) { "; left out, as the season file says" } else { "" }
}

fn why(word: &LeaveOut) -> String {
    format!("the season leaves out rows with the doubt \"{}\": {}", word.doubt, word.reason)
}

pub(super) fn row(word: &LeaveOut, source: Source, written: &str, book: &mut Book) {
    book.row_aside(source, None, Why { code: CODE, found: written, why: why(word) });
}

pub(super) fn cell(word: &LeaveOut, source: Source, column: &str, written: &str, book: &mut Book) {
    book.cell_aside(source, column, Why { code: CODE, found: written, why: why(word) });
}
