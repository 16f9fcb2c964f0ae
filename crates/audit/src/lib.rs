//! The audit bundle: what a statistician needs to see which rows went in, which model was fitted
//! and why, and to fit it again elsewhere. Files as bytes; nothing is written here.
#![cfg_attr(test, allow(clippy::unwrap_used))]

mod bundle;
mod manifest;

pub use bundle::{Declared, bundle};
pub use manifest::{manifest, sha256};

/// One file of a results folder: path inside it, with `/`, and its bytes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OutFile {
    pub path: String,
    pub bytes: Vec<u8>,
}

impl OutFile {
    pub fn new(path: impl Into<String>, bytes: impl Into<Vec<u8>>) -> Self {
        OutFile { path: path.into(), bytes: bytes.into() }
    }
}
