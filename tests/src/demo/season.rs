//! A season in memory.
use super::deaths::{self, Death};
use super::picking::{self, Pick};
use super::station::Station;
use super::truth::{EFFECTS, Effects, Truth, UnitTruth};
use super::units::{self, Unit};
use super::weather::{self, Weather};
use super::yields;

/// Seed of the committed demo season.
pub const SEED: u64 = 20_310_324;

/// What to generate. The harvest alone takes a few milliseconds a season.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Parts {
    /// Plan, harvest and diary.
    Harvest,
    /// Climate and root zone too.
    All,
}

pub struct Generated {
    pub seed: u64,
    pub parts: Parts,
    pub truth: Truth,
    /// In the order of [`Station::ALL`].
    pub stations: Vec<StationSeason>,
}

pub struct StationSeason {
    pub station: Station,
    pub units: Vec<Unit>,
    pub picks: Vec<Pick>,
    pub deaths: Vec<Death>,
    /// Absent with [`Parts::Harvest`].
    pub weather: Option<Weather>,
}

/// The demo season of a seed, whole.
///
/// # Errors
/// Only if the time-zone data lack a station's zone.
pub fn season(seed: u64) -> Result<Generated, jiff::Error> {
    season_of(seed, &EFFECTS, Parts::All)
}

/// A season of other truths, or only its harvest.
///
/// # Errors
/// As [`season`].
pub fn season_of(seed: u64, effects: &Effects, parts: Parts) -> Result<Generated, jiff::Error> {
    let mut stations = Vec::new();
    let mut grown = Vec::new();
    for station in Station::ALL {
        let units = units::plan(station, seed);
        let truth = yields::of_station(station, &units, effects, seed);
        stations.push(StationSeason {
            station,
            picks: picking::of_station(station, &truth, seed),
            deaths: deaths::of_station(station, &units, seed),
            weather: if parts == Parts::All { Some(weather::of_station(station, seed)?) } else { None },
            units,
        });
        grown.extend(truth);
    }
    Ok(Generated { seed, parts, truth: Truth::of(seed, effects, grown), stations })
}

/// The true response of every unit, without picks or logs: for coverage tests of the models alone.
pub fn unit_yields(seed: u64, effects: &Effects) -> Vec<UnitTruth> {
    let of_station = |s| yields::of_station(s, &units::plan(s, seed), effects, seed);
    Station::ALL.into_iter().flat_map(of_station).collect()
}
