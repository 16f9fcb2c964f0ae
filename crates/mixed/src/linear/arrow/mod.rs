//! A symmetric matrix in arrow form: many small groups of columns that meet only through a set of shared
//! columns, and the inverse of such a matrix.
//!
//! Blocks within a site, the ratings of one rater, the units of one line: whatever the design, the
//! columns of some factors fall into small groups once the remaining factors (the shared columns) are
//! set apart. Groups are eliminated first; only the shared columns need a dense factor.

mod inverse;
mod local;
mod matrix;
mod plan;
#[cfg(test)]
mod tests;

pub use inverse::ArrowInverse;
pub use local::Local;
pub use matrix::Arrow;
pub use plan::ArrowPlan;

/// The column-major block of `rows` rows that starts at `at`.
fn block(data: &[f64], at: usize, rows: usize, col: usize) -> &[f64] {
    &data[at + col * rows..at + (col + 1) * rows]
}
