//! Per unit: the season, its weeks, and the state of every pick day.
use super::sheet::{Cell, Sheet};
use crate::cells;
use crate::context::Context;
use crate::reader::{Reader, Scale, column_suffix};
use crate::response;
use crosshouse_trial::tables::{PickState, SiteTrial, TrialTables, UnitSeason};
use std::collections::{BTreeMap, BTreeSet};

pub fn sheets(context: &Context) -> Vec<Sheet> {
    vec![units(context), weeks(context), completeness(context)]
}

fn pounds(kg: f64) -> f64 {
    Scale::of("kg", Reader::Pounds).show(kg)
}

fn levels(context: &Context, of: &BTreeMap<String, String>) -> Vec<String> {
    context.factors().iter().map(|f| of.get(*f).cell()).collect()
}

/// Every response told for some unit, in the order of their keys.
fn responses(sites: &[SiteTrial]) -> Vec<String> {
    let units = sites.iter().flat_map(|s| &s.units);
    units.flat_map(|u| u.responses.keys().cloned()).collect::<BTreeSet<_>>().into_iter().collect()
}

fn response_column(trial: &TrialTables, key: &str) -> String {
    let unit = column_suffix(response::unit(trial, key));
    let name = column_suffix(key);
    if unit.is_empty() { name } else { format!("{name}_{unit}") }
}

const PLACE: [&str; 6] = ["site", "unit", "house", "block", "line", "bench"];
const SEASON: [&str; 18] = [
    "row",
    "position",
    "plants_set",
    "plants_alive_at_end",
    "plant_days_d",
    "area_m2",
    "picks",
    "picks_missed",
    "flagged_picks",
    "total_kg",
    "total_lb",
    "marketable_kg",
    "marketable_lb",
    "cull_kg",
    "cull_lb",
    "fruit",
    "fruit_marketable",
    "cull_share_by_mass",
];

fn units(context: &Context) -> Sheet {
    let keys = responses(context.sites());
    let mut head: Vec<String> = PLACE.map(str::to_owned).to_vec();
    head.extend(context.factors().iter().map(|f| (*f).to_owned()));
    head.extend(SEASON.map(str::to_owned));
    head.extend(keys.iter().map(|k| response_column(context.input.trial, k)));
    head.extend(keys.iter().map(|k| format!("{}_without_flagged", response_column(context.input.trial, k))));
    let mut sheet = Sheet::new("season-units", "The season of every unit", head);
    for site in context.sites() {
        for unit in &site.units {
            sheet.row(unit_row(context, site, unit, &keys));
        }
    }
    sheet
}

fn unit_row(context: &Context, site: &SiteTrial, u: &UnitSeason, keys: &[String]) -> Vec<String> {
    let mut row = cells![site.site, u.unit, u.house, u.block, u.line, u.bench];
    row.extend(levels(context, &u.levels));
    row.extend(cells![
        u.row,
        u.position,
        u.plants_set,
        u.plants_alive_at_end,
        u.plant_days,
        u.area_m2,
        u.picks,
        u.picks_missed,
        u.flagged_picks,
        u.total,
        pounds(u.total),
        u.marketable,
        pounds(u.marketable),
        u.cull,
        pounds(u.cull),
        u.fruit,
        u.fruit_marketable,
        share(u.cull, u.total),
    ]);
    row.extend(keys.iter().map(|k| u.responses.get(k).copied().cell()));
    row.extend(keys.iter().map(|k| u.responses_unflagged.get(k).copied().cell()));
    row
}

fn share(part: f64, whole: f64) -> Option<f64> {
    (whole > 0.0).then(|| part / whole)
}

fn weeks(context: &Context) -> Sheet {
    let head = [
        "site",
        "unit",
        "week",
        "from",
        "total_kg",
        "total_lb",
        "marketable_kg",
        "marketable_lb",
        "fruit",
        "picks",
        "picks_missed",
        "mean_fruit_mass_g",
        "cull_share",
        "plant_days_d",
    ];
    let mut sheet = Sheet::new("season-weeks", "Every unit, week by week (week 1 starts at transplanting)", head);
    for site in context.sites() {
        for w in &site.weeks {
            sheet.row(cells![
                site.site,
                w.unit,
                w.week,
                w.from,
                w.total,
                pounds(w.total),
                w.marketable,
                pounds(w.marketable),
                w.fruit,
                w.picks,
                w.picks_missed,
                w.mean_fruit_mass_g,
                w.cull_share,
                w.plant_days,
            ]);
        }
    }
    sheet
}

/// The state's name in tables.
pub fn state(state: PickState) -> &'static str {
    match state {
        PickState::Picked => "picked",
        PickState::Zero => "zero",
        PickState::Missed => "missed",
        PickState::Lost => "lost",
        PickState::Dead => "dead",
        PickState::NotDue => "not-due",
        PickState::Unknown => "unknown",
    }
}

fn completeness(context: &Context) -> Sheet {
    let title = "What is known of every unit on every pick day";
    let mut sheet = Sheet::new("completeness", title, ["site", "unit", "day", "state"]);
    for site in context.sites() {
        for s in &site.states {
            sheet.row(cells![site.site, s.unit, s.day, state(s.state)]);
        }
    }
    sheet
}
