//! The kept records of one logger, in time order: columns of a batch, doubts, and what is told of them
//! in the end. Nothing here grows with the records but a bit for each and the steps of their sources.
use super::super::logger_doubts::{self, Traced};
use super::super::records::{Record, median_step, told_interval};
use super::file::Stop;
use crate::account::Book;
use crate::cells::standard_offset;
use crate::declare::{ClimateLog, LightIs, Season, SiteDeclaration};
use crate::flags::{Rows, Watch};
use crate::loggers::{Ending, Flagged, LoggerFacts, Loggers, Pass, Records, Whole};
use crate::tables::Climate;
use crosshouse_readings::{FileId, Source};
use jiff::tz::TimeZone;
use std::collections::BTreeMap;

/// Records handed on at a time; the median step is first guessed from as many.
const BATCH: usize = 512;

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
    batch: Columns,
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

/// A batch of records, column by column. The columns are as long as a batch can be; `length` of each is used.
struct Columns {
    length: usize,
    instant: Vec<i64>,
    values: [Vec<f64>; 4],
    source: Vec<Source>,
    /// Places of the records whose doubled hour is not settled, and whose humidity was written above 100.
    open: Vec<usize>,
    above_100: Vec<usize>,
}

impl Default for Columns {
    fn default() -> Self {
        Columns {
            length: 0,
            instant: vec![0; BATCH],
            values: [(); 4].map(|()| vec![f64::NAN; BATCH]),
            source: vec![Source { file: FileId(0), row: 0 }; BATCH],
            open: Vec::new(),
            above_100: Vec::new(),
        }
    }
}

impl Columns {
    #[inline(always)]
    fn push(&mut self, record: &Record) {
        let place = self.length;
        if record.open {
            self.open.push(place);
        }
        if let (Some(instant), Some(source)) = (self.instant.get_mut(place), self.source.get_mut(place)) {
            (*instant, *source) = (record.instant, record.source);
            let slots = self.values.iter_mut().filter_map(|column| column.get_mut(place));
            slots.zip(record.values).for_each(|(slot, x)| *slot = x);
            self.length += 1;
        }
    }

    fn pop(&mut self) -> Option<Record> {
        let place = self.length.checked_sub(1)?;
        self.length = place;
        let open = self.open.pop_if(|open| *open == place).is_some();
        let values = self.values.each_ref().map(|column| column.get(place).copied().unwrap_or(f64::NAN));
        Some(Record { instant: *self.instant.get(place)?, values, source: *self.source.get(place)?, open })
    }

    /// Takes humidities above 100 as 100, and notes where they stand.
    fn cap(&mut self) {
        let [_, humidity, ..] = &mut self.values;
        let humidity = humidity.get_mut(..self.length).unwrap_or_default();
        if humidity.iter().fold(false, |any, x| any | (*x > 100.0)) {
            let above = humidity.iter_mut().enumerate().filter(|(_, x)| **x > 100.0);
            self.above_100.extend(above.map(|(place, x)| {
                *x = 100.0;
                place
            }));
        }
    }

    fn clear(&mut self) {
        self.length = 0;
        self.open.clear();
        self.above_100.clear();
    }

    fn records(&self) -> Records<'_> {
        let [temperature, humidity, light, co2] = self.values.each_ref().map(|column| column.get(..self.length).unwrap_or_default());
        let (instant, source) = (self.instant.get(..self.length), self.source.get(..self.length));
        Records { instant: instant.unwrap_or_default(), temperature, humidity, light, co2, source: source.unwrap_or_default() }
    }

    fn rows(&self, first: usize) -> Rows<'_> {
        Rows { first, records: self.records(), open: &self.open, above_100: &self.above_100 }
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
    fn see_all(&mut self, instants: &[i64]) {
        let after = instants.get(1..).unwrap_or_default();
        let like_the_last = |a: &i64, b: &i64| b - a == self.run.0;
        let first_is = self.last.zip(instants.first().copied()).is_some_and(|(a, b)| like_the_last(&a, &b));
        if first_is && instants.iter().zip(after).fold(true, |all, (a, b)| all & like_the_last(a, b)) {
            self.run.1 += instants.len() as u64;
            self.last = instants.last().copied();
        } else {
            instants.iter().for_each(|instant| self.see(*instant));
        }
    }

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

/// File and row of every record, as runs of rows that lie equally far apart: several loggers may write a
/// file by turns.
#[derive(Default)]
struct Sources {
    runs: Vec<SourceRun>,
    records: usize,
}

struct SourceRun {
    /// Place of the first record, and where it comes from.
    first: usize,
    source: Source,
    /// Rows from one record to the next; 0 while there is but one.
    apart: u32,
}

impl SourceRun {
    fn of(&self, record: usize) -> Source {
        let rows = ((record - self.first) as u32).wrapping_mul(self.apart);
        Source { file: self.source.file, row: self.source.row.wrapping_add(rows) }
    }
}

impl Sources {
    fn see_all(&mut self, sources: &[Source]) {
        let after = sources.get(1..).unwrap_or_default();
        if let (Some(first), Some(run)) = (sources.first(), self.runs.last())
            && run.apart > 0
            && run.of(self.records) == *first
            && sources.iter().zip(after).fold(true, |all, (a, b)| all & (a.file == b.file) & (b.row.wrapping_sub(a.row) == run.apart))
        {
            self.records += sources.len();
        } else {
            sources.iter().for_each(|source| self.see(*source));
        }
    }

    fn see(&mut self, source: Source) {
        let record = self.records;
        self.records += 1;
        if let Some(run) = self.runs.last_mut().filter(|run| run.source.file == source.file && run.source.row < source.row) {
            if record == run.first + 1 {
                run.apart = source.row - run.source.row;
            }
            if run.of(record) == source {
                return;
            }
        }
        self.runs.push(SourceRun { first: record, source, apart: 0 });
    }

    fn of(&self, record: usize) -> Option<Source> {
        let run = self.runs.partition_point(|run| run.first <= record).checked_sub(1)?;
        self.runs.get(run).map(|run| run.of(record))
    }

    /// Records of each file.
    fn kept(&self) -> BTreeMap<FileId, u64> {
        let mut kept = BTreeMap::new();
        let ends = self.runs.iter().skip(1).map(|run| run.first).chain([self.records]);
        for (run, end) in self.runs.iter().zip(ends) {
            *kept.entry(run.source.file).or_default() += (end - run.first) as u64;
        }
        kept
    }
}

impl<'s, P: Pass> Series<'s, P> {
    pub fn new(house: &str) -> Self {
        Series { house: house.to_owned(), batch: Columns::default(), steps: Steps::default(), sources: Sources::default(), started: None }
    }

    /// Takes the next record in time order, unlike in instant to the one before.
    #[inline(always)]
    pub fn add<L: Loggers<Pass = P>>(&mut self, record: Record, shared: &Shared<'s, L>) {
        if self.batch.length >= BATCH {
            self.hand_on(shared);
        }
        self.batch.push(&record);
    }

    /// Gives the last record back, to be compared with another of its instant.
    pub fn take_back(&mut self) -> Option<Record> {
        self.batch.pop()
    }

    #[inline(never)]
    fn hand_on<L: Loggers<Pass = P>>(&mut self, shared: &Shared<'s, L>) {
        let started = match &mut self.started {
            Some(started) => started,
            none => match begin(&self.house, &self.batch.records(), shared) {
                Some(started) => none.insert(started),
                None => return,
            },
        };
        self.batch.cap();
        let rows = self.batch.rows(started.seen);
        self.steps.see_all(rows.records.instant);
        self.sources.see_all(rows.records.source);
        started.seen += rows.records.instant.len();
        started.watch.see(rows);
        match &mut started.held {
            Some(held) => held.see(&rows.records),
            None => started.pass.see(&rows.records),
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
fn begin<'s, L: Loggers>(house: &str, batch: &Records<'_>, shared: &Shared<'s, L>) -> Option<Started<'s, L::Pass>> {
    let (from, first) = batch.instant.first().zip(batch.source.first()).map(|(instant, source)| (*instant, source.file))?;
    let median = shared.medians.get(house).copied().unwrap_or_else(|| median_step(batch.instant.iter().copied()));
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

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Rows of loggers that write by turns, with rows left out, and files that follow each other.
    fn sources() -> impl Strategy<Value = Vec<Source>> {
        proptest::collection::vec((0u32..3, 1u32..5, 1usize..40), 1..8).prop_map(|stretches| {
            let mut all = Vec::new();
            let mut rows = [1u32; 3];
            for (file, apart, records) in stretches {
                for _ in 0..records {
                    rows[file as usize] += apart;
                    all.push(Source { file: FileId(file), row: rows[file as usize] });
                }
            }
            all
        })
    }

    proptest! {
        #[test]
        fn every_record_is_found_where_it_came_from_however_they_are_handed_on(all in sources(), batch in 1usize..60) {
            let mut known = Sources::default();
            all.chunks(batch).for_each(|some| known.see_all(some));
            let found: Vec<Source> = (0..all.len()).filter_map(|record| known.of(record)).collect();
            let mut kept = BTreeMap::new();
            all.iter().for_each(|source| *kept.entry(source.file).or_default() += 1);
            prop_assert_eq!((found, known.kept()), (all, kept));
        }

        #[test]
        fn the_median_step_is_that_of_all_steps_however_they_are_handed_on(
            steps in proptest::collection::vec((1i64..4, 1usize..30), 1..8),
            batch in 1usize..60,
        ) {
            let steps = steps.into_iter().flat_map(|(step, times)| std::iter::repeat_n(300 * step, times));
            let instants: Vec<i64> = steps.scan(0, |at, step| { *at += step; Some(*at) }).collect();
            let mut known = Steps::default();
            instants.chunks(batch).for_each(|some| known.see_all(some));
            prop_assert_eq!(known.median(), median_step(instants.into_iter()));
        }
    }

    #[test]
    fn loggers_that_write_by_turns_take_one_run_each() {
        let mut known = Sources::default();
        known.see_all(&(0..1000).map(|i| Source { file: FileId(0), row: 2 + 3 * i }).collect::<Vec<_>>());
        assert_eq!(known.runs.len(), 1);
    }
}
