//! Keys of the season file in the words of its readers.
use crosshouse_trial::tables::{Design, Factor, SiteTrial, TrialTables};
use std::collections::BTreeMap;

/// Names of sites, factors and levels.
pub struct Wording<'a> {
    design: &'a Design,
    sites: &'a [SiteTrial],
}

impl<'a> Wording<'a> {
    pub fn of(trial: &'a TrialTables) -> Self {
        Wording { design: &trial.design, sites: &trial.sites }
    }

    pub fn site(&self, key: &str) -> String {
        self.sites.iter().find(|s| s.site == key).map_or(key, |s| s.name.as_str()).to_string()
    }

    pub fn factor(&self, key: &str) -> String {
        self.declared(key).map_or(key, |f| f.label.as_str()).to_string()
    }

    pub fn level(&self, factor: &str, level: &str) -> String {
        self.declared(factor).and_then(|f| f.level_labels.get(level)).map_or(level, String::as_str).to_string()
    }

    /// Levels of a factor in order of display, as words.
    pub fn levels_of(&self, factor: &str) -> Vec<String> {
        self.declared(factor).map_or(Vec::new(), |f| f.levels.iter().map(|l| self.level(factor, l)).collect())
    }

    /// Levels in the design's order of factors: "blend, bucket".
    pub fn levels(&self, of: &BTreeMap<String, String>) -> String {
        let mut keys: Vec<&String> = of.keys().collect();
        keys.sort_by_key(|k| self.rank(k));
        let words: Vec<String> = keys.iter().filter_map(|k| of.get(*k).map(|l| self.level(k, l))).collect();
        words.join(", ")
    }

    pub fn rank(&self, factor: &str) -> usize {
        self.design.factors.iter().position(|f| f.name == factor).unwrap_or(usize::MAX)
    }

    fn declared(&self, key: &str) -> Option<&'a Factor> {
        self.design.factors.iter().find(|f| f.name == key)
    }
}
