//! Mean cumulative marketable yield of each treatment, a point a pick day.
use super::Grown;
use crate::calendar::days;
use crate::tables::CumulativePoint;
use crosshouse_logs::tables::Unit;
use std::collections::BTreeMap;

pub(super) fn points(grown: &Grown<'_>) -> Vec<CumulativePoint> {
    let Some(start) = grown.start().filter(|_| grown.logs_mass) else { return Vec::new() };
    let mut treatments: BTreeMap<&BTreeMap<String, String>, Vec<(usize, &Unit)>> = BTreeMap::new();
    for (index, unit) in grown.units().filter(|(index, unit)| unit.plants > 0 && grown.states.told(*index)) {
        treatments.entry(&unit.levels).or_default().push((index, unit));
    }
    let mut out = Vec::new();
    for (levels, units) in treatments {
        for &pick_day in &grown.tables.site.pick_days {
            let so_far = |(index, unit): &(usize, &Unit)| {
                let picked = Grown::days_of(&grown.all, *index).iter().take_while(|d| d.day <= pick_day);
                picked.map(|d| d.marketable).sum::<f64>() / f64::from(unit.plants)
            };
            out.push(CumulativePoint {
                levels: levels.clone(),
                day: days(start, pick_day),
                mean_kg_per_plant: units.iter().map(so_far).sum::<f64>() / units.len() as f64,
                units: units.len() as u32,
            });
        }
    }
    out
}
