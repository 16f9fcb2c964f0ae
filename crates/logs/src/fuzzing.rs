//! Doors for the fuzz targets of `tests/fuzz`: the private readers, as they are. Compiled under
//! `cfg(fuzzing)` alone, which `cargo fuzz` sets.
use crate::cells::{DateStyle, Dating, Local, Timeline, Values};
use crate::declare::Column;
use crate::raw::{RawCell, view};
use crate::source::{self, Broken, CellView, Kind};
use crosshouse_readings::quantity::{NumberFault, NumberStyle};
use crosshouse_readings::units::Quantity;
use jiff::civil::Date;

/// A text as its cells, trimmed.
#[derive(Debug, Clone, PartialEq)]
pub struct Cells {
    pub delimiter: char,
    pub text: String,
    pub rows: Vec<Vec<String>>,
    /// Row numbers as an editor shows them.
    pub numbers: Vec<u32>,
    /// Rows with a quotation mark that is never closed.
    pub unclosed: usize,
    /// The file was read no further than its last row.
    pub stopped: bool,
}

/// Bytes to text, its delimiter, its cells.
///
/// # Errors
/// The code of the refusal.
pub fn delimited(bytes: &[u8], encoding: Option<&str>, headers: &[&str]) -> Result<Cells, &'static str> {
    let text = source::decode(bytes.to_vec(), encoding).map_err(|why| why.code)?.text;
    let delimiter = source::agree_on_delimiter(&text, 0, None, headers).delimiter;
    Ok(cells(text, delimiter))
}

/// A text's cells by a delimiter.
pub fn cells(text: String, delimiter: char) -> Cells {
    let split = source::split(&text, delimiter);
    let grid = split.grid;
    let rows = (0..grid.len()).map(|r| grid.row(r).map(|c| c.text.to_owned()).collect()).collect();
    let numbers = (0..grid.len()).map(|r| grid.number(r)).collect();
    let unclosed = split.broken.iter().filter(|b| matches!(b, Broken::Unclosed(_))).count();
    Cells { delimiter, text, rows, numbers, unclosed, stopped: unclosed < split.broken.len() }
}

/// Cells of all sheets of a workbook.
///
/// # Errors
/// The code of the refusal.
pub fn workbook(name: &str, bytes: &[u8]) -> Result<usize, &'static str> {
    let sheets = source::read_workbook(name, bytes.to_vec(), Some("*")).map_err(|why| why.code)?;
    let cells = |s: &source::Sheet| (0..s.grid.len()).map(|r| s.grid.width(r)).sum::<usize>();
    Ok(sheets.iter().map(cells).sum())
}

/// The reader of a column's numbers; `None` where its unit is refused.
pub struct Numbers(Values);

impl Numbers {
    pub fn plain(style: NumberStyle) -> Self {
        Numbers(Values::plain(style))
    }

    pub fn of(column: &Column, quantity: Quantity, style: NumberStyle) -> Option<Self> {
        Values::of(column, quantity, style).ok().map(Numbers)
    }

    /// # Errors
    /// What is wrong with the text.
    pub fn read(&self, text: &str) -> Result<f64, NumberFault> {
        self.0.read(CellView { text, kind: Kind::Text })
    }

    pub fn below_detection(&self, column: &Column, text: &str) -> Option<Option<f64>> {
        self.0.below_detection(column, CellView { text, kind: Kind::Text })
    }
}

/// The reader of a column's days and times.
pub struct Stamps(Dating);

/// A day, seconds since its midnight, offset from UTC in seconds.
pub type Read = (Date, Option<i64>, Option<i32>);

impl Stamps {
    /// `None`: the words are no date style.
    pub fn of(words: &str, year: Option<i16>, week_day: Option<i8>, twelve_hour: bool, from_1904: bool) -> Option<Self> {
        let style = DateStyle::completed(words, year, week_day).ok()?;
        Some(Stamps(Dating { style, twelve_hour, from_1904 }))
    }

    pub fn read(&self, cell: RawCell<'_>) -> Option<Read> {
        self.0.read(view(cell)).ok().map(|s| (s.date, s.seconds, s.offset))
    }

    pub fn time(&self, cell: RawCell<'_>) -> Option<(i64, Option<i32>)> {
        self.0.time(view(cell)).ok()
    }
}

/// The styles that fit all the texts, where none is declared.
pub fn search(texts: &[&str], twelve_hour: bool) -> String {
    format!("{:?}", crate::cells::search_style(texts.iter().map(|text| CellView { text, kind: Kind::Text }), twelve_hour))
}

/// A serial date of a workbook as messages write it.
pub fn serial_text(days: f64) -> String {
    crate::cells::serial_text(days)
}

/// A zone's clock.
pub struct Zone(Timeline);

impl Zone {
    pub fn of(zone: &jiff::tz::TimeZone) -> Self {
        Zone(Timeline::of(zone))
    }

    /// When the clock shows a civil second: once, earlier and later, or never.
    pub fn instants(&mut self, local: i64) -> Vec<i64> {
        match self.0.resolve(local) {
            Local::Once(instant) => vec![instant],
            Local::Twice { earlier, later } => vec![earlier, later],
            Local::Never => Vec::new(),
        }
    }
}
