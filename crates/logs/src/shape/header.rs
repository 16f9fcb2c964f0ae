//! Where the header stands, and which of its cells is which declared column.
use crate::account::{Book, Draft};
use crate::declare::{Column, Log, LogKind, Meaning, Supply};
use crate::source::Grid;
use crosshouse_readings::declared::nearest;

/// The header and the position of each declared column.
pub(crate) struct Header {
    /// Its lines, top to bottom.
    pub rows: Vec<usize>,
    /// The cells of each of these lines, so that a later line can be known as their repetition.
    pub lines: Vec<Vec<String>>,
    /// The header of each column of the grid: several lines are joined with " / ".
    pub texts: Vec<String>,
    pub positions: Vec<Option<usize>>,
    /// A column without which no row has a place is missing: all rows are set aside.
    pub unusable: Option<String>,
}

/// The first row that is neither preamble, comment nor blank.
pub(crate) fn first_row(grid: &Grid, log: &Log) -> Option<usize> {
    (0..grid.len()).find(|r| grid.number(*r) > log.layout.skip_lines && !grid.is_blank(*r) && !is_comment(grid, *r, log))
}

pub(super) fn is_comment(grid: &Grid, row: usize, log: &Log) -> bool {
    log.layout.comment.as_ref().is_some_and(|mark| grid.first_word(row).starts_with(mark.as_str()))
}

/// Columns that give a row its place in the trial, or are the very thing the log is kept for.
fn is_needed(kind: LogKind, meaning: &Meaning) -> bool {
    match meaning {
        Meaning::Unit | Meaning::UnitPart | Meaning::House => kind != LogKind::Diary,
        Meaning::Date
        | Meaning::Time
        | Meaning::DateTime
        | Meaning::Zone
        | Meaning::Grade
        | Meaning::Mass
        | Meaning::Factor(_)
        | Meaning::Event => true,
        Meaning::Plants => kind == LogKind::Plan,
        _ => false,
    }
}

impl Header {
    /// The last of its lines.
    pub fn last(&self) -> usize {
        self.rows.last().copied().unwrap_or(0)
    }

    pub fn width(&self) -> usize {
        self.texts.len()
    }
}

/// The lines of the header from `row` on: blank lines and comments between them are none.
fn lines(grid: &Grid, row: usize, log: &Log) -> Vec<usize> {
    let wanted = log.layout.header_lines as usize;
    (row..grid.len()).filter(|r| !grid.is_blank(*r) && !is_comment(grid, *r, log)).take(wanted).collect()
}

/// The words of one column's header, top to bottom; a word repeated below itself (a block merged over
/// both lines) stands once.
fn joined(grid: &Grid, rows: &[usize], column: usize) -> String {
    let mut words: Vec<&str> = rows.iter().map(|r| grid.cell(*r, column).text).filter(|t| !t.is_empty()).collect();
    words.dedup();
    words.join(" / ")
}

pub(crate) fn locate(grid: &Grid, row: usize, log: &Log, file: &str, book: &mut Book) -> Header {
    let rows = lines(grid, row, log);
    let width = rows.iter().map(|r| grid.width(*r)).max().unwrap_or(0);
    let texts: Vec<String> = (0..width).map(|column| joined(grid, &rows, column)).collect();
    let written: Vec<&str> = texts.iter().map(String::as_str).collect();
    let lines = rows.iter().map(|r| grid.row(*r).map(|c| c.text.to_owned()).collect()).collect();
    let mut header = Header { rows, lines, texts: texts.clone(), positions: Vec::with_capacity(log.columns.len()), unusable: None };
    let mut absent: Vec<(&Column, bool)> = Vec::new();
    for column in &log.columns {
        if column.from != Supply::Header {
            header.positions.push(None);
            continue;
        }
        let mut places = written.iter().enumerate().filter(|(_, w)| **w == column.header).map(|(i, _)| i);
        let position = match (places.next(), places.next()) {
            (Some(only), None) => Some(only),
            (Some(_), Some(_)) => {
                twice(book, file, grid.number(row), column.header.as_str());
                None
            }
            _ => None,
        };
        let needed = is_needed(log.kind, &column.meaning);
        if position.is_none() && column.meaning != Meaning::Ignored {
            if !written.contains(&column.header.as_str()) {
                absent.push((column, needed));
            }
            if needed && header.unusable.is_none() {
                header.unusable = Some(column.header.clone());
            }
        }
        header.positions.push(position.filter(|_| column.meaning != Meaning::Ignored));
    }
    missing(book, file, grid, &header, log, &absent);
    header
}

fn twice(book: &mut Book, file: &str, row: u32, header: &str) {
    book.fault(Draft {
        code: "header-twice".into(),
        title: "two columns with the same header".into(),
        file: file.to_owned(),
        row: Some(row),
        column: Some(header.to_owned()),
        found: format!("\"{header}\" twice"),
        expected: "one column of this header".into(),
        mend: "rename one of them in the file".into(),
        fatal: true,
        ..Draft::default()
    });
}

/// Columns that are not there. Where the whole header is the trouble (another mark, another line), one
/// fault tells all of them.
fn missing(book: &mut Book, file: &str, grid: &Grid, header: &Header, log: &Log, absent: &[(&Column, bool)]) {
    let row = header.rows.first().copied().unwrap_or(0);
    let written: Vec<&str> = header.texts.iter().map(String::as_str).filter(|t| !t.is_empty()).collect();
    let lower = || later_header(grid, row, log).map(|n| format!("the declared headers stand in row {n}: declare skip_lines = {}", n - 1));
    let of_all = other_delimiter(&written).or_else(lower).filter(|_| absent.len() > 1);
    let draft = |column: &Column, fatal: bool, expected: String, mend: String| Draft {
        code: "column-missing".into(),
        title: "a declared column is not in the file".into(),
        file: file.to_owned(),
        row: Some(grid.number(row)),
        column: Some(column.header.clone()),
        found: format!("the headers {}", shortlist(&written)),
        expected,
        mend,
        fatal,
        ..Draft::default()
    };
    if let (Some(mend), Some((first, _))) = (of_all, absent.first()) {
        let names: Vec<&str> = absent.iter().map(|(c, _)| c.header.as_str()).collect();
        let expected = format!("the headers {} ({}, line {})", shortlist(&names), log.declared_in, first.line);
        book.fault(draft(first, absent.iter().any(|(_, needed)| *needed), expected, mend));
        return;
    }
    for (column, needed) in absent {
        let undeclared = written.iter().copied().filter(|w| !log.columns.iter().any(|c| c.header == *w));
        let mend = nearest(&column.header, undeclared).map_or_else(
            || "correct the header in the site file, or take the column out of it".to_owned(),
            |n| format!("did you mean \"{n}\"?"),
        );
        let expected = format!("the header \"{}\" ({}, line {})", column.header, log.declared_in, column.line);
        book.fault(draft(column, *needed, expected, mend));
    }
}

/// The first 40 of some headers, in quotes.
fn shortlist(headers: &[&str]) -> String {
    let mut list = headers.iter().take(40).map(|w| format!("\"{w}\"")).collect::<Vec<_>>().join(", ");
    if headers.len() > 40 {
        list.push_str(&format!(" and {} more", headers.len() - 40));
    }
    list
}

/// A header in one piece that holds another mark.
fn other_delimiter(written: &[&str]) -> Option<String> {
    let [only] = written else { return None };
    let (mark, name) = [(";", ";"), ("\t", "tab"), ("|", "|"), (",", ",")].into_iter().find(|(m, _)| only.contains(m))?;
    Some(format!("the header was not parted, and holds \"{}\": declare delimiter = \"{name}\"", if name == "tab" { "a tab" } else { mark }))
}

/// A row below in which more declared headers are found than in this one.
fn later_header(grid: &Grid, row: usize, log: &Log) -> Option<u32> {
    let named = |r: usize| log.columns.iter().filter(|c| grid.row(r).any(|cell| cell.text == c.header)).count();
    let here = named(row);
    let below = (row + 1..grid.len().min(row + 50)).max_by_key(|r| (named(*r), std::cmp::Reverse(*r)))?;
    (named(below) > here.max(1)).then(|| grid.number(below))
}
