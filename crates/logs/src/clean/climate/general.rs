//! A climate log by the general readers: each table is split and read as a whole. For workbooks,
//! encodings other than UTF-8, undeclared date styles and faults of a whole file; memory grows with
//! the rows.
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
use jiff::tz::TimeZone;
use std::collections::BTreeMap;

pub(super) fn read_log<L: Loggers>(task: &Task<'_>, zone: &TimeZone, loggers: &L) -> LogReading<L::Out> {
    let mut timeline = timeline(task.log, task.site, zone);
    let mut houses: BTreeMap<String, Vec<Record>> = BTreeMap::new();
    let mut has = [false; 4];
    let mut book = Book::of_site(&task.site.id);
    for file in task.files {
        for table in open(&task.log.log, file, &mut book) {
            undeclared_clock(task.log, &table, &mut book);
            read_table(task, &table, &mut timeline, &mut houses, &mut has, &mut book);
        }
    }
    let mut out = Vec::new();
    for (house, records) in houses {
        out.extend(logger(task, zone, loggers, &house, records, has, &mut book));
    }
    LogReading { told: book.told(), loggers: out }
}

fn read_table(
    task: &Task<'_>,
    table: &Table,
    timeline: &mut Timeline,
    houses: &mut BTreeMap<String, Vec<Record>>,
    has: &mut [bool; 4],
    book: &mut Book,
) {
    let (log, site) = (&task.log.log, task.site);
    let Some(days) = Days::of(log, table, book).map(|d| d.in_season(site)) else { return };
    let Some(house) = House::of(task.log.house.as_ref(), log, Some(table), site) else {
        return no_house(task.log, table, site, book);
    };
    let time = table.index(log, &Meaning::Time).filter(|_| table.index(log, &Meaning::DateTime).is_none());
    let columns = columns(log, table, book);
    for (slot, column) in has.iter_mut().zip(&columns) {
        *slot |= column.is_some();
    }
    let mut waiting = Vec::with_capacity(table.rows.len());
    let mut short = 0;
    for row in table.rows.iter().copied() {
        let Some(read) = row_of(task.log, site, table, row, &days, &house, time, &columns, timeline, book) else { continue };
        short += u64::from(read.short_year);
        if let Some((house, local, values)) = read.record {
            waiting.push(Waiting { row, house, local, values });
        }
    }
    told_short_years(log, table, days.column, short, book);
    settle(task.log, table, waiting, timeline, houses, book);
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
