//! Records of a log's houses put in time order while they are read: the doubled hour settled, what
//! files have in common held back until both are read, records of one instant compared.
//!
//! A record may flow on at once where no record yet to be read stands before it. The plan of a log
//! whose files overlap, or whose rows are out of order, says from which instant on that is not so:
//! those records alone are held.
use super::super::duplicates::{Together, compare, differing_aside, identical_aside};
use super::super::records::{Record, Values, shown, told_fold, utc};
use super::file::{Sink, Stop};
use super::series::{Finished, Series, Shared};
use crate::account::Book;
use crate::cells::{Local, Timeline, resolve_hours};
use crate::loggers::Loggers;
use crosshouse_readings::{FileId, Source};
use std::collections::BTreeMap;

/// What one file holds of one house.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Span {
    pub first: i64,
    /// Records that stand before an earlier one, and the earliest of them.
    pub late: usize,
    pub late_from: i64,
}

/// Spans by file, then by house.
pub(super) type Plan = BTreeMap<FileId, BTreeMap<String, Span>>;

/// Rows of the doubled hour held until the record behind them is read; more make no doubled hour.
const MOST_TWICE: usize = 100_000;

/// The doubled hour of one house in one file.
#[derive(Default)]
struct Doubled {
    before: Option<i64>,
    waiting: Vec<(Local, Values, u32)>,
    met: bool,
    open: bool,
}

impl Doubled {
    /// The waiting records with their instants, given the record behind them.
    fn settle(&mut self, after: Option<i64>, interval: i64, timeline: &Timeline, file: FileId) -> Vec<Record> {
        let waiting = std::mem::take(&mut self.waiting);
        let Some(Local::Twice { earlier, .. }) = waiting.first().map(|w| w.0) else { return Vec::new() };
        let around = |i: Option<i64>| i.map(Local::Once);
        let locals: Vec<Local> = around(self.before).into_iter().chain(waiting.iter().map(|w| w.0)).chain(around(after)).collect();
        let settled = resolve_hours(&locals, interval, timeline.fold_length(earlier));
        let skipped = usize::from(self.before.is_some());
        let instants: Vec<_> = settled.into_iter().skip(skipped).take(waiting.len()).flatten().collect();
        self.met = true;
        self.open |= instants.iter().any(|s| s.open);
        let record = |((_, values, row), s): ((Local, Values, u32), crate::cells::Settled)| Record {
            instant: s.instant,
            values,
            source: Source { file, row },
            open: s.open,
        };
        waiting.into_iter().zip(instants).map(record).collect()
    }
}

/// What the records of a house become.
trait Takes {
    fn take(&mut self, record: Record) -> Result<(), Stop>;
}

/// One file of the log, row by row, for every house.
#[inline(always)]
fn rows_of<T: Takes>(house: &mut T, doubled: &mut Doubled, about: &About<'_>, local: Local, values: Values, row: u32) -> Result<(), Stop> {
    match local {
        Local::Once(instant) => {
            if !doubled.waiting.is_empty() {
                ends(house, doubled, about, Some(instant))?;
            }
            doubled.before = Some(instant);
            house.take(Record { instant, values, source: Source { file: about.file, row }, open: false })
        }
        Local::Twice { .. } if about.interval.is_none() || doubled.waiting.len() >= MOST_TWICE => Err(Stop::General),
        Local::Twice { .. } => {
            doubled.waiting.push((local, values, row));
            Ok(())
        }
        Local::Never => Ok(()),
    }
}

#[cold]
fn ends<T: Takes>(house: &mut T, doubled: &mut Doubled, about: &About<'_>, after: Option<i64>) -> Result<(), Stop> {
    for record in doubled.settle(after, about.interval.unwrap_or(0), about.timeline, about.file) {
        house.take(record)?;
    }
    Ok(())
}

/// The file being read, and the declared interval, s.
struct About<'t> {
    file: FileId,
    interval: Option<i64>,
    timeline: &'t Timeline,
}

/// Looks a log's files over: where each house begins in each, and what stands out of order.
pub(super) struct Looked<'t> {
    about: About<'t>,
    houses: Vec<(String, Doubled, Seen)>,
    /// Stop at the first record.
    glance: bool,
}

#[derive(Default)]
struct Seen {
    span: Option<Span>,
    /// The latest instant so far, and the one just before.
    latest: Option<i64>,
    before: Option<i64>,
}

impl Takes for Seen {
    fn take(&mut self, record: Record) -> Result<(), Stop> {
        let at = record.instant;
        let span = self.span.get_or_insert(Span { first: at, late: 0, late_from: i64::MAX });
        span.first = span.first.min(at);
        span.late += usize::from(self.before.is_some_and(|before| at < before));
        if self.latest.is_some_and(|latest| at < latest) {
            span.late_from = span.late_from.min(at);
        }
        (self.latest, self.before) = (self.latest.max(Some(at)), Some(at));
        Ok(())
    }
}

impl<'t> Looked<'t> {
    pub fn new(file: FileId, interval: Option<i64>, timeline: &'t Timeline, glance: bool) -> Self {
        Looked { about: About { file, interval, timeline }, houses: Vec::new(), glance }
    }

    /// # Errors
    /// A doubled hour among rows out of order needs all of them at once.
    pub fn spans(mut self) -> Result<BTreeMap<String, Span>, Stop> {
        for (_, doubled, seen) in &mut self.houses {
            ends(seen, doubled, &self.about, None)?;
            if doubled.met && seen.span.is_some_and(|s| s.late > 0) {
                return Err(Stop::General);
            }
        }
        Ok(self.houses.into_iter().filter_map(|(house, _, seen)| Some((house, seen.span?))).collect())
    }
}

impl Sink for Looked<'_> {
    fn house(&mut self, name: &str) -> usize {
        self.houses.iter().position(|h| h.0 == name).unwrap_or_else(|| {
            self.houses.push((name.to_owned(), Doubled::default(), Seen::default()));
            self.houses.len() - 1
        })
    }

    fn row(&mut self, house: usize, local: Local, values: Values, row: u32) -> Result<(), Stop> {
        let Some((_, doubled, seen)) = self.houses.get_mut(house) else { return Ok(()) };
        rows_of(seen, doubled, &self.about, local, values, row)?;
        if self.glance && seen.span.is_some() { Err(Stop::Enough) } else { Ok(()) }
    }
}

impl Looked<'_> {
    /// The first instant met, of whatever house.
    pub fn first(&self) -> Option<i64> {
        self.houses.iter().filter_map(|(_, _, seen)| seen.span.map(|s| s.first)).min()
    }
}

/// What a house's logger came to, where it has records, and what is said of it.
type Flowed<Out> = (Option<Finished<Out>>, Book);

/// The records of one house on their way to its [`Series`].
pub(super) struct Flow<'s, L: Loggers> {
    pub house: String,
    shared: &'s Shared<'s, L>,
    series: Series<'s, L::Pass>,
    /// Everything from here on is held until the file is read.
    hold_from: i64,
    /// Held in earlier files, in order; and in this one.
    queue: std::collections::VecDeque<Record>,
    held: Vec<Record>,
    /// The latest instant that was let through.
    latest: i64,
    planned: bool,
    /// The instant that was handed on last, and its records where they are several.
    last: i64,
    group: Vec<Record>,
    /// The earliest record of all.
    first: Option<(i64, Source)>,
    /// What was said of records of one instant. Its files are those of the log.
    book: Book,
}

impl<L: Loggers> Takes for Flow<'_, L> {
    #[inline(always)]
    fn take(&mut self, record: Record) -> Result<(), Stop> {
        if record.instant >= self.hold_from {
            self.held.push(record);
            return Ok(());
        }
        if record.instant < self.latest {
            return Err(if self.planned { Stop::General } else { Stop::Disorder });
        }
        if !self.queue.is_empty() {
            self.release_until(record.instant);
        }
        self.latest = record.instant;
        self.on(record);
        Ok(())
    }
}

impl<'s, L: Loggers> Flow<'s, L> {
    pub fn new(house: &str, shared: &'s Shared<'s, L>, book: Book) -> Self {
        Flow {
            house: house.to_owned(),
            shared,
            series: Series::new(house),
            hold_from: i64::MAX,
            queue: Default::default(),
            held: Vec::new(),
            latest: i64::MIN,
            planned: false,
            last: i64::MIN,
            group: Vec::new(),
            first: None,
            book,
        }
    }

    /// Lets go of what was held up to `instant`.
    #[cold]
    fn release_until(&mut self, instant: i64) {
        while self.queue.front().is_some_and(|held| held.instant <= instant) {
            if let Some(held) = self.queue.pop_front() {
                self.on(held);
            }
        }
    }

    /// Takes the next record in time order.
    #[inline(always)]
    pub fn on(&mut self, record: Record) {
        match self.first {
            Some(first) if first.0 < record.instant => {}
            Some(first) if first < (record.instant, record.source) => {}
            _ => self.first = Some((record.instant, record.source)),
        }
        if record.instant > self.last {
            if !self.group.is_empty() {
                self.close();
            }
            self.last = record.instant;
            self.series.add(record, self.shared);
        } else {
            self.together(record);
        }
    }

    /// Keeps a record back that is of the instant of the one before.
    #[cold]
    fn together(&mut self, record: Record) {
        if self.group.is_empty() {
            self.group.extend(self.series.take_back());
        }
        self.group.push(record);
    }

    /// Settles the records of one instant: equal ones are one, differing ones are all set aside.
    #[cold]
    fn close(&mut self) {
        let mut group = std::mem::take(&mut self.group);
        group.sort_by_key(|r| r.source);
        let Some(first) = group.first().cloned() else { return };
        let values: Vec<Values> = group.iter().map(|r| r.values).collect();
        match compare(&values) {
            Together::Identical => {
                for further in group.iter().skip(1) {
                    identical_aside(first.source, further.source, &shown(further), &mut self.book);
                }
                self.series.add(first, self.shared);
            }
            Together::Differ => {
                let all: Vec<(Source, String)> = group.iter().map(|r| (r.source, shown(r))).collect();
                differing_aside(&all, &format!("the instant {}", utc(first.instant)), &mut self.book);
            }
        }
    }

    /// Lets go of everything held before `until`.
    fn release(&mut self, until: i64) {
        if !self.held.is_empty() {
            self.held.extend(self.queue.drain(..));
            self.held.sort_by_key(|r| (r.instant, r.source));
            self.queue.extend(self.held.drain(..));
        }
        while self.queue.front().is_some_and(|held| held.instant < until) {
            if let Some(held) = self.queue.pop_front() {
                self.latest = held.instant;
                self.on(held);
            }
        }
    }

    /// What the logger comes to, and what is said of it. `late`: records that stood before an earlier one.
    pub fn finish(mut self, late: usize, has: [bool; 4]) -> Result<Flowed<L::Out>, Stop> {
        self.release(i64::MAX);
        self.close();
        let mut book = self.book.beside();
        if let (true, Some((_, source))) = (late > 0, self.first) {
            let name = book.name(source.file).to_owned();
            let what = format!("order of the records of \"{}\"", self.house);
            book.infer(&name, what, "sorted by time", format!("{late} records stand before an earlier one"));
        }
        book.join(self.book);
        let out = self.series.finish(has, self.shared, &mut book)?;
        Ok((out, book))
    }
}

/// All houses of a log while its files are read, one after the other.
pub(super) struct Desk<'s, L: Loggers> {
    shared: &'s Shared<'s, L>,
    about: About<'s>,
    houses: Vec<(Flow<'s, L>, Doubled)>,
    book: &'s Book,
    plan: Option<&'s Plan>,
    unread: Vec<FileId>,
}

impl<'s, L: Loggers> Desk<'s, L> {
    pub fn new(shared: &'s Shared<'s, L>, interval: Option<i64>, timeline: &'s Timeline, book: &'s Book, plan: Option<&'s Plan>) -> Self {
        let unread = plan.map(|p| p.keys().copied().collect()).unwrap_or_default();
        Desk { shared, about: About { file: FileId(0), interval, timeline }, houses: Vec::new(), book, plan, unread }
    }

    /// From which instant on records of a house are held while `file` is read: where a later file
    /// begins, or where a row of this one goes back to.
    fn hold_from(&self, house: &str, file: FileId) -> i64 {
        let Some(plan) = self.plan else { return i64::MAX };
        let span = |f: &FileId| plan.get(f).and_then(|houses| houses.get(house));
        let later = self.unread.iter().filter(|f| **f != file).filter_map(&span).map(|s| s.first).min();
        let own = span(&file).map(|s| s.late_from);
        later.unwrap_or(i64::MAX).min(own.unwrap_or(i64::MAX))
    }

    pub fn file_begins(&mut self, file: FileId) {
        self.unread.retain(|f| *f != file);
        self.about.file = file;
        let holds: Vec<i64> = self.houses.iter().map(|(flow, _)| self.hold_from(&flow.house, file)).collect();
        for ((flow, doubled), hold) in self.houses.iter_mut().zip(holds) {
            *doubled = Doubled::default();
            flow.hold_from = hold;
        }
    }

    /// Ends a file; what is told of its doubled hours goes into its book.
    pub fn file_ends(&mut self, name: &str, book: &mut Book) -> Result<(), Stop> {
        let mut settled: Vec<&str> = Vec::new();
        for (flow, doubled) in &mut self.houses {
            ends(flow, doubled, &self.about, None)?;
        }
        let none = FileId(u32::MAX);
        let until: Vec<i64> = self.houses.iter().map(|(flow, _)| self.hold_from(&flow.house, none)).collect();
        for ((flow, doubled), until) in self.houses.iter_mut().zip(until) {
            flow.release(until);
            if doubled.met && !doubled.open {
                settled.push(&flow.house);
            }
        }
        settled.iter().for_each(|_| told_fold(name, book));
        Ok(())
    }

    /// What the loggers come to, by house.
    pub fn finish(mut self, has: [bool; 4], book: &mut Book) -> Result<Vec<Finished<L::Out>>, Stop> {
        self.houses.sort_by(|a, b| a.0.house.cmp(&b.0.house));
        let mut out = Vec::new();
        for (flow, _) in self.houses {
            let late = self.plan.map_or(0, |p| p.values().filter_map(|houses| houses.get(&flow.house)).map(|s| s.late).sum());
            let (logger, said) = flow.finish(late, has)?;
            book.join(said);
            out.extend(logger);
        }
        Ok(out)
    }
}

impl<L: Loggers> Sink for Desk<'_, L> {
    fn house(&mut self, name: &str) -> usize {
        if let Some(index) = self.houses.iter().position(|(flow, _)| flow.house == name) {
            return index;
        }
        let mut flow = Flow::new(name, self.shared, self.book.beside());
        flow.planned = self.plan.is_some();
        flow.hold_from = self.hold_from(name, self.about.file);
        self.houses.push((flow, Doubled::default()));
        self.houses.len() - 1
    }

    #[inline(always)]
    fn row(&mut self, house: usize, local: Local, values: Values, row: u32) -> Result<(), Stop> {
        let Some((flow, doubled)) = self.houses.get_mut(house) else { return Ok(()) };
        rows_of(flow, doubled, &self.about, local, values, row)
    }
}
