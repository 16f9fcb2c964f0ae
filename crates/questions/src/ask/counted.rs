//! Numbers as counted: cells in which nothing or everything was counted, which no model of logarithms or logits can tell
//! of, and the compared treatments where there is no answer over the sites.
use super::Case;
use crate::answers::{Across, AsCounted, Difference, Levels, Likelihood, Space};
use crate::cells::{Cells, Combination};
use crate::derive::capital;
use crate::exact;
use crate::likelihood::{Law, Link, family_words};
use crate::records::Record;
use std::collections::{BTreeMap, BTreeSet};

/// A site and its cell.
type Place = (String, Combination);

#[derive(Debug, Clone, Copy, Default)]
struct Sum {
    number: f64,
    of: f64,
}

fn sums<K: Ord>(records: &[Record], key: impl Fn(&Record) -> K) -> BTreeMap<K, Sum> {
    let mut sums: BTreeMap<K, Sum> = BTreeMap::new();
    for r in records {
        let sum = sums.entry(key(r)).or_default();
        sum.number += r.counted.map_or(0.0, |c| c.number);
        sum.of += r.counted.map_or(0.0, |c| c.of);
    }
    sums
}

impl Sum {
    /// Nothing was counted, or everything that could be.
    fn is_separated(self, law: Law) -> bool {
        self.number <= 0.0 || (law.link() == Link::Logit && self.number >= self.of)
    }

    fn as_counted(self, law: Law, site: Option<String>, of: Levels, left_out: bool) -> AsCounted {
        let portion = law.link() == Link::Logit;
        let (low, high) = if portion { exact::portion(self.number, self.of) } else { exact::rate(self.number, self.of) };
        let method = if portion { "Clopper–Pearson" } else { "exact Poisson" };
        AsCounted { site, of, number: self.number, out_of: self.of, low, high, method: method.into(), left_out }
    }
}

/// The silent cells of every site, with what was counted there.
pub(super) fn silent(records: &[Record], cells: &Cells, law: Law) -> (BTreeSet<Place>, Vec<AsCounted>) {
    let all = sums(records, |r| cells.of(r));
    let silent = all.into_iter().filter(|(_, sum)| sum.is_separated(law));
    silent
        .map(|(place, sum)| {
            let counted = sum.as_counted(law, Some(place.0.clone()), cells.levels(&place.1), true);
            (place, counted)
        })
        .unzip()
}

/// Of the silent cells those that are so over all sites that grew them.
pub(super) fn silent_everywhere(records: &[Record], cells: &Cells, silent: &BTreeSet<Place>) -> BTreeSet<Place> {
    let telling: BTreeSet<Combination> = records.iter().map(|r| cells.of(r)).filter(|p| !silent.contains(p)).map(|p| p.1).collect();
    silent.iter().filter(|(_, cell)| !telling.contains(cell)).cloned().collect()
}

impl Case<'_> {
    /// How a response is fitted that is not fitted as it stands.
    pub(super) fn likelihood(&self, across: &[Across]) -> Option<Likelihood> {
        let in_words = self.words.likelihood(self.law)?;
        let mut as_counted = self.counted_cells.clone();
        if self.law.link() == Link::Logit && across.iter().all(|a| a.differences.is_empty()) {
            as_counted.extend(self.totals());
        }
        Some(Likelihood {
            family: self.law.family.name().to_owned(),
            scale: self.law.link().word().to_owned(),
            in_words: format!("{}.", capital(&in_words)),
            quantities: self.law.quantities(),
            as_counted,
            beside: across.iter().flat_map(|a| self.beside_words(a)).collect(),
        })
    }

    /// The compared treatments over the sites that grew all of them.
    fn totals(&self) -> Vec<AsCounted> {
        let names: Vec<String> = self.q.compare.iter().chain(&self.varying_within()).cloned().collect();
        let levels = |r: &Record| -> Levels { names.iter().map(|n| (n.clone(), r.category(n).to_owned())).collect() };
        let all: BTreeSet<Levels> = self.records.iter().map(levels).collect();
        let whole = |s: &&String| {
            let here: BTreeSet<Levels> = self.records.iter().filter(|r| r.site == **s).map(levels).collect();
            here.len() == all.len()
        };
        let sites: Vec<&String> = self.sites.iter().filter(whole).collect();
        let records: Vec<Record> = self.records.iter().filter(|r| sites.contains(&&r.site)).cloned().collect();
        sums(&records, levels).into_iter().map(|(of, sum)| sum.as_counted(self.law, None, of, false)).collect()
    }

    /// How far the intervals move with the other family.
    fn beside_words(&self, across: &Across) -> Vec<String> {
        let own = family_words(self.law.family.name());
        let at = if across.space == Space::TheseSites { "At these sites" } else { "At sites like these" };
        let one = |b: &crate::answers::Beside| {
            let other = family_words(&b.family);
            match &b.no_fit {
                Some(why) => format!("{at}, family {other}, fitted in parallel, gives no answer: {why}."),
                None => {
                    let pairs = across.differences.iter().filter_map(|d| Some((d, b.differences.iter().find(|o| same(d, o))?)));
                    let (all, clauses) = (pairs.clone().count(), pairs.take(3).map(|(d, o)| self.moved(d, o, own)).collect::<Vec<_>>());
                    let more = if all > 3 { format!("; {} more stand in the tables", all - 3) } else { String::new() };
                    format!("{at}, by family {other} fitted in parallel: {}{more}.", clauses.join("; "))
                }
            }
        };
        across.beside.iter().filter(|b| b.no_fit.is_some() || !b.differences.is_empty()).map(one).collect()
    }

    fn moved(&self, d: &Difference, other: &Difference, own: &str) -> String {
        let (a, b) = (d.published(), other.published());
        let within = if d.within.is_empty() { String::new() } else { format!(" in {}", self.words.levels(&d.within)) };
        format!(
            "{} against {}{within}, {} {} ({} to {}) in place of {} ({} to {}) by {own}, an interval {:.0} % as wide",
            self.words.levels(&d.of),
            if d.minus.is_empty() { "the average".to_owned() } else { self.words.levels(&d.minus) },
            b.quantity.words(),
            self.words.published(b.estimate, &a),
            self.words.published(b.low, &a),
            self.words.published(b.high, &a),
            self.words.published(a.estimate, &a),
            self.words.published(a.low, &a),
            self.words.published(a.high, &a),
            100.0 * (other.high - other.low) / (d.high - d.low)
        )
    }
}

fn same(a: &Difference, b: &Difference) -> bool {
    a.of == b.of && a.minus == b.minus && a.within == b.within
}
