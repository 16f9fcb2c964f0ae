//! Delimited text to a grid, after RFC 4180 and what real files do to it. Every line has its
//! number, blank ones too.
use super::grid::{Grid, Kind};

/// A line longer than this, or a row wider, is no log.
const MOST_LINE_BYTES: usize = 1 << 20;
const MOST_COLUMNS: usize = 10_000;
/// Room taken beforehand, bytes of text: a larger file's grid grows as its rows are read.
const MOST_AT_ONCE: usize = 64 << 20;

/// Something wrong with a row's form.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Broken {
    /// A quotation mark opened at this row is never closed; the row was read without quotes.
    Unclosed(u32),
    /// A line of more than 1 MB; the file was read no further.
    TooLong(u32),
    /// A row of more than 10,000 cells; the file was read no further.
    TooWide(u32),
}

/// Line ends of a text: LF, CR LF and CR each count one.
fn line_ends(text: &str) -> u32 {
    let of = |mark: &str| text.matches(mark).count();
    (of("\n") + of("\r") - of("\r\n")) as u32
}

pub(crate) struct Split {
    pub grid: Grid,
    pub broken: Vec<Broken>,
}

/// Splits text at `delimiter`; quotes double inside quotes, and may hold line ends.
pub(crate) fn split(text: &str, delimiter: char) -> Split {
    let mut splitter = Splitter {
        text,
        bytes: text.as_bytes(),
        delimiter: delimiter as u8,
        at: 0,
        line: 1,
        grid: Grid::with_capacity(text.len().min(MOST_AT_ONCE), text.len().min(MOST_AT_ONCE) / 6),
        broken: Vec::new(),
        spare: String::new(),
    };
    while splitter.at < splitter.bytes.len() {
        if !splitter.row() {
            break;
        }
    }
    Split { grid: splitter.grid, broken: splitter.broken }
}

struct Splitter<'t> {
    text: &'t str,
    bytes: &'t [u8],
    delimiter: u8,
    at: usize,
    line: u32,
    grid: Grid,
    broken: Vec<Broken>,
    spare: String,
}

impl Splitter<'_> {
    fn byte(&self, at: usize) -> Option<u8> {
        self.bytes.get(at).copied()
    }

    fn line_end(&self, from: usize) -> usize {
        let rest = self.bytes.get(from..).unwrap_or_default();
        rest.iter().position(|b| matches!(b, b'\n' | b'\r')).map_or(self.bytes.len(), |p| from + p)
    }

    /// Reads one row; false where reading must stop.
    fn row(&mut self) -> bool {
        let (start, number) = (self.at, self.line);
        let end = self.line_end(start);
        if end - start > MOST_LINE_BYTES {
            self.broken.push(Broken::TooLong(number));
            return false;
        }
        self.grid.start_row(number);
        let mut cells = 0;
        loop {
            let more = self.cell(number);
            cells += 1;
            if cells > MOST_COLUMNS {
                self.broken.push(Broken::TooWide(number));
                return false;
            }
            if !more {
                return true;
            }
        }
    }

    /// Reads one cell and what ends it; true where a delimiter followed.
    fn cell(&mut self, row: u32) -> bool {
        if self.byte(self.at) == Some(b'"') {
            match self.quoted() {
                Some(()) => {}
                None => {
                    self.broken.push(Broken::Unclosed(row));
                    self.plain(self.at);
                }
            }
        } else {
            self.plain(self.at);
        }
        self.after_cell()
    }

    fn plain(&mut self, from: usize) {
        let rest = self.bytes.get(from..).unwrap_or_default();
        let delimiter = self.delimiter;
        let end = rest.iter().position(|b| *b == delimiter || matches!(b, b'\n' | b'\r')).map_or(self.bytes.len(), |p| from + p);
        self.grid.push(self.text.get(from..end).unwrap_or(""), Kind::Text);
        self.at = end;
    }

    /// A quoted cell; `None`, with nothing read, where the quotation mark is never closed.
    fn quoted(&mut self) -> Option<()> {
        self.spare.clear();
        let mut from = self.at + 1;
        let mut lines = 0;
        let closed = loop {
            let rest = self.bytes.get(from..)?;
            let close = from + rest.iter().position(|b| *b == b'"')?;
            if close - self.at > MOST_LINE_BYTES {
                return None;
            }
            let piece = self.text.get(from..close)?;
            lines += line_ends(piece);
            self.spare.push_str(piece);
            if self.byte(close + 1) != Some(b'"') {
                break close + 1;
            }
            self.spare.push('"');
            from = close + 2;
        };
        // Whatever stands between the closing mark and the delimiter belongs to the cell. After
        // several lines it betrays a mark that closed nothing: the next cell's opening one.
        let delimiter = self.delimiter;
        let rest = self.bytes.get(closed..)?;
        let end = rest.iter().position(|b| *b == delimiter || matches!(b, b'\n' | b'\r')).map_or(self.bytes.len(), |p| closed + p);
        let tail = self.text.get(closed..end)?;
        if lines > 0 && !tail.trim().is_empty() {
            return None;
        }
        self.spare.push_str(tail);
        self.line += lines;
        self.at = end;
        self.grid.push(&self.spare, Kind::Text);
        Some(())
    }

    fn after_cell(&mut self) -> bool {
        match self.byte(self.at) {
            Some(b'\r') => {
                self.at += if self.byte(self.at + 1) == Some(b'\n') { 2 } else { 1 };
                self.line += 1;
                false
            }
            Some(b'\n') => {
                self.at += 1;
                self.line += 1;
                false
            }
            Some(_) => {
                self.at += 1;
                true
            }
            None => false,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rows(text: &str) -> Vec<(u32, Vec<String>)> {
        let grid = split(text, ',').grid;
        (0..grid.len()).map(|r| (grid.number(r), grid.row(r).map(|c| c.text.to_owned()).collect())).collect()
    }

    fn texts(cells: &[&str]) -> Vec<String> {
        cells.iter().map(|c| (*c).to_owned()).collect()
    }

    #[test]
    fn ok_lines_keep_the_numbers_an_editor_shows() {
        let read = rows("a,b\r\n\r\n1,\"two\nlines\"\r\n3,4");
        assert_eq!(read, [(1, texts(&["a", "b"])), (2, texts(&[""])), (3, texts(&["1", "two\nlines"])), (5, texts(&["3", "4"]))]);
    }

    #[test]
    fn ok_a_quoted_cell_holds_line_ends_of_every_kind() {
        for end in ["\n", "\r\n", "\r"] {
            let read = rows(&format!("a,b{end}1,\"two{end}lines\"{end}3,4{end}"));
            let numbers: Vec<u32> = read.iter().map(|(n, _)| *n).collect();
            assert_eq!(numbers, [1, 2, 4], "{end:?}");
            assert_eq!(read[1].1[1], format!("two{end}lines"));
        }
    }

    #[test]
    fn ok_doubled_quotes_and_inch_marks() {
        assert_eq!(rows("\"a \"\"b\"\", c\",12\" pot,\"\"\n")[0].1, texts(&["a \"b\", c", "12\" pot", ""]));
    }

    #[test]
    fn ok_a_trailing_delimiter_is_an_empty_last_cell() {
        assert_eq!(rows("a,b,\n1,2,\n")[1].1, texts(&["1", "2", ""]));
    }

    #[test]
    fn err_a_quote_that_is_never_closed_swallows_nothing() {
        let split = split("a,b\n\"1,2\n3,4\n", ',');
        assert_eq!(split.broken, [Broken::Unclosed(2)]);
        assert_eq!(split.grid.len(), 3);
        assert_eq!(split.grid.cell(2, 1).text, "4");
    }

    #[test]
    fn err_a_quote_closed_by_the_opening_of_another_cell_swallows_nothing() {
        let split = split("a,b\n\"1,2\n3,\"four\"\n5,6\n", ',');
        assert_eq!(split.broken, [Broken::Unclosed(2)]);
        assert_eq!((split.grid.len(), split.grid.cell(2, 1).text), (4, "four"));
    }

    #[test]
    fn err_a_line_of_more_than_a_megabyte_ends_the_reading() {
        let text = format!("a,b\n{}\n", "x".repeat((1 << 20) + 1));
        assert_eq!(split(&text, ',').broken, [Broken::TooLong(2)]);
    }

    #[test]
    fn err_more_than_ten_thousand_columns_end_the_reading() {
        assert_eq!(split(&",".repeat(10_001), ',').broken, [Broken::TooWide(1)]);
    }

    proptest::proptest! {
        /// Reference: the csv crate, on the tables that it writes itself.
        #[test]
        fn rows_agree_with_the_csv_crate(table in proptest::collection::vec(proptest::collection::vec("[a-z \",\n;]{0,6}", 2..5), 1..8)) {
            let mut writer = csv::WriterBuilder::new().flexible(true).from_writer(Vec::new());
            for row in &table {
                writer.write_record(row).unwrap();
            }
            let text = String::from_utf8(writer.into_inner().unwrap()).unwrap();
            let ours: Vec<Vec<String>> = rows(&text).into_iter().map(|(_, cells)| cells).collect();
            let written: Vec<Vec<String>> = table.iter().map(|r| r.iter().map(|c| c.trim().to_owned()).collect()).collect();
            proptest::prop_assert_eq!(ours, written);
        }
    }
}
