//! The clean tables: what [`crate::read_season`] hands on. Canonical units, UTC instants with the
//! site's civil date, every row with its file and row number. Plain data.
use crate::declare::{LeaveOut, LimitChange};
use crosshouse_readings::said::{FileAccount, Flag, Inference};
use crosshouse_readings::{Fault, SetAsides, Source};
use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// All sites of a season, cleaned.
#[derive(Debug, Clone, Default, Serialize, Deserialize)]
pub struct CleanTables {
    pub sites: Vec<SiteTables>,
    /// One a file (or sheet), in reading order; [`crosshouse_readings::FileId`] indexes it.
    pub files: Vec<FileAccount>,
    pub set_aside: SetAsides,
    pub flags: Vec<Flag>,
    pub inferences: Vec<Inference>,
    /// Faults that a person should mend, fatal ones included.
    pub faults: Vec<Fault>,
    /// Limits of doubts that the season changed, with its reasons.
    #[serde(default)]
    pub limit_changes: Vec<LimitChange>,
    /// Doubts whose rows the season leaves out, with its reasons.
    #[serde(default)]
    pub left_out: Vec<LeaveOut>,
}

/// One site's declared facts and clean logs.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct SiteTables {
    pub site: Site,
    pub units: Vec<Unit>,
    pub picks: Vec<Pick>,
    /// Units written up on a day by harvest rows of which nothing could be kept: neither a harvest
    /// nor a zero, whatever `unlisted` says.
    #[serde(default)]
    pub unread: Vec<UnreadPick>,
    /// Names and unit texts of the free measures in `Pick::measures`, in order.
    pub measures: Vec<Measure>,
    /// One a climate logger declared, records in time order.
    pub climate: Vec<Climate>,
    pub root_zone: Vec<RootZone>,
    pub diary: Vec<DiaryEntry>,
}

/// Facts that a site file states.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Site {
    /// Short identifier, also the category level in models: the site file's `id`, or its file stem.
    pub id: String,
    pub name: String,
    /// IANA name.
    pub time_zone: String,
    pub latitude: Option<f64>,
    pub longitude: Option<f64>,
    pub seeded: Option<Date>,
    pub transplanted: Option<Date>,
    /// Last day of the trial at this site.
    pub ended: Option<Date>,
    /// What a unit without a row on a pick day means.
    pub unlisted: Unlisted,
    /// Days on which the site picked, in order: every day with at least one kept harvest row.
    pub pick_days: Vec<Date>,
    /// The same of each house that has kept rows: houses of one site may be picked on different days.
    #[serde(default)]
    pub house_pick_days: BTreeMap<String, Vec<Date>>,
    /// Pick days that the diary says were missed (whole site or one house), with the reason.
    pub missed_days: Vec<MissedPick>,
    /// Free facts for the report (`house` kind, cover, spacing …), as declared.
    pub houses: Vec<House>,
    /// The site declared that it handles acids or stock tanks, discharges drain, and so on: caution names.
    pub practices: Vec<String>,
}

impl Site {
    /// Days on which a house was picked: its own, or the site's where nothing is kept of any house by name.
    pub fn pick_days_of(&self, house: &str) -> &[Date] {
        match self.house_pick_days.get(house) {
            Some(days) => days,
            None if self.house_pick_days.is_empty() => &self.pick_days,
            None => &[],
        }
    }
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct House {
    pub id: String,
    /// `glasshouse`, `high tunnel` …, as declared.
    pub kind: String,
    /// Floor area basis of per-m² results, m², with its wording; absent: no per-m² result.
    pub area_basis: Option<String>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Unlisted {
    /// Visited, nothing ready: a harvest of zero.
    Zero,
    /// Not visited: nothing is known.
    Missed,
    /// Nobody declared it: a question to answer.
    Undeclared,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct MissedPick {
    pub from: Date,
    pub to: Date,
    pub house: Option<String>,
    pub reason: String,
}

/// One experimental unit of the plan.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Unit {
    pub id: String,
    pub house: String,
    pub block: Option<String>,
    /// Irrigation line or bench, where the plan has them.
    pub line: Option<String>,
    pub bench: Option<String>,
    /// Level of each factor of the season file, by factor name.
    pub levels: BTreeMap<String, String>,
    /// Plants set in the unit.
    pub plants: u32,
    /// Ground area of the unit in m², by the house's stated area basis.
    pub area_m2: Option<f64>,
    /// Place in the house, for the house plan: row and position along it, from 1.
    pub row: Option<u32>,
    pub position: Option<u32>,
    /// A guard unit: listed, never analysed.
    pub guard: bool,
    pub source: Source,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum GradeKind {
    Marketable,
    Cull,
}

/// One kept row of a harvest log. Index `unit` is into [`SiteTables::units`].
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Pick {
    pub unit: usize,
    pub day: Date,
    /// Grade as written, and what the site file says it is. A log without grades: marketable.
    pub grade: Option<String>,
    pub kind: GradeKind,
    /// kg
    pub mass: Option<f64>,
    /// fruit
    pub count: Option<f64>,
    /// Free measures, in the unit declared, in the order of [`SiteTables::measures`].
    pub measures: Vec<Option<f64>>,
    pub source: Source,
    /// Codes of the flags that this row carries.
    pub flags: Vec<String>,
}

/// A harvest row whose unit and day are known and whose values are not.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct UnreadPick {
    pub unit: usize,
    pub day: Date,
    /// Why, as in the set-aside list.
    pub code: String,
    pub source: Source,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Measure {
    pub name: String,
    /// Unit as declared; told, not converted.
    pub unit: String,
    /// How records of one unit combine over the season.
    pub combine: Combine,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Combine {
    Sum,
    Mean,
}

/// The records of one climate logger, column by column, in time order. `NaN` = no value.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Climate {
    pub house: String,
    /// Nominal interval between records, s.
    pub interval_s: u32,
    /// Seconds since 1970-01-01T00:00:00Z.
    pub instant: Vec<i64>,
    /// Seconds to add to the instant for the site's standard time (no daylight saving), constant.
    pub standard_offset_s: i32,
    /// °C
    pub temperature: Vec<f64>,
    /// %, 0–100
    pub humidity: Vec<f64>,
    /// PPFD, µmol m⁻² s⁻¹; empty where the logger has no light sensor
    pub light: Vec<f64>,
    /// CO₂, µmol/mol; empty where not logged
    pub co2: Vec<f64>,
    /// True where the light values are period means rather than readings at the instant.
    pub light_is_mean: bool,
    pub source: Vec<Source>,
    /// True where the record carries a flag.
    pub flagged: Vec<bool>,
}

/// One kept row of a root-zone log: a zone is an irrigation line, bench or house.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RootZone {
    pub zone: String,
    pub house: String,
    pub day: Date,
    /// L entering the containers of the zone that are measured, and L caught as drain from the same.
    pub feed_volume: Option<f64>,
    pub drain_volume: Option<f64>,
    /// dS/m at 25 °C
    pub feed_ec: Option<f64>,
    pub drain_ec: Option<f64>,
    pub feed_ph: Option<f64>,
    pub drain_ph: Option<f64>,
    /// % v/v
    pub moisture: Option<f64>,
    /// Plants whose water the volumes are, where declared: needed for water productivity.
    pub plants: Option<f64>,
    pub source: Source,
    pub flags: Vec<String>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DiaryEntry {
    pub day: Date,
    /// Last day of a spell; the same day where the entry is of one day.
    pub until: Date,
    pub event: Event,
    pub unit: Option<usize>,
    pub house: Option<String>,
    /// Plants, for deaths.
    pub plants: Option<u32>,
    pub note: String,
    pub source: Source,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Event {
    PlantDeath,
    MissedIrrigation,
    MissedPick,
    /// Fruit was picked but its record or the fruit is lost.
    LostPick,
    SensorChange,
    Note,
}
