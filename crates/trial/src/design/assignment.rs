//! Replication: what each factor was given to, and how many of those carry each level at a site.
//!
//! A treatment is replicated by its units of assignment alone; containers on one line, or plants in one
//! container, are subsamples of it (Hurlbert 1984, Ecological Monographs 54:187–211).
use super::finding::{ASSIGNMENT_CONTRADICTED, UNREPLICATED_ASSIGNMENT, finding};
use super::grown::{Grown, Planned};
use crate::tables::DesignFinding;
use std::collections::{BTreeMap, BTreeSet};

/// House and the line, bench, block or unit in it.
type Carrier<'a> = (&'a str, Option<&'a str>);

pub(super) fn judge(grown: &Grown<'_>, findings: &mut Vec<DesignFinding>) {
    for (f, factor) in grown.factors.iter().enumerate() {
        let given_to = factor.unit_of_assignment.as_str();
        let mut alone = Vec::new();
        let mut broken = Vec::new();
        for site in (0..grown.sites.len()).filter(|s| grown.levels_at(f, *s).len() > 1) {
            let carriers = carriers(grown, f, site, given_to);
            if carriers.values().any(|levels| levels.len() > 1) {
                broken.push(site);
            } else if carriers.len() == grown.levels_at(f, site).len() {
                alone.push(site);
            }
        }
        findings.extend(contradicted(grown, f, given_to, &broken));
        findings.extend(unreplicated(grown, f, given_to, &alone));
    }
}

/// Levels of the factor by carrier, at one site.
fn carriers<'a>(grown: &'a Grown<'a>, f: usize, site: usize, given_to: &str) -> BTreeMap<Carrier<'a>, BTreeSet<usize>> {
    let mut by_carrier: BTreeMap<Carrier<'a>, BTreeSet<usize>> = BTreeMap::new();
    for unit in grown.units.iter().filter(|u| u.site == site) {
        if let Some(level) = unit.level(f) {
            by_carrier.entry(carrier(unit, given_to)).or_default().insert(level);
        }
    }
    by_carrier
}

fn carrier<'a>(planned: &Planned<'a>, given_to: &str) -> Carrier<'a> {
    let unit = planned.unit;
    let within = match given_to {
        "house" => None,
        "line" => unit.line.as_deref(),
        "bench" => unit.bench.as_deref(),
        "block" => unit.block.as_deref(),
        _ => Some(unit.id.as_str()),
    };
    (unit.house.as_str(), within)
}

fn unreplicated(grown: &Grown<'_>, f: usize, given_to: &str, sites: &[usize]) -> Option<DesignFinding> {
    if sites.is_empty() {
        return None;
    }
    let (label, places) = (grown.label(f), grown.site_words(sites.iter().copied()));
    let given_to = if given_to == "plant" { "unit" } else { given_to };
    let over = match sites.len() {
        1 => String::new(),
        n => format!(" Over the {n} sites, the site is the replicate."),
    };
    let text = format!(
        "{label} was given to a whole {given_to}, and at {places} one {given_to} carries each level: what grows in it is no replicate, and such a site alone gives no test of {label}.{over}"
    );
    let mend = format!("give each level to two or more {given_to}s at {places}, at random");
    Some(finding(UNREPLICATED_ASSIGNMENT, vec![grown.name(f)], grown.site_ids(sites.iter().copied()), text, mend))
}

fn contradicted(grown: &Grown<'_>, f: usize, given_to: &str, sites: &[usize]) -> Option<DesignFinding> {
    if sites.is_empty() {
        return None;
    }
    let (label, places) = (grown.label(f), grown.site_words(sites.iter().copied()));
    let text = format!(
        "{label} is declared as given to a whole {given_to}, but the plan of {places} has several of its levels in one {given_to}, or does not name the {given_to}s."
    );
    let mend = format!("correct unit_of_assignment of {label}, or name each unit's {given_to} in the plan");
    Some(finding(ASSIGNMENT_CONTRADICTED, vec![grown.name(f)], grown.site_ids(sites.iter().copied()), text, mend))
}
