//! The mixed-model engine: columns and a model in, a fit out. It knows columns of
//! numbers and categories, nothing of sites, units, files or tables.
#![cfg_attr(test, allow(clippy::unwrap_used))]

pub mod multiplicity;
