//! Wide sheets to long tables: each head of a column is a day (or a unit), each filled group of cells
//! under it one row. A blank cell is no row, as a line that nobody wrote is none in a long log.
use super::header::Header;
use super::table::Table;
use crate::account::{Book, Draft};
use crate::declare::{Log, Meaning, Supply};
use crate::source::{CellView, Grid, Kind};
use std::collections::BTreeSet;

/// The columns of one head.
struct Group {
    /// Row and column of the head's cell.
    head: (usize, usize),
    /// Declared column and column of the grid.
    under: Vec<(usize, usize)>,
}

/// The columns of the grid that stand under a head.
pub(super) fn columns_read(log: &Log, grid: &Grid, header: &Header) -> BTreeSet<usize> {
    groups(log, grid, header).iter().flat_map(|g| g.under.iter().map(|(_, c)| *c)).collect()
}

/// A head that lacks one of the mass columns would be read as half of its masses.
fn incomplete(log: &Log, table: &Table, groups: &[Group], book: &mut Book) {
    for (index, column) in log.columns.iter().enumerate() {
        if column.from != Supply::UnderHeads || column.meaning != Meaning::Mass {
            continue;
        }
        for group in groups.iter().filter(|g| !g.under.iter().any(|(i, _)| *i == index)) {
            book.fault(Draft {
                code: "column-missing".into(),
                title: "a head of a wide sheet without one of its columns".into(),
                file: table.name.clone(),
                row: Some(table.grid.number(group.head.0)),
                column: Some(column.header.clone()),
                found: format!("no column \"{}\" under \"{}\"", column.header, table.grid.cell(group.head.0, group.head.1).text),
                expected: format!("the columns that [harvest.wide.columns] names ({}, line {})", log.declared_in, column.line),
                mend: "correct the last line of the header, or the names in the site file".into(),
                fatal: true,
                ..Draft::default()
            });
        }
    }
}

/// Filled cells of columns that have no header at all: nobody can tell whose day they are.
fn headless(table: &Table, header: &Header, book: &mut Book) {
    let blank = |column: &usize| header.texts.get(*column).is_none_or(String::is_empty);
    for column in (0..header.width()).filter(blank) {
        let filled = |row: &&usize| !table.grid.cell(**row, column).text.is_empty();
        let Some(first) = table.rows.iter().find(filled) else { continue };
        book.fault(Draft {
            code: "head-missing".into(),
            title: "filled cells under no head: not read".into(),
            file: table.name.clone(),
            row: Some(table.grid.number(*first)),
            found: format!("{} cells in column {} of the sheet", table.rows.iter().filter(filled).count(), column + 1),
            expected: "a day or a unit above every pick".into(),
            mend: "write the head of the column, or clear its cells".into(),
            group: column.to_string(),
            ..Draft::default()
        });
    }
}

/// Turns the rows of a wide table into one row for each head with a filled cell.
pub(super) fn lengthen(log: &Log, table: &mut Table, header: &Header, book: &mut Book) {
    let groups = groups(log, &table.grid, header);
    incomplete(log, table, &groups, book);
    headless(table, header, book);
    let mut long = Grid::default();
    long.from_1904 = table.grid.from_1904;
    let mut unfilled = 0;
    for row in &table.rows {
        let before = long.len();
        for group in groups.iter().filter(|g| g.under.iter().any(|(_, c)| !table.grid.cell(*row, *c).text.is_empty())) {
            long.start_row(table.grid.number(*row));
            for (index, column) in log.columns.iter().enumerate() {
                let cell = match column.from {
                    Supply::Header => table.cell(*row, index),
                    Supply::Heads => table.grid.cell(group.head.0, group.head.1),
                    Supply::UnderHeads => {
                        let found = group.under.iter().find(|(i, _)| *i == index);
                        found.map_or(CellView::BLANK, |(_, c)| table.grid.cell(*row, *c))
                    }
                    Supply::SheetName | Supply::FileName => CellView::BLANK,
                };
                long.push(cell.text, cell.kind);
            }
        }
        unfilled += u64::from(long.len() == before);
    }
    account(table, &groups, long.len(), unfilled, book);
    replace(log, table, long);
}

/// Rows read are the rows of the long table, and those of the wide one that were set aside before.
fn account(table: &Table, groups: &[Group], rows: usize, unfilled: u64, book: &mut Book) {
    book.infer(
        &table.name,
        "rows of a wide sheet",
        format!("{rows} filled cells or groups of cells, under {} heads", groups.len()),
        "the site file declares the log as wide; a blank cell is no row",
    );
    if let Some(account) = book.account(table.file) {
        account.read = account.read + rows as u64 - table.rows.len() as u64;
        if unfilled > 0 {
            account.other_lines.push((super::lines::Line::Unfilled.words().to_owned(), unfilled));
        }
    }
}

fn replace(log: &Log, table: &mut Table, long: Grid) {
    let stands = |(index, column): (usize, &crate::declare::Column)| match column.from {
        Supply::Header => table.positions.get(index).copied().flatten().map(|_| index),
        Supply::Heads | Supply::UnderHeads => (column.meaning != Meaning::Ignored).then_some(index),
        Supply::SheetName | Supply::FileName => None,
    };
    let positions = log.columns.iter().enumerate().map(stands).collect();
    table.positions = positions;
    table.rows = (0..long.len()).collect();
    table.unit_row = None;
    table.grid = long;
}

/// The heads with the columns under them, left to right. A head holds until the next one; heads of days
/// show a digit, and a column without one (a sum, a remark) is none of them.
fn groups(log: &Log, grid: &Grid, header: &Header) -> Vec<Group> {
    let [above @ .., last] = header.rows.as_slice() else { return Vec::new() };
    let top = above.first().copied();
    let of_days = log.columns.iter().any(|c| c.from == Supply::Heads && c.meaning == Meaning::Date);
    let is_head = |cell: CellView<'_>| {
        !cell.text.is_empty() && (!of_days || cell.kind != Kind::Text || cell.text.contains(|c: char| c.is_ascii_digit()))
    };
    let mut groups: Vec<Group> = Vec::new();
    let mut head: Option<(usize, usize)> = None;
    for column in 0..header.width() {
        let declared = |c: &crate::declare::Column| c.from == Supply::Header && header.texts.get(column).is_some_and(|t| *t == c.header);
        if log.columns.iter().any(declared) {
            head = None;
            continue;
        }
        let row = top.unwrap_or(*last);
        let cell = grid.cell(row, column);
        match (cell.text.is_empty(), is_head(cell)) {
            (false, true) => head = Some((row, column)),
            (false, false) => head = None,
            (true, _) => {}
        }
        let Some(head) = head else { continue };
        let Some(under) = under(log, top.map(|_| grid.cell(*last, column).text)) else { continue };
        let same_head = |g: &Group| grid.cell(g.head.0, g.head.1).text == grid.cell(head.0, head.1).text;
        match groups.last_mut().filter(|g| same_head(g) && !g.under.iter().any(|(i, _)| *i == under)) {
            Some(group) => group.under.push((under, column)),
            None if top.is_none() && cell.text.is_empty() => {}
            None => groups.push(Group { head, under: vec![(under, column)] }),
        }
    }
    groups
}

/// The declared column of the cells under a head, by the last line of the header where it has several.
fn under(log: &Log, last_line: Option<&str>) -> Option<usize> {
    let mut under = log.columns.iter().enumerate().filter(|(_, c)| c.from == Supply::UnderHeads);
    match last_line {
        Some(text) => under.find(|(_, c)| c.header == text || c.header == "cells").map(|(i, _)| i),
        None => under.next().map(|(i, _)| i),
    }
}
