//! What a report is made from: facts of the season, what was said of its rows, and what was computed.
use crosshouse_figures::Drawing;
use crosshouse_logs::tables::CleanTables;
use crosshouse_questions::answers::Answers;
use crosshouse_trial::tables::TrialTables;

/// Everything that [`crate::compose`] reads. Nothing is computed from it that is not shown or written.
pub struct Input<'a> {
    pub season: SeasonFacts,
    /// For what was said of the rows, and the facts that sites declare; clean rows themselves are not read.
    pub clean: &'a CleanTables,
    pub trial: &'a TrialTables,
    pub answers: &'a Answers,
    pub drawings: &'a [Drawing],
    /// Version of the program, for the foot of the page.
    pub version: &'a str,
}

/// Facts that the season file declares.
#[derive(Debug, Clone)]
pub struct SeasonFacts {
    pub title: String,
    pub crop: String,
    pub year: String,
    /// `kg` or `lb`: the mass unit of the page. Tables hold both.
    pub reader_units: String,
    /// Length of the early-yield window, days from the site's first pick.
    pub early_days: i32,
}

/// The report, ready to be written.
#[derive(Debug, Clone)]
pub struct Report {
    /// One self-contained page.
    pub html: String,
    /// Every table of the page in full precision.
    pub tables: Vec<TableFile>,
    /// file, row, column, what was found, why it was set aside.
    pub set_aside_csv: String,
    /// What the run prints; `{report}` stands for the place of the page.
    pub terminal: String,
}

/// One CSV table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TableFile {
    /// File name without its ending, such as `answers-blend-means`.
    pub name: String,
    pub title: String,
    pub csv: String,
}

/// Why no report could be made.
#[derive(Debug, thiserror::Error)]
pub enum ReportFault {
    /// The promise that no row disappears does not hold.
    #[error(
        "{file}: {read} rows were read, but {kept} kept and {set_aside} set aside do not add up to them; \
         a report would be wrong, so none is made. This is a fault of the program: please report it with the file"
    )]
    RowsDoNotBalance { file: String, read: u64, kept: u64, set_aside: u64 },
    /// A drawing that cannot stand inside a page.
    #[error("the figure \"{name}\" cannot stand in the page: {why}")]
    Drawing { name: String, why: String },
    /// Writing the page or a table failed.
    #[error("the report could not be written out: {0}")]
    Writing(String),
}

impl ReportFault {
    /// Stable code.
    pub fn code(&self) -> &'static str {
        match self {
            ReportFault::RowsDoNotBalance { .. } => "rows-do-not-balance",
            ReportFault::Drawing { .. } => "drawing-unfit",
            ReportFault::Writing(_) => "report-not-written",
        }
    }
}
