//! What must not matter: whether a file's rows were kept by an earlier reading or are read now.
use super::*;
use crate::declare::SiteDeclaration;
use crate::loggers::{ClimateFile, LoggerFacts, Loggers};
use std::collections::BTreeMap;
use std::sync::Mutex;

/// Keeps what it is given by the hash of the file, and recalls it while the file has that hash.
#[derive(Default)]
struct Keeping {
    rows: Mutex<BTreeMap<(String, String), Vec<u8>>>,
}

fn sha256(file: &ClimateFile<'_>) -> String {
    crate::source::read_bytes(file.path).map(|raw| raw.sha256).unwrap_or_default()
}

impl Loggers for Keeping {
    type Out = Climate;
    type Pass = Climate;

    fn begin(&self, site: &SiteDeclaration, facts: &LoggerFacts) -> Climate {
        Whole.begin(site, facts)
    }

    fn keeps_files(&self) -> bool {
        true
    }

    fn recall_file(&self, file: &ClimateFile<'_>) -> Option<Vec<u8>> {
        self.rows.lock().unwrap().get(&(file.name.to_owned(), sha256(file))).cloned()
    }

    fn keep_file(&self, file: &ClimateFile<'_>, sha256: &str, rows: Vec<u8>) {
        self.rows.lock().unwrap().insert((file.name.to_owned(), sha256.to_owned()), rows);
    }
}

/// The only climate log, read by `loggers`, and the files that were read anew.
fn read<L: Loggers<Out = Climate>>(season: &Season, loggers: &L) -> (String, Vec<String>) {
    let site = &season.sites[0];
    let log = &site.climate[0];
    let files: Vec<Found> = expand(&season.logs_folder, &log.log.files[0]).unwrap().0;
    let begun = Mutex::new(Vec::new());
    let begins = |found: &Found| begun.lock().unwrap().push(found.name.clone());
    let mut reading = read_log(&Task { season, site, log, number: 0, files: &files, alone: false }, loggers, &begins);
    reading.told.faults.iter_mut().for_each(|f| f.also_rows.sort_unstable());
    let loggers: Vec<String> = reading.loggers.iter().map(|(c, t)| format!("{c:?} {:?}", t.trace)).collect();
    (format!("{:#?}\n{loggers:#?}", reading.told), begun.into_inner().unwrap())
}

fn written(trial: TrialFolder, files: &[Vec<u8>]) -> TrialFolder {
    files.iter().enumerate().fold(trial, |t, (i, bytes)| t.log(&format!("climate-{i}.csv"), bytes))
}

/// Reads some files, changes one, and reads again: that one alone is read, and all is said as of a first reading.
fn one_changes(trial: TrialFolder, files: &[Vec<u8>], changed: usize, to: &[u8]) {
    let trial = written(trial, files);
    let season = trial.declarations().unwrap();
    let keeping = Keeping::default();
    let (first, begun) = read(&season, &keeping);
    assert_eq!((first, begun.len()), (read(&season, &Whole).0, files.len()));
    let name = format!("climate-{changed}.csv");
    let trial = trial.log(&name, to);
    let season = trial.declarations().unwrap();
    let (again, begun) = read(&season, &keeping);
    assert_eq!(again, read(&season, &Whole).0);
    let expected = if files[changed] == to { Vec::new() } else { vec![name] };
    assert_eq!(begun, expected);
}

/// As UTF-16, which only the general readers read.
fn wide(text: &str) -> Vec<u8> {
    [0xFEFF].into_iter().chain(text.encode_utf16()).flat_map(u16::to_le_bytes).collect()
}

proptest! {
    #![proptest_config(Config { cases: 300, ..Config::default() })]

    #[test]
    fn a_changed_file_is_read_beside_kept_ones_as_if_all_were_read_anew(
        files in prop::collection::vec((file(), any::<bool>()), 2..5),
        to in (file(), prop::bool::weighted(0.2)),
        changed in any::<prop::sample::Index>(),
        plain in any::<bool>(),
        interval in prop_oneof![3 => Just("interval_minutes = 5"), 1 => Just("")],
    ) {
        let bytes = |(text, utf16): &(String, bool)| if *utf16 { wide(text) } else { text.clone().into_bytes() };
        let files: Vec<Vec<u8>> = files.iter().map(|(text, utf16)| bytes(&(text.clone(), *utf16 && !plain))).collect();
        let changed = changed.index(files.len());
        one_changes(trial(interval, "decimal = \".\"", "year-month-day"), &files, changed, &bytes(&to));
    }
}

#[test]
fn files_that_overlap_or_run_backwards_are_recalled_alike() {
    let texts = [rows(0, 2000), rows(1990, 4000), rows(3000, 3500)];
    let files: Vec<Vec<u8>> = texts.iter().map(|t| (HEADER.to_owned() + t).into_bytes()).collect();
    let backwards: String = rows(3300, 3900).lines().rev().map(|l| format!("{l}\n")).collect();
    for (changed, to) in [(0, rows(0, 2100)), (1, rows(1900, 4100)), (2, backwards)] {
        let trial = trial("interval_minutes = 5", "decimal = \".\"", "month/day/year");
        one_changes(trial, &files, changed, (HEADER.to_owned() + &to).as_bytes());
    }
}
