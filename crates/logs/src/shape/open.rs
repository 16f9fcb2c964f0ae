//! Opens a file of a log: bytes, encoding, rows, header, lines; everything inferred is told.
use super::decimal::{is_number, settle_decimal};
use super::header::{Header, first_row, locate};
use super::lines::{Line, kinds};
use super::table::Table;
use super::wide;
use crate::account::{Book, Draft, Why};
use crate::declare::{Log, Supply};
use crate::source::{self, Broken, Found, Grid, Unreadable};
use crosshouse_readings::quantity::NumberStyle;
use crosshouse_readings::{FileId, Source};
use std::collections::{BTreeMap, BTreeSet};

/// The tables of a file: one, or one a sheet. What cannot be used is told in the book.
pub(crate) fn open(log: &Log, found: &Found, book: &mut Book) -> Vec<Table> {
    let raw = match source::read_bytes(&found.path) {
        Ok(raw) => raw,
        Err(why) => {
            book.unreadable(&found.name, why);
            book.open_file(log.kind, &found.name, "", 0);
            return Vec::new();
        }
    };
    let about = About { sha256: raw.sha256, bytes: raw.bytes.len() as u64 };
    let grids = if source::is_workbook(&found.name) {
        sheets(log, found, raw.bytes, book)
    } else {
        delimited(log, found, raw.bytes, book).map(|grid| vec![Named { name: found.name.clone(), sheet: None, grid }])
    };
    match grids {
        Ok(grids) => grids.into_iter().filter_map(|named| table(log, found, named, &about, book)).collect(),
        Err(why) => {
            book.unreadable(&found.name, why);
            book.open_file(log.kind, &found.name, &about.sha256, about.bytes);
            Vec::new()
        }
    }
}

struct About {
    sha256: String,
    bytes: u64,
}

/// A grid with its name for people, and that of its sheet.
struct Named {
    name: String,
    sheet: Option<String>,
    grid: Grid,
}

type Grids = Result<Vec<Named>, Unreadable>;

fn sheets(log: &Log, found: &Found, bytes: Vec<u8>, book: &mut Book) -> Grids {
    let sheets = source::read_workbook(&found.name, bytes, log.sheet.as_deref())?;
    let mut grids = Vec::new();
    for sheet in sheets {
        let name = format!("{} / {}", found.name, sheet.name);
        if log.sheet.is_none() {
            book.infer(&name, "sheet", format!("\"{}\"", sheet.name), "the workbook has no other");
        }
        for (what, as_read, because) in sheet.told() {
            book.infer(&name, what, as_read, because);
        }
        grids.push(Named { name, sheet: Some(sheet.name), grid: sheet.grid });
    }
    Ok(grids)
}

/// What the names of the sheet and the file say of every row.
fn fixed(log: &Log, found: &Found, sheet: Option<&str>) -> Vec<Option<String>> {
    let of_sheet = || sheet.map(|name| source::starred(log.sheet.as_deref().unwrap_or("*"), name));
    let pattern = || log.files.iter().find(|p| source::matches(p, &found.name)).map_or("*", String::as_str);
    log.columns
        .iter()
        .map(|column| match column.from {
            Supply::SheetName => of_sheet(),
            Supply::FileName => Some(source::starred(pattern(), &found.name)),
            _ => None,
        })
        .collect()
}

fn delimited(log: &Log, found: &Found, bytes: Vec<u8>, book: &mut Book) -> Result<Grid, Unreadable> {
    let layout = &log.layout;
    let decoded = source::decode(bytes, layout.encoding.as_deref())?;
    if let Some((encoding, because)) = decoded.inferred {
        if let Some((bytes, row)) = decoded.guessed_from {
            guessed_encoding(log, &found.name, &encoding, bytes, row, book);
        }
        book.infer(&found.name, "encoding", encoding, because);
    }
    let delimiter = layout.delimiter.unwrap_or_else(|| {
        let headers: Vec<&str> = log.columns.iter().map(|c| c.header.as_str()).collect();
        let agreed = source::agree_on_delimiter(&decoded.text, layout.skip_lines as usize, layout.comment.as_deref(), &headers);
        let shown = if agreed.delimiter == '\t' { "tab".to_owned() } else { agreed.delimiter.to_string() };
        book.infer(&found.name, "delimiter", shown, agreed.because);
        agreed.delimiter
    });
    let split = source::split(&decoded.text, delimiter);
    for broken in split.broken {
        told(broken, &found.name, book)?;
    }
    Ok(split.grid)
}

/// Bytes of an older encoding that nobody declared are read by the best guess, and asked about.
fn guessed_encoding(log: &Log, file: &str, guess: &str, found: String, row: u32, book: &mut Book) {
    book.fault(Draft {
        code: "encoding-undeclared".into(),
        title: "not UTF-8, and no encoding is declared".into(),
        file: file.to_owned(),
        row: Some(row),
        found,
        expected: "UTF-8, or the encoding declared".into(),
        mend: format!(
            "declare encoding = \"{}\" if the letters of the file then read right ({}, line {}), or export the log as UTF-8",
            guess.to_lowercase(),
            log.declared_in,
            log.line
        ),
        ..Draft::default()
    });
}

/// An unclosed quotation mark is told; a monstrous line ends the reading of the file.
fn told(broken: Broken, file: &str, book: &mut Book) -> Result<(), Unreadable> {
    match broken {
        Broken::Unclosed(row) => {
            book.fault(Draft {
                code: "quote-unclosed".into(),
                title: "a quotation mark that is never closed".into(),
                file: file.to_owned(),
                row: Some(row),
                found: "a cell that begins with \" and has no closing \"".into(),
                expected: "quotation marks in pairs".into(),
                mend: "close the mark, or take it out; the row was read as if it had none".into(),
                ..Draft::default()
            });
            Ok(())
        }
        Broken::TooLong(row) => Err(Unreadable::new(
            "line-too-long",
            "a line too long to be a row",
            format!("more than 1 MB in row {row}"),
            "rows of a log",
            "export the log again",
        )
        .at_row(row)),
        Broken::TooWide(row) => Err(Unreadable::new(
            "row-too-wide",
            "a row too wide to be one",
            format!("more than 10,000 cells in row {row}"),
            "the columns of a log",
            "check the delimiter, or export the log again",
        )
        .at_row(row)),
    }
}

fn table(log: &Log, found: &Found, named: Named, about: &About, book: &mut Book) -> Option<Table> {
    let fixed = fixed(log, found, named.sheet.as_deref());
    let Named { name, grid, .. } = named;
    let file = book.open_file(log.kind, &name, &about.sha256, about.bytes);
    let Some(row) = first_row(&grid, log) else {
        count(book, file, &vec![Line::Blank; grid.len()]);
        book.unreadable(
            &name,
            Unreadable::new(
                "header-missing",
                "no header in the file",
                "only blank, comment or skipped lines",
                "a header and rows",
                "check skip_lines and comment in the site file, or export the log again",
            ),
        );
        return None;
    };
    let header = locate(&grid, row, log, &name, book);
    let kinds = kinds(&grid, log, &header);
    count(book, file, &kinds);
    let rows: Vec<usize> = kinds.iter().enumerate().filter(|(_, k)| **k == Line::Row).map(|(i, _)| i).collect();
    if rows.is_empty() {
        no_rows(&name, book);
    }
    unread(log, &name, &grid, &header, book);
    let unit_row = kinds.iter().position(|k| *k == Line::UnitRow);
    let mut table = Table { file, name, grid, positions: header.positions.clone(), fixed, unit_row, rows, style: style(log) };
    if let Some(column) = &header.unusable {
        all_aside(&table, column, book);
        return None;
    }
    ragged(&mut table, header.width(), book);
    if log.wide {
        wide::lengthen(log, &mut table, &header, book);
    }
    settle_decimal(log, &mut table, book);
    numbers_as_text(log, &table, book);
    Some(table)
}

/// Numbers of a workbook that its cells hold as text are read like the others, and counted.
fn numbers_as_text(log: &Log, table: &Table, book: &mut Book) {
    let workbook = table.name.contains(" / ");
    let is_text = |row: usize, column: usize| {
        let cell = table.cell(row, column);
        cell.kind == source::Kind::Text && crosshouse_readings::quantity::number(cell.text, table.style).is_ok()
    };
    for (i, column) in log.columns.iter().enumerate().filter(|(i, c)| workbook && table.has(*i) && is_number(log.kind, &c.meaning)) {
        let count = table.rows.iter().filter(|row| is_text(**row, i)).count();
        if count > 0 {
            book.infer(
                &table.name,
                format!("numbers stored as text in column \"{}\"", column.header),
                format!("{} read as the numbers they write", crate::flags::many(count, "cell")),
                "the workbook holds them as text",
            );
        }
    }
}

fn style(log: &Log) -> NumberStyle {
    NumberStyle { decimal: log.layout.decimal.unwrap_or('.'), thousands: log.layout.thousands }
}

fn count(book: &mut Book, file: FileId, kinds: &[Line]) {
    let mut counts: BTreeMap<Line, u64> = BTreeMap::new();
    for kind in kinds {
        *counts.entry(*kind).or_default() += 1;
    }
    if let Some(account) = book.account(file) {
        account.read = counts.remove(&Line::Row).unwrap_or(0);
        account.other_lines = counts.into_iter().map(|(k, n)| (k.words().to_owned(), n)).collect();
    }
}

fn no_rows(name: &str, book: &mut Book) {
    book.fault(Draft {
        code: "no-rows".into(),
        title: "a header and no rows".into(),
        file: name.to_owned(),
        found: "no row below the header".into(),
        expected: "at least one row".into(),
        mend: "export the log again, or take the file out of the site file".into(),
        ..Draft::default()
    });
}

/// Columns that the site file does not name are told once a file.
fn unread(log: &Log, name: &str, grid: &Grid, header: &Header, book: &mut Book) {
    let wide = if log.wide { wide::columns_read(log, grid, header) } else { BTreeSet::new() };
    let named = |text: &str| log.columns.iter().any(|c| c.from == Supply::Header && c.header == text);
    let list: Vec<String> = header
        .texts
        .iter()
        .enumerate()
        .filter(|(column, t)| !t.is_empty() && !named(t) && !wide.contains(column))
        .map(|(_, t)| format!("\"{t}\""))
        .collect();
    if !list.is_empty() {
        book.infer(name, "columns not read", list.join(", "), format!("{} does not name them", log.declared_in));
    }
}

fn all_aside(table: &Table, column: &str, book: &mut Book) {
    for row in &table.rows {
        let written = table.written(*row);
        let why = format!("the file has no column \"{column}\", without which no row has a place");
        book.row_aside(table.source(*row), Some(column), Why { code: "column-missing", found: &written, why });
    }
}

/// Rows with cells beyond the header are set aside: no one can tell which cell is which. Shorter
/// rows are read as if blank cells followed, and told.
fn ragged(table: &mut Table, width: usize, book: &mut Book) {
    let beyond = |row: usize| (width..table.grid.width(row)).any(|c| !table.grid.cell(row, c).text.is_empty());
    let long: Vec<usize> = table.rows.iter().copied().filter(|r| beyond(*r)).collect();
    for row in &long {
        let Source { file: _, row: number } = table.source(*row);
        let found = format!("{} cells under a header of {width}", table.grid.width(*row));
        book.fault(Draft {
            code: "row-ragged".into(),
            title: "more cells than the header has".into(),
            file: table.name.clone(),
            row: Some(number),
            found: found.clone(),
            expected: format!("at most {width} cells"),
            mend: "put cells that hold the delimiter in quotes, or declare the delimiter and decimal mark that the file uses".into(),
            ..Draft::default()
        });
        let written = table.written(*row);
        book.row_aside(
            table.source(*row),
            None,
            Why { code: "row-ragged", found: &written, why: format!("{found}: which cell belongs to which column cannot be told") },
        );
    }
    table.rows.retain(|r| long.binary_search(r).is_err());
    let workbook = table.name.contains(" / ");
    let short = table.rows.iter().filter(|r| table.grid.width(**r) < width).count();
    if short > 0 && !workbook {
        book.infer(
            &table.name,
            "rows shorter than the header",
            format!("{short} rows, the missing cells read as blank"),
            format!("the header has {width} cells"),
        );
    }
}
