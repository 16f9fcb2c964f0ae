//! Why something cannot be estimated, in words of the table.

use std::collections::{BTreeMap, BTreeSet};

use crate::design::{Coding, Rank, Table, Term};

/// Empty combinations named in one reason.
const NAMED: usize = 3;

/// The reason that a combination of fixed effects, said to be `of` some effect or mean, cannot be estimated.
pub fn reason(coding: &Coding, rank: &Rank, table: &Table, combination: &[f64], own: &[String]) -> String {
    let mut terms: BTreeSet<usize> = BTreeSet::new();
    for (null, reach) in rank.null.iter().zip(rank.reach(combination)) {
        if reach == 0.0 {
            continue;
        }
        for (column, _) in null.iter().enumerate().filter(|(_, weight)| **weight != 0.0) {
            let place = coding.terms.iter().position(|term| term.columns().contains(&column));
            terms.extend(place);
        }
    }
    let involved: Vec<&Term> = terms.into_iter().map(|place| &coding.terms[place]).collect();
    let empty = involved.iter().flat_map(|term| empty_cells(table, term)).take(NAMED + 1).collect::<Vec<_>>();
    if !empty.is_empty() {
        let named = empty.iter().take(NAMED).cloned().collect::<Vec<_>>().join("; ");
        let more = if empty.len() > NAMED { "; and more" } else { "" };
        return format!("no row at {named}{more}");
    }
    let still: Vec<String> = constant(coding, own);
    if !still.is_empty() {
        return format!("{} does not vary in the rows used", still.join(", "));
    }
    let others: Vec<String> =
        involved.iter().filter(|term| !term.effect.is_empty() && term.effect != own).map(|term| term.effect.join(" × ")).collect();
    if others.is_empty() {
        "the rows used cannot tell it from the overall mean".to_owned()
    } else {
        format!("the rows used cannot tell it apart from {}{}", others.join(", "), together(table, own, &involved))
    }
}

/// The reason for an effect without columns.
pub fn one_level(table: &Table, term: &Term) -> String {
    let still = term.categories.iter().filter_map(|name| table.factors.get(name)).filter(|f| f.levels.len() < 2);
    let named: Vec<String> = still.map(|f| format!("{} has one level only, {}", f.name, f.levels.join(""))).collect();
    if named.is_empty() { "it has no column".to_owned() } else { named.join("; ") }
}

fn constant(coding: &Coding, own: &[String]) -> Vec<String> {
    let is_constant = |name: &&String| coding.covariates.get(*name).is_some_and(|standard| standard.constant);
    own.iter().filter(is_constant).cloned().collect()
}

/// The combinations of a term's categories at which there is no row, where these are few enough to list.
fn empty_cells(table: &Table, term: &Term) -> Vec<String> {
    let factors: Vec<_> = term.categories.iter().filter_map(|name| table.factors.get(name)).collect();
    let size: usize = factors.iter().map(|factor| factor.levels.len()).product();
    if factors.len() < 2 || size > 100_000 {
        return Vec::new();
    }
    let mut present = vec![false; size];
    for row in 0..table.len() {
        let place = factors.iter().fold(0, |at, factor| at * factor.levels.len() + factor.codes[row] as usize);
        present[place] = true;
    }
    let describe = |mut place: usize| {
        let mut words = Vec::new();
        for factor in factors.iter().rev() {
            words.push(format!("{} {}", factor.name, factor.levels[place % factor.levels.len()]));
            place /= factor.levels.len();
        }
        words.reverse();
        words.join(", ")
    };
    (0..size).filter(|place| !present[*place]).map(describe).collect()
}

/// Which levels of an effect's category occur with which of another's, where each occurs with one only.
fn together(table: &Table, own: &[String], involved: &[&Term]) -> String {
    let [name] = own else { return String::new() };
    let Some(factor) = table.factors.get(name) else { return String::new() };
    let others = involved.iter().filter(|term| term.effect != own).flat_map(|term| &term.categories);
    for other in others.filter_map(|name| table.factors.get(name)) {
        let mut met: BTreeMap<u32, BTreeSet<u32>> = BTreeMap::new();
        for (a, b) in factor.codes.iter().zip(&other.codes) {
            met.entry(*a).or_default().insert(*b);
        }
        let lone: Vec<String> = met
            .iter()
            .filter(|(_, with)| with.len() == 1)
            .flat_map(|(a, with)| with.iter().map(|b| (*a, *b)))
            .take(NAMED)
            .map(|(a, b)| format!("{} only at {} {}", factor.levels[a as usize], other.name, other.levels[b as usize]))
            .collect();
        if !lone.is_empty() {
            return format!(" ({})", lone.join("; "));
        }
    }
    String::new()
}
