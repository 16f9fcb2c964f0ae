//! The lines of a file down to its header: delimiter, preamble, which column is which.
use super::bytes::{Bytes, decoded};
use super::file::{Place, Stop};
use crate::account::Book;
use crate::declare::Log;
use crate::shape::{Header, Line, first_row, kinds, locate, unread};
use crate::source::{Grid, agree_on_delimiter, split};
use encoding_rs::{Encoding, UTF_8};
use std::collections::BTreeMap;

/// Lines looked at for the header, and for the delimiter where none is declared.
const HEAD_LINES: usize = 60;
const DELIMITER_LINES: usize = 200;

/// What the lines down to the header say.
pub(super) struct Head {
    pub delimiter: char,
    pub header: Header,
    pub grid: Grid,
    /// Where the first line below the header begins.
    pub data: usize,
    pub counts: BTreeMap<Line, u64>,
    /// Line number of that line.
    pub line: u32,
    pub width: usize,
    /// Inferences in the order in which they are told.
    pub mark: Option<(String, String)>,
    pub told_delimiter: Option<(String, String)>,
    pub book: Book,
}

impl Head {
    pub fn of(place: &Place<'_>, bytes: &Bytes) -> Result<Head, Stop> {
        let log = &place.log.log;
        let raw = bytes.buffer.get(..bytes.whole_lines(0)?).unwrap_or_default();
        let skipped = match Encoding::for_bom(raw) {
            Some((encoding, length)) if encoding == UTF_8 => length,
            Some(_) => return Err(Stop::General),
            None => 0,
        };
        if skipped > 0 && bytes.encoding != UTF_8 {
            return Err(Stop::General);
        }
        let mark = (skipped > 0 && log.layout.encoding.is_none())
            .then(|| (UTF_8.name().to_owned(), "the file begins with a byte-order mark".to_owned()));
        let raw = raw.get(skipped..).unwrap_or_default();
        let text = decoded(raw, bytes.encoding)?;
        let (delimiter, told_delimiter) = delimiter(log, &text, bytes.ended)?;
        let looked = first_lines(&text, log.layout.skip_lines as usize + HEAD_LINES, bytes.ended).ok_or(Stop::General)?;
        let grid = split(looked, delimiter);
        let row = first_row(&grid.grid, log).filter(|_| grid.broken.is_empty()).ok_or(Stop::General)?;
        if (0..=row).any(|r| grid.grid.number(r) as usize != r + 1)
            || grid.grid.len() > row + 1 && grid.grid.number(row + 1) as usize != row + 2
        {
            return Err(Stop::General);
        }
        let above = first_lines(&text, row + 1, true).ok_or(Stop::General)?;
        let length = raw.iter().enumerate().filter(|(_, b)| **b == b'\n').nth(row).map_or(raw.len(), |(i, _)| i + 1);
        let grid = split(above, delimiter).grid;
        // A lone carriage return ends a line too: what stands behind it is a row.
        if grid.len() != row + 1 {
            return Err(Stop::General);
        }
        let mut book = place.book.beside();
        let header = locate(&grid, row, log, &place.found.name, &mut book);
        if !book.faults.is_empty() || header.unusable.is_some() {
            return Err(Stop::General);
        }
        let mut counts = BTreeMap::new();
        for kind in kinds(&grid, log, &header) {
            *counts.entry(kind).or_default() += 1;
        }
        unread(log, &place.found.name, &grid, &header, &mut book);
        let width = grid.width(row);
        Ok(Head { delimiter, header, grid, data: skipped + length, counts, line: row as u32 + 2, width, mark, told_delimiter, book })
    }
}

/// The delimiter, and how it was found where none is declared.
fn delimiter(log: &Log, text: &str, whole: bool) -> Result<(char, Option<(String, String)>), Stop> {
    if let Some(declared) = log.layout.delimiter {
        return Ok((declared, None));
    }
    let comment = log.layout.comment.as_deref();
    let skip = log.layout.skip_lines as usize;
    let counted = |l: &&str| !l.trim().is_empty() && comment.is_none_or(|c| !l.trim_start().starts_with(c));
    if !whole && text.lines().skip(skip).filter(counted).take(DELIMITER_LINES).count() < DELIMITER_LINES {
        return Err(Stop::General);
    }
    let headers: Vec<&str> = log.columns.iter().map(|c| c.header.as_str()).collect();
    let agreed = agree_on_delimiter(text, skip, comment, &headers);
    let shown = if agreed.delimiter == '\t' { "tab".to_owned() } else { agreed.delimiter.to_string() };
    Ok((agreed.delimiter, Some((shown, agreed.because))))
}

/// The first `n` lines with their line ends; fewer only where that is all there is.
fn first_lines(text: &str, n: usize, whole: bool) -> Option<&str> {
    let end = text.bytes().enumerate().filter(|(_, b)| *b == b'\n').nth(n.saturating_sub(1)).map(|(i, _)| i + 1);
    match end {
        Some(end) => text.get(..end),
        None => whole.then_some(text),
    }
}
