//! The store: what has not changed is not read again, and no result shows whether it was.
#![allow(clippy::unwrap_used, clippy::disallowed_methods)]

use crosshouse_logs::{Progress, Silent};
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::sync::Mutex;

/// The demo season in a folder of its own.
fn season(folder: &Path) -> PathBuf {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap();
    copy(&root.join("pipelines/four-stations"), &folder.join("pipelines/four-stations"));
    copy(&root.join("fixtures/four-stations"), &folder.join("fixtures/four-stations"));
    folder.join("pipelines/four-stations/season.toml")
}

fn copy(from: &Path, to: &Path) {
    std::fs::create_dir_all(to).unwrap();
    for entry in std::fs::read_dir(from).unwrap().map(Result::unwrap) {
        let target = to.join(entry.file_name());
        if entry.path().is_dir() {
            copy(&entry.path(), &target);
        } else {
            std::fs::copy(entry.path(), target).unwrap();
        }
    }
}

/// Every file of a results folder by its path, but for the provenance.
fn contents(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut files = BTreeMap::new();
    let mut todo = vec![folder.to_path_buf()];
    while let Some(dir) = todo.pop() {
        for path in std::fs::read_dir(dir).unwrap().map(|e| e.unwrap().path()) {
            if path.is_dir() {
                todo.push(path);
            } else {
                files.insert(path.strip_prefix(folder).unwrap().to_string_lossy().into_owned(), std::fs::read(&path).unwrap());
            }
        }
    }
    files.remove(crosshouse::writer::MARK);
    files
}

/// The climate files that a run opens.
#[derive(Default)]
struct Opened(Mutex<BTreeSet<String>>);

impl Progress for Opened {
    fn file(&self, name: &str, _index: usize, _of: usize) {
        if name.contains("climate") {
            self.0.lock().unwrap().insert(name.to_owned());
        }
    }
}

impl Opened {
    fn names(self) -> Vec<String> {
        self.0.into_inner().unwrap().into_iter().collect()
    }
}

fn run(season: &Path, out: &Path) -> Vec<String> {
    let opened = Opened::default();
    let outcome = crosshouse::run::run(season, out, &opened);
    assert_eq!(outcome.status, 0, "{}", outcome.err);
    opened.names()
}

#[test]
fn a_second_run_reads_no_climate_log_again_and_writes_the_same_bytes() {
    let folder = tempfile::tempdir().unwrap();
    let (season, out) = (season(folder.path()), folder.path().join("out"));
    assert_eq!(run(&season, &out).len(), 11);
    let first = contents(&out);
    assert!(run(&season, &out).is_empty());
    assert_eq!(first, contents(&out));
    assert!(first.keys().any(|k| k == "store/house-days/season=2031/site=tarn-hollow/days.parquet"), "{:?}", first.keys());
}

/// Leaves the last row of a file out.
fn cut_last_row(log: &Path) {
    let bytes = std::fs::read(log).unwrap();
    let cut = bytes.trim_ascii_end().iter().rposition(|b| *b == b'\n').unwrap();
    std::fs::write(log, &bytes[..=cut]).unwrap();
}

#[test]
fn one_changed_file_alone_is_read_again_and_the_results_are_those_of_a_fresh_run() {
    let folder = tempfile::tempdir().unwrap();
    let (season, out, fresh) = (season(folder.path()), folder.path().join("out"), folder.path().join("fresh"));
    run(&season, &out);
    // Of a site with one file, of logs of several, and of a site with several logs.
    for changed in ["withy-end/climate.csv", "tarn-hollow/climate-may.csv", "sedge-flats/climate-2.csv", "marl-ridge/climate-10min.csv"] {
        cut_last_row(&folder.path().join("fixtures/four-stations").join(changed));
        assert_eq!(run(&season, &out), [changed]);
    }
    run(&season, &fresh);
    assert_eq!(contents(&out), contents(&fresh));
}

#[test]
fn a_file_that_comes_between_others_or_goes_leaves_them_unread() {
    let folder = tempfile::tempdir().unwrap();
    let (season, out, fresh) = (season(folder.path()), folder.path().join("out"), folder.path().join("fresh"));
    let log = folder.path().join("fixtures/four-stations/tarn-hollow/climate-june.csv");
    let text = std::fs::read(&log).unwrap();
    std::fs::remove_file(&log).unwrap();
    run(&season, &out);
    std::fs::write(&log, text).unwrap();
    assert_eq!(run(&season, &out), ["tarn-hollow/climate-june.csv"]);
    run(&season, &fresh);
    assert_eq!(contents(&out), contents(&fresh));
    std::fs::remove_file(&log).unwrap();
    assert!(run(&season, &out).is_empty());
    run(&season, &fresh);
    assert_eq!(contents(&out), contents(&fresh));
}

#[test]
fn a_file_whose_times_alone_moved_is_told_by_its_hash() {
    let folder = tempfile::tempdir().unwrap();
    let (season, out) = (season(folder.path()), folder.path().join("out"));
    run(&season, &out);
    let log = folder.path().join("fixtures/four-stations/withy-end/climate.csv");
    let bytes = std::fs::read(&log).unwrap();
    std::fs::write(&log, bytes).unwrap();
    assert!(run(&season, &out).is_empty());
}

#[test]
fn a_changed_setting_reckons_anew_and_reads_no_file_whose_rows_are_kept() {
    let folder = tempfile::tempdir().unwrap();
    let (season, out, fresh) = (season(folder.path()), folder.path().join("out"), folder.path().join("fresh"));
    run(&season, &out);
    let text = std::fs::read_to_string(&season).unwrap();
    assert!(text.contains("degree_day_base = 10"));
    std::fs::write(&season, text.replace("degree_day_base = 10", "degree_day_base = 11")).unwrap();
    // The rows of a site's only file are not kept.
    assert_eq!(run(&season, &out), ["withy-end/climate.csv"]);
    run(&season, &fresh);
    assert_eq!(contents(&out), contents(&fresh));
}

#[test]
fn a_changed_declaration_of_a_log_reads_its_files_again() {
    let folder = tempfile::tempdir().unwrap();
    let (season, out, fresh) = (season(folder.path()), folder.path().join("out"), folder.path().join("fresh"));
    run(&season, &out);
    let site = season.with_file_name("withy-end.toml");
    let text = std::fs::read_to_string(&site).unwrap();
    let declared = "files = [\"withy-end/climate.csv\"]\nhouse = \"main\"\nclock = \"site\"";
    assert!(text.contains(declared));
    std::fs::write(&site, text.replace(declared, &declared.replace("\"site\"", "\"standard\""))).unwrap();
    assert_eq!(run(&season, &out), ["withy-end/climate.csv"]);
    run(&season, &fresh);
    assert_eq!(contents(&out), contents(&fresh));
}

#[test]
fn a_damaged_store_is_read_anew_and_not_believed() {
    let folder = tempfile::tempdir().unwrap();
    let (season, out) = (season(folder.path()), folder.path().join("out"));
    run(&season, &out);
    let first = contents(&out);
    let damage = |name: &str| {
        let mut bytes = std::fs::read(out.join("store").join(name)).unwrap();
        bytes[100] ^= 1;
        std::fs::write(out.join("store").join(name), bytes).unwrap();
    };
    damage("logger-days/season=2031/site=withy-end/days.parquet");
    assert_eq!(run(&season, &out), ["withy-end/climate.csv"]);
    assert_eq!(first, contents(&out));
    let days = "logger-days/season=2031/site=marl-ridge/days.parquet";
    damage(days);
    assert!(run(&season, &out).is_empty(), "the rows are still as they were kept");
    assert_eq!(first, contents(&out));
    let rows =
        first.keys().find_map(|k| k.strip_prefix("store/").filter(|k| k.starts_with("climate-rows/season=2031/site=marl-ridge/log-1")));
    damage(days);
    damage(rows.unwrap());
    assert_eq!(run(&season, &out), ["marl-ridge/climate-1min.csv"]);
    assert_eq!(first, contents(&out));
}

#[test]
fn check_keeps_a_store_of_its_own_and_says_the_same_with_it() {
    let folder = tempfile::tempdir().unwrap();
    let (season, store) = (season(folder.path()), folder.path().join("kept"));
    let read = || {
        let opened = Opened::default();
        let plain = crosshouse::check::check(&season, &Silent);
        assert_eq!(crosshouse::check::check_with(&season, Some(&store), &opened), plain);
        opened.names()
    };
    assert_eq!(read().len(), 11);
    assert!(read().is_empty());
    cut_last_row(&folder.path().join("fixtures/four-stations/tarn-hollow/climate-may.csv"));
    assert_eq!(read(), ["tarn-hollow/climate-may.csv"]);
    let logs = folder.path().join("fixtures/four-stations/tarn-hollow");
    std::fs::rename(logs.join("climate-may.csv"), logs.join("climate-05.csv")).unwrap();
    assert_eq!(read(), ["tarn-hollow/climate-05.csv"]);
    let rows = std::fs::read_dir(store.join("climate-rows/season=2031/site=tarn-hollow")).unwrap();
    assert_eq!(rows.count(), 5, "no rows of the file that is gone");
}

#[test]
fn a_store_is_never_made_in_a_folder_of_other_files() {
    let folder = tempfile::tempdir().unwrap();
    let (season, store) = (season(folder.path()), folder.path().join("home"));
    std::fs::create_dir(&store).unwrap();
    std::fs::write(store.join("thesis.doc"), "dear").unwrap();
    let outcome = crosshouse::check::check_with(&season, Some(&store), &Silent);
    assert!(outcome.status == 2 && outcome.err.contains("holds other files"), "{}", outcome.err);
}
