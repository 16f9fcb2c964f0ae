//! A climate log by the general readers: each table is split and read as a whole. For workbooks,
//! encodings other than UTF-8, undeclared date styles and faults of a whole file; memory grows with
//! the rows.
use super::file::{Done, Stop};
use super::kept::{Keeper, Kept, Packed, Row};
use super::known::Known;
use super::order::Flow;
use super::series::{Finished, Shared};
use super::stream::{LogReading, Task};
use super::{columns, no_house, row_of, timeline, undeclared_clock};
use crate::account::Book;
use crate::cells::Timeline;
use crate::clean::days::{Days, told_short_years};
use crate::clean::places::House;
use crate::clean::records::{Record, Waiting, median_step, settle};
use crate::declare::Meaning;
use crate::loggers::Loggers;
use crate::shape::{Table, open};
use crate::source::Found;
use crosshouse_readings::{FileId, Source};
use jiff::tz::TimeZone;
use std::collections::BTreeMap;

pub(super) fn read_log<L: Loggers>(task: &Task<'_>, zone: &TimeZone, known: &Known<'_, L>, loggers: &L) -> LogReading<L::Out> {
    let mut timeline = timeline(task.log, task.site, zone);
    let mut houses: BTreeMap<String, Vec<Record>> = BTreeMap::new();
    let mut has = [false; 4];
    let mut book = Book::of_site(&task.site.id);
    for (file, found) in (0..).map(FileId).zip(task.files) {
        let Read { done, tables } = of_file(task, file, found, known, &mut timeline);
        has.iter_mut().zip(done.has).for_each(|(all, one)| *all |= one);
        let moved = book.follow(done.book);
        for (table, mut waiting) in (moved..).map(FileId).zip(tables) {
            waiting.iter_mut().for_each(|w| w.source.file = table);
            let name = book.name(table).to_owned();
            settle(task.log, &name, waiting, &timeline, &mut houses, &mut book);
        }
    }
    let mut out = Vec::new();
    for (house, records) in houses {
        out.extend(logger(task, zone, loggers, &house, records, has, &mut book));
    }
    LogReading { told: book.told(), loggers: out }
}

/// A file by itself: what was said of it, and the rows of each of its tables.
struct Read {
    done: Done,
    tables: Vec<Vec<Waiting>>,
}

/// The rows of a file: those that were kept, or read anew and kept.
fn of_file<L: Loggers>(task: &Task<'_>, file: FileId, found: &Found, known: &Known<'_, L>, timeline: &mut Timeline) -> Read {
    if let Some(read) = known.rows(file).and_then(|kept| unpacked(kept, &task.site.id)) {
        return read;
    }
    let read = read_file(task, found, timeline);
    if known.wants(file)
        && let Some(packed) = packed(&read)
    {
        known.keep(file, packed);
    }
    read
}

fn unpacked(kept: &Kept, site: &str) -> Option<Read> {
    let done = kept.told(site)?;
    let mut tables: Vec<Vec<Waiting>> = done.book.files.iter().map(|_| Vec::new()).collect();
    let put = |row: Row<'_>| {
        let source = Source { file: FileId(row.table), row: row.number };
        let waiting = Waiting { source, house: row.house.to_owned(), local: row.local, values: row.values };
        tables.get_mut(row.table as usize).ok_or(Stop::General)?.push(waiting);
        Ok(())
    };
    kept.rows(put).ok()?;
    Some(Read { done, tables })
}

fn packed(read: &Read) -> Option<Packed> {
    let mut keeper = Keeper::new()?;
    for (table, waiting) in (0..).zip(&read.tables) {
        for w in waiting {
            let row = Row { table, house: &w.house, local: w.local, values: w.values, number: w.source.row };
            keeper.see(&row).ok()?;
        }
    }
    keeper.finish(&read.done, &read.done.book.files)
}

fn read_file(task: &Task<'_>, found: &Found, timeline: &mut Timeline) -> Read {
    let mut done = Done { book: Book::of_site(&task.site.id), has: [false; 4] };
    let mut rows = BTreeMap::new();
    for table in open(&task.log.log, found, &mut done.book) {
        undeclared_clock(task.log, &table, &mut done.book);
        rows.insert(table.file, read_table(task, &table, timeline, &mut done));
    }
    let ids = (0..done.book.files.len() as u32).map(FileId);
    Read { tables: ids.map(|id| rows.remove(&id).unwrap_or_default()).collect(), done }
}

/// The rows of a table whose stamps wait for each other.
fn read_table(task: &Task<'_>, table: &Table, timeline: &mut Timeline, done: &mut Done) -> Vec<Waiting> {
    let (log, site, book) = (&task.log.log, task.site, &mut done.book);
    let Some(days) = Days::of(log, table, book).map(|d| d.in_season(site)) else { return Vec::new() };
    let Some(house) = House::of(task.log.house.as_ref(), log, Some(table), site) else {
        no_house(task.log, table, site, book);
        return Vec::new();
    };
    let time = table.index(log, &Meaning::Time).filter(|_| table.index(log, &Meaning::DateTime).is_none());
    let columns = columns(log, table, book);
    for (slot, column) in done.has.iter_mut().zip(&columns) {
        *slot |= column.is_some();
    }
    let mut waiting = Vec::with_capacity(table.rows.len());
    let mut short = 0;
    for row in table.rows.iter().copied() {
        let Some(read) = row_of(task.log, site, table, row, &days, &house, time, &columns, timeline, book) else { continue };
        short += u64::from(read.short_year);
        if let Some((house, local, values)) = read.record {
            waiting.push(Waiting { source: table.source(row), house, local, values });
        }
    }
    told_short_years(log, table, days.column, short, book);
    waiting
}

/// Records of one logger, sorted, on the way that all records take.
fn logger<L: Loggers>(
    task: &Task<'_>,
    zone: &TimeZone,
    loggers: &L,
    house: &str,
    mut records: Vec<Record>,
    has: [bool; 4],
    book: &mut Book,
) -> Option<Finished<L::Out>> {
    let late = records.windows(2).filter(|w| matches!(w, [a, b] if a.instant > b.instant && a.source.file == b.source.file)).count();
    records.sort_by_key(|r| (r.instant, r.source));
    let distinct = records.chunk_by(|a, b| a.instant == b.instant).filter_map(kept_of);
    let medians = BTreeMap::from([(house.to_owned(), median_step(distinct))]);
    let shared = Shared { season: task.season, site: task.site, log: task.log, zone, loggers, medians: &medians };
    let mut flow = Flow::new(house, &shared, book.beside());
    records.into_iter().for_each(|record| flow.on(record));
    let (out, said) = flow.finish(late, has).ok()?;
    book.join(said);
    out
}

/// The instant of a group of which one record is kept.
fn kept_of(group: &[Record]) -> Option<i64> {
    use crate::clean::duplicates::{Together, compare};
    let values: Vec<_> = group.iter().map(|r| r.values).collect();
    matches!(compare(&values), Together::Identical).then(|| group.first().map(|r| r.instant))?
}
