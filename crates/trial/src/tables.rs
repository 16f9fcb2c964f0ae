//! Trial tables: what [`build`](crate::build()) hands on. Plain structs; polars stops in this crate.
use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Everything per unit, week, house and zone of a season.
#[derive(Debug, Clone, Default, Serialize, Deserialize)]
pub struct TrialTables {
    pub sites: Vec<SiteTrial>,
    /// The design, judged before anything is fitted.
    pub design: Design,
    /// Unit text of each free measure of the harvest logs, by its name.
    pub measure_units: BTreeMap<String, String>,
    /// Results that cannot be given, each with its reason ("no per-m² yield at Withy End: the plan states no area basis").
    pub not_given: Vec<NotGiven>,
}

/// A result that the declarations do not allow.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct NotGiven {
    pub site: String,
    /// Key of the response or table, such as `marketable-yield-per-m2`.
    pub what: String,
    pub why: String,
    pub mend: String,
}

#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct SiteTrial {
    pub site: String,
    pub name: String,
    pub transplanted: Option<Date>,
    pub ended: Option<Date>,
    pub first_pick: Option<Date>,
    pub last_pick: Option<Date>,
    pub pick_days: u32,
    pub units: Vec<UnitSeason>,
    pub weeks: Vec<UnitWeek>,
    /// One a unit and pick day of the site: the states behind the completeness calendar.
    pub states: Vec<UnitDay>,
    pub cumulative: Vec<CumulativePoint>,
    pub houses: Vec<HouseDay>,
    pub zones: Vec<ZoneDay>,
    pub water: Vec<WaterSeason>,
}

/// One unit's season. Absent = could not be told (reason in `TrialTables::not_given` or `state`).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct UnitSeason {
    pub unit: String,
    pub house: String,
    pub block: Option<String>,
    pub line: Option<String>,
    pub bench: Option<String>,
    pub levels: BTreeMap<String, String>,
    pub plants_set: u32,
    pub plants_alive_at_end: u32,
    pub plant_days: Option<f64>,
    pub area_m2: Option<f64>,
    pub row: Option<u32>,
    pub position: Option<u32>,
    pub picks: u32,
    pub picks_missed: u32,
    /// kg a unit
    pub total: f64,
    pub marketable: f64,
    pub cull: f64,
    /// fruit
    pub fruit: Option<f64>,
    pub fruit_marketable: Option<f64>,
    /// Every response of the list in the season-file contract, by key, where it can be told.
    /// Units: kg, g, 1, d as the key's entry in [`responses`](crate::responses()) says.
    pub responses: BTreeMap<String, f64>,
    /// The same without rows that carry flags: sums made from unflagged picks alone.
    pub responses_unflagged: BTreeMap<String, f64>,
    /// The numbers behind responses of counts and portions, by key: what a model of counts is fitted to.
    pub counted: BTreeMap<String, Counted>,
    /// The same from unflagged picks alone.
    pub counted_unflagged: BTreeMap<String, Counted>,
    pub flagged_picks: u32,
}

/// A whole number and what it is counted over; the response is `number / of`.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Counted {
    pub number: f64,
    /// A count's exposure (plants, lowered by what was picked and not counted), or the number that a portion is out of.
    pub of: f64,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct UnitWeek {
    pub unit: String,
    /// Trial week: days 0–6 after transplanting are week 1.
    pub week: i32,
    pub from: Date,
    pub total: f64,
    pub marketable: f64,
    pub fruit: Option<f64>,
    pub picks: u32,
    pub picks_missed: u32,
    pub mean_fruit_mass_g: Option<f64>,
    pub cull_share: Option<f64>,
    pub plant_days: f64,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum PickState {
    Picked,
    /// Visited, nothing ready.
    Zero,
    /// Not visited: no record is no zero.
    Missed,
    /// Fruit picked, its record lost.
    Lost,
    /// All plants of the unit dead.
    Dead,
    /// Before transplanting or after the end.
    NotDue,
    /// Unlisted, and the site file does not say what that means.
    Unknown,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct UnitDay {
    pub unit: String,
    pub day: Date,
    pub state: PickState,
}

/// Mean cumulative marketable yield, kg per plant set, of one treatment at one site.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CumulativePoint {
    pub levels: BTreeMap<String, String>,
    /// Days after transplanting (after the site's first pick where no transplanting date is stated).
    pub day: i32,
    pub mean_kg_per_plant: f64,
    pub units: u32,
}

/// One house and day of the site's standard time.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct HouseDay {
    pub house: String,
    pub day: Option<Date>,
    pub records: u32,
    /// Share of the day covered by records, 0–1.
    pub completeness: f64,
    pub mean: Option<f64>,
    pub minimum: Option<f64>,
    pub maximum: Option<f64>,
    pub day_mean: Option<f64>,
    pub night_mean: Option<f64>,
    /// Mean of the records' humidity, %.
    pub humidity: Option<f64>,
    /// Mean of the records' VPD, kPa (FAO-56 eq. 11).
    pub vpd: Option<f64>,
    /// mol m⁻² d⁻¹, blank below 80 % coverage of the light record
    pub dli: Option<f64>,
    /// True between 80 and 95 % coverage.
    pub dli_is_estimate: bool,
    /// °C d
    pub degree_days: Option<f64>,
    pub hours_outside_band: Option<f64>,
    pub flagged: u32,
}

/// One zone (line, bench or house) and day.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct ZoneDay {
    pub zone: String,
    pub house: String,
    pub day: Option<Date>,
    pub feed_volume: Option<f64>,
    pub drain_volume: Option<f64>,
    pub drain_fraction: Option<f64>,
    pub feed_ec: Option<f64>,
    pub drain_ec: Option<f64>,
    pub ec_rise: Option<f64>,
    pub feed_ph: Option<f64>,
    pub drain_ph: Option<f64>,
    pub ph_drift: Option<f64>,
    /// L: feed − drain
    pub water_used: Option<f64>,
    pub moisture: Option<f64>,
    pub flagged: bool,
}

/// Water and yield of one zone over the season.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct WaterSeason {
    pub zone: String,
    pub house: String,
    pub days: u32,
    pub applied_l: f64,
    pub drained_l: f64,
    pub used_l: f64,
    pub drain_fraction: Option<f64>,
    /// kg m⁻³ of water applied, and of water used; absent where the plants behind the volumes are not declared
    pub productivity_applied: Option<f64>,
    pub productivity_used: Option<f64>,
}

/// The design as grown: what it can tell and what not.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Design {
    pub factors: Vec<Factor>,
    /// Cells present: site × all factor levels, with replication.
    pub cells: Vec<Cell>,
    /// Sets of treatments and sites that are connected (share cells); more than one: answers do not cross sets.
    pub connected: Vec<ConnectedSet>,
    /// Plain findings, worst first: "perlite was grown at every site, blend at three of four: …".
    pub findings: Vec<DesignFinding>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Factor {
    pub name: String,
    pub label: String,
    /// In order of display.
    pub levels: Vec<String>,
    pub level_labels: BTreeMap<String, String>,
    /// house · line · bench · block · unit · plant
    pub unit_of_assignment: String,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Cell {
    pub site: String,
    pub levels: BTreeMap<String, String>,
    /// Analysed units (guards left out), and how many distinct units of assignment carry the cell.
    pub units: u32,
    pub blocks: u32,
    pub plants: u32,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ConnectedSet {
    /// For the named factor: levels and sites that hang together.
    pub factor: String,
    pub levels: Vec<String>,
    pub sites: Vec<String>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DesignFinding {
    /// Stable code: `confounded-with-site`, `confounded-with-factor`, `disconnected`, `empty-cell`, `single-level`,
    /// `unreplicated-assignment`, `assignment-contradicted`, `one-level-at-site`.
    pub code: String,
    pub factors: Vec<String>,
    pub sites: Vec<String>,
    /// What it means, in words of the trial.
    pub text: String,
    /// What would mend it: which cell to grow where.
    pub mend: String,
}
