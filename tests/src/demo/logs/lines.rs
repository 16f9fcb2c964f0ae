//! Delimited text, line by line.

/// A text file in the making.
pub struct Lines {
    delimiter: char,
    text: String,
}

impl Lines {
    pub fn new(delimiter: char) -> Self {
        Lines { delimiter, text: String::new() }
    }

    /// One row; a cell that holds the delimiter or a quote is quoted.
    pub fn row<S: AsRef<str>>(&mut self, cells: &[S]) {
        for (i, cell) in cells.iter().enumerate() {
            if i > 0 {
                self.text.push(self.delimiter);
            }
            self.cell(cell.as_ref());
        }
        self.text.push('\n');
    }

    fn cell(&mut self, cell: &str) {
        if cell.contains([self.delimiter, '"', '\n']) {
            self.text.push_str(&format!("\"{}\"", cell.replace('"', "\"\"")));
        } else {
            self.text.push_str(cell);
        }
    }

    /// A line as it stands: preamble, comment, or nothing.
    pub fn raw(&mut self, line: &str) {
        self.text.push_str(line);
        self.text.push('\n');
    }

    pub fn utf8(self) -> Vec<u8> {
        self.text.into_bytes()
    }

    /// UTF-8 with a byte-order mark, as some loggers write it.
    pub fn utf8_marked(self) -> Vec<u8> {
        format!("\u{feff}{}", self.text).into_bytes()
    }

    /// Windows code page 1252 with that system's line ends.
    pub fn windows_1252(self) -> Vec<u8> {
        let text = self.text.replace('\n', "\r\n");
        encoding_rs::WINDOWS_1252.encode(&text).0.into_owned()
    }
}

/// A number with a decimal comma.
pub fn comma(value: f64, decimals: usize) -> String {
    format!("{value:.decimals$}").replace('.', ",")
}
