//! Bytes as a season file or a site file. A refusal is told: every fault has its file, code and words.
#![no_main]
use libfuzzer_sys::fuzz_target;

fuzz_target!(|data: &[u8]| crosshouse_fuzz::season_file::check(data));
