//! The seeds of the fuzz targets are read by the ordinary suite too, as far as public functions go.
#![allow(clippy::unwrap_used, clippy::disallowed_methods)]

#[allow(dead_code)]
#[path = "../../../tests/fuzz/src/lib.rs"]
mod fuzz;

use std::path::{Path, PathBuf};

fn seeds(target: &str) -> Vec<(PathBuf, Vec<u8>)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/fuzz/seeds").join(target);
    let mut paths: Vec<PathBuf> = std::fs::read_dir(folder).unwrap().map(|e| e.unwrap().path()).collect();
    paths.sort();
    assert!(!paths.is_empty(), "no seeds of {target}");
    paths.into_iter().map(|p| (p.clone(), std::fs::read(p).unwrap())).collect()
}

#[test]
fn rows_of_every_seed_balance_however_its_file_is_read() {
    seeds("logs").iter().for_each(|(_, seed)| fuzz::logs::check(seed));
}

#[test]
fn every_seed_of_a_season_or_site_file_is_read_or_refused_in_words() {
    seeds("season_file").iter().for_each(|(_, seed)| fuzz::season_file::check(seed));
}

#[test]
fn every_delimited_seed_is_split_or_refused() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.csv");
    let mut read = 0;
    for (name, seed) in seeds("delimited") {
        std::fs::write(&path, &seed[1..]).unwrap();
        match crosshouse_logs::raw::read(&path, "a.csv") {
            Ok(file) => {
                assert!(file.sheets[0].rows() > 0, "{name:?}");
                read += 1;
            }
            Err(fault) => assert!(["file-not-text", "bytes-undecodable"].contains(&fault.code.as_str()), "{name:?}: {fault:?}"),
        }
    }
    assert!(read >= 10, "{read} seeds were read");
}

#[test]
fn every_sheet_among_the_seeds_is_read_or_refused() {
    let folder = tempfile::tempdir().unwrap();
    let mut read = 0;
    for (seed, bytes) in seeds("workbook") {
        let (name, bytes) = match bytes[0] {
            0 => ("a.xlsx", bytes[1..].to_vec()),
            1 => ("a.ods", bytes[1..].to_vec()),
            4 => ("a.ods", fuzz::sheet::ods(&bytes[1..])),
            epoch => ("a.xlsx", fuzz::sheet::xlsx(&bytes[1..], epoch == 3)),
        };
        let path = folder.path().join(name);
        std::fs::write(&path, bytes).unwrap();
        match crosshouse_logs::raw::read(&path, name) {
            Ok(file) => read += file.sheets.len(),
            Err(fault) => assert!(fault.code.starts_with("workbook-"), "{seed:?}: {fault:?}"),
        }
    }
    assert!(read >= 6, "{read} sheets were read");
}
