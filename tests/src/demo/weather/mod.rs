//! The house climate of a season, record by record: sun and cloud, air, humidity, CO₂.
mod air;
mod sky;

use super::chance::Chance;
use super::station::{Facts, Station, day_after, days_between};
use jiff::civil::{Date, Time, date};
use jiff::tz::{Offset, TimeZone};
use std::collections::BTreeMap;

/// What stood in the house, unrounded: the loggers' habits come later.
#[derive(Debug, Clone, Copy)]
pub struct Reading {
    /// Seconds since 1970-01-01T00:00:00Z.
    pub second: i64,
    pub celsius: f64,
    pub humidity: f64,
    /// µmol m⁻² s⁻¹
    pub ppfd: f64,
    /// µmol/mol
    pub co2: f64,
}

pub struct Weather {
    pub readings: Vec<Reading>,
    /// Light sum of each day of standard time, mol m⁻² d⁻¹: what the plants drink by.
    pub light_sums: BTreeMap<Date, f64>,
}

/// Marl Ridge's logger wrote every minute until this day, every ten minutes from then on.
pub const MARL_RIDGE_SLOWER: Date = date(2031, 4, 17);

/// # Errors
/// A day that cannot be placed in time: none of the stations' days.
pub fn of_station(station: Station, seed: u64) -> Result<Weather, jiff::Error> {
    let facts = station.facts();
    let mut chance = Chance::of(seed, &format!("weather {}", station.id()));
    let days = days_between(facts.transplanted, facts.ended) + 1;
    let spells = sky::spells(days, &mut chance);
    let mut air = air::House::new(&facts);
    let mut cloud = sky::Cloud::default();
    let mut weather = Weather { readings: Vec::new(), light_sums: BTreeMap::new() };
    for (n, spell) in spells.iter().enumerate() {
        let day = day_after(facts.transplanted, n as i64);
        let step = interval(station, day);
        let midnight = midnight(&facts, day)?;
        let mut light_sum = 0.0;
        for second in (midnight..midnight + 86_400).step_by(step as usize) {
            let ppfd = cloud.ppfd(&facts, second, spell, step as f64, &mut chance);
            light_sum += ppfd * step as f64 / 1e6;
            weather.readings.push(air.reading(&facts, second, ppfd, spell, step as f64, &mut chance));
        }
        weather.light_sums.insert(day, light_sum);
    }
    Ok(weather)
}

/// Seconds between records.
fn interval(station: Station, day: Date) -> i64 {
    match station {
        Station::TarnHollow | Station::SedgeFlats => 300,
        Station::MarlRidge if day < MARL_RIDGE_SLOWER => 60,
        Station::MarlRidge | Station::WithyEnd => 600,
    }
}

/// Midnight of the station's standard time.
fn midnight(facts: &Facts, day: Date) -> Result<i64, jiff::Error> {
    let standard = TimeZone::fixed(Offset::from_seconds(facts.standard_offset() as i32)?);
    Ok(standard.to_timestamp(day.to_datetime(Time::midnight()))?.as_second())
}

/// Share of a former deviation that is left after `step` seconds, for a memory of `memory` seconds.
fn left_after(step: f64, memory: f64) -> f64 {
    (-step / memory).exp()
}
