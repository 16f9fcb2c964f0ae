//! From a path to a grid of cells: which files, their bytes, their encoding, their rows.
mod bytes;
mod delimiter;
mod encoding;
mod files;
mod grid;
mod inflate_size;
mod lines;
mod markup;
mod workbook;
mod zip_size;

pub(crate) use bytes::read as read_bytes;
pub(crate) use delimiter::agree as agree_on_delimiter;
pub(crate) use encoding::decode;
pub(crate) use files::{Found, expand, matches, starred};
pub(crate) use grid::{CellView, Grid, Kind};
pub(crate) use lines::{Broken, split};
#[cfg(fuzzing)]
pub(crate) use workbook::Sheet;
pub use workbook::panic_is_told;
pub(crate) use workbook::{is_workbook, read as read_workbook};

/// An operating system's refusal in plain words, without its error number.
pub(crate) fn reason(error: &std::io::Error) -> String {
    use std::io::ErrorKind;
    match error.kind() {
        ErrorKind::NotFound => "no such file".into(),
        ErrorKind::PermissionDenied => "a file that may not be opened (no permission)".into(),
        ErrorKind::IsADirectory => "a folder".into(),
        _ => format!("a file that could not be read ({})", error.kind()),
    }
}

/// A fault of one file before any row was read: what, found, expected, mend.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Unreadable {
    pub code: &'static str,
    pub title: &'static str,
    /// Where in the file, if that can be told.
    pub row: Option<u32>,
    pub found: String,
    pub expected: String,
    pub mend: String,
}

impl Unreadable {
    pub fn new(code: &'static str, title: &'static str, found: impl Into<String>, expected: &str, mend: &str) -> Self {
        Unreadable { code, title, row: None, found: found.into(), expected: expected.into(), mend: mend.into() }
    }

    pub fn at_row(self, row: u32) -> Self {
        Unreadable { row: Some(row), ..self }
    }
}
