//! The kept records of one logger, in time order: columns of a batch, doubts, and what is told of them
//! in the end. Nothing here grows with the records but a bit for each and the steps of their sources.
use super::super::logger_doubts::{self, Traced};
use super::super::records::{Record, median_step, told_interval};
use super::file::Stop;
use crate::account::Book;
use crate::cells::standard_offset;
use crate::declare::{ClimateLog, LightIs, Season, SiteDeclaration};
use crate::flags::{Reading, Spot, Watch};
use crate::loggers::{Ending, Flagged, LoggerFacts, Loggers, Pass, Records, Whole};
use crate::tables::Climate;
use crosshouse_readings::{FileId, Source};
use jiff::tz::TimeZone;
use std::collections::BTreeMap;

/// Records handed on at a time; the median step is first guessed from as many.
const BATCH: usize = 1024;

/// What the loggers of one log have in common.
pub(super) struct Shared<'s, L> {
    pub season: &'s Season,
    pub site: &'s SiteDeclaration,
    pub log: &'s ClimateLog,
    pub zone: &'s TimeZone,
    pub loggers: &'s L,
    /// Median steps of houses whose first records misled, s.
    pub medians: &'s BTreeMap<String, i64>,
}

pub(super) struct Series<'s, P> {
    house: String,
    batch: Vec<Record>,
    columns: Columns,
    steps: Steps,
    sources: Sources,
    started: Option<Started<'s, P>>,
}

struct Started<'s, P> {
    pass: P,
    watch: Watch<'s>,
    facts: LoggerFacts,
    median: i64,
    first: FileId,
    seen: usize,
    /// Every record, where the season leaves out rows by doubts: which ones is known in the end only.
    held: Option<Climate>,
}

/// What a logger came to, and its days for comparing clocks.
pub(super) type Finished<Out> = (Out, Traced);

/// Columns of a batch.
#[derive(Default)]
struct Columns {
    instant: Vec<i64>,
    values: [Vec<f64>; 4],
    source: Vec<Source>,
}

impl Columns {
    fn fill(&mut self, batch: &[Record]) {
        self.instant.clear();
        self.instant.extend(batch.iter().map(|r| r.instant));
        for (i, column) in self.values.iter_mut().enumerate() {
            column.clear();
            column.extend(batch.iter().map(|r| r.values.get(i).copied().unwrap_or(f64::NAN)));
        }
        let [_, humidity, ..] = &mut self.values;
        humidity.iter_mut().filter(|x| **x > 100.0).for_each(|x| *x = 100.0);
        self.source.clear();
        self.source.extend(batch.iter().map(|r| r.source));
    }

    fn records(&self) -> Records<'_> {
        let [temperature, humidity, light, co2] = &self.values;
        Records { instant: &self.instant, temperature, humidity, light, co2, source: &self.source }
    }
}

/// A record as the flag rules see it; `place`: among the logger's records.
#[inline]
fn reading(record: &Record, place: usize) -> Reading {
    let [temperature, humidity, light, co2] = record.values;
    let above_100 = humidity > 100.0;
    Reading {
        spot: Spot { record: place, instant: record.instant, source: record.source },
        temperature,
        humidity: if above_100 { 100.0 } else { humidity },
        light,
        co2,
        hour_open: record.open,
        above_100,
        step: 0,
        joined: false,
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

impl<'s, P: Pass> Series<'s, P> {
    pub fn new(house: &str) -> Self {
        Series {
            house: house.to_owned(),
            batch: Vec::with_capacity(BATCH),
            columns: Columns::default(),
            steps: Steps::default(),
            sources: Sources::default(),
            started: None,
        }
    }

    /// Takes the next record in time order, unlike in instant to the one before.
    #[inline]
    pub fn add<L: Loggers<Pass = P>>(&mut self, record: Record, shared: &Shared<'s, L>) {
        if self.batch.len() >= BATCH {
            self.hand_on(shared);
        }
        self.batch.push(record);
    }

    /// Gives the last record back, to be compared with another of its instant.
    pub fn take_back(&mut self) -> Option<Record> {
        self.batch.pop()
    }

    fn hand_on<L: Loggers<Pass = P>>(&mut self, shared: &Shared<'s, L>) {
        let started = match &mut self.started {
            Some(started) => started,
            none => match begin(&self.house, &self.batch, shared) {
                Some(started) => none.insert(started),
                None => return,
            },
        };
        for record in &self.batch {
            self.steps.see(record.instant);
            self.sources.see(record.source);
            started.watch.see(reading(record, started.seen));
            started.seen += 1;
        }
        self.columns.fill(&self.batch);
        match &mut started.held {
            Some(held) => held.see(&self.columns.records()),
            None => started.pass.see(&self.columns.records()),
        }
        self.batch.clear();
    }

    /// What the logger comes to; its doubts and counts go into the book.
    ///
    /// # Errors
    /// [`Stop::Median`], where the first records misled about the step between them.
    pub fn finish<L: Loggers<Pass = P>>(
        mut self,
        has: [bool; 4],
        shared: &Shared<'s, L>,
        book: &mut Book,
    ) -> Result<Option<Finished<P::Out>>, Stop> {
        self.hand_on(shared);
        let median = self.steps.median();
        let Some(started) = self.started else { return Ok(None) };
        if median != started.median {
            return Err(Stop::Median(self.house, median));
        }
        if shared.log.interval_minutes.is_none() {
            told_interval(&self.house, median, started.first, book);
        }
        let (season, site) = (shared.season, shared.site);
        let (doubts, trace) = started.watch.finish();
        let mut flagged = logger_doubts::tell(&doubts, site, season, book);
        let [_, _, has_light, has_co2] = has;
        let Some(mut held) = started.held else {
            account(&self.sources, &flagged, book);
            let out = started.pass.finish(&Ending { flagged: &flagged, has_light, has_co2 });
            return Ok(Some((out, Traced { facts: started.facts, trace })));
        };
        held.flagged = (0..held.instant.len()).map(|i| flagged.is(i)).collect();
        logger_doubts::leave_out(&mut held, &doubts, site, season, book);
        flagged = Flagged::of(held.flagged.iter().copied());
        held.source.iter().zip(&held.flagged).for_each(|(source, flagged)| book.keep(*source, *flagged));
        let mut pass = started.pass;
        pass.see(&records_of(&held));
        let trace = logger_doubts::trace(&held, &started.facts, site, season);
        let out = pass.finish(&Ending { flagged: &flagged, has_light, has_co2 });
        Ok(Some((out, Traced { facts: started.facts, trace })))
    }
}

fn records_of(held: &Climate) -> Records<'_> {
    Records {
        instant: &held.instant,
        temperature: &held.temperature,
        humidity: &held.humidity,
        light: &held.light,
        co2: &held.co2,
        source: &held.source,
    }
}

/// The pass of a logger whose first records are known.
fn begin<'s, L: Loggers>(house: &str, batch: &[Record], shared: &Shared<'s, L>) -> Option<Started<'s, L::Pass>> {
    let (from, first) = batch.first().map(|r| (r.instant, r.source.file))?;
    let median = shared.medians.get(house).copied().unwrap_or_else(|| median_step(batch.iter().map(|r| r.instant)));
    let interval = shared.log.interval_minutes.map_or(median, |m| (m * 60.0).round() as i64);
    let facts = LoggerFacts {
        house: house.to_owned(),
        interval_s: u32::try_from(interval).unwrap_or(0),
        standard_offset_s: standard_offset(shared.zone, from),
        light_is_mean: shared.log.light_is == LightIs::Mean,
    };
    let leaves_out = shared.season.leave_out.iter().any(|l| l.site.as_ref().is_none_or(|s| *s == shared.site.id));
    Some(Started {
        pass: shared.loggers.begin(shared.site, &facts),
        watch: Watch::new(logger_doubts::logger(&facts, shared.site, shared.season)),
        held: leaves_out.then(|| Whole.begin(shared.site, &facts)),
        facts,
        median,
        first,
        seen: 0,
    })
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
