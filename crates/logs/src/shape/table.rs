//! Rows of one file or sheet, cells by declared column.
use crate::declare::{Column, Log, Meaning};
use crate::source::{CellView, Grid};
use crosshouse_readings::quantity::NumberStyle;
use crosshouse_readings::{FileId, Source};

/// A file or sheet whose header was found: its data rows, and where each declared column stands.
pub(crate) struct Table {
    pub file: FileId,
    /// As in [`crosshouse_readings::Place`].
    pub name: String,
    pub grid: Grid,
    /// Column of the grid for each declared column; `None`: not in this file, or not to be read.
    pub positions: Vec<Option<usize>>,
    /// One value for all rows, of each declared column that the name of the sheet or file supplies.
    pub fixed: Vec<Option<String>>,
    /// The row of units, where one is declared.
    pub unit_row: Option<usize>,
    /// Data rows, as indices into the grid.
    pub rows: Vec<usize>,
    pub style: NumberStyle,
}

impl Table {
    /// The cell of a declared column, by the column's index in the log; blank if the file lacks it.
    pub fn cell(&self, row: usize, column: usize) -> CellView<'_> {
        match self.positions.get(column).copied().flatten() {
            Some(position) => self.grid.cell(row, position),
            None => match self.fixed.get(column) {
                Some(Some(text)) => CellView { text, ..CellView::BLANK },
                _ => CellView::BLANK,
            },
        }
    }

    /// What the unit row says of a declared column.
    pub fn unit_written(&self, column: usize) -> Option<&str> {
        let position = self.positions.get(column).copied().flatten()?;
        Some(self.grid.cell(self.unit_row?, position).text).filter(|t| !t.is_empty())
    }

    pub fn source(&self, row: usize) -> Source {
        Source { file: self.file, row: self.grid.number(row) }
    }

    /// Index of the declared column of a meaning that this file has.
    pub fn index(&self, log: &Log, meaning: &Meaning) -> Option<usize> {
        log.columns.iter().enumerate().position(|(i, c)| c.meaning == *meaning && self.has(i))
    }

    pub fn has(&self, column: usize) -> bool {
        self.positions.get(column).copied().flatten().is_some() || self.fixed.get(column).is_some_and(Option::is_some)
    }

    /// Written cells of the row, for comparing rows as a whole and for set-aside lists.
    pub fn written(&self, row: usize) -> String {
        self.grid.row(row).map(|c| c.text).collect::<Vec<_>>().join(" | ")
    }
}

/// Missing-value codes of a column: its own, or its log's.
pub(crate) fn codes<'c>(log: &'c Log, column: &'c Column) -> &'c [String] {
    column.missing.as_deref().unwrap_or(&log.layout.missing)
}
