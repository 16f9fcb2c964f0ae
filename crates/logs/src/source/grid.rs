//! Rows of cells, whatever file they came from.

/// What kind of cell a workbook says it is; text files have text alone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Kind {
    Text,
    Number(f64),
    /// Days since 1899-12-30 (the serial days of the 1900 system from March 1900 on).
    Serial(f64),
    /// A formula's error, such as `#DIV/0!`.
    Error,
}

#[derive(Debug, Clone, Copy)]
struct Cell {
    start: u32,
    end: u32,
    kind: Kind,
}

#[derive(Debug, Clone, Copy)]
struct Row {
    number: u32,
    first: u32,
    cells: u32,
}

/// A table as written: text of every cell, and the row number that an editor shows.
#[derive(Debug, Default)]
pub(crate) struct Grid {
    text: String,
    cells: Vec<Cell>,
    rows: Vec<Row>,
    /// Plain numbers that stand for dates count from 1904 rather than 1900.
    pub from_1904: bool,
}

/// One cell: its text, trimmed, and its kind.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct CellView<'g> {
    pub text: &'g str,
    pub kind: Kind,
}

impl CellView<'_> {
    pub const BLANK: CellView<'static> = CellView { text: "", kind: Kind::Text };
}

impl Grid {
    pub fn with_capacity(text: usize, cells: usize) -> Self {
        Grid { text: String::with_capacity(text), cells: Vec::with_capacity(cells), rows: Vec::new(), from_1904: false }
    }

    pub fn start_row(&mut self, number: u32) {
        let first = self.cells.len() as u32;
        self.rows.push(Row { number, first, cells: 0 });
    }

    /// Adds a cell to the row started last.
    pub fn push(&mut self, text: &str, kind: Kind) {
        let start = self.text.len() as u32;
        self.text.push_str(text);
        self.cells.push(Cell { start, end: self.text.len() as u32, kind });
        if let Some(row) = self.rows.last_mut() {
            row.cells += 1;
        }
    }

    pub fn len(&self) -> usize {
        self.rows.len()
    }

    /// Row number as an editor shows it.
    pub fn number(&self, row: usize) -> u32 {
        self.rows.get(row).map_or(0, |r| r.number)
    }

    pub fn width(&self, row: usize) -> usize {
        self.rows.get(row).map_or(0, |r| r.cells as usize)
    }

    /// The cell, trimmed; beyond the row's end it is blank.
    pub fn cell(&self, row: usize, column: usize) -> CellView<'_> {
        let found = self.rows.get(row).filter(|r| column < r.cells as usize).and_then(|r| self.cells.get(r.first as usize + column));
        found.map_or(CellView::BLANK, |c| CellView {
            text: self.text.get(c.start as usize..c.end as usize).unwrap_or("").trim(),
            kind: c.kind,
        })
    }

    pub fn row(&self, row: usize) -> impl Iterator<Item = CellView<'_>> {
        (0..self.width(row)).map(move |column| self.cell(row, column))
    }

    pub fn is_blank(&self, row: usize) -> bool {
        self.row(row).all(|c| c.text.is_empty())
    }

    /// First cell of the row that is not blank.
    pub fn first_word(&self, row: usize) -> &str {
        self.row(row).map(|c| c.text).find(|t| !t.is_empty()).unwrap_or("")
    }
}
