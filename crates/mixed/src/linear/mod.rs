//! Dense linear algebra of the sizes that a fit needs. The library behind the large cases stays
//! behind this module.

mod arrow;
mod bordered;
mod cholesky;
mod eigen;
mod matrix;
mod small;

pub use arrow::{Arrow, ArrowInverse, ArrowPlan, Local};
pub use cholesky::Cholesky;
pub use eigen::symmetric_eigen;
pub use matrix::{Matrix, axpy, dot};
