//! Each unit's true season: its mass (cell mean + block + unit deviation, normal), its number of fruit (Poisson about the
//! exponential of the same deviations, scaled) and of culls among them (binomial about a share of its own).
use super::chance::Chance;
use super::station::Station;
use super::truth::{Effects, FRUIT_BLOCK_SD, FRUIT_UNIT_SD, UnitTruth, tidy, traits};
use super::units::{PLANTS, Unit};
use std::collections::BTreeMap;

/// The season of every unit that is no guard, in plan order.
pub fn of_station(station: Station, units: &[Unit], effects: &Effects, seed: u64) -> Vec<UnitTruth> {
    let mut chance = Chance::of(seed, &format!("yield {}", station.id()));
    let mut blocks = BTreeMap::new();
    let mut grown = Vec::new();
    for unit in units.iter().filter(|u| !u.guard) {
        let block = *blocks.entry(unit.block).or_insert_with(|| chance.normal(effects.block_sd));
        let own = chance.normal(effects.unit_sd);
        let deviates = (block / effects.block_sd, own / effects.unit_sd);
        let (fruit, culls) = numbers(station, unit, effects, deviates, seed);
        grown.push(UnitTruth {
            site: station,
            unit: unit.id.clone(),
            block: unit.block,
            medium: unit.medium,
            container: unit.container,
            kg_per_plant: tidy(effects.cell(station, unit.medium, unit.container) + block + own),
            fruit,
            culls,
        });
    }
    grown
}

/// Spread of a unit's own share of culls about its treatment's.
const CULLS_UNIT_SD: f64 = 0.025;

/// Fruit and culls among them, from a stream of the unit's own.
fn numbers(station: Station, unit: &Unit, effects: &Effects, (block, own): (f64, f64), seed: u64) -> (u32, u32) {
    let mut chance = Chance::of(seed, &format!("fruit {} {}", station.id(), unit.id));
    let middle = effects.fruit(station, unit.medium, unit.container) * f64::from(PLANTS);
    let fruit = chance.poisson(middle * (FRUIT_BLOCK_SD * block + FRUIT_UNIT_SD * own).exp());
    let share = traits(unit.medium, unit.container).culls_of_fruit + chance.normal(CULLS_UNIT_SD);
    let culls = (0..fruit).filter(|_| chance.happens(share)).count();
    (fruit, culls as u32)
}
