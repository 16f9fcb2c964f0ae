//! Climate logs: the clock of a log, and the values of a row by the general readers of cells. Logs are
//! read in a stream ([`stream`]) wherever their rows can be told one by one, and by [`general`] otherwise.
mod bytes;
mod digits;
mod file;
mod general;
mod head;
mod kept;
mod known;
mod order;
mod plain;
mod series;
mod stream;
#[cfg(test)]
mod tests;

use super::days::Days;
use super::logger_doubts::compare_clocks;
use super::numbers::{Numbers, nothing_left};
use super::places::House;
use super::records::Values;
use crate::account::{Book, Draft, Why};
use crate::cells::{Local, Timeline, standard_offset};
use crate::declare::{ClimateLog, Clock, LightIs, Log, Meaning, Season, SiteDeclaration};
use crate::flags::limits;
use crate::loggers::{ClimateReading, LoggerReading, Loggers};
use crate::shape::Table;
use crate::source::Found;
use crosshouse_readings::units::Quantity;
use jiff::tz::TimeZone;
use rayon::prelude::*;
use stream::{LogReading, Task, read_log};

/// Reads the climate logs of a site, several at a time; `begins` is told of every file.
pub(super) fn read<L: Loggers>(
    season: &Season,
    site: &SiteDeclaration,
    files: &[Vec<Found>],
    loggers: &L,
    begins: &(dyn Fn(&Found) + Sync),
) -> ClimateReading<L::Out> {
    let alone = files.iter().map(Vec::len).sum::<usize>() < 2;
    let numbered = (0..).zip(site.climate.iter().zip(files));
    let tasks: Vec<Task<'_>> = numbered.map(|(number, (log, files))| Task { season, site, log, number, files, alone }).collect();
    let read = |task: &Task<'_>| read_log(task, loggers, begins);
    let logs: Vec<LogReading<L::Out>> = tasks.par_iter().map(read).collect();
    let mut book = Book::of_site(&site.id);
    let (mut all, mut traces) = (Vec::new(), Vec::new());
    for log in logs {
        let moved = book.append(log.told);
        for (out, traced) in log.loggers {
            all.push(LoggerReading { moved, out });
            traces.push(traced.behind(moved));
        }
    }
    compare_clocks(&traces, site, season, &mut book);
    ClimateReading { told: book.told(), loggers: all }
}

/// Temperature, humidity, light, CO₂, where the table has them.
type Columns = [Option<Numbers>; 4];

fn timeline(log: &ClimateLog, site: &SiteDeclaration, zone: &TimeZone) -> Timeline {
    let in_season = site.transplanted.or(site.seeded).map_or(1_924_992_000, |d| crate::cells::days_of(d) * 86_400);
    let clock = match log.clock.unwrap_or(Clock::Site) {
        Clock::Site => Timeline::of(zone),
        Clock::Standard => Timeline::fixed(standard_offset(zone, in_season)),
        Clock::Utc => Timeline::fixed(0),
        Clock::Offset(seconds) => Timeline::fixed(seconds),
    };
    clock.checked(&log.clock_checks)
}

fn undeclared_clock(log: &ClimateLog, table: &Table, book: &mut Book) {
    if log.clock.is_none() {
        book.infer(&table.name, "clock of the logger", "the site's civil time, daylight saving included", "the site file declares none");
    }
    if let Some(said) = log.checks_in_words() {
        book.infer(&table.name, "times of the logger", said, "clock_checks of the site file");
    }
    if log.light_is == LightIs::Undeclared && table.index(&log.log, &Meaning::Light).is_some() {
        book.infer(&table.name, "light values", "readings at the instant", "the site file does not declare light_is");
    }
}

/// The four value columns that the table has.
fn columns(log: &Log, table: &Table, book: &mut Book) -> Columns {
    let mut of = |meaning: Meaning, quantity, limits| Numbers::of(log, table, &meaning, quantity, limits, book);
    [
        of(Meaning::Temperature, Quantity::Temperature, &limits::TEMPERATURE),
        of(Meaning::Humidity, Quantity::Humidity, &limits::HUMIDITY),
        of(Meaning::Light, Quantity::Light, &limits::LIGHT),
        of(Meaning::Co2, Quantity::Co2, &limits::CO2),
    ]
}

/// What one row says: its record, unless it is set aside, and whether its year has two digits.
struct RowRead {
    short_year: bool,
    record: Option<(String, Local, Values)>,
}

#[allow(clippy::too_many_arguments)]
fn row_of(
    log: &ClimateLog,
    site: &SiteDeclaration,
    table: &Table,
    row: usize,
    days: &Days,
    house: &House,
    time: Option<usize>,
    columns: &Columns,
    timeline: &mut Timeline,
    book: &mut Book,
) -> Option<RowRead> {
    let (local, short_year) = stamp(&log.log, table, row, days, time, timeline, book)?;
    if local == Local::Never {
        never(&log.log, table, row, days, site, book);
        return Some(RowRead { short_year, record: None });
    }
    let house = house.read(&log.log, table, row, site, book);
    let record = house.and_then(|house| Some((house, local, values(&log.log, table, row, columns, book)?)));
    Some(RowRead { short_year, record })
}

/// What the row's stamp is on the logger's clock; a row without a readable one is set aside.
fn stamp(
    log: &Log,
    table: &Table,
    row: usize,
    days: &Days,
    time: Option<usize>,
    timeline: &mut Timeline,
    book: &mut Book,
) -> Option<(Local, bool)> {
    let mut stamp = days.read(log, table, row, book)?;
    if let Some(index) = time {
        match days.dating.time(table.cell(row, index)) {
            Ok((seconds, offset)) => {
                stamp.seconds = Some(seconds);
                stamp.offset = offset;
            }
            Err(fault) => {
                days.unreadable(log, table, row, log.columns.get(index)?, fault, book);
                return None;
            }
        }
    }
    let Some(local) = stamp.local() else {
        days.unreadable(
            log,
            table,
            row,
            log.columns.get(days.column)?,
            crate::cells::StampFault::Time(crate::cells::TimeFault::NotATime),
            book,
        );
        return None;
    };
    let local = timeline.true_time(local);
    let place = match stamp.offset {
        Some(offset) => Local::Once(local - i64::from(offset)),
        None => timeline.resolve(local),
    };
    Some((place, stamp.short_year))
}

/// Values of a row; a row with nothing left is set aside.
fn values(log: &Log, table: &Table, row: usize, columns: &Columns, book: &mut Book) -> Option<Values> {
    let mut values = [f64::NAN; 4];
    for (slot, column) in values.iter_mut().zip(columns) {
        if let Some(x) = column.as_ref().and_then(|c| c.read(log, table, row, book)) {
            *slot = x;
        }
    }
    if values.iter().all(|x| x.is_nan()) {
        nothing_left(table, row, book);
        return None;
    }
    Some(values)
}

fn never(log: &Log, table: &Table, row: usize, days: &Days, site: &SiteDeclaration, book: &mut Book) {
    let header = log.columns.get(days.column).map_or("", |c| c.header.as_str());
    let found = table.cell(row, days.column).text;
    let why = format!("{found} never was in {}: the clock was put forward over it", site.time_zone);
    book.fault(Draft {
        code: "hour-that-never-was".into(),
        title: "a record in the hour that the clock change left out".into(),
        file: table.name.clone(),
        row: Some(table.grid.number(row)),
        column: Some(header.to_owned()),
        found: found.to_owned(),
        expected: format!("no record in that hour, if the logger's clock follows daylight saving in {}", site.time_zone),
        mend: "the logger did not follow daylight saving: declare clock = \"standard\", \"utc\" or its offset".into(),
        ..Draft::default()
    });
    book.row_aside(table.source(row), Some(header), Why { code: "hour-that-never-was", found, why });
}

fn no_house(log: &ClimateLog, table: &Table, site: &SiteDeclaration, book: &mut Book) {
    let ids: Vec<&str> = site.houses.iter().map(|h| h.id.as_str()).collect();
    book.fault(Draft {
        code: "house-undeclared".into(),
        title: "a climate log of no house".into(),
        file: log.log.declared_in.clone(),
        row: Some(log.log.line),
        column: Some("house".into()),
        found: format!("no `house`, and the site has {} houses", ids.len()),
        expected: ids.join(", "),
        mend: "declare house = \"…\" under [[climate]], or a column with is = \"house\"".into(),
        fatal: true,
        ..Draft::default()
    });
    for row in table.rows.iter().copied() {
        let written = table.written(row);
        book.row_aside(
            table.source(row),
            None,
            Why { code: "house-undeclared", found: &written, why: "the site file does not say which house the logger hangs in".into() },
        );
    }
}
