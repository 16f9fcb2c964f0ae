//! What the tests of the whole share: the demo season, generated from known truths.
#![cfg_attr(test, allow(clippy::unwrap_used))]

pub mod demo;
