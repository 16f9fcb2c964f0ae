//! One CSV table: RFC 4180 quoting, LF line ends, UTF-8, numbers that read back as the same number.
//!
//! A text cell that a spreadsheet would take for a formula gets one space in front: the text stays readable, no
//! cell is ever computed, and trimming gives the text as written. Plain numbers are left as they are.
use crate::input::{ReportFault, TableFile};
use crosshouse_readings::Shared;
use jiff::civil::Date;

/// Characters that start a formula in a spreadsheet, full-width forms included.
const FORMULA_STARTS: [char; 10] = ['=', '+', '-', '@', '\t', '\r', '＝', '＋', '－', '＠'];

/// `text` made safe for a spreadsheet.
pub fn neutral(text: &str) -> String {
    let starts = text.trim_start_matches([' ', '\u{a0}']).starts_with(FORMULA_STARTS);
    if starts && !is_plain_number(text) { format!(" {text}") } else { text.to_owned() }
}

fn is_plain_number(text: &str) -> bool {
    let digits = |c: char| c.is_ascii_digit() || matches!(c, '.' | 'e' | 'E' | '+' | '-');
    text.chars().all(digits) && text.parse::<f64>().is_ok()
}

/// A value that can stand in a CSV cell.
pub trait Cell {
    fn cell(&self) -> String;
}

impl Cell for str {
    fn cell(&self) -> String {
        neutral(self)
    }
}

impl Cell for String {
    fn cell(&self) -> String {
        neutral(self)
    }
}

impl Cell for Shared {
    fn cell(&self) -> String {
        neutral(self)
    }
}

impl Cell for f64 {
    /// Shortest text that reads back as the same number; empty where there is none.
    fn cell(&self) -> String {
        if self.is_finite() { format!("{}", self + 0.0) } else { String::new() }
    }
}

impl Cell for bool {
    fn cell(&self) -> String {
        if *self { "yes" } else { "no" }.to_owned()
    }
}

impl Cell for Date {
    fn cell(&self) -> String {
        self.to_string()
    }
}

macro_rules! whole_numbers {
    ($($t:ty),*) => {$(
        impl Cell for $t {
            fn cell(&self) -> String {
                self.to_string()
            }
        }
    )*};
}
whole_numbers!(u32, u64, i32, usize);

impl<T: Cell> Cell for Option<T> {
    fn cell(&self) -> String {
        self.as_ref().map_or_else(String::new, Cell::cell)
    }
}

impl<T: Cell + ?Sized> Cell for &T {
    fn cell(&self) -> String {
        (*self).cell()
    }
}

/// A table being filled row by row.
pub struct Sheet {
    name: String,
    title: String,
    head: Vec<String>,
    rows: Vec<Vec<String>>,
}

impl Sheet {
    /// `name` without its ending.
    pub fn new(name: &str, title: &str, head: impl IntoIterator<Item = impl Into<String>>) -> Self {
        let head = head.into_iter().map(Into::into).collect();
        Sheet { name: name.to_owned(), title: title.to_owned(), head, rows: Vec::new() }
    }

    /// Adds a row; short rows are filled up with empty cells.
    pub fn row(&mut self, cells: Vec<String>) {
        self.rows.push(cells);
    }

    pub fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }

    pub fn text(&self) -> Result<String, ReportFault> {
        let write = |e: csv::Error| ReportFault::Writing(format!("{}: {e}", self.name));
        let mut writer = csv::WriterBuilder::new().flexible(true).from_writer(Vec::new());
        writer.write_record(self.head.iter().map(|h| neutral(h))).map_err(write)?;
        for row in &self.rows {
            let blanks = self.head.len().saturating_sub(row.len());
            let filled = row.iter().map(String::as_str).chain(std::iter::repeat_n("", blanks));
            writer.write_record(filled).map_err(write)?;
        }
        let bytes = writer.into_inner().map_err(|e| ReportFault::Writing(e.to_string()))?;
        String::from_utf8(bytes).map_err(|e| ReportFault::Writing(e.to_string()))
    }

    pub fn file(self) -> Result<TableFile, ReportFault> {
        let csv = self.text()?;
        Ok(TableFile { name: self.name, title: self.title, csv })
    }
}

/// Cells of one row, each by its own [`Cell`] rule.
#[macro_export]
#[doc(hidden)]
macro_rules! cells {
    ($($value:expr),* $(,)?) => {
        vec![$($crate::tables::sheet::Cell::cell(&$value)),*]
    };
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cell_that_looks_like_a_formula_gets_a_space_in_front() {
        assert_eq!(neutral("=1+1"), " =1+1");
        assert_eq!(neutral("@SUM(A1)"), " @SUM(A1)");
        assert_eq!(neutral("\t=1"), " \t=1");
        assert_eq!(neutral("  =1"), "   =1");
    }

    #[test]
    fn a_negative_number_written_as_text_is_left_as_it_is() {
        assert_eq!(neutral("-3.2"), "-3.2");
        assert_eq!(neutral("-3.2+A1"), " -3.2+A1");
    }

    #[test]
    fn numbers_read_back_as_the_same_number() {
        let third = 1.0 / 3.0;
        assert_eq!(third.cell().parse::<f64>().unwrap(), third);
        assert_eq!((-0.0f64).cell(), "0");
        assert_eq!(f64::NAN.cell(), "");
        assert_eq!(f64::INFINITY.cell(), "");
    }

    #[test]
    fn commas_quotes_and_line_breaks_are_quoted() {
        let mut sheet = Sheet::new("t", "T", ["a", "b"]);
        sheet.row(cells!["x, \"y\"", "one\ntwo"]);
        assert_eq!(sheet.text().unwrap(), "a,b\n\"x, \"\"y\"\"\",\"one\ntwo\"\n");
    }

    #[test]
    fn short_rows_are_filled_up() {
        let mut sheet = Sheet::new("t", "T", ["a", "b"]);
        sheet.row(cells![1u32]);
        assert_eq!(sheet.text().unwrap(), "a,b\n1,\n");
    }
}
