//! One climate log in a stream. A first attempt trusts that the files follow each other in time; where
//! they do not, all are looked over first, and read again by a plan. A log that cannot be read in a
//! stream is read by the general readers.
use super::file::{Done, Place, Sink, Stop, read};
use super::general;
use super::kept::Recording;
use super::known::Known;
use super::order::{Desk, Looked, Plan};
use super::series::{Finished, Shared};
use super::timeline;
use crate::account::Book;
use crate::cells::Timeline;
use crate::declare::{ClimateLog, LogKind, Season, SiteDeclaration};
use crate::loggers::{Loggers, Told};
use crate::source::Found;
use crosshouse_readings::FileId;
use jiff::tz::TimeZone;
use std::collections::BTreeMap;

/// A log to read.
pub(super) struct Task<'t> {
    pub season: &'t Season,
    pub site: &'t SiteDeclaration,
    pub log: &'t ClimateLog,
    /// Place of the log among the site's climate logs.
    pub number: usize,
    pub files: &'t [Found],
    /// Whether the site has no other climate file: none whose change would have this one read again.
    pub alone: bool,
}

/// What one log came to: what was said, and its loggers by house.
pub(super) struct LogReading<Out> {
    pub told: Told,
    pub loggers: Vec<Finished<Out>>,
}

/// Reads a log; `begins` is told of every file that is read anew.
pub(super) fn read_log<L: Loggers>(task: &Task<'_>, loggers: &L, begins: &(dyn Fn(&Found) + Sync)) -> LogReading<L::Out> {
    let known = Known::of(task, loggers);
    known.unknown().for_each(begins);
    let zone = TimeZone::get(&task.site.time_zone).unwrap_or(TimeZone::UTC);
    let reading = Reading { task, zone: &zone, known: &known, loggers, book: opened(task) };
    reading.streamed().unwrap_or_else(|_| general::read_log(task, &zone, &known, loggers))
}

/// Reads a log by the general readers alone.
#[cfg(test)]
pub(super) fn read_generally<L: Loggers>(task: &Task<'_>, loggers: &L) -> LogReading<L::Out> {
    let zone = TimeZone::get(&task.site.time_zone).unwrap_or(TimeZone::UTC);
    general::read_log(task, &zone, &Known::of(task, loggers), loggers)
}

/// Reads a log in a stream, or says why not.
#[cfg(test)]
pub(super) fn read_streaming<L: Loggers>(task: &Task<'_>, loggers: &L) -> Result<LogReading<L::Out>, Stop> {
    let zone = TimeZone::get(&task.site.time_zone).unwrap_or(TimeZone::UTC);
    Reading { task, zone: &zone, known: &Known::of(task, loggers), loggers, book: opened(task) }.streamed()
}

fn opened(task: &Task<'_>) -> Book {
    let mut book = Book::of_site(&task.site.id);
    for found in task.files {
        book.open_file(LogKind::Climate, &found.name, "", 0);
    }
    book
}

struct Reading<'r, L> {
    task: &'r Task<'r>,
    zone: &'r TimeZone,
    known: &'r Known<'r, L>,
    loggers: &'r L,
    /// Names the files.
    book: Book,
}

impl<L: Loggers> Reading<'_, L> {
    fn streamed(&self) -> Result<LogReading<L::Out>, Stop> {
        let mut order = self.by_first_record()?;
        let mut medians = BTreeMap::new();
        let mut plan = None;
        loop {
            match self.attempt(&order, plan.as_ref(), &medians) {
                Ok(reading) => return Ok(reading),
                Err(Stop::Disorder) if plan.is_none() => {
                    let looked = self.look_over()?;
                    order.sort_by_key(|f| looked.get(f).and_then(|houses| houses.values().map(|s| s.first).min()));
                    plan = Some(looked);
                }
                Err(Stop::Median(house, median)) if !medians.contains_key(&house) => {
                    medians.insert(house, median);
                }
                Err(stop) => return Err(stop),
            }
        }
    }

    fn ids(&self) -> impl Iterator<Item = FileId> {
        (0..self.task.files.len() as u32).map(FileId)
    }

    /// The files by their first record; those without any come first.
    fn by_first_record(&self) -> Result<Vec<FileId>, Stop> {
        let mut order: Vec<(Option<i64>, FileId)> = Vec::new();
        for file in self.ids() {
            let first = if self.task.files.len() > 1 { self.first(file)? } else { None };
            order.push((first, file));
        }
        order.sort();
        Ok(order.into_iter().map(|(_, file)| file).collect())
    }

    fn first(&self, file: FileId) -> Result<Option<i64>, Stop> {
        let timeline = timeline(self.task.log, self.task.site, self.zone);
        let mut looked = Looked::new(file, self.interval(), &timeline, true);
        match self.file(file, false, &mut timeline.clone(), &mut looked) {
            Ok(_) | Err(Stop::Enough) => Ok(looked.first()),
            Err(stop) => Err(stop),
        }
    }

    fn look_over(&self) -> Result<Plan, Stop> {
        let timeline = timeline(self.task.log, self.task.site, self.zone);
        let mut plan = Plan::new();
        for file in self.ids() {
            let mut looked = Looked::new(file, self.interval(), &timeline, false);
            self.file(file, false, &mut timeline.clone(), &mut looked)?;
            plan.insert(file, looked.spans()?);
        }
        Ok(plan)
    }

    fn interval(&self) -> Option<i64> {
        self.task.log.interval_minutes.map(|m| (m * 60.0).round() as i64)
    }

    fn file(&self, file: FileId, hashed: bool, timeline: &mut Timeline, sink: &mut impl Sink) -> Result<Done, Stop> {
        if let Some(kept) = self.known.rows(file) {
            return kept.replay(file, &self.book, sink);
        }
        let found = self.task.files.get(file.0 as usize).ok_or(Stop::General)?;
        read(&Place { site: self.task.site, log: self.task.log, file, found, book: &self.book, hashed }, timeline, sink)
    }

    fn attempt(&self, order: &[FileId], plan: Option<&Plan>, medians: &BTreeMap<String, i64>) -> Result<LogReading<L::Out>, Stop> {
        let fixed = timeline(self.task.log, self.task.site, self.zone);
        let mut moving = fixed.clone();
        let shared =
            Shared { season: self.task.season, site: self.task.site, log: self.task.log, zone: self.zone, loggers: self.loggers, medians };
        let mut desk = Desk::new(&shared, self.interval(), &fixed, &self.book, plan);
        let mut books = BTreeMap::new();
        let mut has = [false; 4];
        let mut fresh = Vec::new();
        for file in order {
            desk.file_begins(*file);
            let mut done = if self.known.wants(*file) {
                let mut recording = Recording::new(&mut desk);
                let done = self.file(*file, true, &mut moving, &mut recording)?;
                let account = done.book.files.get(file.0 as usize..=file.0 as usize).unwrap_or_default();
                fresh.extend(recording.finish(&done, account).map(|rows| (*file, rows)));
                done
            } else {
                self.file(*file, true, &mut moving, &mut desk)?
            };
            let name = self.book.name(*file);
            desk.file_ends(name, &mut done.book)?;
            has.iter_mut().zip(done.has).for_each(|(all, one)| *all |= one);
            books.insert(*file, done.book);
        }
        let mut book = opened(self.task);
        for (file, said) in books {
            let about = said.files.get(file.0 as usize).map(|f| (f.sha256.clone(), f.bytes));
            book.join(said);
            if let (Some(account), Some((sha256, bytes))) = (book.account(file), about) {
                (account.sha256, account.bytes) = (sha256, bytes);
            }
        }
        let loggers = desk.finish(has, &mut book)?;
        fresh.into_iter().for_each(|(file, rows)| self.known.keep(file, rows));
        Ok(LogReading { told: book.told(), loggers })
    }
}
