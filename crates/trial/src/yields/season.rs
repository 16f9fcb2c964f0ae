//! A unit's season: its sums, and every response that can be told.
use super::picks::PickDay;
use super::plants::Plants;
use super::{Grown, counts, measures};
use crate::calendar::{after, days};
use crate::responses::key;
use crate::tables::UnitSeason;
use crosshouse_logs::tables::Unit;
use std::collections::BTreeMap;

pub(super) fn unit_season(grown: &Grown<'_>, index: usize, unit: &Unit) -> UnitSeason {
    let site = &grown.tables.site;
    let plants = Plants::of(grown.tables, index);
    let all = Grown::days_of(&grown.all, index);
    let sums = Sums::of(all);
    let (picks, picks_missed) = grown.states.picked_and_missed(index, |_| true);
    let all_counted = grown.logs_count && sums.uncounted == 0;
    let unflagged = Grown::days_of(&grown.unflagged, index);
    let counted = counts::of_unit(grown, index, unit, &plants, all);
    let counted_unflagged = counts::of_unit(grown, index, unit, &plants, unflagged);
    UnitSeason {
        unit: unit.id.clone(),
        house: unit.house.clone(),
        block: unit.block.clone(),
        line: unit.line.clone(),
        bench: unit.bench.clone(),
        levels: unit.levels.clone(),
        plants_set: unit.plants,
        plants_alive_at_end: site.ended.or(site.pick_days.last().copied()).map_or(unit.plants, |end| plants.alive(end)),
        plant_days: site.transplanted.zip(site.ended).map(|(from, to)| plants.plant_days(from, to)),
        area_m2: unit.area_m2,
        row: unit.row,
        position: unit.position,
        picks,
        picks_missed,
        total: sums.total(),
        marketable: sums.marketable,
        cull: sums.cull,
        fruit: all_counted.then_some(sums.fruit),
        fruit_marketable: all_counted.then_some(sums.fruit_marketable),
        responses: counts::beside(responses(grown, index, unit, all, true), &counted),
        responses_unflagged: counts::beside(responses(grown, index, unit, unflagged, false), &counted_unflagged),
        counted,
        counted_unflagged,
        flagged_picks: all.iter().map(|d| d.flagged).sum(),
    }
}

/// Sums over pick days.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct Sums {
    pub marketable: f64,
    pub cull: f64,
    pub fruit: f64,
    pub fruit_marketable: f64,
    pub paired_mass: f64,
    pub paired_fruit: f64,
    pub uncounted: u32,
}

impl Sums {
    pub fn of<'d>(days: impl IntoIterator<Item = &'d PickDay>) -> Sums {
        days.into_iter().fold(Sums::default(), |s, d| Sums {
            marketable: s.marketable + d.marketable,
            cull: s.cull + d.cull,
            fruit: s.fruit + d.fruit,
            fruit_marketable: s.fruit_marketable + d.fruit_marketable,
            paired_mass: s.paired_mass + d.paired_mass,
            paired_fruit: s.paired_fruit + d.paired_fruit,
            uncounted: s.uncounted + d.uncounted,
        })
    }

    pub fn total(&self) -> f64 {
        self.marketable + self.cull
    }

    /// Σ kg · 1000 / Σ fruit, g: the ratio of sums, never the mean of the picks' means.
    pub fn fruit_mass_g(&self) -> Option<f64> {
        (self.paired_fruit > 0.0).then(|| self.paired_mass * 1000.0 / self.paired_fruit)
    }

    /// Σ cull kg / Σ kg; missing where nothing was picked.
    pub fn cull_share(&self) -> Option<f64> {
        (self.total() > 0.0).then(|| self.cull / self.total())
    }
}

/// Every response of a unit that can be told from `picked`.
fn responses(grown: &Grown<'_>, index: usize, unit: &Unit, picked: &[PickDay], flagged: bool) -> BTreeMap<String, f64> {
    let mut told = BTreeMap::new();
    let mut tell = |key: &str, value: Option<f64>| {
        if let Some(value) = value.filter(|v| v.is_finite()) {
            told.insert(key.to_owned(), value);
        }
    };
    let sums = Sums::of(picked);
    let known = grown.states.told(index);
    let per_plant = |x: f64| (unit.plants > 0).then(|| x / f64::from(unit.plants));
    let plant_days = plant_days(grown, index);
    if known && grown.logs_mass {
        let per_m2 = |x: f64| area(grown, unit).map(|area| x / area);
        tell(key::MARKETABLE_PER_UNIT, Some(sums.marketable));
        tell(key::TOTAL_PER_UNIT, Some(sums.total()));
        tell(key::MARKETABLE_PER_PLANT, per_plant(sums.marketable));
        tell(key::TOTAL_PER_PLANT, per_plant(sums.total()));
        tell(key::EARLY_PER_PLANT, early(grown, picked).and_then(per_plant));
        tell(key::MARKETABLE_PER_M2, per_m2(sums.marketable));
        tell(key::TOTAL_PER_M2, per_m2(sums.total()));
        tell(
            key::PLANT_DAY_SEASON,
            plant_days.zip(grown.season_days).filter(|(d, _)| *d > 0.0).map(|(d, season)| sums.marketable / d * f64::from(season)),
        );
        tell(key::CULL_SHARE, sums.cull_share().filter(|_| grown.logs_grades));
    }
    if known && grown.logs_count {
        tell(key::FRUIT_MASS, sums.fruit_mass_g());
    }
    tell(key::FIRST_PICK, days_to_first_pick(grown, picked));
    tell(key::PLANT_DAYS, plant_days);
    for (name, value) in measures::of_unit(grown.tables, index, flagged) {
        tell(&format!("measure:{name}"), Some(value));
    }
    told
}

pub(super) fn plant_days(grown: &Grown<'_>, unit: usize) -> Option<f64> {
    let site = &grown.tables.site;
    let (from, to) = site.transplanted.zip(site.ended)?;
    Some(Plants::of(grown.tables, unit).plant_days(from, to))
}

/// Ground area of a unit where its house states the basis of areas.
pub(super) fn area(grown: &Grown<'_>, unit: &Unit) -> Option<f64> {
    let based = grown.tables.site.houses.iter().any(|h| h.id == unit.house && h.area_basis.is_some());
    unit.area_m2.filter(|area| based && *area > 0.0)
}

/// Marketable mass in [first pick of any unit at the site, + early days), kg.
fn early(grown: &Grown<'_>, picked: &[PickDay]) -> Option<f64> {
    let start = grown.first_pick?;
    let end = after(start, grown.settings.early_days);
    Some(picked.iter().filter(|d| d.day >= start && d.day < end).map(|d| d.marketable).sum())
}

fn days_to_first_pick(grown: &Grown<'_>, picked: &[PickDay]) -> Option<f64> {
    let transplanted = grown.tables.site.transplanted?;
    let first = picked.iter().find(|d| d.bears() && d.day >= transplanted)?;
    Some(f64::from(days(transplanted, first.day)))
}
