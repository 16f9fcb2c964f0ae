//! From clean tables to trial tables: each unit's season and weeks, each house's days, each zone's
//! days and water, and the design as it was grown. One formula a file, each with its source.
#![cfg_attr(test, allow(clippy::unwrap_used))]

pub mod air;
mod build;
mod calendar;
mod climate;
pub mod degree_days;
mod design;
pub mod drain;
pub mod light;
mod responses;
pub mod settings;
mod sun;
pub mod tables;
pub mod water;
mod yields;

#[cfg(test)]
mod made;

pub use build::{build, build_with};
pub use climate::{RunningDays, house_days, together};
pub use design::FactorDecl;
pub use responses::{Kind, Response, responses};
pub use settings::{DayStarts, Settings};
pub use tables::TrialTables;
