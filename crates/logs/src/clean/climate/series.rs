//! The kept records of one logger, in time order: columns of a batch, doubts, and what is told of them
//! in the end. Nothing here grows with the records but a bit for each and the steps of their sources.
use super::super::records::{HUMIDITY, Record, median_step, own_doubts, told_interval};
use super::file::Stop;
use crate::account::Book;
use crate::cells::standard_offset;
use crate::declare::{ClimateLog, LightIs, SiteDeclaration};
use crate::flags::{self, Doubt};
use crate::loggers::{Ending, Flagged, LoggerFacts, Loggers, Pass, Records};
use crate::tables::Climate;
use crosshouse_readings::{FileId, Source};
use jiff::tz::TimeZone;
use std::collections::BTreeMap;

/// Records handed on at a time; the median step is first guessed from as many.
const BATCH: usize = 1024;

/// What the loggers of one log have in common.
pub(super) struct Shared<'s, L> {
    pub site: &'s SiteDeclaration,
    pub log: &'s ClimateLog,
    pub zone: &'s TimeZone,
    pub loggers: &'s L,
    /// Median steps of houses whose first records misled, s.
    pub medians: &'s BTreeMap<String, i64>,
}

pub(super) struct Series<P> {
    house: String,
    batch: Batch,
    open: Vec<usize>,
    capped: Vec<usize>,
    records: usize,
    steps: Steps,
    sources: Sources,
    started: Option<Started<P>>,
}

struct Started<P> {
    pass: P,
    median: i64,
    first: FileId,
    /// Columns that the flag rules look at.
    seen: Climate,
}

#[derive(Default)]
struct Batch {
    instant: Vec<i64>,
    columns: [Vec<f64>; 4],
    source: Vec<Source>,
}

impl Batch {
    fn push(&mut self, record: &Record) {
        self.instant.push(record.instant);
        for (column, x) in self.columns.iter_mut().zip(record.values) {
            column.push(x);
        }
        self.source.push(record.source);
    }

    fn clear(&mut self) {
        self.instant.clear();
        self.columns.iter_mut().for_each(Vec::clear);
        self.source.clear();
    }

    fn records(&self) -> Records<'_> {
        let [temperature, humidity, light, co2] = &self.columns;
        Records { instant: &self.instant, temperature, humidity, light, co2, source: &self.source }
    }
}

/// How often each step between successive instants was taken, s; zero steps aside.
#[derive(Default)]
struct Steps {
    last: Option<i64>,
    run: (i64, u64),
    counts: BTreeMap<i64, u64>,
}

impl Steps {
    fn see(&mut self, instant: i64) {
        let step = self.last.replace(instant).map_or(0, |last| (instant - last).abs());
        if step == self.run.0 {
            self.run.1 += 1;
        } else {
            self.settle();
            self.run = (step, 1);
        }
    }

    fn settle(&mut self) {
        if self.run.1 > 0 && self.run.0 > 0 {
            *self.counts.entry(self.run.0).or_default() += self.run.1;
        }
        self.run.1 = 0;
    }

    fn median(&mut self) -> i64 {
        self.settle();
        let middle = self.counts.values().sum::<u64>() / 2;
        let mut before = 0;
        for (step, count) in &self.counts {
            before += count;
            if before > middle {
                return *step;
            }
        }
        0
    }
}

/// File and row of every record, as runs of successive rows.
#[derive(Default)]
struct Sources {
    runs: Vec<(usize, Source)>,
    records: usize,
    next: Option<Source>,
}

impl Sources {
    fn see(&mut self, source: Source) {
        if self.next != Some(source) {
            self.runs.push((self.records, source));
        }
        self.records += 1;
        self.next = Some(Source { file: source.file, row: source.row + 1 });
    }

    fn of(&self, record: usize) -> Option<Source> {
        let run = self.runs.partition_point(|(first, _)| *first <= record).checked_sub(1)?;
        let (first, source) = self.runs.get(run)?;
        Some(Source { file: source.file, row: source.row + (record - first) as u32 })
    }

    /// Records of each file.
    fn kept(&self) -> BTreeMap<FileId, u64> {
        let mut kept = BTreeMap::new();
        let ends = self.runs.iter().skip(1).map(|(first, _)| *first).chain([self.records]);
        for ((first, source), end) in self.runs.iter().zip(ends) {
            *kept.entry(source.file).or_default() += (end - first) as u64;
        }
        kept
    }
}

impl<P: Pass> Series<P> {
    pub fn new(house: &str) -> Self {
        Series {
            house: house.to_owned(),
            batch: Batch::default(),
            open: Vec::new(),
            capped: Vec::new(),
            records: 0,
            steps: Steps::default(),
            sources: Sources::default(),
            started: None,
        }
    }

    /// Takes the next record in time order, unlike in instant to the one before.
    pub fn add<L: Loggers<Pass = P>>(&mut self, mut record: Record, shared: &Shared<'_, L>) {
        if record.open {
            self.open.push(self.records);
        }
        if record.values[HUMIDITY] > 100.0 {
            record.values[HUMIDITY] = 100.0;
            self.capped.push(self.records);
        }
        self.records += 1;
        self.steps.see(record.instant);
        self.sources.see(record.source);
        self.batch.push(&record);
        if self.batch.instant.len() >= BATCH {
            self.hand_on(shared);
        }
    }

    fn hand_on<L: Loggers<Pass = P>>(&mut self, shared: &Shared<'_, L>) {
        let started = match &mut self.started {
            Some(started) => started,
            none => match begin(&self.house, &self.batch, shared) {
                Some(started) => none.insert(started),
                None => return,
            },
        };
        started.pass.see(&self.batch.records());
        started.seen.see(&self.batch.records());
        self.batch.clear();
    }

    /// What the logger comes to; its doubts and counts go into the book.
    ///
    /// # Errors
    /// [`Stop::Median`], where the first records misled about the step between them.
    pub fn finish<L: Loggers<Pass = P>>(mut self, has: [bool; 4], shared: &Shared<'_, L>, book: &mut Book) -> Result<Option<P::Out>, Stop> {
        self.hand_on(shared);
        let median = self.steps.median();
        let Some(Started { pass, median: guessed, first, mut seen }) = self.started else { return Ok(None) };
        if median != guessed {
            return Err(Stop::Median(self.house, median));
        }
        if shared.log.interval_minutes.is_none() {
            told_interval(&self.house, median, first, book);
        }
        let [_, _, has_light, has_co2] = has;
        if !has_light {
            seen.light.clear();
        }
        if !has_co2 {
            seen.co2.clear();
        }
        let mut doubts = own_doubts(self.open, self.capped);
        doubts.extend(flags::of_climate(&seen, median));
        let flagged = mark(doubts, &self.sources, book);
        account(&self.sources, &flagged, book);
        Ok(Some(pass.finish(&Ending { flagged: &flagged, has_light, has_co2 })))
    }
}

/// The pass of a logger whose first records are known.
fn begin<L: Loggers>(house: &str, batch: &Batch, shared: &Shared<'_, L>) -> Option<Started<L::Pass>> {
    let (from, first) = (*batch.instant.first()?, batch.source.first()?.file);
    let median = shared.medians.get(house).copied().unwrap_or_else(|| median_step(batch.instant.iter().copied()));
    let interval = shared.log.interval_minutes.map_or(median, |m| (m * 60.0).round() as i64);
    let facts = LoggerFacts {
        house: house.to_owned(),
        interval_s: u32::try_from(interval).unwrap_or(0),
        standard_offset_s: standard_offset(shared.zone, from),
        light_is_mean: shared.log.light_is == LightIs::Mean,
    };
    let seen = crate::loggers::Whole.begin(shared.site, &facts);
    Some(Started { pass: shared.loggers.begin(shared.site, &facts), median, first, seen })
}

/// Tells the doubts, file by file, and marks the records that they doubt.
fn mark(doubts: Vec<Doubt>, sources: &Sources, book: &mut Book) -> Flagged {
    let mut flagged = Flagged::default();
    for doubt in doubts {
        let mut by_file: BTreeMap<FileId, Vec<u32>> = BTreeMap::new();
        for record in &doubt.rows {
            if let Some(source) = sources.of(*record) {
                by_file.entry(source.file).or_default().push(source.row);
            }
            if doubt.marks {
                flagged.set(*record);
            }
        }
        for (file, rows) in by_file {
            book.flag(file, doubt.code, doubt.told(rows.len(), "record"), &rows);
        }
    }
    flagged
}

fn account(sources: &Sources, flagged: &Flagged, book: &mut Book) {
    for (file, kept) in sources.kept() {
        if let Some(account) = book.account(file) {
            account.kept += kept;
        }
    }
    for source in flagged.iter().filter_map(|record| sources.of(record)) {
        if let Some(account) = book.account(source.file) {
            account.flagged += 1;
        }
    }
}
