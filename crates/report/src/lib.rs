//! Answers, trial tables and drawings to the season report: one self-contained page, its tables as CSV, and what the
//! run prints. Numbers come in finished; this crate words, rounds and lays out, and computes nothing else than plain
//! means and sums for its overview tables.
#![cfg_attr(test, allow(clippy::unwrap_used))]

mod context;
mod estimation;
mod input;
mod number;
mod page;
mod reader;
mod response;
mod sections;
mod tables;
mod terminal;
mod words;

#[cfg(test)]
mod sample;

pub use input::{Input, Report, ReportFault, SeasonFacts, TableFile};

use context::Context;

/// Makes the report: the page, its tables, `set-aside.csv` and the run's text. Same input, same bytes.
///
/// # Errors
/// [`ReportFault::RowsDoNotBalance`] where a file's rows read are not its rows kept and set aside;
/// [`ReportFault::Drawing`] for a drawing that holds more than shapes and text; [`ReportFault::Writing`] otherwise.
pub fn compose(input: &Input) -> Result<Report, ReportFault> {
    balance(input)?;
    let context = Context::new(input);
    let tables = tables::all(&context)?;
    let html = page::write(&context, &tables)?;
    Ok(Report { html, set_aside_csv: tables::set_aside(&context)?, terminal: terminal::text(&context), tables })
}

fn balance(input: &Input) -> Result<(), ReportFault> {
    match input.clean.files.iter().find(|f| !f.balances()) {
        None => Ok(()),
        Some(f) => Err(ReportFault::RowsDoNotBalance { file: f.file.clone(), read: f.read, kept: f.kept, set_aside: f.set_aside }),
    }
}

#[cfg(test)]
mod tests;
