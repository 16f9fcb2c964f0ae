//! Season and site files.
use super::declarations::{KINDS, site};
use super::first;
use super::folder::{Folder, SEASON};
use crosshouse_logs::read_declarations;

thread_local! {
    static FOLDER: Folder = Folder::default();
}

/// Reads an input: a byte for which of the two files it is, then the file.
///
/// # Panics
/// Where what must hold does not.
pub fn check(data: &[u8]) {
    let (choice, bytes) = first(data);
    FOLDER.with(|folder| {
        let is_season = choice % 4 == 0;
        let sound = site(&KINDS[0], 0b01_01_01_01);
        folder.write("season.toml", if is_season { bytes } else { SEASON.as_bytes() });
        folder.write("tarn-hollow.toml", if is_season { sound.as_bytes() } else { bytes });
        let told = read_declarations(&folder.path("season.toml"));
        assert_eq!(told, read_declarations(&folder.path("season.toml")), "two readings of one file differ");
        let lines = bytes.iter().filter(|b| **b == b'\n').count() + 1;
        let Err(faults) = told else { return };
        assert!(!faults.is_empty());
        for fault in faults {
            let words = [&*fault.code, &fault.title, &fault.found, &fault.expected, &fault.mend, &fault.place.file];
            assert!(words.iter().all(|w| !w.is_empty()), "a fault without words: {fault:?}");
            let elsewhere = (fault.place.file == "season.toml") != is_season;
            assert!(elsewhere || fault.place.row.is_none_or(|r| r as usize <= lines), "no such line: {fault:?}");
        }
    });
}
