//! The records of a logger: the doubled hour settled, duplicates told, columns in time order.
use super::duplicates::{Together, compare, differing_aside, identical_aside};
use super::logger_doubts::doubt;
use super::season::Reading;
use crate::account::Book;
use crate::cells::{Local, Timeline, resolve_hours, standard_offset};
use crate::declare::{ClimateLog, LightIs, SiteDeclaration};
use crate::shape::Table;
use crate::tables::Climate;
use crosshouse_readings::Source;
use jiff::tz::TimeZone;
use std::collections::BTreeMap;

/// Temperature, humidity, light, CO₂; `NaN` = none.
pub(super) type Values = [f64; 4];
const HUMIDITY: usize = 1;
const LIGHT: usize = 2;
const CO2: usize = 3;

/// One record of a logger.
#[derive(Debug, Clone)]
pub(super) struct Record {
    instant: i64,
    values: Values,
    source: Source,
    /// The doubled hour was not settled by the order of the file.
    open: bool,
}

/// A row whose stamp still waits for the whole file's order.
pub(super) struct Waiting {
    pub row: usize,
    pub house: String,
    pub local: Local,
    pub values: Values,
}

/// Turns the waiting rows of a file into records: the doubled hour is settled by their order.
pub(super) fn settle(
    log: &ClimateLog,
    table: &Table,
    waiting: Vec<Waiting>,
    timeline: &Timeline,
    houses: &mut BTreeMap<String, Vec<Record>>,
    book: &mut Book,
) {
    let mut by_house: BTreeMap<String, Vec<Waiting>> = BTreeMap::new();
    for w in waiting {
        by_house.entry(w.house.clone()).or_default().push(w);
    }
    for (house, waiting) in by_house {
        let locals: Vec<Local> = waiting.iter().map(|w| w.local).collect();
        let first = locals.iter().find_map(|l| if let Local::Twice { earlier, .. } = l { Some(*earlier) } else { None });
        let interval = log.interval_minutes.map_or_else(
            || median_step(locals.iter().filter_map(|l| if let Local::Once(i) = l { Some(*i) } else { None })),
            |m| (m * 60.0).round() as i64,
        );
        let fold = first.map_or(0, |f| timeline.fold_length(f));
        let settled = resolve_hours(&locals, interval, fold);
        let ordered = first.is_some() && settled.iter().flatten().all(|s| !s.open);
        if ordered {
            book.infer(
                &table.name,
                "the hour that the clock shows twice",
                "told apart by the order of the records",
                "the stamps step back once, or join the records on one side only",
            );
        }
        let records = houses.entry(house).or_default();
        for (w, s) in waiting.into_iter().zip(settled) {
            if let Some(s) = s {
                records.push(Record { instant: s.instant, values: w.values, source: table.source(w.row), open: s.open });
            }
        }
    }
}

/// The median of the steps between successive instants, s; zero steps aside.
fn median_step(instants: impl Iterator<Item = i64>) -> i64 {
    let instants: Vec<i64> = instants.collect();
    let mut steps: Vec<i64> = instants.windows(2).filter_map(|w| Some((w.last()? - w.first()?).abs())).filter(|s| *s > 0).collect();
    let middle = steps.len() / 2;
    if steps.is_empty() { 0 } else { *steps.select_nth_unstable(middle).1 }
}

/// Records of one logger to columns: sorted, duplicates settled, doubts marked.
pub(super) fn logger(
    log: &ClimateLog,
    site: &SiteDeclaration,
    house: String,
    mut records: Vec<Record>,
    has: [bool; 4],
    reading: &mut Reading<'_>,
) -> Option<Climate> {
    let zone = TimeZone::get(&site.time_zone).unwrap_or(TimeZone::UTC);
    let book = &mut reading.book;
    let late = records.windows(2).filter(|w| matches!(w, [a, b] if a.instant > b.instant && a.source.file == b.source.file)).count();
    records.sort_by_key(|r| (r.instant, r.source.file, r.source.row));
    if late > 0
        && let Some(first) = records.first()
    {
        let name = book.name(first.source.file).to_owned();
        book.infer(
            &name,
            format!("order of the records of \"{house}\""),
            "sorted by time",
            format!("{late} records stand before an earlier one"),
        );
    }
    let records = without_duplicates(records, book);
    let first = records.first()?;
    let (from, file) = (first.instant, first.source.file);
    let median = median_step(records.iter().map(|r| r.instant));
    let interval = log.interval_minutes.map_or(median, |m| (m * 60.0).round() as i64);
    if log.interval_minutes.is_none() {
        let name = book.name(file).to_owned();
        book.infer(
            &name,
            format!("interval of the logger in \"{house}\""),
            format!("{} min", interval as f64 / 60.0),
            "the median step between its records",
        );
    }
    let column = |i: usize| records.iter().map(|r| r.values.get(i).copied().unwrap_or(f64::NAN)).collect::<Vec<f64>>();
    let mut climate = Climate {
        house,
        interval_s: u32::try_from(interval).unwrap_or(0),
        instant: records.iter().map(|r| r.instant).collect(),
        standard_offset_s: standard_offset(&zone, from),
        temperature: column(0),
        humidity: column(HUMIDITY).into_iter().map(|x| if x > 100.0 { 100.0 } else { x }).collect(),
        light: if has[LIGHT] { column(LIGHT) } else { Vec::new() },
        co2: if has[CO2] { column(CO2) } else { Vec::new() },
        light_is_mean: log.light_is == LightIs::Mean,
        source: records.iter().map(|r| r.source).collect(),
        flagged: vec![false; records.len()],
    };
    let open: Vec<bool> = records.iter().map(|r| r.open).collect();
    let above_100: Vec<bool> = records.iter().map(|r| r.values[HUMIDITY] > 100.0).collect();
    doubt(&mut climate, site, &open, &above_100, reading);
    for (source, flagged) in climate.source.iter().zip(&climate.flagged) {
        reading.book.keep(*source, *flagged);
    }
    Some(climate)
}

/// Records of one instant: equal ones are one, differing ones are all set aside.
fn without_duplicates(records: Vec<Record>, book: &mut Book) -> Vec<Record> {
    let mut kept: Vec<Record> = Vec::with_capacity(records.len());
    for group in records.chunk_by(|a, b| a.instant == b.instant) {
        let [first, rest @ ..] = group else { continue };
        if rest.is_empty() {
            kept.push(first.clone());
            continue;
        }
        let values: Vec<Values> = group.iter().map(|r| r.values).collect();
        match compare(&values) {
            Together::Identical => {
                kept.push(first.clone());
                for further in rest {
                    identical_aside(first.source, further.source, &shown(further), book);
                }
            }
            Together::Differ => {
                let all: Vec<(Source, String)> = group.iter().map(|r| (r.source, shown(r))).collect();
                differing_aside(&all, &format!("the instant {}", utc(first.instant)), book);
            }
        }
    }
    kept
}

fn utc(instant: i64) -> String {
    jiff::Timestamp::from_second(instant).map_or_else(|_| instant.to_string(), |t| t.to_string())
}

fn shown(record: &Record) -> String {
    let values = record.values.iter().filter(|x| !x.is_nan()).map(ToString::to_string).collect::<Vec<_>>().join(" | ");
    format!("{} | {values}", utc(record.instant))
}
