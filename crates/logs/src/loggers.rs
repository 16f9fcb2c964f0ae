//! The climate records of a season as they pass: each logger's records in time order, a batch at a
//! time, so that a season of any size is read in bounded memory.
use crate::declare::{ClimateLog, Season, SiteDeclaration};
use crate::tables::Climate;
use crosshouse_readings::said::{FileAccount, Flag, Inference};
use crosshouse_readings::{Fault, FileId, SetAsides, Source};
use serde::{Deserialize, Serialize};
use std::path::PathBuf;

/// What is known of a logger before its records pass.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LoggerFacts {
    pub house: String,
    /// Nominal interval between records, s.
    pub interval_s: u32,
    /// Seconds to add to an instant for the site's standard time.
    pub standard_offset_s: i32,
    /// True where the light values are period means rather than readings at the instant.
    pub light_is_mean: bool,
}

/// Some successive records of one logger, column by column. `NaN` = no value.
#[derive(Debug, Clone, Copy)]
pub struct Records<'r> {
    /// Seconds since 1970-01-01T00:00:00Z, rising.
    pub instant: &'r [i64],
    /// °C
    pub temperature: &'r [f64],
    /// %, 0–100
    pub humidity: &'r [f64],
    /// PPFD, µmol m⁻² s⁻¹
    pub light: &'r [f64],
    /// µmol/mol
    pub co2: &'r [f64],
    pub source: &'r [Source],
}

/// What is known of a logger once all its records have passed.
#[derive(Debug, Clone, Copy)]
pub struct Ending<'e> {
    pub flagged: &'e Flagged,
    /// Whether any of its files has the column.
    pub has_light: bool,
    pub has_co2: bool,
}

/// Takes the records of one logger.
pub trait Pass {
    type Out: Send;
    fn see(&mut self, records: &Records<'_>);
    fn finish(self, ending: &Ending<'_>) -> Self::Out;
}

/// Takes the loggers of a season, several at a time.
pub trait Loggers: Sync {
    type Out: Send;
    type Pass: Pass<Out = Self::Out>;

    fn begin(&self, site: &SiteDeclaration, facts: &LoggerFacts) -> Self::Pass;

    /// An earlier reading of the same site's logs, where nothing that decides it has changed since.
    fn recall(&self, _climate: &ClimateFiles<'_>) -> Option<ClimateReading<Self::Out>> {
        None
    }

    /// Whether the rows of each file of a site with several are wanted ([`keep_file`](Self::keep_file)), so that
    /// it need not be read again where others change.
    fn keeps_files(&self) -> bool {
        false
    }

    /// The rows of a file as an earlier run kept them, where neither the file nor what decides them has changed.
    fn recall_file(&self, _file: &ClimateFile<'_>) -> Option<Vec<u8>> {
        None
    }

    /// Told of every file that was read anew, with its SHA-256 and its rows, packed as Parquet.
    fn keep_file(&self, _file: &ClimateFile<'_>, _sha256: &str, _rows: Vec<u8>) {}

    /// Told of every site whose logs were read anew; what it returns is handed on.
    fn keep(&self, _climate: &ClimateFiles<'_>, reading: ClimateReading<Self::Out>) -> ClimateReading<Self::Out> {
        reading
    }
}

/// The climate logs of a site and the files that they name.
#[derive(Debug, Clone)]
pub struct ClimateFiles<'f> {
    pub season: &'f Season,
    pub site: &'f SiteDeclaration,
    /// Name relative to the folder of logs, and path; log by log, in name order.
    pub files: Vec<(String, PathBuf)>,
}

/// One file of a climate log.
#[derive(Debug, Clone, Copy)]
pub struct ClimateFile<'f> {
    pub site: &'f SiteDeclaration,
    pub log: &'f ClimateLog,
    /// Place of the log among the site's climate logs, from 0.
    pub number: usize,
    /// Relative to the folder of logs.
    pub name: &'f str,
    pub path: &'f std::path::Path,
}

/// All that came of a site's climate logs.
#[derive(Debug, Clone)]
pub struct ClimateReading<Out> {
    pub told: Told,
    pub loggers: Vec<LoggerReading<Out>>,
}

/// What one logger came to. The files of its records are numbered from its log's first one, which is file
/// `moved` of the site's climate files.
#[derive(Debug, Clone)]
pub struct LoggerReading<Out> {
    pub moved: u32,
    pub out: Out,
}

/// What was said of files, rows and cells.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Told {
    pub files: Vec<FileAccount>,
    pub set_aside: SetAsides,
    pub flags: Vec<Flag>,
    pub inferences: Vec<Inference>,
    pub faults: Vec<Fault>,
}

/// Which records of a logger carry a flag: a bit a record, by its place in time order.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Flagged {
    bits: Vec<u64>,
}

impl Flagged {
    /// Of one truth value a record.
    pub fn of(records: impl Iterator<Item = bool>) -> Flagged {
        let mut flagged = Flagged::default();
        records.enumerate().filter(|(_, is)| *is).for_each(|(record, _)| flagged.set(record));
        flagged
    }

    pub(crate) fn set(&mut self, record: usize) {
        let word = record / 64;
        if word >= self.bits.len() {
            self.bits.resize(word + 1, 0);
        }
        if let Some(bits) = self.bits.get_mut(word) {
            *bits |= 1 << (record % 64);
        }
    }

    pub fn is(&self, record: usize) -> bool {
        self.bits.get(record / 64).is_some_and(|bits| bits >> (record % 64) & 1 == 1)
    }

    /// The flagged records, in time order.
    pub fn iter(&self) -> impl Iterator<Item = usize> {
        let bits = |(word, bits): (usize, &u64)| {
            let bits = *bits;
            (0..64).filter(move |b| bits >> b & 1 == 1).map(move |b| word * 64 + b)
        };
        self.bits.iter().enumerate().filter(|(_, bits)| **bits != 0).flat_map(bits)
    }
}

/// Keeps every record: the climate columns of [`crate::CleanTables`], for seasons that fit in memory.
pub struct Whole;

impl Loggers for Whole {
    type Out = Climate;
    type Pass = Climate;

    fn begin(&self, _site: &SiteDeclaration, facts: &LoggerFacts) -> Climate {
        Climate {
            house: facts.house.clone(),
            interval_s: facts.interval_s,
            standard_offset_s: facts.standard_offset_s,
            light_is_mean: facts.light_is_mean,
            ..Climate::default()
        }
    }
}

impl Pass for Climate {
    type Out = Climate;

    fn see(&mut self, records: &Records<'_>) {
        self.instant.extend_from_slice(records.instant);
        self.temperature.extend_from_slice(records.temperature);
        self.humidity.extend_from_slice(records.humidity);
        self.light.extend_from_slice(records.light);
        self.co2.extend_from_slice(records.co2);
        self.source.extend_from_slice(records.source);
    }

    fn finish(mut self, ending: &Ending<'_>) -> Climate {
        if !ending.has_light {
            self.light.clear();
        }
        if !ending.has_co2 {
            self.co2.clear();
        }
        self.flagged = (0..self.instant.len()).map(|i| ending.flagged.is(i)).collect();
        self
    }
}

impl Climate {
    /// The records of a logger read by itself, as those of files behind `moved` earlier ones.
    pub(crate) fn behind(mut self, moved: u32) -> Climate {
        self.source.iter_mut().for_each(|s| s.file = FileId(s.file.0 + moved));
        self
    }
}
