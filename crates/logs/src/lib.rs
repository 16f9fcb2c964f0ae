//! Site files and raw logs to clean tables: canonical units, UTC instants, every row accounted for.
//!
//! [`read_declarations`] reads the season file and the site files; [`read_season`] reads what they
//! name. Both tell all faults at once. [`tidy`] reads a plain table for `crosshouse fit`, [`store`]
//! writes the clean tables as Arrow record batches and Parquet.
#![cfg_attr(test, allow(clippy::unwrap_used, clippy::disallowed_methods))]

mod account;
mod cells;
mod clean;
pub mod declare;
mod flags;
#[cfg(fuzzing)]
pub mod fuzzing;
pub mod loggers;
pub mod raw;
mod shape;
mod source;
pub mod store;
pub mod tables;
pub mod tidy;
#[cfg(test)]
mod trial_folder;

pub use cells::DateStyle;
pub use clean::{Progress, Silent, climate_bytes, read_season, read_season_through};
pub use declare::{Factor, Season, SiteDeclaration, read_declarations};
pub use source::panic_is_told;
pub use tables::CleanTables;
