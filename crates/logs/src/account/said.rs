//! What a book says of single files, taken out of it to be kept and put into another book later.
use super::{Book, FaultKey};
use crosshouse_readings::said::FileAccount;
use crosshouse_readings::{Fault, Flag, Inference, SetAsides};
use serde::{Deserialize, Serialize};

/// All that a book says, with what joins its faults to those of other books.
#[derive(Debug, Deserialize)]
pub(crate) struct Said {
    pub files: Vec<FileAccount>,
    set_aside: SetAsides,
    flags: Vec<Flag>,
    inferences: Vec<Inference>,
    faults: Vec<Fault>,
    keys: Vec<Option<FaultKey>>,
}

/// The same while it is written. `files`: those of the accounts that are kept.
#[derive(Debug, Serialize)]
pub(crate) struct Saying<'b> {
    pub files: &'b [FileAccount],
    set_aside: &'b SetAsides,
    flags: &'b [Flag],
    inferences: &'b [Inference],
    faults: &'b [Fault],
    keys: Vec<Option<&'b FaultKey>>,
}

impl Book {
    /// What the book says, with the accounts of `files` alone.
    pub fn saying<'b>(&'b self, files: &'b [FileAccount]) -> Saying<'b> {
        let mut keys = vec![None; self.faults.len()];
        for (key, index) in &self.joined {
            if let Some(slot) = keys.get_mut(*index) {
                *slot = Some(key);
            }
        }
        let Book { set_aside, flags, inferences, faults, .. } = self;
        Saying { files, set_aside, flags, inferences, faults, keys }
    }

    /// A book that says what was kept.
    pub fn of_said(site: &str, said: Said) -> Book {
        let keyed = said.keys.into_iter().enumerate().filter_map(|(index, key)| Some((key?, index)));
        Book {
            joined: keyed.collect(),
            files: said.files,
            set_aside: said.set_aside,
            flags: said.flags,
            inferences: said.inferences,
            faults: said.faults,
            ..Book::of_site(site)
        }
    }
}
