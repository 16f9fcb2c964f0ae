//! Answers and trial tables to drawings: SVG and PNG the same, one figure a file, one look.
//!
//! Every figure takes a small plain input of its own and gives [`Drawing`]s: one a page, none where
//! there is nothing to show. [`season_drawings`] fills those inputs from a season's
//! tables, by [`from_trial`] and [`from_answers`].
//!
//! All lengths are millimetres, all text sizes and line widths points; nothing is in pixels before
//! [`Drawing::png`]. No system font is asked for: the two faces in `assets/` are inside the binary.
#![cfg_attr(test, allow(clippy::unwrap_used))]

mod axes;
mod canvas;
mod day_stack;
mod fitting;
mod fonts;
mod legend;
mod look;
mod markers;
mod names;
mod numbers;
mod pixels;
mod reader;
mod scales;
mod svg;
mod time_axis;
mod wording;

mod drawing;
mod faults;
mod season;

pub mod calendar;
pub mod climate;
pub mod cumulative;
pub mod differences;
pub mod from_answers;
pub mod from_trial;
pub mod means;
pub mod plan;
pub mod residuals;
pub mod root_zone;

#[cfg(test)]
mod inspection;
#[cfg(test)]
mod tests;

/// The samples of benches and gallery are the samples of the tests.
#[cfg(test)]
extern crate self as crosshouse_figures;
#[cfg(test)]
#[path = "../benches/samples/mod.rs"]
mod samples;

pub use drawing::{Caption, Drawing};
pub use faults::FigureFault;
pub use look::Width;
pub use reader::{Reader, Scale};
pub use season::season_drawings;
