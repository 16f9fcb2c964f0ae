//! A file as it is written, before anybody declared anything: for drafting a site file.
//!
//! Bytes are decoded, lines split and workbooks read by the same code as a declared log.
use crate::cells::{Dating, StampFault};
use crate::source::{self, Broken, CellView, Grid, Unreadable};
use crosshouse_readings::{Fault, Place};
use jiff::civil::Date;
use std::path::Path;

/// A file decoded and split: one sheet, or those of a workbook.
#[derive(Debug)]
pub struct RawFile {
    pub sheets: Vec<RawSheet>,
    /// The encoding and the evidence for it, where the file is text beyond ASCII.
    pub encoding: Option<(String, String)>,
    /// The bytes are not UTF-8: the encoding is the best guess.
    pub guessed: bool,
    /// The mark between cells; `None` in a workbook.
    pub delimiter: Option<char>,
    /// Rows with a quotation mark that is never closed.
    pub unclosed: Vec<u32>,
}

/// Rows of cells with the numbers that an editor shows.
#[derive(Debug)]
pub struct RawSheet {
    /// Of a workbook.
    pub name: Option<String>,
    /// Cells filled from the corner of a merged block.
    pub merged: u32,
    grid: Grid,
}

/// One cell, trimmed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RawCell<'g> {
    pub text: &'g str,
    pub is: RawKind,
}

/// What a workbook says a cell is; text files have text alone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum RawKind {
    Text,
    Number(f64),
    /// A date or time of a workbook, in days.
    Serial(f64),
    Error,
}

impl RawSheet {
    pub fn rows(&self) -> usize {
        self.grid.len()
    }

    /// Row number as an editor shows it.
    pub fn number(&self, row: usize) -> u32 {
        self.grid.number(row)
    }

    pub fn width(&self, row: usize) -> usize {
        self.grid.width(row)
    }

    pub fn cell(&self, row: usize, column: usize) -> RawCell<'_> {
        let view = self.grid.cell(row, column);
        let is = match view.kind {
            source::Kind::Text => RawKind::Text,
            source::Kind::Number(x) => RawKind::Number(x),
            source::Kind::Serial(x) => RawKind::Serial(x),
            source::Kind::Error => RawKind::Error,
        };
        RawCell { text: view.text, is }
    }

    pub fn is_blank(&self, row: usize) -> bool {
        self.grid.is_blank(row)
    }

    pub fn first_word(&self, row: usize) -> &str {
        self.grid.first_word(row)
    }
}

/// Reads a file of unknown habit.
///
/// # Errors
/// Why it cannot be read: absent, no text, no workbook, too large.
pub fn read(path: &Path, name: &str) -> Result<RawFile, Box<Fault>> {
    read_file(path, name).map_err(|why| Box::new(fault(name, why)))
}

fn read_file(path: &Path, name: &str) -> Result<RawFile, Unreadable> {
    let raw = source::read_bytes(path)?;
    if source::is_workbook(name) {
        let sheets = source::read_workbook(name, raw.bytes, Some("*"))?;
        let sheets = sheets.into_iter().map(|s| RawSheet { name: Some(s.name), merged: s.merged, grid: s.grid }).collect();
        return Ok(RawFile { sheets, encoding: None, guessed: false, delimiter: None, unclosed: Vec::new() });
    }
    let decoded = source::decode(raw.bytes, None)?;
    let delimiter = source::agree_on_delimiter(&decoded.text, 0, None, &[]).delimiter;
    let split = source::split(&decoded.text, delimiter);
    let mut unclosed = Vec::new();
    for broken in split.broken {
        match broken {
            Broken::Unclosed(row) => unclosed.push(row),
            Broken::TooLong(row) | Broken::TooWide(row) => return Err(no_log(row)),
        }
    }
    Ok(RawFile {
        sheets: vec![RawSheet { name: None, merged: 0, grid: split.grid }],
        guessed: decoded.guessed_from.is_some(),
        encoding: decoded.inferred,
        delimiter: Some(delimiter),
        unclosed,
    })
}

fn no_log(row: u32) -> Unreadable {
    let expected = "lines of at most 1 MB and 10,000 cells";
    Unreadable::new("row-too-wide", "not the rows of a log", format!("a monstrous line in row {row}"), expected, "export the log again")
        .at_row(row)
}

fn fault(name: &str, why: Unreadable) -> Fault {
    Fault {
        code: why.code.to_owned(),
        title: why.title.to_owned(),
        place: Place { file: name.into(), row: why.row, column: None },
        found: why.found,
        expected: why.expected,
        mend: why.mend,
        also_rows: Vec::new(),
        fatal: true,
    }
}

/// The date styles that are tried where none is declared.
pub fn styles_tried() -> &'static [&'static str] {
    crate::cells::styles_tried()
}

/// A reader of the days of one style.
#[derive(Debug, Clone)]
pub struct Days(Dating);

/// A day, and the seconds since its midnight where a time follows it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DayAndTime {
    pub day: Date,
    pub seconds: Option<i64>,
    /// Offset from UTC in seconds, where the cell writes one.
    pub offset: Option<i32>,
}

impl Days {
    /// `None`: the words are no date style.
    pub fn of(style: &str, twelve_hour: bool) -> Option<Self> {
        let style = crate::cells::DateStyle::parse(style).ok()?;
        Some(Days(Dating { style, twelve_hour, from_1904: false }))
    }

    /// `None`: no day of this style, or something other than a time after it.
    pub fn read(&self, cell: RawCell<'_>) -> Option<DayAndTime> {
        self.0.read(view(cell)).ok().map(|s| DayAndTime { day: s.date, seconds: s.seconds, offset: s.offset })
    }

    /// Whether a day of this style stands there, whatever clock the time behind it is of.
    pub fn has_day(&self, cell: RawCell<'_>) -> bool {
        !matches!(self.0.read(view(cell)), Err(StampFault::Date(_)))
    }

    /// Seconds since midnight of a time in its own column.
    pub fn time(&self, cell: RawCell<'_>) -> Option<i64> {
        self.0.time(view(cell)).ok().map(|(seconds, _)| seconds)
    }
}

pub(crate) fn view(cell: RawCell<'_>) -> CellView<'_> {
    let kind = match cell.is {
        RawKind::Text => source::Kind::Text,
        RawKind::Number(x) => source::Kind::Number(x),
        RawKind::Serial(x) => source::Kind::Serial(x),
        RawKind::Error => source::Kind::Error,
    };
    CellView { text: cell.text, kind }
}

/// A written unit id as the identity rules compare it.
pub fn same_id(text: &str, rules: &crate::declare::IdRules) -> String {
    crate::cells::normal(text, rules)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_of_unknown_habit_is_decoded_and_split_and_says_how() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.txt");
        let bytes: Vec<u8> = "Tag;Gewicht\n1.7.2031;1,25\n".encode_utf16().flat_map(u16::to_le_bytes).collect();
        std::fs::write(&path, bytes).unwrap();
        let file = read(&path, "a.txt").unwrap();
        assert_eq!((file.delimiter, file.encoding.unwrap().0.as_str()), (Some(';'), "UTF-16LE"));
        assert_eq!(file.sheets[0].cell(1, 1).text, "1,25");
    }

    #[test]
    fn a_picture_is_refused_with_a_sentence() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.csv");
        std::fs::write(&path, b"\x89PNG\r\n\x1a\n\0\0\0").unwrap();
        assert_eq!(read(&path, "a.csv").unwrap_err().code, "file-not-text");
    }
}
