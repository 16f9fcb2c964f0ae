//! Small sites made by hand, for tests.
use crate::calendar::after;
use crosshouse_logs::tables::*;
use crosshouse_readings::{FileId, Source};
use jiff::civil::{Date, date};
use std::collections::BTreeMap;

pub(crate) const SOURCE: Source = Source { file: FileId(0), row: 2 };

/// Day `n` of the trial: day 0 is transplanting.
pub(crate) fn day(n: i32) -> Date {
    after(date(2031, 3, 24), n)
}

pub(crate) fn unit(id: &str, levels: &[(&str, &str)]) -> Unit {
    Unit {
        id: id.into(),
        house: "house-1".into(),
        block: None,
        line: None,
        bench: None,
        levels: levels.iter().map(|(f, l)| ((*f).to_owned(), (*l).to_owned())).collect::<BTreeMap<_, _>>(),
        plants: 2,
        area_m2: None,
        row: None,
        position: None,
        guard: false,
        source: SOURCE,
    }
}

pub(crate) fn pick(unit: usize, on: i32, kg: f64) -> Pick {
    Pick {
        unit,
        day: day(on),
        grade: Some("1".into()),
        kind: GradeKind::Marketable,
        mass: Some(kg),
        count: None,
        measures: Vec::new(),
        source: SOURCE,
        flags: Vec::new(),
    }
}

pub(crate) fn entry(event: Event, from: i32, until: i32, unit: Option<usize>) -> DiaryEntry {
    DiaryEntry { day: day(from), until: day(until), event, unit, house: None, plants: None, note: String::new(), source: SOURCE }
}

pub(crate) fn root_zone(zone: &str, on: i32) -> RootZone {
    RootZone {
        zone: zone.into(),
        house: "house-1".into(),
        day: day(on),
        feed_volume: None,
        drain_volume: None,
        feed_ec: None,
        drain_ec: None,
        feed_ph: None,
        drain_ph: None,
        moisture: None,
        plants: None,
        source: SOURCE,
        flags: Vec::new(),
    }
}

/// A site of one house, transplanted on day 0 and ended on day 100, unlisted = zero.
pub(crate) fn site(id: &str, units: Vec<Unit>) -> SiteTables {
    SiteTables {
        site: Site {
            id: id.into(),
            name: id.to_uppercase(),
            time_zone: "UTC".into(),
            latitude: None,
            longitude: None,
            seeded: None,
            transplanted: Some(day(0)),
            ended: Some(day(100)),
            unlisted: Unlisted::Zero,
            pick_days: Vec::new(),
            house_pick_days: Default::default(),
            missed_days: Vec::new(),
            houses: vec![House { id: "house-1".into(), kind: "high tunnel".into(), area_basis: None }],
            practices: Vec::new(),
        },
        units,
        picks: Vec::new(),
        unread: Vec::new(),
        measures: Vec::new(),
        climate: Vec::new(),
        root_zone: Vec::new(),
        diary: Vec::new(),
    }
}

/// The same with these picks; pick days follow from them.
pub(crate) fn picked(mut site: SiteTables, picks: Vec<Pick>) -> SiteTables {
    let mut days: Vec<Date> = picks.iter().map(|p| p.day).collect();
    days.sort_unstable();
    days.dedup();
    site.site.pick_days = days;
    site.picks = picks;
    site
}

/// A logger with records every `interval_s` from midnight of trial day 0, in standard time at UTC.
pub(crate) fn logger(interval_s: u32, records: usize) -> Climate {
    let start = i64::from(crate::calendar::day_number(day(0))) * 86_400;
    Climate {
        house: "house-1".into(),
        interval_s,
        instant: (0..records).map(|i| start + i as i64 * i64::from(interval_s)).collect(),
        standard_offset_s: 0,
        temperature: vec![f64::NAN; records],
        humidity: vec![f64::NAN; records],
        light: Vec::new(),
        co2: Vec::new(),
        light_is_mean: false,
        source: vec![SOURCE; records],
        flagged: vec![false; records],
    }
}
