//! The design as grown, judged before anything is fitted: which cells exist, how often, what hangs
//! together, and what cannot be told, with the cell that would mend it.
//!
//! Works on any factors, any number of them, with or without houses and blocks.
mod aliasing;
mod assignment;
mod cells;
mod connected;
mod finding;
mod grown;
mod rank;
mod sites;

use crate::tables::{Design, Factor};
use crosshouse_logs::tables::SiteTables;
use grown::Grown;
use std::collections::{BTreeMap, BTreeSet};

/// A treatment factor as the season file declares it.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct FactorDecl {
    pub name: String,
    /// Wording; empty = the name.
    pub label: String,
    /// In order of display; empty = sorted levels found in the plans.
    pub levels: Vec<String>,
    pub level_labels: BTreeMap<String, String>,
    /// house · line · bench · block · unit · plant
    pub unit_of_assignment: String,
}

/// The design of all sites. Findings come worst first.
pub(crate) fn judge(sites: &[SiteTables], declared: &[FactorDecl]) -> Design {
    let factors: Vec<Factor> = declared.iter().map(|f| factor(f, sites)).collect();
    let grown = Grown::new(sites, &factors);
    let mut findings = Vec::new();
    let connected = connected::sets(&grown, &mut findings);
    sites::judge(&grown, &mut findings);
    let aliased = aliasing::judge(&grown, &mut findings);
    cells::empty(&grown, &aliased, &mut findings);
    assignment::judge(&grown, &mut findings);
    findings.sort_by_key(|f| finding::rank(&f.code));
    Design { cells: cells::present(&grown), factors, connected, findings }
}

/// A factor with its levels: those declared, then any others that the plans hold, in order of name.
fn factor(declared: &FactorDecl, sites: &[SiteTables]) -> Factor {
    let planned = sites.iter().flat_map(|s| &s.units).filter(|u| !u.guard).filter_map(|u| u.levels.get(&declared.name));
    let found: BTreeSet<&String> = planned.collect();
    let mut levels = declared.levels.clone();
    levels.extend(found.into_iter().filter(|l| !declared.levels.contains(l)).cloned());
    Factor {
        name: declared.name.clone(),
        label: if declared.label.is_empty() { declared.name.clone() } else { declared.label.clone() },
        levels,
        level_labels: declared.level_labels.clone(),
        unit_of_assignment: declared.unit_of_assignment.clone(),
    }
}

#[cfg(test)]
mod tests;
