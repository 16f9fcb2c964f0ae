//! Root-zone logs: feed and drain of a zone on a day, in L, dS/m, pH and %.
use super::days::{Days, told_short_years};
use super::duplicates::{Together, compare, differing_aside, identical_aside};
use super::left_out;
use super::numbers::{Numbers, nothing_left};
use super::places::House;
use super::plan::PlanTable;
use super::season::Reading;
use crate::account::{Book, Draft, Why};
use crate::cells::{is_missing, normal};
use crate::declare::{Log, Meaning, RootZoneLog, Season, SiteDeclaration};
use crate::flags::{self, Setting, limits};
use crate::shape::{Table, codes};
use crate::source::Found;
use crate::tables::RootZone;
use crosshouse_readings::declared::nearest;
use crosshouse_readings::units::Quantity;
use crosshouse_readings::{FileId, Source};
use jiff::civil::Date;
use std::collections::{BTreeMap, BTreeSet};

/// Feed and drain volume, feed and drain EC, feed and drain pH, moisture, plants; `NaN` = none.
type Values = [f64; 8];

struct Row {
    zone: String,
    house: String,
    day: Date,
    /// Seconds of the day, where the log writes a time.
    seconds: Option<i64>,
    values: Values,
    source: Source,
    written: String,
}

pub(super) fn read(site: &SiteDeclaration, files: &[Vec<Found>], plan: &PlanTable, reading: &mut Reading<'_>) -> Vec<RootZone> {
    let mut all = Vec::new();
    for (log, found) in site.root_zone.iter().zip(files) {
        let mut rows = Vec::new();
        for file in found {
            for table in reading.open(&log.log, file) {
                read_table(site, log, &table, plan, &mut rows, &mut reading.book);
            }
        }
        all.extend(without_duplicates(rows, log, &mut reading.book));
    }
    all.sort_by(|a: &RootZone, b| (a.day, &a.zone, a.source.file, a.source.row).cmp(&(b.day, &b.zone, b.source.file, b.source.row)));
    let season = reading.season;
    for doubt in flags::of_root_zone(&all, &Setting::of(season, &site.id, "")) {
        mark(doubt, season, &mut all, &mut reading.book);
    }
    leave_out(season, &mut all, &mut reading.book);
    for row in &all {
        reading.book.keep(row.source, !row.flags.is_empty());
    }
    all
}

fn columns(log: &Log, table: &Table, book: &mut Book) -> [Option<Numbers>; 8] {
    let mut of = |meaning: Meaning, quantity, limits| Numbers::of(log, table, &meaning, quantity, limits, book);
    [
        of(Meaning::FeedVolume, Quantity::Volume, &limits::FEED_VOLUME),
        of(Meaning::DrainVolume, Quantity::Volume, &limits::DRAIN_VOLUME),
        of(Meaning::FeedEc, Quantity::Conductivity, &limits::FEED_EC),
        of(Meaning::DrainEc, Quantity::Conductivity, &limits::DRAIN_EC),
        of(Meaning::FeedPh, Quantity::Acidity, &limits::FEED_PH),
        of(Meaning::DrainPh, Quantity::Acidity, &limits::DRAIN_PH),
        of(Meaning::Moisture, Quantity::MoistureFraction, &limits::MOISTURE),
        of(Meaning::Plants, Quantity::Count, &limits::PLANTS_SHARE),
    ]
}

fn read_table(site: &SiteDeclaration, log: &RootZoneLog, table: &Table, plan: &PlanTable, rows: &mut Vec<Row>, book: &mut Book) {
    let Some(days) = Days::of(&log.log, table, book).map(|d| d.in_zone(&site.time_zone).in_season(site)) else { return };
    let time = table.index(&log.log, &Meaning::Time);
    let columns = columns(&log.log, table, book);
    let mut short = 0;
    for row in table.rows.iter().copied() {
        let Some(stamp) = days.read(&log.log, table, row, book) else { continue };
        short += u64::from(stamp.short_year);
        let seconds = match time {
            Some(index) => days.dating.time(table.cell(row, index)).ok().map(|t| t.0),
            None => table.index(&log.log, &Meaning::DateTime).and(stamp.seconds),
        };
        let Some((zone, house)) = place(site, log, table, row, plan, book) else { continue };
        let mut values = [f64::NAN; 8];
        for (slot, column) in values.iter_mut().zip(&columns) {
            if let Some(x) = column.as_ref().and_then(|c| c.read(&log.log, table, row, book)) {
                *slot = x;
            }
        }
        let written = table.written(row);
        if values.iter().take(7).all(|x| x.is_nan()) {
            nothing_left(table, row, book);
            continue;
        }
        rows.push(Row { zone, house, day: stamp.date, seconds, values, source: table.source(row), written });
    }
    told_short_years(&log.log, table, days.column, short, book);
}

/// Zone and house of a row: a line or bench of the plan, or a house.
fn place(
    site: &SiteDeclaration,
    log: &RootZoneLog,
    table: &Table,
    row: usize,
    plan: &PlanTable,
    book: &mut Book,
) -> Option<(String, String)> {
    let fixed = House::of(log.house.as_ref(), &log.log, Some(table), site);
    let Some(index) = table.index(&log.log, &Meaning::Zone) else {
        let Some(house) = fixed else { return no_place(log, table, row, "", site, plan, book) };
        return house.read(&log.log, table, row, site, book).map(|h| (h.clone(), h));
    };
    let written = table.cell(row, index).text;
    let missing = log.log.columns.get(index).map(|c| codes(&log.log, c)).unwrap_or_default();
    if is_missing(written, missing) {
        let header = log.log.columns.get(index).map_or("", |c| c.header.as_str());
        book.row_aside(table.source(row), Some(header), Why { code: "zone-missing", found: written, why: "the row names no zone".into() });
        return None;
    }
    let house = match fixed {
        Some(house) => Some(house.read(&log.log, table, row, site, book)?),
        None => None,
    };
    match zone_of(written, house.as_deref(), site, plan) {
        Some(found) => Some(found),
        None => no_place(log, table, row, written, site, plan, book),
    }
}

/// The zone of a written id by the plan's lines and benches, then by the houses. A plan without lines
/// and benches cannot contradict a zone: it is kept as written, in the house that is declared.
fn zone_of(written: &str, house: Option<&str>, site: &SiteDeclaration, plan: &PlanTable) -> Option<(String, String)> {
    let rules = &site.unit_ids;
    let same = |a: &str| normal(a, rules) == normal(written, rules);
    let of_house = |h: &str| house.is_none_or(|wanted| wanted == h);
    let zones = plan.units.iter().flat_map(|u| [&u.line, &u.bench].into_iter().flatten().map(move |z| (z, &u.house)));
    let mut any = false;
    let mut found: Option<(String, String)> = None;
    for (zone, of) in zones {
        any = true;
        if same(zone) && of_house(of) {
            match &found {
                Some((_, other)) if other != of => return None,
                _ => found = Some((zone.clone(), of.clone())),
            }
        }
    }
    found
        .or_else(|| House::named(written, site).filter(|h| of_house(h)).map(|h| (h.clone(), h)))
        .or_else(|| (!any).then(|| house.map(|h| (written.to_owned(), h.to_owned())))?)
}

fn no_place(
    log: &RootZoneLog,
    table: &Table,
    row: usize,
    written: &str,
    site: &SiteDeclaration,
    plan: &PlanTable,
    book: &mut Book,
) -> Option<(String, String)> {
    let column = log.log.of(&Meaning::Zone).next().map(|c| c.header.clone());
    let mut known: Vec<&str> = plan
        .units
        .iter()
        .flat_map(|u| [&u.line, &u.bench].into_iter().flatten().map(String::as_str))
        .chain(site.houses.iter().map(|h| h.id.as_str()))
        .collect();
    known.sort_unstable();
    known.dedup();
    let mend = nearest(written, known.iter().copied()).map_or_else(
        || "correct the cell, or declare house under [[root_zone]]".to_owned(),
        |n| format!("did you mean \"{n}\"? (a line of two houses needs the house too)"),
    );
    book.fault(Draft {
        code: "zone-unknown".into(),
        title: "a zone that the plan does not have".into(),
        file: table.name.clone(),
        row: Some(table.grid.number(row)),
        column: column.clone(),
        found: if written.is_empty() { "no zone and no house".into() } else { written.to_owned() },
        expected: known.join(", "),
        mend,
        group: written.to_owned(),
        ..Draft::default()
    });
    book.row_aside(
        table.source(row),
        column.as_deref(),
        Why {
            code: "zone-unknown",
            found: written,
            why: "the plan has no such line, bench or house: the row's place cannot be told".into(),
        },
    );
    None
}

type Key = (String, String, Date, Option<i64>);

/// Rows equal in every cell are one. Rows of one instant that differ are set aside; rows of one day
/// without a time of day are several readings of that day, and all kept.
fn without_duplicates(rows: Vec<Row>, log: &RootZoneLog, book: &mut Book) -> Vec<RootZone> {
    let mut groups: BTreeMap<Key, Vec<Row>> = BTreeMap::new();
    for row in rows {
        groups.entry((row.zone.clone(), row.house.clone(), row.day, row.seconds)).or_default().push(row);
    }
    let mut kept = Vec::new();
    let mut several: BTreeMap<FileId, BTreeSet<String>> = BTreeMap::new();
    for ((_, _, day, seconds), group) in groups {
        let values: Vec<Values> = group.iter().map(|r| r.values).collect();
        let differ = group.len() > 1 && matches!(compare(&values), Together::Differ);
        if seconds.is_none()
            && differ
            && let Some(first) = group.first()
        {
            several.entry(first.source.file).or_default().insert(format!("{} {day}", first.zone));
        }
        if seconds.is_some() && differ {
            let all: Vec<(Source, String)> = group.iter().map(|r| (r.source, r.written.clone())).collect();
            differing_aside(&all, &format!("one time of {day}"), book);
            continue;
        }
        let mut firsts: Vec<Row> = Vec::new();
        for row in group {
            match firsts.iter().find(|f| matches!(compare(&[f.values, row.values]), Together::Identical)) {
                Some(first) => identical_aside(first.source, row.source, &row.written, book),
                None => firsts.push(row),
            }
        }
        kept.extend(firsts.into_iter().map(|r| clean(r, log)));
    }
    for (file, days) in several {
        let name = book.name(file).to_owned();
        let because = format!(
            "{} days of a zone have several rows without a time of day, such as {}",
            days.len(),
            days.first().map_or("", String::as_str)
        );
        book.infer(&name, "several rows of one zone and day", "readings of that day: volumes added, EC and pH averaged", because);
    }
    kept
}

fn clean(row: Row, log: &RootZoneLog) -> RootZone {
    let some = |x: f64| (!x.is_nan()).then_some(x);
    let [feed_volume, drain_volume, feed_ec, drain_ec, feed_ph, drain_ph, moisture, plants] = row.values.map(some);
    RootZone {
        zone: row.zone,
        house: row.house,
        day: row.day,
        feed_volume,
        drain_volume,
        feed_ec,
        drain_ec,
        feed_ph,
        drain_ph,
        moisture,
        plants: plants.or(log.plants),
        source: row.source,
        flags: Vec::new(),
    }
}

/// Rows of a doubt that the season leaves out.
fn leave_out(season: &Season, rows: &mut Vec<RootZone>, book: &mut Book) {
    let site = book.site.clone();
    rows.retain(|row| {
        let word = left_out::word(season, &row.flags, &site);
        if let Some(word) = word {
            left_out::row(word, row.source, &format!("{} | zone {}", row.day, row.zone), book);
        }
        word.is_none()
    });
}

fn mark(doubt: flags::Doubt, season: &Season, rows: &mut [RootZone], book: &mut Book) {
    let marks = flags::marks_rows(doubt.code);
    let mut by_file: BTreeMap<FileId, Vec<u32>> = BTreeMap::new();
    for i in &doubt.rows {
        if let Some(row) = rows.get_mut(*i) {
            if marks && !row.flags.iter().any(|f| f == doubt.code) {
                row.flags.push(doubt.code.to_owned());
            }
            by_file.entry(row.source.file).or_default().push(row.source.row);
        }
    }
    let end = left_out::told(season, doubt.code, &book.site);
    for (file, rows) in by_file {
        book.flag(file, doubt.code, doubt.told(rows.len(), "row") + end, &rows);
    }
}
