//! Water of a zone and what it bore.
use crate::drain::{drain_fraction, mean, mean_ec};
use crate::tables::{NotGiven, WaterSeason, ZoneDay};
use crosshouse_logs::tables::{RootZone, SiteTables};
use jiff::civil::Date;
use std::collections::BTreeMap;

/// Water productivity, kg m⁻³, of `kg` marketable from `litres` of water; which water (applied, used) the name
/// of the result must say. `None` without water.
///
/// # Source
/// Definition; Nederhoff & Stanghellini (2010) for the scale (4 to 500 L/kg).
pub fn productivity(kg: f64, litres: f64) -> Option<f64> {
    (litres > 0.0).then(|| kg * 1000.0 / litres)
}

/// Share of the season's days that must be on record for its water. Common practice, no source.
const RECORD_COVERAGE: f64 = 0.90;

/// One row a zone and day: ratios of sums, EC weighted by volume, pH plainly averaged.
pub(crate) fn zone_days(rows: &[RootZone]) -> Vec<ZoneDay> {
    let mut days: BTreeMap<(&str, &str, Date), Vec<&RootZone>> = BTreeMap::new();
    for row in rows {
        days.entry((&row.house, &row.zone, row.day)).or_default().push(row);
    }
    days.values().filter_map(|events| zone_day(events)).collect()
}

fn zone_day(events: &[&RootZone]) -> Option<ZoneDay> {
    let first = events.first()?;
    let pick = |of: fn(&RootZone) -> Option<f64>| events.iter().filter_map(|e| of(e)).collect::<Vec<f64>>();
    let sum = |of: fn(&RootZone) -> Option<f64>| Some(pick(of)).filter(|v| !v.is_empty()).map(|v| v.iter().sum::<f64>());
    let ec = |ec: fn(&RootZone) -> Option<f64>, volume: fn(&RootZone) -> Option<f64>| {
        mean_ec(&events.iter().filter_map(|e| Some((volume(e), ec(e)?))).collect::<Vec<_>>())
    };
    let both: Vec<(f64, f64)> = events.iter().filter_map(|e| Some((e.feed_volume?, e.drain_volume?))).collect();
    let (feed, drain) = both.iter().fold((0.0, 0.0), |(f, d), pair| (f + pair.0, d + pair.1));
    let (feed_ec, drain_ec) = (ec(|e| e.feed_ec, |e| e.feed_volume), ec(|e| e.drain_ec, |e| e.drain_volume));
    let (feed_ph, drain_ph) = (mean(pick(|e| e.feed_ph)), mean(pick(|e| e.drain_ph)));
    Some(ZoneDay {
        zone: first.zone.clone(),
        house: first.house.clone(),
        day: Some(first.day),
        feed_volume: sum(|e| e.feed_volume),
        drain_volume: sum(|e| e.drain_volume),
        drain_fraction: if both.is_empty() { None } else { drain_fraction(drain, feed) },
        feed_ec,
        drain_ec,
        ec_rise: drain_ec.zip(feed_ec).map(|(drain, feed)| drain - feed),
        feed_ph,
        drain_ph,
        ph_drift: drain_ph.zip(feed_ph).map(|(drain, feed)| drain - feed),
        water_used: (!both.is_empty()).then_some(feed - drain),
        moisture: mean(pick(|e| e.moisture)),
        flagged: drain > feed || events.iter().any(|e| !e.flags.is_empty()),
    })
}

/// The season's water of each zone; `marketable` is kg per plant set of the units of a zone, where there are any.
pub(crate) fn seasons(
    site: &SiteTables,
    marketable: impl Fn(&str, &str) -> Option<f64>,
    not_given: &mut Vec<NotGiven>,
) -> Vec<WaterSeason> {
    let mut zones: BTreeMap<(&str, &str), Vec<&RootZone>> = BTreeMap::new();
    for row in site.root_zone.iter().filter(|r| r.feed_volume.is_some()) {
        zones.entry((&row.house, &row.zone)).or_default().push(row);
    }
    let mut out = Vec::new();
    for ((house, zone), rows) in zones {
        let mut season = sums(house, zone, &rows);
        match per_plant(site, &season, &rows).and_then(|(applied, used)| {
            let yielded = marketable(house, zone).ok_or("no unit of the plan stands in this zone, or its yield cannot be told")?;
            Ok((productivity(yielded, applied), used.and_then(|used| productivity(yielded, used))))
        }) {
            Ok((applied, used)) => (season.productivity_applied, season.productivity_used) = (applied, used),
            Err(why) => not_given.push(no_productivity(site, zone, why)),
        }
        out.push(season);
    }
    out
}

/// Where drain is logged at all, sums are over rows with both volumes: used water needs both.
fn sums(house: &str, zone: &str, rows: &[&RootZone]) -> WaterSeason {
    let drained = rows.iter().any(|r| r.drain_volume.is_some());
    let kept: Vec<&&RootZone> = rows.iter().filter(|r| !drained || r.drain_volume.is_some()).collect();
    let applied: f64 = kept.iter().filter_map(|r| r.feed_volume).sum();
    let drain: f64 = kept.iter().filter_map(|r| r.drain_volume).sum();
    let mut days: Vec<Date> = kept.iter().map(|r| r.day).collect();
    days.sort_unstable();
    days.dedup();
    WaterSeason {
        zone: zone.to_owned(),
        house: house.to_owned(),
        days: days.len() as u32,
        applied_l: applied,
        drained_l: drain,
        used_l: applied - drain,
        drain_fraction: if drained { drain_fraction(drain, applied) } else { None },
        productivity_applied: None,
        productivity_used: None,
    }
}

/// Litres per plant applied, and used where drain is logged.
fn per_plant(site: &SiteTables, season: &WaterSeason, rows: &[&RootZone]) -> Result<(f64, Option<f64>), &'static str> {
    let plants = rows.iter().map(|r| r.plants.filter(|p| *p > 0.0)).collect::<Option<Vec<f64>>>();
    let plants = plants.ok_or("the log does not say how many plants took the water")?;
    let from = site.site.transplanted.or_else(|| rows.iter().map(|r| r.day).min());
    let to = site.site.ended.or_else(|| rows.iter().map(|r| r.day).max());
    let span = from.zip(to).map_or(1, |(from, to)| crate::calendar::days(from, to).max(1));
    if f64::from(season.days) < RECORD_COVERAGE * f64::from(span) {
        return Err("volumes are on record for fewer than nine in ten days of the season");
    }
    let drained = rows.iter().any(|r| r.drain_volume.is_some());
    let kept = rows.iter().zip(&plants).filter(|(r, _)| !drained || r.drain_volume.is_some());
    let (applied, drain) =
        kept.fold((0.0, 0.0), |(a, d), (r, p)| (a + r.feed_volume.unwrap_or(0.0) / p, d + r.drain_volume.unwrap_or(0.0) / p));
    Ok((applied, drained.then_some(applied - drain)))
}

fn no_productivity(site: &SiteTables, zone: &str, why: &str) -> NotGiven {
    NotGiven {
        site: site.site.id.clone(),
        what: "water-productivity".to_owned(),
        why: format!("no water productivity for {zone} at {}: {why}", site.site.name),
        mend: "declare `plants` for the root-zone log, name zones as the plan names lines, benches or houses, and log every day".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made;

    // By definition: 6.2 kg from 38.5 L and 4.5 kg from 60 L.
    #[test]
    fn six_point_two_kg_from_38_5_litres_is_161_kg_per_cubic_metre() {
        assert!((productivity(6.2, 38.5).unwrap() - 161.039).abs() < 0.001);
        assert!((productivity(4.5, 60.0).unwrap() - 75.0).abs() < 0.001);
        assert!((productivity(6.2, 38.5 * 0.8).unwrap() - 201.299).abs() < 0.001);
        assert_eq!(productivity(6.2, 0.0), None);
    }

    #[test]
    fn a_zone_day_joins_its_events_by_sums_and_volumes() {
        let event = |feed, drain, ec| RootZone {
            feed_volume: Some(feed),
            drain_volume: Some(drain),
            feed_ec: Some(ec),
            ..made::root_zone("line-1", 3)
        };
        let days = zone_days(&[event(2.0, 0.3, 2.4), event(1.0, 0.2, 2.8), event(3.0, 0.5, 2.2)]);
        assert_eq!(days.len(), 1);
        assert!((days[0].drain_fraction.unwrap() - 1.0 / 6.0).abs() < 1e-12);
        assert!((days[0].feed_ec.unwrap() - 2.3667).abs() < 1e-4);
        assert_eq!((days[0].water_used, days[0].flagged), (Some(5.0), false));
    }

    #[test]
    fn drain_above_feed_is_flagged_and_no_feed_gives_no_fraction() {
        let event = |feed, drain| RootZone { feed_volume: Some(feed), drain_volume: Some(drain), ..made::root_zone("line-1", 3) };
        let high = zone_days(&[event(1.0, 1.2)]);
        assert!(high[0].flagged && high[0].drain_fraction == Some(1.2));
        let none = zone_days(&[event(0.0, 0.05)]);
        assert!(none[0].flagged && none[0].drain_fraction.is_none());
    }
}
