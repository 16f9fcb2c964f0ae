//! A second, plain evaluation of a mixed model with n × n matrices, written to be read: no sparse sums, no
//! patterns, no shared linear algebra. It knows the model file's meaning and nothing of the engine.
#![allow(dead_code, clippy::unwrap_used, clippy::needless_range_loop)]

pub mod covariance;
pub mod draw;
pub mod frame;
pub mod freedom;
pub mod likelihood;
pub mod matrix;
