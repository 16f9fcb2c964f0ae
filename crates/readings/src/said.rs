//! What was said of rows and files: faults, set-aside rows, flags, inferences, and the
//! account that every file's rows must balance.
use crate::place::Place;
use crate::shared::Shared;
use serde::{Deserialize, Serialize};

/// A fault that a person can mend: a place, what was found, what was expected, how to mend it.
/// The same fault on many rows of one column is one `Fault` with the further rows in `also_rows`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Fault {
    /// Stable code, kebab-case, such as `mass-unreadable`.
    pub code: String,
    /// One clause: "not a mass".
    pub title: String,
    pub place: Place,
    pub found: String,
    pub expected: String,
    pub mend: String,
    /// Further rows with the same fault.
    pub also_rows: Vec<u32>,
    /// Whether the table (or the whole run) is unusable, as against a row or cell set aside.
    pub fatal: bool,
}

/// A row, or one cell of a kept row, that was kept out, with its reason.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SetAside {
    pub site: Shared,
    /// `harvest`, `climate`, `root zone` or `diary`.
    pub log: Shared,
    pub place: Place,
    /// True: the row is not in any clean table. False: only this cell was emptied.
    pub whole_row: bool,
    pub code: Shared,
    /// The text as written.
    pub found: Shared,
    /// A sentence that says why.
    pub why: Shared,
}

/// A doubt about values that are kept.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Flag {
    pub site: String,
    pub log: String,
    pub code: String,
    /// One sentence.
    pub text: String,
    pub file: String,
    /// First and last row concerned, and how many.
    pub first_row: u32,
    pub last_row: u32,
    pub rows: u32,
}

/// Something that the tool worked out because no one declared it: told, never silent.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Inference {
    pub site: String,
    pub file: String,
    /// For instance "encoding", "delimiter", "unit of column \"T\"".
    pub what: String,
    pub as_read: String,
    /// The evidence, in a few words.
    pub because: String,
}

/// The account of one file (or sheet): data rows read = kept + set aside; every other line is
/// counted by kind and was explained by the declared structure.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct FileAccount {
    pub site: String,
    pub log: String,
    pub file: String,
    /// SHA-256 of the raw bytes, lower-case hexadecimal.
    pub sha256: String,
    pub bytes: u64,
    pub read: u64,
    pub kept: u64,
    pub set_aside: u64,
    /// Kept rows that carry at least one flag.
    pub flagged: u64,
    /// Lines that are not data rows: preamble, header, unit row, repeated header, totals, comment, blank.
    pub other_lines: Vec<(String, u64)>,
}

impl FileAccount {
    /// The promise: no row disappears.
    pub fn balances(&self) -> bool {
        self.read == self.kept + self.set_aside
    }
}
