//! The table as the engine sees it: equally long, named columns of categories and numbers.

use std::collections::BTreeMap;

/// A column of categories: level names in byte-wise sorted order and, for each row, the index of
/// its level or `None` where the cell is missing.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CategoryColumn {
    levels: Vec<String>,
    codes: Vec<Option<u32>>,
}

impl CategoryColumn {
    /// Level names, byte-wise sorted, each once.
    pub fn levels(&self) -> &[String] {
        &self.levels
    }

    /// For each row the index into [`levels`](Self::levels); `None` is a missing cell.
    pub fn codes(&self) -> &[Option<u32>] {
        &self.codes
    }

    fn from_labels<S: AsRef<str>>(labels: &[Option<S>]) -> Self {
        let labels: Vec<Option<&str>> =
            labels.iter().map(|label| label.as_ref().map(AsRef::as_ref).filter(|text| !text.is_empty())).collect();
        let ranks: BTreeMap<&str, u32> =
            labels.iter().flatten().map(|text| (*text, 0)).collect::<BTreeMap<_, _>>().into_keys().zip(0..).collect();
        let codes = labels.iter().map(|label| label.and_then(|text| ranks.get(text).copied())).collect();
        let levels = ranks.into_keys().map(str::to_owned).collect();
        Self { levels, codes }
    }
}

/// A column: categories or numbers.
#[derive(Debug, Clone, PartialEq)]
pub enum Column {
    /// Categories.
    Categories(CategoryColumn),
    /// Numbers; NaN is a missing cell.
    Numbers(Vec<f64>),
}

impl Column {
    fn len(&self) -> usize {
        match self {
            Self::Categories(column) => column.codes.len(),
            Self::Numbers(values) => values.len(),
        }
    }
}

/// Named columns of equal length. Order and number of columns carry no meaning.
///
/// ```
/// use crosshouse_mixed::Columns;
/// let mut table = Columns::new(3);
/// table.category("medium", &["perlite", "blend", "perlite"])?;
/// table.number("yield_kg", vec![5.2, 6.1, f64::NAN])?;
/// assert_eq!(table.rows(), 3);
/// # Ok::<(), crosshouse_mixed::ColumnFault>(())
/// ```
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Columns {
    rows: usize,
    columns: BTreeMap<String, Column>,
}

/// A column that cannot be taken into a table.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ColumnFault {
    /// The column's length is not the table's.
    #[error("column \"{column}\" has {found} cells where the table has {expected} rows")]
    Length {
        /// The column.
        column: String,
        /// Its number of cells.
        found: usize,
        /// The table's number of rows.
        expected: usize,
    },
    /// A column of that name is there already.
    #[error("column \"{column}\" is given twice")]
    Twice {
        /// The column.
        column: String,
    },
}

impl Columns {
    /// An empty table of `rows` rows.
    pub fn new(rows: usize) -> Self {
        Self { rows, columns: BTreeMap::new() }
    }

    /// Number of rows.
    pub fn rows(&self) -> usize {
        self.rows
    }

    /// The column of that name.
    pub fn get(&self, name: &str) -> Option<&Column> {
        self.columns.get(name)
    }

    /// The names of all columns, sorted.
    pub fn names(&self) -> impl Iterator<Item = &str> {
        self.columns.keys().map(String::as_str)
    }

    /// Adds categories without missing cells; an empty text is a missing cell.
    pub fn category<S: AsRef<str>>(&mut self, name: &str, labels: &[S]) -> Result<(), ColumnFault> {
        let labels: Vec<Option<&str>> = labels.iter().map(|label| Some(label.as_ref())).collect();
        self.category_with_missing(name, &labels)
    }

    /// Adds categories; `None` and the empty text are missing cells.
    pub fn category_with_missing<S: AsRef<str>>(&mut self, name: &str, labels: &[Option<S>]) -> Result<(), ColumnFault> {
        self.insert(name, Column::Categories(CategoryColumn::from_labels(labels)))
    }

    /// Adds numbers; NaN is a missing cell.
    pub fn number(&mut self, name: &str, values: Vec<f64>) -> Result<(), ColumnFault> {
        self.insert(name, Column::Numbers(values))
    }

    /// Adds numbers; `None` and NaN are missing cells.
    pub fn number_with_missing(&mut self, name: &str, values: &[Option<f64>]) -> Result<(), ColumnFault> {
        self.number(name, values.iter().map(|value| value.unwrap_or(f64::NAN)).collect())
    }

    fn insert(&mut self, name: &str, column: Column) -> Result<(), ColumnFault> {
        if column.len() != self.rows {
            let (found, expected) = (column.len(), self.rows);
            return Err(ColumnFault::Length { column: name.to_owned(), found, expected });
        }
        if self.columns.contains_key(name) {
            return Err(ColumnFault::Twice { column: name.to_owned() });
        }
        self.columns.insert(name.to_owned(), column);
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn levels_are_sorted_by_bytes_and_empty_text_is_missing() {
        let mut table = Columns::new(4);
        table.category("site", &["b", "", "B", "a"]).unwrap();
        let Some(Column::Categories(column)) = table.get("site") else { panic!("a category column") };
        assert_eq!(column.levels(), ["B", "a", "b"]);
        assert_eq!(column.codes(), [Some(2), None, Some(0), Some(1)]);
    }

    #[test]
    fn a_column_of_another_length_is_refused() {
        let fault = Columns::new(2).number("x", vec![1.0]).unwrap_err();
        assert_eq!(fault.to_string(), "column \"x\" has 1 cells where the table has 2 rows");
    }
}
