//! A value as written and as understood: its text, number, unit and place, and what
//! was said of it. Everything above this crate speaks these words.
#![cfg_attr(test, allow(clippy::unwrap_used))]

pub mod asides;
pub mod canonical;
pub mod declared;
pub mod place;
pub mod quantity;
pub mod said;
pub mod shared;
pub mod text;
pub mod units;

pub use asides::SetAsides;
pub use place::{FileId, Place, Source};
pub use said::{Fault, Flag, Inference, SetAside};
pub use shared::Shared;
