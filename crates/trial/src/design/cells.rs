//! Cells present, with their replication, and cells that nobody grew.
use super::aliasing::{Aliased, pairs};
use super::finding::{EMPTY_CELL, finding};
use super::grown::{Grown, Planned, listed};
use crate::tables::{Cell, DesignFinding};
use std::collections::{BTreeMap, BTreeSet};

/// Most cells that one finding lists by name.
const LISTED: usize = 6;

/// One cell a site and combination of levels, in order of sites and levels.
pub(super) fn present(grown: &Grown<'_>) -> Vec<Cell> {
    let mut cells: BTreeMap<(usize, Vec<Option<usize>>), Vec<&Planned<'_>>> = BTreeMap::new();
    for unit in &grown.units {
        cells.entry((unit.site, unit.levels.clone())).or_default().push(unit);
    }
    cells.iter().map(|((site, levels), units)| cell(grown, *site, levels, units)).collect()
}

fn cell(grown: &Grown<'_>, site: usize, levels: &[Option<usize>], units: &[&Planned<'_>]) -> Cell {
    let named = grown.factors.iter().zip(levels).filter_map(|(f, level)| Some((f.name.clone(), f.levels.get((*level)?)?.clone())));
    let blocks: BTreeSet<(&str, Option<&str>)> = units.iter().map(|u| (u.unit.house.as_str(), u.unit.block.as_deref())).collect();
    Cell {
        site: grown.sites.get(site).map_or_else(String::new, |s| s.0.to_owned()),
        levels: named.collect(),
        units: units.len() as u32,
        blocks: blocks.len() as u32,
        plants: units.iter().map(|u| u.unit.plants).sum(),
    }
}

/// Pairs of levels that a site grew both of, but never together; and combinations of three or more
/// factors that no site grew though every pair of their levels met somewhere.
pub(super) fn empty(grown: &Grown<'_>, aliased: &Aliased, findings: &mut Vec<DesignFinding>) {
    let before = findings.len();
    for (f, g) in pairs(grown.factors.len()).filter(|(f, g)| !aliased.contains(&(*f, *g, None))) {
        findings.extend(empty_pairs(grown, f, g, aliased));
    }
    if findings.len() == before && aliased.is_empty() {
        findings.extend(empty_combinations(grown));
    }
}

fn empty_pairs(grown: &Grown<'_>, f: usize, g: usize, aliased: &Aliased) -> Option<DesignFinding> {
    let pooled = grown.pairs(f, g, None);
    let mut nowhere: BTreeSet<(usize, usize)> = BTreeSet::new();
    let mut missing: BTreeMap<usize, Vec<(usize, usize)>> = BTreeMap::new();
    for site in (0..grown.sites.len()).filter(|s| !aliased.contains(&(f, g, Some(*s)))) {
        let here = grown.pairs(f, g, Some(site));
        for cell in product(&grown.levels_at(f, site), &grown.levels_at(g, site)).filter(|c| !here.contains(c)) {
            missing.entry(site).or_default().push(cell);
            nowhere.extend(Some(cell).filter(|c| !pooled.contains(c)));
        }
    }
    let at = |(site, cells): (&usize, &Vec<(usize, usize)>)| {
        format!("{} at {}", some(cells.iter().map(|c| grown.pair(f, g, *c))), grown.site_name(*site))
    };
    let listed_cells = missing.iter().map(at).collect::<Vec<_>>().join("; ");
    (!missing.is_empty()).then(|| {
        let none = some(nowhere.iter().map(|c| grown.pair(f, g, *c)));
        let tail = if nowhere.is_empty() {
            String::new()
        } else {
            format!(" No site grew {none}: a mean over {} or {} that includes it cannot be told.", grown.label(f), grown.label(g))
        };
        let text = format!("Not grown though both levels were there: {listed_cells}.{tail}");
        finding(
            EMPTY_CELL,
            vec![grown.name(f), grown.name(g)],
            grown.site_ids(missing.keys().copied()),
            text,
            format!("grow {listed_cells}"),
        )
    })
}

fn product<'s>(left: &'s BTreeSet<usize>, right: &'s BTreeSet<usize>) -> impl Iterator<Item = (usize, usize)> + 's {
    left.iter().flat_map(move |a| right.iter().map(move |b| (*a, *b)))
}

fn empty_combinations(grown: &Grown<'_>) -> Option<DesignFinding> {
    let n = grown.factors.len();
    let size: usize = (0..n).map(|f| grown.levels(f).len()).product();
    if n < 3 || size > 10_000 {
        return None;
    }
    let seen: BTreeSet<Vec<usize>> = grown.units.iter().filter_map(|u| (0..n).map(|f| u.level(f)).collect()).collect();
    let all = (0..n).fold(vec![Vec::new()], |combinations: Vec<Vec<usize>>, f| {
        let levels = grown.levels(f);
        combinations.iter().flat_map(|c| levels.iter().map(move |l| [c.as_slice(), &[*l]].concat())).collect()
    });
    let empty: Vec<String> = all.iter().filter(|c| !seen.contains(*c)).map(|c| words(grown, c)).collect();
    let sites: BTreeSet<usize> = grown.units.iter().map(|u| u.site).collect();
    (!empty.is_empty()).then(|| {
        let cells = some(empty);
        let text = format!("No site grew {cells}: interactions of all the factors, and means of such combinations, cannot be told.");
        finding(EMPTY_CELL, (0..n).map(|f| grown.name(f)).collect(), grown.site_ids(sites), text, format!("grow {cells}"))
    })
}

fn words(grown: &Grown<'_>, levels: &[usize]) -> String {
    levels.iter().enumerate().map(|(f, l)| grown.level(f, *l)).collect::<Vec<_>>().join(" × ")
}

/// The first few in words, and how many more.
fn some(cells: impl IntoIterator<Item = String>) -> String {
    let all: Vec<String> = cells.into_iter().collect();
    match all.len().checked_sub(LISTED).filter(|more| *more > 0) {
        Some(more) => format!("{} and {more} more", all.get(..LISTED).unwrap_or_default().join(", ")),
        None => listed(&all),
    }
}
