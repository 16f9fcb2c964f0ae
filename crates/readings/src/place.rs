//! Where a value stands: file, row, column.
use crate::shared::Shared;
use serde::{Deserialize, Serialize};

/// Index of a file in the season's list of files read ([`crate::said::FileAccount`]s, in order).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
pub struct FileId(pub u32);

/// The row that a kept value came from. Rows count from 1 at the first line of the file
/// (or sheet), as a spreadsheet or an editor shows them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Source {
    pub file: FileId,
    pub row: u32,
}

/// A place as a person reads it. `file` is relative to the season's folder of logs, with the
/// sheet's name after ` / ` for a workbook.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Place {
    pub file: Shared,
    pub row: Option<u32>,
    pub column: Option<Shared>,
}

impl Place {
    pub fn file(file: impl Into<Shared>) -> Self {
        Place { file: file.into(), row: None, column: None }
    }
    pub fn row(file: impl Into<Shared>, row: u32) -> Self {
        Place { file: file.into(), row: Some(row), column: None }
    }
    pub fn cell(file: impl Into<Shared>, row: u32, column: impl Into<Shared>) -> Self {
        Place { file: file.into(), row: Some(row), column: Some(column.into()) }
    }
}

impl std::fmt::Display for Place {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}", self.file)?;
        if let Some(row) = self.row {
            write!(f, ", row {row}")?;
        }
        if let Some(column) = &self.column {
            write!(f, ", column \"{column}\"")?;
        }
        Ok(())
    }
}
