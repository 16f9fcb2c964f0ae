//! Whole numbers of a unit, each with what it is counted over: fruit over plants, culls over fruit, deaths over plants.
//!
//! METHOD: a pick of which some fruit was weighed and not counted is left out with all its rows. The unit's exposure is
//! lowered by that pick's share of the unit's mass, as if it had borne as many fruit a kilogram as the others. Below
//! [`ENOUGH`] of the mass counted, the unit has no count (common practice, no source).
use super::Grown;
use super::picks::PickDay;
use super::plants::Plants;
use super::season::plant_days;
use crate::responses::key;
use crate::tables::Counted;
use crosshouse_logs::tables::{Event, Unit};
use std::collections::BTreeMap;

/// Least share of a unit's mass in picks that were counted.
pub(super) const ENOUGH: f64 = 0.8;

/// Every count and portion of a unit that can be told from `picked`, by the response's key.
pub(super) fn of_unit(grown: &Grown<'_>, index: usize, unit: &Unit, plants: &Plants, picked: &[PickDay]) -> BTreeMap<String, Counted> {
    let mut told = BTreeMap::new();
    let mut tell = |key: &str, number: f64, of: Option<f64>| {
        if let Some(of) = of.filter(|of| of.is_finite() && *of > 0.0) {
            told.insert(key.to_owned(), Counted { number, of });
        }
    };
    let set = f64::from(unit.plants);
    if let Some(fruit) = Fruit::of(picked).filter(|_| grown.logs_count && grown.states.told(index)) {
        tell(key::FRUIT_PER_PLANT, fruit.number, Some(set * fruit.covered));
        let full_seasons = plant_days(grown, index).zip(grown.season_days).map(|(days, season)| days / f64::from(season));
        tell(key::FRUIT_PLANT_DAY_SEASON, fruit.number, full_seasons.map(|plants| plants * fruit.covered));
        tell(key::CULL_SHARE_BY_NUMBER, fruit.culls, Some(fruit.number).filter(|_| grown.logs_grades));
    }
    if deaths_are_told(grown) {
        tell(key::PLANTS_LOST, f64::from(unit.plants - plants.left()), Some(set));
    }
    told
}

/// The shares and rates of the counts, put beside the other responses.
pub(super) fn beside(mut responses: BTreeMap<String, f64>, counted: &BTreeMap<String, Counted>) -> BTreeMap<String, f64> {
    responses.extend(counted.iter().map(|(key, c)| (key.clone(), c.number / c.of)));
    responses
}

/// Deaths stand in the diary: without one nobody says that plants lived, and a death of no unit is missing in some unit.
fn deaths_are_told(grown: &Grown<'_>) -> bool {
    let diary = &grown.tables.diary;
    !diary.is_empty() && !diary.iter().any(|e| e.event == Event::PlantDeath && e.unit.is_none())
}

/// Fruit of the picks that were counted whole.
pub(super) struct Fruit {
    pub number: f64,
    pub culls: f64,
    /// Share of the unit's mass in these picks, 0–1.
    pub covered: f64,
}

impl Fruit {
    /// `None` where too little was counted.
    pub fn of(picked: &[PickDay]) -> Option<Fruit> {
        let counted = || picked.iter().filter(|d| d.uncounted == 0);
        let (mass, counted_mass): (f64, f64) = (picked.iter().map(PickDay::total).sum(), counted().map(PickDay::total).sum());
        let covered = if mass > 0.0 { counted_mass / mass } else { 1.0 };
        let number: f64 = counted().map(|d| d.fruit).sum();
        let culls: f64 = counted().map(|d| d.fruit - d.fruit_marketable).sum();
        let whole = |x: f64| (x - x.round()).abs() < 1e-6;
        (covered >= ENOUGH && whole(number) && whole(culls)).then(|| Fruit { number: number.round(), culls: culls.round(), covered })
    }
}
