//! From a grid to a table: which line is the header, which lines are rows, which column is which.
mod decimal;
mod header;
mod lines;
mod open;
mod table;
mod wide;

pub(crate) use header::{Header, first_row, locate};
pub(crate) use lines::{Line, kind, kinds};
pub(crate) use open::{no_rows, open, ragged, style, unread};
pub(crate) use table::{Table, codes};
