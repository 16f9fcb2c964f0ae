//! Doubts about a logger's records: told file by file, laid on the records, and the values that the
//! season leaves out.
use super::left_out;
use crate::account::Book;
use crate::declare::{Season, SiteDeclaration};
use crate::flags::{self, ClimateDoubt, Clock, Column, Logger, Rule, Setting, Spot, Trace};
use crate::loggers::{Flagged, LoggerFacts};
use crate::tables::Climate;

pub(super) fn logger<'s>(facts: &LoggerFacts, site: &'s SiteDeclaration, season: &'s Season) -> Logger<'s> {
    let kind = site.houses.iter().find(|h| h.id == facts.house).map_or("", |h| h.kind.as_str());
    Logger {
        setting: Setting::of(season, &site.id, kind),
        interval_s: facts.interval_s.into(),
        standard_offset_s: facts.standard_offset_s.into(),
        place: site.latitude.zip(site.longitude),
        light_is_mean: facts.light_is_mean,
    }
}

/// A logger's days, for comparing clocks.
pub(super) struct Traced {
    pub facts: LoggerFacts,
    pub trace: Trace,
}

impl Traced {
    /// The same behind `moved` earlier files.
    pub fn behind(mut self, moved: u32) -> Traced {
        let files = self.trace.days.iter_mut().flat_map(|d| &mut d.marks.files);
        files.for_each(|rows| rows.file.0 += moved);
        self
    }
}

/// The days of a logger whose records are in memory.
pub(super) fn trace(climate: &Climate, facts: &LoggerFacts, site: &SiteDeclaration, season: &Season) -> Trace {
    let mut trace = Trace::new(&logger(facts, site, season));
    let value = |column: &[f64], i: usize| column.get(i).copied().unwrap_or(f64::NAN);
    for (i, (instant, source)) in climate.instant.iter().zip(&climate.source).enumerate() {
        trace.see(&flags::Reading {
            spot: Spot { record: i, instant: *instant, source: *source },
            temperature: value(&climate.temperature, i),
            humidity: value(&climate.humidity, i),
            light: value(&climate.light, i),
            co2: value(&climate.co2, i),
            hour_open: false,
            above_100: false,
            step: 0,
            joined: false,
        });
    }
    trace
}

/// Tells the doubts about a logger's records; which of them are marked.
pub(super) fn tell(doubts: &[ClimateDoubt], site: &SiteDeclaration, season: &Season, book: &mut Book) -> Flagged {
    let mut flagged = Flagged::default();
    for doubt in doubts {
        let end = left_out::told(season, doubt.code, &site.id);
        // What is left out is no longer doubted.
        let marks = flags::marks_rows(doubt.code) && end.is_empty();
        doubt.marks.records().filter(|_| marks).for_each(|record| flagged.set(record));
        told(doubt, end, book);
    }
    flagged
}

fn told(doubt: &ClimateDoubt, end: &str, book: &mut Book) {
    let mut files = doubt.marks.files.clone();
    files.sort_by_key(|f| f.file);
    for rows in &files {
        book.flag_counted(*rows, doubt.code, doubt.told(rows.rows) + end);
    }
}

/// Compares the clocks of a site's loggers.
pub(super) fn compare_clocks(all: &[Traced], site: &SiteDeclaration, season: &Season, book: &mut Book) {
    let each: Vec<Clock<'_>> =
        all.iter().map(|t| Clock { house: &t.facts.house, logger: logger(&t.facts, site, season), trace: &t.trace }).collect();
    for doubt in flags::clocks(&each).iter().flatten() {
        told(doubt, "", book);
    }
}

/// Empties the values of doubts that the season leaves out; a record with none left goes.
pub(super) fn leave_out(climate: &mut Climate, doubts: &[ClimateDoubt], site: &SiteDeclaration, season: &Season, book: &mut Book) {
    let mut any = false;
    for doubt in doubts {
        let Some(word) = season.leave_out.iter().find(|l| l.speaks_of(doubt.code, &site.id)) else { continue };
        any = true;
        for i in doubt.marks.records() {
            let Some(source) = climate.source.get(i).copied() else { continue };
            for (name, column) in columns(climate, doubt.of) {
                if let Some(x) = column.get_mut(i).filter(|x| !x.is_nan()) {
                    left_out::cell(word, source, name, &x.to_string(), book);
                    *x = f64::NAN;
                }
            }
        }
    }
    if any {
        drop_empty(climate, book);
    }
}

/// The columns that a doubt is about.
fn columns(climate: &mut Climate, of: Option<Column>) -> Vec<(&'static str, &mut Vec<f64>)> {
    [
        (Column::Temperature, "temperature", &mut climate.temperature),
        (Column::Humidity, "humidity", &mut climate.humidity),
        (Column::Light, "light", &mut climate.light),
        (Column::Co2, "co2", &mut climate.co2),
    ]
    .into_iter()
    .filter(|(column, _, _)| of.is_none_or(|o| o == *column))
    .map(|(_, name, values)| (name, values))
    .collect()
}

/// Sets aside records of which no value is left.
fn drop_empty(climate: &mut Climate, book: &mut Book) {
    let left = |i: usize| {
        [&climate.temperature, &climate.humidity, &climate.light, &climate.co2].into_iter().any(|c| c.get(i).is_some_and(|x| !x.is_nan()))
    };
    let keep: Vec<bool> = (0..climate.instant.len()).map(left).collect();
    for (source, _) in climate.source.iter().zip(&keep).filter(|(_, k)| !**k) {
        let why = "every value of the record is left out, as the season file says".to_owned();
        book.row_aside(*source, None, crate::account::Why { code: left_out::CODE, found: "", why });
    }
    keep_those(&mut climate.instant, &keep);
    keep_those(&mut climate.source, &keep);
    keep_those(&mut climate.flagged, &keep);
    for column in [&mut climate.temperature, &mut climate.humidity, &mut climate.light, &mut climate.co2] {
        keep_those(column, &keep);
    }
}

fn keep_those<T>(list: &mut Vec<T>, keep: &[bool]) {
    let mut kept = keep.iter();
    list.retain(|_| kept.next().copied().unwrap_or(true));
}
