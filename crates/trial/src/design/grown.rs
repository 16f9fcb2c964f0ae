//! The plan in numbers: every analysed unit with the index of its level of each factor.
use crate::tables::Factor;
use crosshouse_logs::tables::{SiteTables, Unit};
use std::collections::BTreeSet;

/// One analysed unit.
pub(super) struct Planned<'a> {
    pub site: usize,
    pub unit: &'a Unit,
    /// Index of the level by factor; `None` where the plan does not say.
    pub levels: Vec<Option<usize>>,
}

pub(super) struct Grown<'a> {
    pub factors: &'a [Factor],
    /// Id and name.
    pub sites: Vec<(&'a str, &'a str)>,
    pub units: Vec<Planned<'a>>,
}

impl<'a> Grown<'a> {
    pub fn new(sites: &'a [SiteTables], factors: &'a [Factor]) -> Self {
        let level = |unit: &Unit, f: &Factor| unit.levels.get(&f.name).and_then(|l| f.levels.iter().position(|known| known == l));
        let planned = |(site, tables): (usize, &'a SiteTables)| {
            let analysed = tables.units.iter().filter(|u| !u.guard);
            analysed.map(move |unit| Planned { site, unit, levels: factors.iter().map(|f| level(unit, f)).collect() })
        };
        Grown {
            factors,
            sites: sites.iter().map(|s| (s.site.id.as_str(), s.site.name.as_str())).collect(),
            units: sites.iter().enumerate().flat_map(planned).collect(),
        }
    }

    /// Pairs of site and level of factor `f`.
    pub fn site_levels(&self, f: usize) -> BTreeSet<(usize, usize)> {
        self.units.iter().filter_map(|u| Some((u.site, u.level(f)?))).collect()
    }

    /// Levels of factor `f` that were grown anywhere, in order of display.
    pub fn levels(&self, f: usize) -> BTreeSet<usize> {
        self.units.iter().filter_map(|u| u.level(f)).collect()
    }

    /// Levels of `f` at one site.
    pub fn levels_at(&self, f: usize, site: usize) -> BTreeSet<usize> {
        self.units.iter().filter(|u| u.site == site).filter_map(|u| u.level(f)).collect()
    }

    /// Pairs of levels of `f` and `g`, at one site or at all.
    pub fn pairs(&self, f: usize, g: usize, site: Option<usize>) -> BTreeSet<(usize, usize)> {
        let at = self.units.iter().filter(|u| site.is_none_or(|s| u.site == s));
        at.filter_map(|u| Some((u.level(f)?, u.level(g)?))).collect()
    }

    pub fn name(&self, f: usize) -> String {
        self.factors.get(f).map_or_else(String::new, |x| x.name.clone())
    }

    pub fn label(&self, f: usize) -> &str {
        self.factors.get(f).map_or("", |x| x.label.as_str())
    }

    /// Wording of a level.
    pub fn level(&self, f: usize, level: usize) -> String {
        let Some(factor) = self.factors.get(f) else { return String::new() };
        let Some(name) = factor.levels.get(level) else { return String::new() };
        factor.level_labels.get(name).unwrap_or(name).clone()
    }

    pub fn level_words(&self, f: usize, levels: impl IntoIterator<Item = usize>) -> String {
        listed(&levels.into_iter().map(|l| self.level(f, l)).collect::<Vec<_>>())
    }

    pub fn site_name(&self, site: usize) -> String {
        self.sites.get(site).map_or_else(String::new, |s| s.1.to_owned())
    }

    pub fn site_words(&self, sites: impl IntoIterator<Item = usize>) -> String {
        listed(&sites.into_iter().map(|s| self.site_name(s)).collect::<Vec<_>>())
    }

    pub fn site_ids(&self, sites: impl IntoIterator<Item = usize>) -> Vec<String> {
        sites.into_iter().filter_map(|s| self.sites.get(s)).map(|s| s.0.to_owned()).collect()
    }

    /// "blend × bucket"
    pub fn pair(&self, f: usize, g: usize, cell: (usize, usize)) -> String {
        format!("{} × {}", self.level(f, cell.0), self.level(g, cell.1))
    }
}

impl Planned<'_> {
    pub fn level(&self, f: usize) -> Option<usize> {
        self.levels.get(f).copied().flatten()
    }
}

/// "a", "a and b", "a, b and c".
pub(super) fn listed(words: &[String]) -> String {
    match words.split_last() {
        None => String::new(),
        Some((last, [])) => last.clone(),
        Some((last, first)) => format!("{} and {last}", first.join(", ")),
    }
}
