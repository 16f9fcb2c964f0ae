//! What each kind of log declares beside its files, layout and columns.
use super::log::{Context, Log, LogKind, read_log};
use crate::tables::{Event, GradeKind, Unlisted};
use crosshouse_readings::declared::Table;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum SameDay {
    Add,
    Replace,
    Fault,
    Undeclared,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct HarvestLog {
    pub log: Log,
    pub unlisted: Unlisted,
    pub same_day: SameDay,
    pub grades: BTreeMap<String, GradeKind>,
}

/// What the stamps of a log count.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Clock {
    /// The site's civil time, daylight saving included.
    Site,
    /// The site's standard time all year.
    Standard,
    Utc,
    /// A fixed offset from UTC in seconds.
    Offset(i32),
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum LightIs {
    Instant,
    Mean,
    Undeclared,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ClimateLog {
    pub log: Log,
    pub house: Option<String>,
    /// `None`: not declared, read as the site's civil time and told.
    pub clock: Option<Clock>,
    pub interval_minutes: Option<f64>,
    pub light_is: LightIs,
    /// What the logger's clock said at stated true times, in time order.
    pub clock_checks: Vec<ClockCheck>,
}

impl ClimateLog {
    /// How the stamps are put right by the checks of the clock; `None` without checks.
    pub fn checks_in_words(&self) -> Option<String> {
        let differences: Vec<String> = self.clock_checks.iter().map(|c| format!("{:+} s", c.truly - c.logger)).collect();
        (!differences.is_empty()).then(|| {
            let between = if differences.len() > 1 { ", along a straight line between the checks" } else { "" };
            format!("put right by {}{between}", differences.join(", "))
        })
    }
}

/// A comparison of the logger's clock with the true time, both of the clock that the log declares.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct ClockCheck {
    /// Civil seconds since 1970 of what the logger said.
    pub logger: i64,
    /// Civil seconds since 1970 of the true time.
    pub truly: i64,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RootZoneLog {
    pub log: Log,
    pub house: Option<String>,
    pub plants: Option<f64>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DiaryLog {
    pub log: Log,
    pub events: BTreeMap<String, Event>,
}

pub(super) fn read_harvest(table: &Table<'_, '_>, context: &Context<'_>) -> HarvestLog {
    let harvest = HarvestLog {
        log: read_log(table, LogKind::Harvest, context),
        unlisted: match table.one_of("unlisted", &["zero", "missed"]) {
            Some("zero") => Unlisted::Zero,
            Some("missed") => Unlisted::Missed,
            _ => Unlisted::Undeclared,
        },
        same_day: match table.one_of("same_day", &["add", "replace", "fault"]) {
            Some("add") => SameDay::Add,
            Some("replace") => SameDay::Replace,
            Some("fault") => SameDay::Fault,
            _ => SameDay::Undeclared,
        },
        grades: read_words(table, "grades", &["marketable", "cull"], |w| match w {
            "cull" => GradeKind::Cull,
            _ => GradeKind::Marketable,
        }),
    };
    table.finish();
    harvest
}

/// A table of written words and their closed meanings.
fn read_words<T>(table: &Table<'_, '_>, key: &str, allowed: &[&'static str], meaning: impl Fn(&str) -> T) -> BTreeMap<String, T> {
    let Some(words) = table.table(key) else { return BTreeMap::new() };
    let read = words
        .keys()
        .into_iter()
        .filter_map(|(written, _)| words.one_of(&written, allowed).map(|w| (written.trim().to_owned(), meaning(w))))
        .collect();
    words.finish();
    read
}

fn read_clock(table: &Table<'_, '_>) -> Option<Clock> {
    let text = table.text("clock")?;
    let clock = match text.as_str() {
        "site" => Some(Clock::Site),
        "standard" => Some(Clock::Standard),
        "utc" => Some(Clock::Utc),
        other => crate::cells::offset_seconds(other).map(Clock::Offset),
    };
    if clock.is_none() {
        table.fault(
            "clock",
            "key-unknown-word",
            "not a clock",
            &format!("\"{text}\""),
            "site · standard · utc · an offset such as \"-06:00\"",
            "say what the logger's clock shows",
        );
    }
    clock
}

/// `[[climate.clock_checks]]`, sorted by what the logger said.
fn read_checks(table: &Table<'_, '_>) -> Vec<ClockCheck> {
    let mut checks: Vec<ClockCheck> = table
        .tables("clock_checks")
        .iter()
        .filter_map(|check| {
            let (logger, truly) = (civil_seconds(check, "logger"), civil_seconds(check, "true"));
            check.finish();
            Some(ClockCheck { logger: logger?, truly: truly? })
        })
        .collect();
    checks.sort_by_key(|c| (c.logger, c.truly));
    let backward = checks.windows(2).any(|w| matches!(w, [a, b] if b.logger == a.logger || b.truly <= a.truly));
    if backward {
        table.fault(
            "clock_checks",
            "clock-checks-disorder",
            "checks of a clock that contradict each other",
            "a later reading of the logger at an earlier true time, or one reading twice",
            "readings and true times that both go forward",
            "correct the times; a clock that was set in between needs a [[climate]] of its own for the files after it",
        );
    }
    checks
}

fn civil_seconds(check: &Table<'_, '_>, key: &str) -> Option<i64> {
    let text = check.required_text(key)?;
    let stamp: Option<jiff::civil::DateTime> = text.trim().replace(' ', "T").parse().ok();
    if stamp.is_none() {
        check.fault(
            key,
            "time-unreadable",
            "not a day and time",
            &format!("\"{text}\""),
            "a day and time such as \"2031-07-04 06:00\"",
            "correct the time",
        );
    }
    let stamp = stamp?;
    let clock = i64::from(stamp.hour()) * 3600 + i64::from(stamp.minute()) * 60 + i64::from(stamp.second());
    Some(crate::cells::days_of(stamp.date()) * 86_400 + clock)
}

pub(super) fn read_climate(table: &Table<'_, '_>, context: &Context<'_>) -> ClimateLog {
    let interval_minutes = table.number("interval_minutes");
    if let Some(minutes) = interval_minutes
        && !(minutes > 0.0 && minutes <= 1440.0)
    {
        table.fault(
            "interval_minutes",
            "interval-impossible",
            "not an interval between records",
            &minutes.to_string(),
            "more than 0 and at most 1440 minutes",
            "correct the number",
        );
    }
    let climate = ClimateLog {
        log: read_log(table, LogKind::Climate, context),
        house: table.text("house"),
        clock: read_clock(table),
        clock_checks: read_checks(table),
        interval_minutes: interval_minutes.filter(|m| *m > 0.0 && *m <= 1440.0),
        light_is: match table.one_of("light_is", &["instant", "mean"]) {
            Some("mean") => LightIs::Mean,
            Some(_) => LightIs::Instant,
            None => LightIs::Undeclared,
        },
    };
    table.finish();
    climate
}

pub(super) fn read_root_zone(table: &Table<'_, '_>, context: &Context<'_>) -> RootZoneLog {
    let plants = table.number("plants");
    if plants.is_some_and(|p| p <= 0.0) {
        table.fault("plants", "key-not-a-count", "not a number of plants", "zero or less", "a number above 0", "correct the number");
    }
    let root_zone =
        RootZoneLog { log: read_log(table, LogKind::RootZone, context), house: table.text("house"), plants: plants.filter(|p| *p > 0.0) };
    table.finish();
    root_zone
}

pub(super) const EVENTS: [&str; 6] = ["plant-death", "missed-irrigation", "missed-pick", "lost-pick", "sensor-change", "note"];

/// The event that a word of the closed list names.
pub(crate) fn event(word: &str) -> Option<Event> {
    Some(match word {
        "plant-death" => Event::PlantDeath,
        "missed-irrigation" => Event::MissedIrrigation,
        "missed-pick" => Event::MissedPick,
        "lost-pick" => Event::LostPick,
        "sensor-change" => Event::SensorChange,
        "note" => Event::Note,
        _ => return None,
    })
}

pub(super) fn read_diary(table: &Table<'_, '_>, context: &Context<'_>) -> DiaryLog {
    let diary = DiaryLog {
        log: read_log(table, LogKind::Diary, context),
        events: read_words(table, "events", &EVENTS, |w| event(w).unwrap_or(Event::Note)),
    };
    table.finish();
    diary
}
