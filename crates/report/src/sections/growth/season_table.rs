//! The season by site and treatment: plain means over units, with the units, plants and losses behind them.
use crate::context::Context;
use crate::number::{self, NONE};
use crate::page::PageTable;
use crate::response;
use crate::words;
use crosshouse_trial::tables::{SiteTrial, UnitSeason};
use std::collections::BTreeMap;

/// Responses shown, with the decimals printed (yield 2, fruit mass 0, share 0, days 0; common practice).
const SHOWN: [(&str, i32); 6] = [
    ("early-yield-per-plant", 2),
    ("marketable-yield-per-plant", 2),
    ("total-yield-per-plant", 2),
    ("cull-share", 0),
    ("mean-fruit-mass", 0),
    ("days-to-first-pick", 0),
];

pub fn table(context: &Context) -> Option<PageTable> {
    let shown: Vec<(&str, i32)> = SHOWN.into_iter().filter(|(key, _)| told(context, key)).collect();
    let mut table = PageTable::new("season-by-treatment", "The season by site and treatment: plain means over units")
        .csv("season-units.csv")
        .words("Treatment")
        .number("Units")
        .number("Plants set")
        .number("Plants lost");
    for (key, _) in &shown {
        table = table.number(head(context, key));
    }
    for site in context.sites() {
        table.group(site.name.clone());
        for (levels, units) in by_treatment(context, site) {
            table.row(row(context, &levels, &units, &shown));
        }
    }
    notes(context, &mut table);
    table.if_any()
}

fn told(context: &Context, key: &str) -> bool {
    context.sites().iter().flat_map(|s| &s.units).any(|u| u.responses.contains_key(key))
}

fn head(context: &Context, key: &str) -> String {
    let unit = context.scale(response::unit(context.input.trial, key)).unit;
    let label = words::capital(&response::label(key));
    match unit.as_str() {
        "" => label,
        // The label says days already.
        "d" if label.starts_with("Days") => label,
        unit => format!("{label}, {unit}"),
    }
}

type Treatment<'a> = (BTreeMap<String, String>, Vec<&'a UnitSeason>);

fn by_treatment<'a>(context: &Context, site: &'a SiteTrial) -> Vec<Treatment<'a>> {
    let mut groups: Vec<Treatment> = Vec::new();
    for unit in &site.units {
        match groups.iter_mut().find(|(levels, _)| *levels == unit.levels) {
            Some((_, units)) => units.push(unit),
            None => groups.push((unit.levels.clone(), vec![unit])),
        }
    }
    groups.sort_by_key(|(levels, _)| context.words.order(levels));
    groups
}

fn row(context: &Context, levels: &BTreeMap<String, String>, units: &[&UnitSeason], shown: &[(&str, i32)]) -> Vec<String> {
    let set: u64 = units.iter().map(|u| u64::from(u.plants_set)).sum();
    let lost: u64 = units.iter().map(|u| u64::from(u.plants_set.saturating_sub(u.plants_alive_at_end))).sum();
    let name = if levels.is_empty() { "All units".to_owned() } else { context.words.levels(levels) };
    let mut cells = vec![name, number::count(units.len() as u64), number::count(set), number::count(lost)];
    cells.extend(shown.iter().map(|(key, decimals)| value(context, units, key, *decimals)));
    cells
}

/// The mean over the units that tell it; how many, where some do not.
fn value(context: &Context, units: &[&UnitSeason], key: &str, decimals: i32) -> String {
    let values: Vec<f64> = units.iter().filter_map(|u| u.responses.get(key).copied()).filter(|v| v.is_finite()).collect();
    let scale = context.scale(response::unit(context.input.trial, key));
    let Some(mean) = super::mean(values.iter().map(|v| Some(*v))) else { return NONE.to_owned() };
    // Ounces need a decimal that grams do not.
    let decimals = if scale.unit.starts_with("oz") { decimals + 1 } else { decimals };
    let text = number::fixed(scale.show(mean), decimals);
    if values.len() == units.len() { text } else { format!("{text} ({} of {} units)", values.len(), units.len()) }
}

fn notes(context: &Context, table: &mut PageTable) {
    let days = context.input.season.early_days;
    table.note(format!("Early: the first {days} days of picking at the site, from the first pick of any unit on."));
    table.note(
        "Per plant means per plant set, so that plants lost count against their unit. Plain means are not adjusted for \
         blocks or missing units and are not for comparing treatments across sites: the answers above are.",
    );
}
