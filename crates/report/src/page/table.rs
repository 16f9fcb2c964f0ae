//! A table as the page shows it: caption, heads with scope, rows, and the CSV that holds it in full.

use crate::number::NONE;

/// A table on the page.
#[derive(Debug, Clone, Default)]
pub struct PageTable {
    /// Anchor, distinct on the page.
    pub id: String,
    pub caption: String,
    pub heads: Vec<Head>,
    pub rows: Vec<RowView>,
    /// Lines under the table.
    pub notes: Vec<String>,
    /// Name of the CSV table.
    pub csv: Option<String>,
}

/// A column's head.
#[derive(Debug, Clone)]
pub struct Head {
    pub text: String,
    pub numeric: bool,
}

/// A row: one head cell and its data cells; or a line that heads a group of rows.
#[derive(Debug, Clone)]
pub enum RowView {
    Group(String),
    Data {
        head: String,
        cells: Vec<CellView>,
    },
    /// A closing row, such as a sum.
    Sum {
        head: String,
        cells: Vec<CellView>,
    },
}

#[derive(Debug, Clone)]
pub struct CellView {
    pub text: String,
    pub numeric: bool,
}

impl PageTable {
    pub fn new(id: impl Into<String>, caption: impl Into<String>) -> Self {
        PageTable { id: id.into(), caption: caption.into(), ..PageTable::default() }
    }

    pub fn csv(mut self, name: impl Into<String>) -> Self {
        self.csv = Some(name.into());
        self
    }

    /// A column of words.
    pub fn words(mut self, head: impl Into<String>) -> Self {
        self.heads.push(Head { text: head.into(), numeric: false });
        self
    }

    /// A column of numbers, set to the right.
    pub fn number(mut self, head: impl Into<String>) -> Self {
        self.heads.push(Head { text: head.into(), numeric: true });
        self
    }

    /// As [`note`](PageTable::note), for each.
    pub fn notes(&mut self, texts: impl IntoIterator<Item = String>) {
        texts.into_iter().for_each(|text| self.note(text));
    }

    pub fn note(&mut self, note: impl Into<String>) {
        self.notes.push(note.into());
    }

    pub fn group(&mut self, text: impl Into<String>) {
        self.rows.push(RowView::Group(text.into()));
    }

    /// Adds a row: the first text heads it.
    pub fn row(&mut self, texts: Vec<String>) {
        let (head, cells) = self.split(texts);
        self.rows.push(RowView::Data { head, cells });
    }

    pub fn sum(&mut self, texts: Vec<String>) {
        let (head, cells) = self.split(texts);
        self.rows.push(RowView::Sum { head, cells });
    }

    fn split(&self, texts: Vec<String>) -> (String, Vec<CellView>) {
        let mut texts = texts.into_iter();
        let head = texts.next().unwrap_or_default();
        let columns = self.heads.iter().skip(1).map(|h| h.numeric).chain(std::iter::repeat(false));
        (head, texts.zip(columns).map(|(text, numeric)| CellView { text, numeric }).collect())
    }

    /// Without the columns of numbers in which no row has a number.
    pub fn without_empty_columns(mut self) -> Self {
        let empty = |at: usize| {
            let cells = self.rows.iter().filter_map(|r| match r {
                RowView::Data { cells, .. } => cells.get(at),
                _ => None,
            });
            cells.clone().count() > 0 && cells.clone().all(|c| c.numeric && c.text == NONE)
        };
        let kept: Vec<bool> = (0..self.heads.len().saturating_sub(1)).map(|at| !empty(at)).collect();
        let keep = |at: usize| kept.get(at).copied().unwrap_or(true);
        let mut column = 0;
        self.heads.retain(|_| {
            column += 1;
            column == 1 || keep(column - 2)
        });
        for row in &mut self.rows {
            if let RowView::Data { cells, .. } | RowView::Sum { cells, .. } = row {
                let mut at = 0;
                cells.retain(|_| {
                    at += 1;
                    keep(at - 1)
                });
            }
        }
        self
    }

    /// Whether there is at least one row of data.
    pub fn has_data(&self) -> bool {
        self.rows.iter().any(|r| matches!(r, RowView::Data { .. }))
    }

    /// The table, if it has data.
    pub fn if_any(self) -> Option<Self> {
        self.has_data().then_some(self)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_column_without_a_number_is_left_out_with_its_cells() {
        let mut table = PageTable::new("t", "T").words("Zone").number("Days").number("Moisture").number("pH");
        table.group("Site");
        table.row(["a", "3", NONE, "5.8"].map(str::to_owned).to_vec());
        let table = table.without_empty_columns();
        assert_eq!(table.heads.iter().map(|h| h.text.as_str()).collect::<Vec<_>>(), ["Zone", "Days", "pH"]);
        let RowView::Data { cells, .. } = &table.rows[1] else { panic!("no row of data") };
        assert_eq!(cells.iter().map(|c| c.text.as_str()).collect::<Vec<_>>(), ["3", "5.8"]);
    }
}
