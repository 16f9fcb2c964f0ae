//! Is a factor replicated at the unit that it was given to? Units on one irrigation line that got one
//! medium are subsamples of that line, whatever their number (Hurlbert 1984, Ecological Monographs 54:187–211).
use crate::records::Record;
use crosshouse_trial::tables::Factor;
use std::collections::{BTreeMap, BTreeSet};

/// The columns that name the carrier of a factor's treatment; empty where it is the unit itself.
pub fn carrier(unit_of_assignment: &str) -> &'static [&'static str] {
    match unit_of_assignment {
        "house" => &["site", "house"],
        "line" => &["site", "house", "line"],
        "bench" => &["site", "house", "bench"],
        "block" => &["site", "house", "block"],
        _ => &[],
    }
}

fn key<'r>(record: &'r Record, columns: &[&str]) -> Vec<&'r str> {
    columns.iter().map(|c| record.category(c)).collect()
}

/// Sites at which some level of the factor sits on fewer than two of its carriers.
pub fn unreplicated_sites(records: &[Record], factor: &Factor) -> Vec<String> {
    let columns = carrier(&factor.unit_of_assignment);
    if columns.is_empty() {
        return Vec::new();
    }
    let mut carriers: BTreeMap<(&str, &str), BTreeSet<Vec<&str>>> = BTreeMap::new();
    for r in records {
        carriers.entry((&r.site, r.category(&factor.name))).or_default().insert(key(r, columns));
    }
    let thin: BTreeSet<String> = carriers.iter().filter(|(_, c)| c.len() < 2).map(|((site, _), _)| (*site).to_owned()).collect();
    thin.into_iter().collect()
}

/// Number of distinct combinations of these columns.
pub fn distinct(records: &[Record], columns: &[&str]) -> usize {
    records.iter().map(|r| key(r, columns)).collect::<BTreeSet<_>>().len()
}
