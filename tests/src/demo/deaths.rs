//! Plant deaths: rare, late, and at random (not by treatment, not by yield).
use super::chance::Chance;
use super::station::{Station, day_after, days_between};
use super::units::Unit;
use jiff::civil::Date;

/// One plant of a unit found dead.
#[derive(Debug, Clone)]
pub struct Death {
    /// Index into the plan.
    pub unit: usize,
    pub day: Date,
    pub cause: &'static str,
}

const CAUSES: [&str; 3] = ["stem rot at the base", "stem broken at the wire", "wilted, root rot"];

/// None to three a station, at most one plant a container: its mate lives on.
pub fn of_station(station: Station, units: &[Unit], seed: u64) -> Vec<Death> {
    let mut chance = Chance::of(seed, &format!("deaths {}", station.id()));
    let facts = station.facts();
    let season = days_between(facts.transplanted, facts.ended) as f64;
    let mut standing: Vec<usize> = (0..units.len()).filter(|&u| units.get(u).is_some_and(|u| !u.guard)).collect();
    chance.shuffle(&mut standing);
    let number = chance.below(4);
    let mut death = |unit| Death {
        unit,
        day: day_after(facts.transplanted, (season * chance.between(0.62, 0.92)) as i64),
        cause: CAUSES.get(chance.below(CAUSES.len())).copied().unwrap_or_default(),
    };
    let mut deaths: Vec<Death> = standing.into_iter().take(number).map(&mut death).collect();
    deaths.sort_by_key(|d| (d.day, d.unit));
    deaths
}
