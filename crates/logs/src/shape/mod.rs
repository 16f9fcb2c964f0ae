//! From a grid to a table: which line is the header, which lines are rows, which column is which.
mod decimal;
mod header;
mod lines;
mod open;
mod table;
mod wide;

pub(crate) use open::open;
pub(crate) use table::{Table, codes};
