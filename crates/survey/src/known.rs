//! What is known before a log is looked at: the season's factors, and what the plan lists.
use crate::columns::Column;
use crosshouse_logs::declare::IdRules;
use crosshouse_logs::raw::same_id;
use std::collections::{BTreeMap, BTreeSet};

/// A factor of the season.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Factor {
    pub name: String,
    /// In the season's order; empty: not declared.
    pub levels: Vec<String>,
}

#[derive(Debug, Clone, Default)]
pub(crate) struct Known {
    /// Of a season file that is there already; `None`: there is none.
    pub factors: Option<Vec<Factor>>,
    /// Ids of the plan, as written.
    pub units: Vec<String>,
    /// Of these, the guards.
    pub guards: BTreeSet<String>,
    pub rules: IdRules,
    /// Values of the plan's columns that a zone may be: line, bench, row, house.
    pub zones: BTreeMap<&'static str, BTreeSet<String>>,
    pub houses: Vec<String>,
}

impl Known {
    /// Share of a column's cells that are units of the plan, however loosely written.
    pub fn share_of_units(&self, column: &Column) -> f64 {
        if self.units.is_empty() || column.filled == 0 {
            return 0.0;
        }
        let loose = crate::ids::loosest();
        let units: BTreeSet<String> = self.units.iter().map(|u| same_id(u, &loose)).collect();
        let hits: usize = column.words.iter().filter(|(w, _)| units.contains(&same_id(w, &loose))).map(|(_, n)| n).sum();
        let all: usize = column.words.values().sum();
        hits as f64 / all as f64
    }

    /// The plan's column whose values a zone column repeats.
    pub fn zone_of(&self, column: &Column) -> Option<&'static str> {
        let of = |values: &BTreeSet<String>| !column.words.is_empty() && column.words.keys().all(|w| values.contains(w));
        ["line", "bench", "row", "house"].into_iter().find(|is| self.zones.get(is).is_some_and(of))
    }
}
