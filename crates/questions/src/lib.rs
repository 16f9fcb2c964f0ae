//! Questions and trial tables in; models with their reasons, what cannot be told, and answers out.
#![cfg_attr(test, allow(clippy::unwrap_used))]

pub mod answers;
mod ask;
mod cautions;
mod cells;
pub mod declare;
mod derive;
mod exact;
mod freedom;
mod headline;
mod inference;
mod likelihood;
mod quantity;
mod rank;
mod records;
mod replication;
mod words;

pub use answers::{Answer, Answers};
pub use declare::{OwnModel, Question, SiteSpace, questions};

use crosshouse_trial::tables::TrialTables;
use rayon::prelude::*;

/// What the words of an answer need besides the trial tables.
#[derive(Debug, Clone)]
pub struct Setting {
    /// `kg` or `lb`: the unit of the sentences; tables stay in kg.
    pub reader_units: String,
    /// Where every drawn number of a run starts.
    pub seed: u64,
}

/// Answers every question; one that cannot be answered says why.
pub fn answer(questions: &[Question], trial: &TrialTables, setting: &Setting) -> Answers {
    Answers { questions: questions.par_iter().map(|q| ask::answer(q, trial, setting)).collect() }
}
