//! The store of a season: daily tables by season and site as Parquet, and what was said of every climate
//! log, so that a later run reads only what changed.
//!
//! Paths are those of a partitioned data set, so that any engine can read them:
//! `house-days/season=2031/site=tarn-hollow/days.parquet` (a row a house and day),
//! `logger-days/…/days.parquet` (a row a logger and day), `climate-records/…/records.parquet` (every record,
//! of seasons small enough) and `climate-told/…/told.json.gz` (accounts, set-aside rows, flags, inferences,
//! faults, hashes). What belongs together is judged together: the climate logs of a site, whose records join
//! over midnight and whose clocks are compared. Of seasons small enough, `climate-rows/…/….parquet` keeps the
//! rows of every file as they were read (`rows.rs`), so that no file is read again for another's sake.
mod days;
pub mod former;
mod rows;
pub mod stamps;

use crate::climate::{Days, DaysPass, LoggerDays, gather, is_small};
use crosshouse_audit::{OutFile, sha256};
use crosshouse_logs::declare::{Season, SiteDeclaration};
use crosshouse_logs::loggers::{ClimateFile, ClimateFiles, ClimateReading, LoggerFacts, LoggerReading, Loggers, Told};
use crosshouse_trial::tables::HouseDay;
use flate2::Compression;
use flate2::read::GzDecoder;
use flate2::write::GzEncoder;
pub use former::Former;
use rows::RowsKept;
use serde::{Deserialize, Serialize};
use stamps::{Stamp, Stamps};
use std::collections::BTreeMap;
use std::path::Path;
use std::sync::Mutex;

/// Takes the loggers of a season, and keeps what they come to.
pub struct Store<'s> {
    days: Days<'s>,
    season: &'s str,
    former: Former,
    /// Whether the rows of single files are kept.
    by_file: bool,
    /// What the earlier run kept of single files, by path in the store.
    former_rows: Mutex<BTreeMap<String, RowsKept>>,
    now: Mutex<Now>,
}

/// Bytes by path in the store.
type Files = BTreeMap<String, Vec<u8>>;

/// What this run's store holds.
#[derive(Default)]
struct Now {
    files: Files,
    /// What `files` holds of single files, by path.
    rows: BTreeMap<String, RowsKept>,
    stamps: Stamps,
    faults: Vec<String>,
}

/// What is kept of a site's climate logs beside its tables.
#[derive(Deserialize)]
struct Kept {
    /// Hash of everything but the files that decides the numbers: declarations, settings, rules.
    decided_by: String,
    /// Of the tables that belong to it, by their path.
    sha256: BTreeMap<String, String>,
    /// Of each logger, the place of its log's first file among the site's.
    loggers: Vec<u32>,
    rows: BTreeMap<String, RowsKept>,
    told: Told,
}

/// The same while it is written.
#[derive(Serialize)]
struct Keeping<'k> {
    decided_by: String,
    sha256: BTreeMap<&'k str, String>,
    loggers: Vec<u32>,
    rows: BTreeMap<String, RowsKept>,
    told: &'k Told,
}

/// The hash of the source of every crate that decides a number of the store, made when this is built.
const RULES: &str = env!("CROSSHOUSE_RULES");

/// What a finished store hands to the writer.
pub struct Finished {
    pub files: Vec<OutFile>,
    pub stamps: Stamps,
}

impl<'s> Store<'s> {
    pub fn new(days: Days<'s>, season: &'s Season, former: Former) -> Self {
        Store { days, season: &season.year, former, by_file: is_small(season), former_rows: Mutex::default(), now: Mutex::default() }
    }

    fn path(&self, table: &str, site: &str, name: &str) -> String {
        format!("{table}/season={}/site={}/{name}", hive(self.season), hive(site))
    }

    fn paths(&self, log: &ClimateFiles<'_>) -> [String; 3] {
        [
            self.path("climate-told", &log.site.id, "told.json.gz"),
            self.path("logger-days", &log.site.id, "days.parquet"),
            self.path("climate-records", &log.site.id, "records.parquet"),
        ]
    }

    fn decided_by(&self, log: &ClimateFiles<'_>) -> String {
        let site = log.site;
        let declared = serde_json::json!({
            "rules": RULES,
            "site": [&site.id, &site.time_zone],
            "place": [site.latitude, site.longitude],
            "dates": [site.seeded, site.transplanted, site.ended],
            "houses": site.houses,
            "logs": site.climate,
            "crop": log.season.crop,
            "doubts": log.season.doubts,
            "leave_out": log.season.leave_out,
            "settings": format!("{:?}", self.days.settings),
        });
        sha256(declared.to_string().as_bytes())
    }

    /// Whether a file is the one that was read before, and how it stands now.
    fn unchanged(&self, name: &str, path: &Path, hash: &str) -> Option<Stamp> {
        let stamp = stamps::of(path)?;
        let same = self.former.stamps.get(name) == Some(&stamp) || stamps::sha256(path).as_deref() == Some(hash);
        same.then_some(stamp)
    }

    /// What was kept of a site's logs, and the bytes that say so.
    fn kept(&self, log: &ClimateFiles<'_>) -> Option<(Kept, Vec<u8>)> {
        let folder = self.former.folder.as_ref()?;
        let [told, ..] = self.paths(log);
        let packed = std::fs::read(folder.join(told)).ok()?;
        let kept = serde_json::from_reader(std::io::BufReader::new(GzDecoder::new(packed.as_slice()))).ok()?;
        Some((kept, packed))
    }

    fn recalled(&self, log: &ClimateFiles<'_>) -> Option<(ClimateReading<LoggerDays>, Files)> {
        let folder = self.former.folder.as_ref()?;
        let (kept, packed) = self.kept(log)?;
        self.know_rows(&kept.rows);
        let paths = self.paths(log);
        let [told, days, records] = &paths;
        let names = kept.told.files.iter().map(|f| f.file.as_str());
        let same_files = names.eq(log.files.iter().map(|(name, _)| name.as_str()));
        if !same_files || kept.decided_by != self.decided_by(log) {
            return None;
        }
        let wanted = if self.days.keep_records { vec![days, records] } else { vec![days] };
        let mut files = BTreeMap::from([(told.clone(), packed)]);
        for path in wanted {
            let bytes = std::fs::read(folder.join(path)).ok()?;
            if kept.sha256.get(path)? != &sha256(&bytes) {
                return None;
            }
            files.insert(path.clone(), bytes);
        }
        let batches = crosshouse_logs::store::read(std::fs::File::open(folder.join(days)).ok()?).ok()?;
        let empty = |moved: &u32| LoggerReading { moved: *moved, out: LoggerDays { days: Vec::new(), records: None } };
        let mut loggers: Vec<LoggerReading<LoggerDays>> = kept.loggers.iter().map(empty).collect();
        for (logger, day) in batches.iter().map(days::days).collect::<Option<Vec<_>>>()?.into_iter().flatten() {
            loggers.get_mut((logger as usize).checked_sub(1)?)?.out.days.push(day);
        }
        let accounts = kept.told.files.iter().map(|f| f.sha256.clone()).collect::<Vec<_>>();
        let mut found = Vec::new();
        for ((name, path), hash) in log.files.iter().zip(&accounts) {
            found.push((name.clone(), self.unchanged(name, path, hash)?));
        }
        self.with(|now| now.stamps.extend(found));
        files.extend(kept.rows.iter().filter_map(|(path, about)| Some((path.clone(), self.rows_of(path, about)?))));
        Some((ClimateReading { told: kept.told, loggers }, files))
    }

    fn with<T>(&self, act: impl FnOnce(&mut Now) -> T) -> T {
        act(&mut self.now.lock().unwrap_or_else(std::sync::PoisonError::into_inner))
    }

    fn tables(&self, log: &ClimateFiles<'_>, reading: &ClimateReading<LoggerDays>) -> Result<Files, String> {
        let [told, days, records] = self.paths(log);
        let numbered = (1..).zip(&reading.loggers);
        let rows: Vec<(u32, &HouseDay)> = numbered.flat_map(|(n, logger)| logger.out.days.iter().map(move |d| (n, d))).collect();
        let said = |e: &dyn std::fmt::Display| format!("the store's tables cannot be built: {e}");
        let batch = days::batch(&rows).map_err(|e| said(&e))?;
        let mut files = BTreeMap::from([(days, crosshouse_logs::store::written(&batch).map_err(|e| said(&e))?)]);
        if self.days.keep_records {
            let climate: Vec<_> = reading.loggers.iter().filter_map(|l| Some((l.moved, l.out.records.as_ref()?))).collect();
            let bytes = crosshouse_logs::store::climate_records(&log.site.id, &climate, &reading.told.files).map_err(|e| said(&e))?;
            files.insert(records, bytes);
        }
        let kept = Keeping {
            decided_by: self.decided_by(log),
            sha256: files.iter().map(|(path, bytes)| (path.as_str(), sha256(bytes))).collect(),
            loggers: reading.loggers.iter().map(|l| l.moved).collect(),
            rows: self.rows_now(&log.site.id),
            told: &reading.told,
        };
        // Rows set aside for one reason repeat its words.
        let mut text = std::io::BufWriter::new(GzEncoder::new(Vec::new(), Compression::fast()));
        serde_json::to_writer(&mut text, &kept).map_err(|e| said(&e))?;
        let packed = text.into_inner().map_err(|e| said(&e))?;
        files.insert(told, packed.finish().map_err(|e| said(&e))?);
        Ok(files)
    }

    /// The files of this run's store. `houses`: the joined days of each site, by its id.
    ///
    /// # Errors
    /// A sentence, where a table cannot be built.
    pub fn finish<'d>(self, houses: impl Iterator<Item = (&'d str, &'d [HouseDay])>) -> Result<Finished, String> {
        let mut now = self.with(std::mem::take);
        if let Some(fault) = now.faults.pop() {
            return Err(fault);
        }
        for (site, days) in houses.filter(|(_, days)| !days.is_empty()) {
            let rows: Vec<(u32, &HouseDay)> = days.iter().map(|d| (0, d)).collect();
            let batch = days::batch(&rows).map_err(|e| e.to_string())?;
            let bytes = crosshouse_logs::store::written(&batch).map_err(|e| e.to_string())?;
            now.files.insert(self.path("house-days", site, "days.parquet"), bytes);
        }
        let files = now.files.into_iter().map(|(path, bytes)| OutFile::new(path, bytes)).collect();
        Ok(Finished { files, stamps: now.stamps })
    }
}

impl Loggers for Store<'_> {
    type Out = LoggerDays;
    type Pass = DaysPass;

    fn begin(&self, site: &SiteDeclaration, facts: &LoggerFacts) -> DaysPass {
        self.days.begin(site, facts)
    }

    fn recall(&self, log: &ClimateFiles<'_>) -> Option<ClimateReading<LoggerDays>> {
        match self.recalled(log) {
            Some((reading, files)) => {
                self.with(|now| now.files.extend(files));
                Some(reading)
            }
            None => {
                let found: Vec<_> = log.files.iter().filter_map(|(name, path)| Some((name.clone(), stamps::of(path)?))).collect();
                self.with(|now| now.stamps.extend(found));
                None
            }
        }
    }

    fn keeps_files(&self) -> bool {
        self.by_file
    }

    fn recall_file(&self, file: &ClimateFile<'_>) -> Option<Vec<u8>> {
        self.recalled_rows(file)
    }

    fn keep_file(&self, file: &ClimateFile<'_>, sha256: &str, rows: Vec<u8>) {
        self.keep_rows(file, sha256, rows);
    }

    fn keep(&self, log: &ClimateFiles<'_>, mut reading: ClimateReading<LoggerDays>) -> ClimateReading<LoggerDays> {
        let tables = self.tables(log, &reading);
        self.with(|now| match tables {
            Ok(files) => now.files.extend(files),
            Err(fault) => now.faults.push(fault),
        });
        reading.loggers.iter_mut().for_each(|l| l.out.records = None);
        gather(&mut reading.loggers);
        reading
    }
}

/// A value as part of a path: everything but plain letters, digits and marks as `%` and its bytes.
fn hive(value: &str) -> String {
    let plain = |b: u8| b.is_ascii_alphanumeric() || matches!(b, b'-' | b'_' | b'.');
    value.bytes().map(|b| if plain(b) { char::from(b).to_string() } else { format!("%{b:02X}") }).collect()
}

#[cfg(test)]
mod tests {
    use super::hive;

    #[test]
    fn a_season_that_climbs_out_of_its_folder_stays_in_it() {
        assert_eq!(hive("2031"), "2031");
        assert_eq!(hive("../etc/2031 é"), "..%2Fetc%2F2031%20%C3%A9");
    }
}
