//! A site's declaration and a whole log of any kind, read as a season is. Rows read are rows kept and rows
//! set aside; a log that is read in a stream as UTF-8 is read the same as UTF-16, which is read whole.
#![no_main]
use crosshouse_fuzz::{leave_caught_panics, logs};
use libfuzzer_sys::fuzz_target;

fuzz_target!(init: leave_caught_panics(), |data: &[u8]| logs::check(data));
