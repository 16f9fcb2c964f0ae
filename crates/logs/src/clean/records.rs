//! The records of a logger: the doubled hour settled by a whole file's order, doubts of reading itself.
use crate::account::Book;
use crate::cells::{Local, Timeline, resolve_hours};
use crate::declare::ClimateLog;
use crosshouse_readings::{FileId, Source};
use std::collections::BTreeMap;

/// Temperature, humidity, light, CO₂; `NaN` = none.
pub(super) type Values = [f64; 4];

/// One record of a logger.
#[derive(Debug, Clone)]
pub(super) struct Record {
    pub instant: i64,
    pub values: Values,
    pub source: Source,
    /// The doubled hour was not settled by the order of the file.
    pub open: bool,
}

/// A row whose stamp still waits for the whole file's order.
pub(super) struct Waiting {
    pub source: Source,
    pub house: String,
    pub local: Local,
    pub values: Values,
}

/// Turns the waiting rows of a file into records: the doubled hour is settled by their order. `name`: of the file.
pub(super) fn settle(
    log: &ClimateLog,
    name: &str,
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
            told_fold(name, book);
        }
        let records = houses.entry(house).or_default();
        for (w, s) in waiting.into_iter().zip(settled) {
            if let Some(s) = s {
                records.push(Record { instant: s.instant, values: w.values, source: w.source, open: s.open });
            }
        }
    }
}

pub(super) fn told_fold(file: &str, book: &mut Book) {
    book.infer(
        file,
        "the hour that the clock shows twice",
        "told apart by the order of the records",
        "the stamps step back once, or join the records on one side only",
    );
}

/// The median of the steps between successive instants, s; zero steps aside.
pub(super) fn median_step(instants: impl Iterator<Item = i64>) -> i64 {
    let instants: Vec<i64> = instants.collect();
    let mut steps: Vec<i64> = instants.windows(2).filter_map(|w| Some((w.last()? - w.first()?).abs())).filter(|s| *s > 0).collect();
    let middle = steps.len() / 2;
    if steps.is_empty() { 0 } else { *steps.select_nth_unstable(middle).1 }
}

pub(super) fn told_interval(house: &str, median: i64, file: FileId, book: &mut Book) {
    let name = book.name(file).to_owned();
    book.infer(
        &name,
        format!("interval of the logger in \"{house}\""),
        format!("{} min", median as f64 / 60.0),
        "the median step between its records",
    );
}

pub(super) fn utc(instant: i64) -> String {
    jiff::Timestamp::from_second(instant).map_or_else(|_| instant.to_string(), |t| t.to_string())
}

pub(super) fn shown(record: &Record) -> String {
    let values = record.values.iter().filter(|x| !x.is_nan()).map(ToString::to_string).collect::<Vec<_>>().join(" | ");
    format!("{} | {values}", utc(record.instant))
}
