//! What written words usually mean in logs: headers, grades, diary entries, units. Common practice, no source.
mod events;
mod grades;
mod headers;
mod units;

pub(crate) use events::{EVENTS, event};
pub(crate) use grades::{is_cull, is_marketable};
pub(crate) use headers::{Meant, is_known, meanings, tokens};
pub(crate) use units::{HeaderUnit, in_header, named, unit_like};
