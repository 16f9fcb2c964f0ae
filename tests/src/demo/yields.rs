//! Each unit's true season: cell mean + block + unit deviation, normal.
use super::chance::Chance;
use super::station::Station;
use super::truth::{Effects, UnitTruth, tidy};
use super::units::Unit;
use std::collections::BTreeMap;

/// The season of every unit that is no guard, in plan order.
pub fn of_station(station: Station, units: &[Unit], effects: &Effects, seed: u64) -> Vec<UnitTruth> {
    let mut chance = Chance::of(seed, &format!("yield {}", station.id()));
    let mut blocks = BTreeMap::new();
    let mut grown = Vec::new();
    for unit in units.iter().filter(|u| !u.guard) {
        let block = *blocks.entry(unit.block).or_insert_with(|| chance.normal(effects.block_sd));
        let own = chance.normal(effects.unit_sd);
        grown.push(UnitTruth {
            site: station,
            unit: unit.id.clone(),
            block: unit.block,
            medium: unit.medium,
            container: unit.container,
            kg_per_plant: tidy(effects.cell(station, unit.medium, unit.container) + block + own),
        });
    }
    grown
}
