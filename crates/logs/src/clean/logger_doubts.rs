//! Doubts about a logger's records in memory: a loop over the rules, the marks laid on the records, and the
//! values that the season leaves out.
use super::left_out;
use super::season::Reading;
use crate::account::Book;
use crate::declare::{Season, SiteDeclaration};
use crate::flags::{self, ClimateDoubt, Clock, Column, Logger, Rule, Setting, Spot, Trace, Watch};
use crate::tables::Climate;

fn logger<'s>(climate: &Climate, site: &'s SiteDeclaration, season: &'s Season) -> Logger<'s> {
    let kind = site.houses.iter().find(|h| h.id == climate.house).map_or("", |h| h.kind.as_str());
    Logger {
        setting: Setting::of(season, &site.id, kind),
        interval_s: climate.interval_s.into(),
        standard_offset_s: climate.standard_offset_s.into(),
        place: site.latitude.zip(site.longitude),
        light_is_mean: climate.light_is_mean,
    }
}

/// The records of a logger as the rules see them.
fn readings<'c>(climate: &'c Climate, open: &'c [bool], above_100: &'c [bool]) -> impl Iterator<Item = flags::Reading> + 'c {
    let value = |column: &[f64], i: usize| column.get(i).copied().unwrap_or(f64::NAN);
    let said = |list: &[bool], i: usize| list.get(i).copied().unwrap_or(false);
    climate.instant.iter().zip(&climate.source).enumerate().map(move |(i, (instant, source))| flags::Reading {
        spot: Spot { record: i, instant: *instant, source: *source },
        temperature: value(&climate.temperature, i),
        humidity: value(&climate.humidity, i),
        light: value(&climate.light, i),
        co2: value(&climate.co2, i),
        hour_open: said(open, i),
        above_100: said(above_100, i),
        step: 0,
        joined: false,
    })
}

/// Marks the records of a logger that a rule doubts, tells the doubts, and leaves out what the season says.
pub(super) fn doubt(climate: &mut Climate, site: &SiteDeclaration, open: &[bool], above_100: &[bool], reading: &mut Reading<'_>) {
    let season = reading.season;
    let mut watch = Watch::new(logger(climate, site, season));
    readings(climate, open, above_100).for_each(|row| watch.see(row));
    let (doubts, _) = watch.finish();
    for doubt in &doubts {
        let end = left_out::told(season, doubt.code, &site.id);
        // What is left out is no longer doubted.
        let marks = flags::marks_rows(doubt.code) && end.is_empty();
        for i in doubt.marks.records().filter(|_| marks) {
            if let Some(flag) = climate.flagged.get_mut(i) {
                *flag = true;
            }
        }
        tell(doubt, end, &mut reading.book);
    }
    leave_out(climate, &doubts, site, season, &mut reading.book);
}

fn tell(doubt: &ClimateDoubt, end: &str, book: &mut Book) {
    let mut files = doubt.marks.files.clone();
    files.sort_by_key(|f| f.file);
    for rows in &files {
        book.flag_counted(*rows, doubt.code, doubt.told(rows.rows) + end);
    }
}

/// Compares the clocks of a site's loggers.
pub(super) fn compare_clocks(all: &[Climate], site: &SiteDeclaration, reading: &mut Reading<'_>) {
    let season = reading.season;
    let trace = |c: &Climate| {
        let mut trace = Trace::new(&logger(c, site, season));
        readings(c, &[], &[]).for_each(|row| trace.see(&row));
        trace
    };
    let traces: Vec<Trace> = all.iter().map(trace).collect();
    let each: Vec<Clock<'_>> =
        all.iter().zip(&traces).map(|(c, trace)| Clock { house: &c.house, logger: logger(c, site, season), trace }).collect();
    for doubt in flags::clocks(&each).iter().flatten() {
        tell(doubt, "", &mut reading.book);
    }
}

/// Empties the values of doubts that the season leaves out; a record with none left goes.
fn leave_out(climate: &mut Climate, doubts: &[ClimateDoubt], site: &SiteDeclaration, season: &Season, book: &mut Book) {
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
