//! Figures of the trial tables: growth, climate, root zone, completeness, plans.
use crate::calendar::{CalendarFigure, CalendarRow, CellState};
use crate::climate::{ClimateDay, ClimateFigure, ClimateHouse};
use crate::cumulative::{CumulativeFigure, CumulativePanel, CumulativeSeries};
use crate::drawing::{Caption, Drawing};
use crate::faults::FigureFault;
use crate::plan::{PlanFigure, PlanUnit};
use crate::reader::{Reader, Scale};
use crate::root_zone::{RootZone, RootZoneDay, RootZoneFigure, Targets};
use crate::scales::extent;
use crate::wording::Wording;
use crosshouse_trial::Settings;
use crosshouse_trial::tables::{CumulativePoint, HouseDay, PickState, SiteTrial, TrialTables, UnitDay, UnitSeason, ZoneDay};
use jiff::ToSpan;
use jiff::civil::Date;
use std::collections::BTreeMap;

/// Response shown in the plans.
const PLAN_RESPONSE: &str = "marketable-yield-per-plant";

/// The drawings of a season's trial tables, in the order of the report.
pub fn drawings(trial: &TrialTables, settings: &Settings, reader: Reader) -> Result<Vec<Drawing>, FigureFault> {
    let words = Wording::of(trial);
    let mut all = cumulative(trial, &words, reader).draw()?;
    for site in &trial.sites {
        all.extend(climate(site, settings).draw()?);
    }
    for site in &trial.sites {
        all.extend(root_zone(site, settings).draw()?);
    }
    for site in &trial.sites {
        all.extend(completeness(site).draw()?);
    }
    all.extend(records(trial).draw()?);
    for site in &trial.sites {
        for plan in plans(site, &words, reader) {
            all.extend(plan.draw()?);
        }
    }
    Ok(all)
}

fn caption(name: String, title: String, table: &str) -> Caption {
    Caption { name, title, finding: String::new(), table: table.into() }
}

/// Mean cumulative yield of every treatment, a panel a site.
pub fn cumulative(trial: &TrialTables, words: &Wording, reader: Reader) -> CumulativeFigure {
    let scale = Scale::of("kg per plant set", reader);
    let panels = trial
        .sites
        .iter()
        .filter(|s| !s.cumulative.is_empty())
        .map(|site| CumulativePanel { title: site.name.clone(), series: treatments(trial, words, &site.cumulative, scale.factor) });
    CumulativeFigure {
        caption: caption("cumulative-yield".into(), "Cumulative marketable yield".into(), "cumulative-yield"),
        response: "cumulative marketable yield".into(),
        unit: scale.unit.clone(),
        days: days_words(&trial.sites),
        panels: panels.collect(),
        ..CumulativeFigure::default()
    }
}

fn days_words(sites: &[SiteTrial]) -> String {
    let undated: Vec<&str> = sites.iter().filter(|s| s.transplanted.is_none()).map(|s| s.name.as_str()).collect();
    if undated.is_empty() {
        return "days after transplanting".into();
    }
    format!("days after transplanting (after the first pick at {})", undated.join(", "))
}

/// Colour by the first factor, dash and filling by what else differs.
fn treatments(trial: &TrialTables, words: &Wording, points: &[CumulativePoint], factor: f64) -> Vec<CumulativeSeries> {
    let mut series: BTreeMap<(usize, usize, String), Vec<(f64, f64)>> = BTreeMap::new();
    let others = other_combinations(trial);
    for point in points {
        let first = first_rank(trial, &point.levels);
        let rest = rest_of(trial, &point.levels);
        let second = others.iter().position(|o| *o == rest).unwrap_or(0);
        let key = (first, second, words.levels(&point.levels));
        series.entry(key).or_default().push((f64::from(point.day), point.mean_kg_per_plant * factor));
    }
    let one = |((first, second, label), mut points): ((usize, usize, String), Vec<(f64, f64)>)| {
        points.sort_by(|a, b| a.0.total_cmp(&b.0));
        CumulativeSeries { label, first, second, points }
    };
    series.into_iter().map(one).collect()
}

fn first_rank(trial: &TrialTables, levels: &BTreeMap<String, String>) -> usize {
    let rank = trial.design.factors.first().and_then(|f| f.levels.iter().position(|l| levels.get(&f.name) == Some(l)));
    rank.unwrap_or(0)
}

/// Levels of all factors but the first, by rank.
fn rest_of(trial: &TrialTables, levels: &BTreeMap<String, String>) -> Vec<usize> {
    let rank = |f: &crosshouse_trial::tables::Factor| f.levels.iter().position(|l| levels.get(&f.name) == Some(l)).unwrap_or(0);
    trial.design.factors.iter().skip(1).map(rank).collect()
}

fn other_combinations(trial: &TrialTables) -> Vec<Vec<usize>> {
    let points = trial.sites.iter().flat_map(|s| &s.cumulative);
    let mut all: Vec<Vec<usize>> = points.map(|p| rest_of(trial, &p.levels)).collect();
    all.sort();
    all.dedup();
    all
}

/// Houses of a site side by side.
pub fn climate(site: &SiteTrial, settings: &Settings) -> ClimateFigure {
    let house = |(name, days): (String, Vec<&HouseDay>)| ClimateHouse {
        title: name,
        days: days.into_iter().filter(|d| d.records > 0).filter_map(climate_day).collect(),
    };
    let houses: Vec<ClimateHouse> = by_key(&site.houses, |d| &d.house).into_iter().map(house).collect();
    ClimateFigure {
        caption: caption(format!("climate-{}", site.site), format!("Climate at {}", site.name), "climate-days"),
        houses: houses.into_iter().filter(|h| !h.days.is_empty()).collect(),
        band: Some(settings.temperature_band),
        ..ClimateFigure::default()
    }
}

fn climate_day(d: &HouseDay) -> Option<ClimateDay> {
    let (minimum, mean, maximum) = (d.minimum, d.mean, d.maximum);
    Some(ClimateDay { day: d.day?, minimum, mean, maximum, vpd: d.vpd, dli: d.dli, dli_is_estimate: d.dli_is_estimate })
}

/// Zones of a site side by side.
pub fn root_zone(site: &SiteTrial, settings: &Settings) -> RootZoneFigure {
    let zone = |(name, days): (String, Vec<&ZoneDay>)| RootZone {
        title: zone_words(&name, &days),
        days: days.into_iter().filter_map(zone_day).collect(),
    };
    let zones: Vec<RootZone> = by_key(&site.zones, |d| &d.zone).into_iter().map(zone).collect();
    let drain = settings.drain_fraction_band;
    RootZoneFigure {
        caption: caption(format!("root-zone-{}", site.site), format!("Root zone at {}", site.name), "rootzone-days"),
        zones: zones.into_iter().filter(|z| !z.days.is_empty()).collect(),
        targets: Targets { drain: Some((drain.0 * 100.0, drain.1 * 100.0)), ec: Some(settings.feed_ec_band), ph: Some(settings.ph_band) },
        ..RootZoneFigure::default()
    }
}

/// "zone 1, glass-1", or the house alone where it is the zone.
fn zone_words(zone: &str, days: &[&ZoneDay]) -> String {
    match days.first() {
        Some(day) if day.house != zone => format!("zone {zone}, {}", day.house),
        _ => zone.into(),
    }
}

/// None where nothing was read that the figure shows.
fn zone_day(d: &ZoneDay) -> Option<RootZoneDay> {
    let day = RootZoneDay {
        day: d.day?,
        drain_fraction: d.drain_fraction,
        feed_ec: d.feed_ec,
        drain_ec: d.drain_ec,
        feed_ph: d.feed_ph,
        drain_ph: d.drain_ph,
    };
    let shown = [day.drain_fraction, day.feed_ec, day.drain_ec, day.feed_ph, day.drain_ph];
    shown.iter().any(Option::is_some).then_some(day)
}

/// Rows under their key, keys in order of appearance.
fn by_key<T>(rows: &[T], key: impl Fn(&T) -> &String) -> Vec<(String, Vec<&T>)> {
    let mut groups: Vec<(String, Vec<&T>)> = Vec::new();
    for row in rows {
        match groups.iter_mut().find(|(k, _)| k == key(row)) {
            Some((_, group)) => group.push(row),
            None => groups.push((key(row).clone(), vec![row])),
        }
    }
    groups
}

/// Units of a site by pick day.
pub fn completeness(site: &SiteTrial) -> CalendarFigure {
    let mut days: Vec<Date> = site.states.iter().map(|s| s.day).collect();
    days.sort_unstable();
    days.dedup();
    let states: BTreeMap<(&str, Date), PickState> = site.states.iter().map(|s: &UnitDay| ((s.unit.as_str(), s.day), s.state)).collect();
    let mut units: Vec<&UnitSeason> = site.units.iter().collect();
    units.sort_by_key(|u| (&u.block, &u.unit));
    let row = |u: &&UnitSeason| CalendarRow {
        label: u.unit.clone(),
        group: u.block.as_deref().map_or(String::new(), block_words),
        states: days.iter().map(|d| states.get(&(u.unit.as_str(), *d)).copied().and_then(cell_state)).collect(),
    };
    CalendarFigure {
        caption: caption(
            format!("completeness-{}", site.site),
            format!("What became of every unit on every pick day at {}", site.name),
            "completeness",
        ),
        rows_are: "units".into(),
        columns_are: "pick days".into(),
        rows: units.iter().map(row).collect(),
        days,
        ..CalendarFigure::default()
    }
}

/// "block 3"; a name that says block already stays.
fn block_words(block: &str) -> String {
    if block.to_lowercase().contains("block") { block.into() } else { format!("block {block}") }
}

/// Where a unit without row and position stands: its block, else its bench, else its line.
fn place_words(u: &UnitSeason) -> String {
    let named = |kind: &str, name: &Option<String>| name.as_ref().map(|n| format!("{kind} {n}"));
    let block = u.block.as_deref().map(block_words);
    block.or_else(|| named("bench", &u.bench)).or_else(|| named("line", &u.line)).unwrap_or_default()
}

fn cell_state(state: PickState) -> Option<CellState> {
    match state {
        PickState::Picked => Some(CellState::Picked),
        PickState::Zero => Some(CellState::Zero),
        PickState::Missed => Some(CellState::Missed),
        PickState::Lost => Some(CellState::Lost),
        PickState::Dead => Some(CellState::Dead),
        PickState::Unknown => Some(CellState::Unknown),
        PickState::NotDue => None,
    }
}

/// Share of each week that the climate record of each house covers; weeks from the first day any house has.
pub fn records(trial: &TrialTables) -> CalendarFigure {
    let all: Vec<Date> = trial.sites.iter().flat_map(|s| &s.houses).filter_map(|h| h.day).collect();
    let days = match (all.iter().min(), all.iter().max()) {
        (Some(first), Some(last)) => weeks(*first, *last),
        _ => Vec::new(),
    };
    let rows = trial.sites.iter().flat_map(|site| {
        let houses = by_key(&site.houses, |d| &d.house);
        let row = |(house, own): (String, Vec<&HouseDay>)| CalendarRow {
            label: house,
            group: site.name.clone(),
            states: week_states(&days, &own),
        };
        houses.into_iter().map(row).collect::<Vec<_>>()
    });
    CalendarFigure {
        caption: caption("climate-records".into(), "Completeness of the climate records, week by week".into(), "climate-days"),
        rows_are: "houses".into(),
        columns_are: "weeks".into(),
        rows: rows.collect(),
        days: days.clone(),
        ..CalendarFigure::default()
    }
}

fn weeks(first: Date, last: Date) -> Vec<Date> {
    std::iter::successors(Some(first), |d| d.checked_add(7.days()).ok().filter(|d| *d <= last)).take(520).collect()
}

/// Before a house's first and after its last day nothing was due.
fn week_states(weeks: &[Date], own: &[&HouseDay]) -> Vec<Option<CellState>> {
    let seen: BTreeMap<Date, f64> = own.iter().filter_map(|d| Some((d.day?, d.completeness))).collect();
    let (first, last) = (seen.keys().next().copied(), seen.keys().next_back().copied());
    let state = |from: &Date| {
        let days = (0..7).filter_map(|n: i64| from.checked_add(n.days()).ok());
        let due: Vec<f64> = days.filter(|d| Some(*d) >= first && Some(*d) <= last).map(|d| seen.get(&d).copied().unwrap_or(0.0)).collect();
        (!due.is_empty()).then(|| record_state(due.iter().sum::<f64>() / due.len() as f64))
    };
    weeks.iter().map(state).collect()
}

fn record_state(share: f64) -> CellState {
    match share {
        s if s >= 0.95 => CellState::Whole,
        s if s >= 0.80 => CellState::Most,
        s if s > 0.0 => CellState::Part,
        _ => CellState::Absent,
    }
}

/// A plan a house; one shading for the whole site.
pub fn plans(site: &SiteTrial, words: &Wording, reader: Reader) -> Vec<PlanFigure> {
    let scale = Scale::of("kg per plant", reader);
    let value = |u: &UnitSeason| u.responses.get(PLAN_RESPONSE).map(|v| v * scale.factor);
    let range = extent(site.units.iter().filter_map(value));
    let plan = |(house, units): (String, Vec<&UnitSeason>)| PlanFigure {
        caption: caption(
            format!("plan-{}-{house}", site.site),
            format!("Plan of {house} at {}, shaded by marketable yield", site.name),
            "season-units",
        ),
        response: "marketable yield".into(),
        unit: scale.unit.clone(),
        range,
        units: units.into_iter().map(|u| plan_unit(u, words, value(u))).collect(),
        ..PlanFigure::default()
    };
    if range.is_none() {
        return Vec::new();
    }
    by_key(&site.units, |u| &u.house).into_iter().map(plan).collect()
}

fn plan_unit(u: &UnitSeason, words: &Wording, value: Option<f64>) -> PlanUnit {
    let mut levels: Vec<(usize, String)> = u.levels.iter().map(|(f, l)| (words.rank(f), words.level(f, l))).collect();
    levels.sort();
    PlanUnit {
        unit: u.unit.clone(),
        block: place_words(u),
        levels: levels.into_iter().map(|(_, l)| l).collect(),
        row: u.row,
        position: u.position,
        value,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    #[test]
    fn a_unit_without_a_state_is_not_due_and_a_missed_pick_is_not_a_zero() {
        assert_eq!(cell_state(PickState::NotDue), None);
        assert_ne!(cell_state(PickState::Missed), cell_state(PickState::Zero));
    }

    #[test]
    fn a_day_without_a_record_counts_against_its_week() {
        let day = |d: i8| HouseDay { day: Some(date(2031, 5, d)), completeness: 1.0, ..HouseDay::default() };
        let own = [day(1), day(2), day(3), day(4), day(5), day(6), day(10)];
        let own: Vec<&HouseDay> = own.iter().collect();
        let states = week_states(&weeks(date(2031, 5, 1), date(2031, 5, 20)), &own);
        assert_eq!(states, [Some(CellState::Most), Some(CellState::Part), None]);
    }

    #[test]
    fn a_block_is_named_once() {
        assert_eq!(block_words("3"), "block 3");
        assert_eq!(block_words("Block east"), "Block east");
    }
}
