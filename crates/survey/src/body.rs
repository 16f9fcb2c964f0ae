//! Files and sheets of one habit as one log: equal headers, marks and frame.
use crate::frame::Frame;
use crosshouse_logs::raw::{RawCell, RawSheet};

/// One file, or one sheet of a workbook, with its frame.
#[derive(Debug)]
pub(crate) struct Part {
    /// Relative to the folder of logs.
    pub file: String,
    pub sheet: RawSheet,
    pub frame: Frame,
    pub encoding: Option<(String, String)>,
    pub guessed: bool,
    pub delimiter: Option<char>,
    /// Rows with a quotation mark that is never closed.
    pub unclosed: Vec<u32>,
}

/// Parts of one habit.
#[derive(Debug)]
pub(crate) struct Body {
    pub parts: Vec<Part>,
}

/// A cell and where it stands.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Spot<'b> {
    pub part: usize,
    /// As an editor shows it.
    pub row: u32,
    pub cell: RawCell<'b>,
}

impl Part {
    /// The file, with the sheet of a workbook.
    pub fn name(&self) -> String {
        self.sheet.name.as_ref().map_or_else(|| self.file.clone(), |s| format!("{} / {s}", self.file))
    }

    /// A comment or an encoding that one file shows and another does not parts no habits; a header does.
    fn same_habit(&self, other: &Part) -> bool {
        let (a, b) = (&self.frame, &other.frame);
        let equal = a.headers == b.headers
            && a.header_lines == b.header_lines
            && a.skip_lines == b.skip_lines
            && a.unit_row.is_some() == b.unit_row.is_some();
        let encoding = |p: &Part| p.encoding.as_ref().map(|e| e.0.clone());
        equal && self.delimiter == other.delimiter && agree(a.comment, b.comment) && agree(encoding(self), encoding(other))
    }
}

/// Equal, or not shown by one of the two.
fn agree<T: PartialEq>(a: Option<T>, b: Option<T>) -> bool {
    a.is_none() || b.is_none() || a == b
}

/// Puts parts of one habit together, in the order of their names.
pub(crate) fn grouped(parts: Vec<Part>) -> Vec<Body> {
    let mut bodies: Vec<Body> = Vec::new();
    for part in parts {
        match bodies.iter_mut().find(|b| b.parts.first().is_some_and(|first| first.same_habit(&part))) {
            Some(body) => body.parts.push(part),
            None => bodies.push(Body { parts: vec![part] }),
        }
    }
    bodies
}

impl Body {
    pub fn headers(&self) -> &[String] {
        self.parts.first().map_or(&[], |p| p.frame.headers.as_slice())
    }

    /// Columns headed by days: those of a wide sheet.
    pub fn heads(&self) -> &[usize] {
        self.parts.first().map_or(&[], |p| p.frame.heads.as_slice())
    }

    /// The days above the columns of a wide sheet, as they stand there.
    pub fn head_spots(&self) -> Vec<Spot<'_>> {
        let Some(part) = self.parts.first() else { return Vec::new() };
        let row = part.frame.head_row;
        let spot = |c: &usize| Spot { part: 0, row: part.sheet.number(row), cell: part.sheet.cell(row, *c) };
        part.frame.heads.iter().map(spot).filter(|s| !s.cell.text.is_empty()).collect()
    }

    /// Of two lines of a header, the lower one's text.
    pub fn lower_header(&self, column: usize) -> Option<&str> {
        let part = self.parts.first().filter(|p| p.frame.header_lines > 1)?;
        Some(part.sheet.cell(part.frame.header, column).text)
    }

    pub fn header(&self, column: usize) -> &str {
        self.headers().get(column).map_or("", String::as_str)
    }

    /// The unit written below a header.
    pub fn unit_below(&self, column: usize) -> &str {
        let first = self.parts.first();
        first.and_then(|p| p.frame.unit_row.map(|r| p.sheet.cell(r, column).text)).unwrap_or("")
    }

    pub fn rows(&self) -> usize {
        self.parts.iter().map(|p| p.frame.rows.len()).sum()
    }

    /// The column's cells, row by row, blank ones too.
    pub fn column(&self, column: usize) -> impl Iterator<Item = Spot<'_>> + Clone {
        self.parts.iter().enumerate().flat_map(move |(part, p)| {
            p.frame.rows.iter().map(move |r| Spot { part, row: p.sheet.number(*r), cell: p.sheet.cell(*r, column) })
        })
    }

    /// The cells that are not blank.
    pub fn filled(&self, column: usize) -> impl Iterator<Item = Spot<'_>> + Clone {
        self.column(column).filter(|s| !s.cell.text.is_empty())
    }

    /// `row 12`, with the file where there are several.
    pub fn place(&self, spot: &Spot<'_>) -> String {
        match self.parts.get(spot.part) {
            Some(part) if self.parts.len() > 1 => format!("{}, row {}", part.name(), spot.row),
            _ => format!("row {}", spot.row),
        }
    }

    /// Distinct files, in order.
    pub fn files(&self) -> Vec<&str> {
        let mut files: Vec<&str> = self.parts.iter().map(|p| p.file.as_str()).collect();
        files.dedup();
        files
    }

    pub fn is_workbook(&self) -> bool {
        self.parts.first().is_some_and(|p| p.sheet.name.is_some())
    }
}
