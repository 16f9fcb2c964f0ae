//! Crosshouse as a library: `run`, `check`, `fit` and `survey`, joined from the crates below.
#![cfg_attr(test, allow(clippy::unwrap_used))]

pub mod check;
pub mod climate;
pub mod fit;
pub mod messages;
pub mod outcome;
pub mod provenance;
pub mod run;
pub mod season;
pub mod store;
pub mod survey;
mod tidy_columns;
pub mod writer;

pub use outcome::Outcome;
