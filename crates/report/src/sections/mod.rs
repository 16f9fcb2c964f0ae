//! The parts of the page, in its order: each turns its share of the input into a view.
pub mod answers;
pub mod cautions;
pub mod growth;
pub mod method;
pub mod not_told;
pub mod opening;
pub mod rows;
