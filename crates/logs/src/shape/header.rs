//! Where the header stands, and which of its cells is which declared column.
use crate::account::{Book, Draft};
use crate::declare::{Log, LogKind, Meaning};
use crate::source::Grid;
use crosshouse_readings::declared::nearest;

/// The header row and the position of each declared column.
pub(super) struct Header {
    pub row: usize,
    pub positions: Vec<Option<usize>>,
    /// A column without which no row has a place is missing: all rows are set aside.
    pub unusable: Option<String>,
}

/// The first row that is neither preamble, comment nor blank.
pub(super) fn first_row(grid: &Grid, log: &Log) -> Option<usize> {
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

pub(super) fn locate(grid: &Grid, row: usize, log: &Log, file: &str, book: &mut Book) -> Header {
    let written: Vec<&str> = grid.row(row).map(|c| c.text).collect();
    let mut header = Header { row, positions: Vec::with_capacity(log.columns.len()), unusable: None };
    for column in &log.columns {
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
                missing(book, file, grid, row, log, &column.header, needed);
            }
            if needed && header.unusable.is_none() {
                header.unusable = Some(column.header.clone());
            }
        }
        header.positions.push(position.filter(|_| column.meaning != Meaning::Ignored));
    }
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

fn missing(book: &mut Book, file: &str, grid: &Grid, row: usize, log: &Log, header: &str, fatal: bool) {
    let written: Vec<&str> = grid.row(row).map(|c| c.text).filter(|t| !t.is_empty()).collect();
    let mut list = written.iter().take(40).map(|w| format!("\"{w}\"")).collect::<Vec<_>>().join(", ");
    if written.len() > 40 {
        list.push_str(&format!(" and {} more", written.len() - 40));
    }
    let undeclared = written.iter().copied().filter(|w| !log.columns.iter().any(|c| c.header == *w));
    let near = nearest(header, undeclared).map(|n| format!("did you mean \"{n}\"?"));
    let lower = later_header(grid, row, log).map(|n| format!("the declared headers stand in row {n}: declare skip_lines = {}", n - 1));
    book.fault(Draft {
        code: "column-missing".into(),
        title: "a declared column is not in the file".into(),
        file: file.to_owned(),
        row: Some(grid.number(row)),
        column: Some(header.to_owned()),
        found: format!("the headers {list}"),
        expected: format!(
            "the header \"{header}\" ({}, line {})",
            log.declared_in,
            log.columns.iter().find(|c| c.header == header).map_or(log.line, |c| c.line)
        ),
        mend: other_delimiter(&written)
            .or(lower)
            .or(near)
            .unwrap_or_else(|| "correct the header in the site file, or take the column out of it".to_owned()),
        fatal,
        ..Draft::default()
    });
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
