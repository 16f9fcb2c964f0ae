//! Doubts about values that are kept: one rule a file, its limits with their sources in `rules.toml`, where
//! a season may change them. A rule never changes a value.
//!
//! **Rules about a logger's records** are [`Rule`]s: a struct with a small state that sees the clean records
//! of one logger one by one in time order ([`Rule::see`]) and tells at the end ([`Watch::finish`]) what it
//! found, as runs of records and counts of rows by file (`Marks`). Records come in batches ([`Watch::see`]),
//! and a rule passes over a batch that cannot concern it ([`Rule::see_all`]); nothing holds the records
//! themselves; so the same rules serve a table in memory and a pass over a file that does not fit there. To add
//! one: a file with a struct that implements [`Rule`], a field in [`Watch`] and its line in `each!`, an entry
//! in `rules.toml`.
//!
//! **Clocks** are compared when all loggers of a site are read, from the days that each watch kept (`clocks`).
//!
//! **Rules about picks and about root zones** look at the whole table of a site, which is small.
mod after_death;
mod batch;
mod climate;
mod clocks;
mod copies;
mod drain;
mod ec_step;
mod fruit_mass;
mod gaps;
mod heavy_pick;
mod humidity;
mod light_at_night;
mod light_lost;
pub(crate) mod limits;
mod marks;
mod missing_day;
mod other_scale;
mod out_of_season;
mod picked_when_missed;
mod rules;
#[cfg(test)]
mod sample;
mod spike;
mod step;
mod stuck_sensor;
mod sun;
mod told_by_reading;
mod trace;
mod unusual_climate;
mod unusual_root_zone;
mod wrong_scale;

pub(crate) use batch::Rows;
pub(crate) use climate::{ClimateDoubt, Column, Logger, Reading, Rule, Watch};
pub(crate) use clocks::{Clock, clocks};
pub(crate) use copies::{SAME_ROW_IN_TWO_FILES, SAME_ROW_TWICE};
pub(crate) use marks::{FileRows, Spot};
pub(crate) use rules::{Setting, plain, rules};
pub(crate) use trace::Trace;

use crate::tables::{DiaryEntry, Pick, RootZone, Unit};
use jiff::civil::Date;

/// A doubt about some picks or root-zone rows: its code, one sentence, and which.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Doubt {
    pub code: &'static str,
    /// `{n}` stands for how many rows it is, in each file.
    pub text: String,
    /// Indices of the rows.
    pub rows: Vec<usize>,
}

impl Doubt {
    pub fn new(code: &'static str, text: String, rows: Vec<usize>) -> Self {
        Doubt { code, text, rows }
    }

    /// The sentence for `rows` rows of one file.
    pub fn told(&self, rows: usize, one: &str) -> String {
        self.text.replace("{n}", &many(rows, one))
    }
}

/// Whether rows carry this doubt; if not, it is told alone, for it doubts what lies between or round them.
pub(crate) fn marks_rows(code: &str) -> bool {
    rules().get(code).is_none_or(|r| r.marks)
}

/// What the rules about picks look at.
pub(crate) struct Picks<'p> {
    pub seeded: Option<Date>,
    pub transplanted: Option<Date>,
    pub ended: Option<Date>,
    pub units: &'p [Unit],
    pub diary: &'p [DiaryEntry],
    pub picks: &'p [Pick],
}

impl Picks<'_> {
    /// Indices of the picks that fit.
    fn those(&self, wanted: impl Fn(&Pick) -> bool) -> Vec<usize> {
        self.picks.iter().enumerate().filter(|(_, p)| wanted(p)).map(|(i, _)| i).collect()
    }
}

fn settled(all: impl IntoIterator<Item = Vec<Doubt>>, setting: &Setting<'_>) -> Vec<Doubt> {
    all.into_iter().flatten().filter(|d| !d.rows.is_empty() && !setting.is_off(d.code)).collect()
}

pub(crate) fn of_picks(picks: &Picks<'_>, setting: &Setting<'_>) -> Vec<Doubt> {
    let all = [
        copies::of(picks, setting),
        out_of_season::of(picks, setting),
        after_death::of(picks),
        fruit_mass::of(picks, setting),
        heavy_pick::of(picks, setting),
        picked_when_missed::of(picks),
        missing_day::of(picks, setting),
    ];
    settled(all, setting)
}

pub(crate) fn of_root_zone(rows: &[RootZone], setting: &Setting<'_>) -> Vec<Doubt> {
    let all = [
        drain::of(rows, setting),
        unusual_root_zone::of(rows, setting),
        ec_step::of(rows, setting),
        wrong_scale::of_root_zone(rows, setting),
    ];
    settled(all, setting)
}

/// "1 pick", "3 picks".
pub(crate) fn many(n: usize, one: &str) -> String {
    if n == 1 { format!("1 {one}") } else { format!("{n} {one}s") }
}

/// "90 min", "5 h 20 min", "48 h".
pub(crate) fn spell(seconds: i64) -> String {
    let minutes = (seconds + 30) / 60;
    match (minutes / 60, minutes % 60) {
        (0, m) => format!("{m} min"),
        (h, 0) => format!("{h} h"),
        (h, m) => format!("{h} h {m} min"),
    }
}

/// Seconds since 1970 of some clock as that clock's date and time.
pub(crate) fn stamp(local: i64) -> String {
    jiff::Timestamp::from_second(local).map_or_else(
        |_| local.to_string(),
        |t| {
            let civil = jiff::tz::Offset::UTC.to_datetime(t);
            format!("{} {:02}:{:02}", civil.date(), civil.hour(), civil.minute())
        },
    )
}
