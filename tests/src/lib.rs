//! What the tests of the whole share: the demo season, generated from known truths, and answers put into drafts.
#![cfg_attr(test, allow(clippy::unwrap_used))]

pub mod answers;
pub mod demo;
