//! Which sites can tell which mean and which difference: the cells present against the cells that an
//! equal-weight mean over the other factors needs.
use crate::answers::Levels;
use crate::records::Record;
use std::collections::{BTreeMap, BTreeSet};

/// A combination of levels, in the order of some list of factors.
pub type Combination = Vec<String>;

/// The cells of a response: sites × combinations of all factors.
pub struct Cells {
    factors: Vec<String>,
    present: BTreeMap<String, BTreeSet<Combination>>,
    /// Present, and nothing or everything was counted there: no model can tell of them.
    silent: BTreeSet<(String, Combination)>,
}

/// The adjusted mean that a question needs at one site.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Wanted {
    pub of: Combination,
    pub within: Combination,
}

impl Cells {
    /// Factors with one level throughout do not vary and are left out.
    pub fn new(records: &[Record], factors: &[String]) -> Self {
        let varies = |f: &&String| records.iter().map(|r| r.category(f)).collect::<BTreeSet<_>>().len() > 1;
        let factors: Vec<String> = factors.iter().filter(varies).cloned().collect();
        let mut present: BTreeMap<String, BTreeSet<Combination>> = BTreeMap::new();
        for r in records {
            let cell = factors.iter().map(|f| r.category(f).to_owned()).collect();
            present.entry(r.site.clone()).or_default().insert(cell);
        }
        Cells { factors, present, silent: BTreeSet::new() }
    }

    /// The same cells, of which these cannot be told.
    pub fn silenced(&self, silent: BTreeSet<(String, Combination)>) -> Self {
        Cells { factors: self.factors.clone(), present: self.present.clone(), silent }
    }

    /// The record's site and cell.
    pub fn of(&self, record: &Record) -> (String, Combination) {
        (record.site.clone(), self.factors.iter().map(|f| record.category(f).to_owned()).collect())
    }

    /// Whether the record's cell can be told.
    pub fn tells(&self, record: &Record) -> bool {
        !self.silent.contains(&self.of(record))
    }

    /// The factors that vary.
    pub fn factors(&self) -> &[String] {
        &self.factors
    }

    pub fn sites(&self) -> impl Iterator<Item = &String> {
        self.present.keys()
    }

    fn index(&self, names: &[String]) -> Vec<usize> {
        names.iter().filter_map(|n| self.factors.iter().position(|f| f == n)).collect()
    }

    fn project(cell: &Combination, index: &[usize]) -> Combination {
        index.iter().filter_map(|i| cell.get(*i).cloned()).collect()
    }

    /// The combinations of the named factors that stand at any of the sites.
    pub fn combinations(&self, names: &[String]) -> Vec<Combination> {
        let index = self.index(names);
        let all: BTreeSet<Combination> = self.present.values().flatten().map(|c| Self::project(c, &index)).collect();
        all.into_iter().collect()
    }

    /// The combinations of the factors that a mean is averaged over: those at sites that grew at least two of the
    /// compared levels, or at all sites where none did.
    fn averaged_over(&self, compare: &[String], within: &[String]) -> (Vec<usize>, BTreeSet<Combination>) {
        let named: BTreeSet<usize> = self.index(compare).into_iter().chain(self.index(within)).collect();
        let others: Vec<usize> = (0..self.factors.len()).filter(|i| !named.contains(i)).collect();
        let compared = self.index(compare);
        let levels = |cells: &BTreeSet<Combination>| cells.iter().map(|c| Self::project(c, &compared)).collect::<BTreeSet<_>>().len();
        let telling = self.present.values().any(|cells| levels(cells) > 1);
        let sites = self.present.values().filter(|cells| !telling || levels(cells) > 1);
        let combinations = sites.flatten().map(|c| Self::project(c, &others)).collect();
        (others, combinations)
    }

    /// The cells that the wanted mean needs and that the site lacks; empty: the site can tell it.
    pub fn lacking(&self, site: &str, compare: &[String], within: &[String], wanted: &Wanted) -> Vec<Levels> {
        let (others, combinations) = self.averaged_over(compare, within);
        let Some(cells) = self.present.get(site) else { return Vec::new() };
        let mut fixed: BTreeMap<usize, String> = self.index(compare).into_iter().zip(wanted.of.iter().cloned()).collect();
        fixed.extend(self.index(within).into_iter().zip(wanted.within.iter().cloned()));
        let cell = |other: &Combination| -> Combination {
            let mut all = fixed.clone();
            all.extend(others.iter().copied().zip(other.iter().cloned()));
            all.into_values().collect()
        };
        let told = |c: &Combination| cells.contains(c) && !self.silent.contains(&(site.to_owned(), c.clone()));
        combinations.iter().map(cell).filter(|c| !told(c)).map(|c| self.levels(&c)).collect()
    }

    pub fn levels(&self, cell: &Combination) -> Levels {
        self.factors.iter().cloned().zip(cell.iter().cloned()).collect()
    }

    /// What the site did grow.
    pub fn grown(&self, site: &str) -> Vec<Levels> {
        self.present.get(site).into_iter().flatten().map(|c| self.levels(c)).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn record(site: &str, levels: &[(&str, &str)]) -> Record {
        Record {
            site: site.into(),
            unit: "u".into(),
            house: "h".into(),
            block: None,
            line: None,
            bench: None,
            levels: levels.iter().map(|(f, l)| ((*f).into(), (*l).into())).collect(),
            response: 1.0,
            counted: None,
        }
    }

    fn names(list: &[&str]) -> Vec<String> {
        list.iter().map(|s| (*s).into()).collect()
    }

    #[test]
    fn where_every_site_grew_one_level_each_lacks_the_other() {
        let all = [record("a", &[("medium", "blend")]), record("b", &[("medium", "perlite")])];
        let cells = Cells::new(&all, &names(&["medium"]));
        let wanted = |level: &str| Wanted { of: names(&[level]), within: vec![] };
        assert_eq!(cells.lacking("a", &names(&["medium"]), &[], &wanted("perlite")).len(), 1);
        assert!(cells.lacking("a", &names(&["medium"]), &[], &wanted("blend")).is_empty());
    }

    #[test]
    fn a_site_with_one_medium_lacks_the_cells_of_the_other() {
        let mut all = Vec::new();
        for medium in ["blend", "perlite"] {
            for pot in ["bucket", "pot"] {
                all.push(record("a", &[("medium", medium), ("container", pot)]));
                if medium == "perlite" {
                    all.push(record("b", &[("medium", medium), ("container", pot)]));
                }
            }
        }
        let cells = Cells::new(&all, &names(&["medium", "container"]));
        let wanted = Wanted { of: names(&["blend"]), within: vec![] };
        assert!(cells.lacking("a", &names(&["medium"]), &[], &wanted).is_empty());
        assert_eq!(cells.lacking("b", &names(&["medium"]), &[], &wanted).len(), 2);
        // containers in perlite can be told at both, containers over both media at the first alone
        let bucket = Wanted { of: names(&["bucket"]), within: names(&["perlite"]) };
        assert!(cells.lacking("b", &names(&["container"]), &names(&["medium"]), &bucket).is_empty());
        let bucket = Wanted { of: names(&["bucket"]), within: vec![] };
        assert_eq!(cells.lacking("b", &names(&["container"]), &[], &bucket).len(), 1);
    }
}
