//! Records without a finite predictor, named by the categories that set them apart.

use std::collections::BTreeMap;

use super::law::Record;
use crate::cannot_fit::CannotFit;
use crate::design::{Design, combine, levels};
use crate::model::Family;

/// Combinations named at most.
const NAMED: usize = 5;

/// The reason for records in distinct fixed rows that `is_moving` picks.
pub fn describe(design: &Design, family: Family, records: &[Record], is_moving: &dyn Fn(&u32) -> bool) -> CannotFit {
    let apart: Vec<bool> = design.cells.of_row.iter().map(is_moving).collect();
    let where_apart = place(design, &apart);
    let of_apart = || records.iter().zip(&apart).filter(|(_, apart)| **apart).map(|(record, _)| record);
    let found = if of_apart().all(|record| record.y == 0.0) {
        if family.has_trials() { "there is no success at all" } else { "every count is 0" }
    } else if family.has_trials() && of_apart().all(|record| record.y == record.n) {
        "every trial is a success"
    } else {
        "the effects separate the records without a remainder"
    };
    let scale = if family.has_trials() { "logit" } else { "log" };
    CannotFit::Separation { cells: where_apart, found: found.to_owned(), scale: scale.to_owned() }
}

/// The smallest effect whose levels hold exactly the records set apart.
fn place(design: &Design, apart: &[bool]) -> String {
    if apart.iter().all(|apart| *apart) {
        return "in the whole table".to_owned();
    }
    let mut candidates: Vec<Vec<String>> = design.coding.terms.iter().map(|term| term.categories.clone()).collect();
    candidates.push(design.coding.levels.keys().cloned().collect());
    candidates.sort_by_key(Vec::len);
    candidates.iter().filter(|names| !names.is_empty()).find_map(|names| of(design, names, apart)).unwrap_or_else(|| {
        let count = apart.iter().filter(|apart| **apart).count();
        format!("in {count} of the records, at one end of a covariate")
    })
}

fn of(design: &Design, names: &[String], apart: &[bool]) -> Option<String> {
    let (codes, combinations) = combine(&design.table, names);
    let mut whole: BTreeMap<u32, bool> = BTreeMap::new();
    for (code, apart) in codes.iter().zip(apart) {
        let all = whole.entry(*code).or_insert(*apart);
        if *all != *apart {
            return None;
        }
    }
    let named: Vec<String> = whole
        .iter()
        .filter(|(_, apart)| **apart)
        .filter_map(|(code, _)| combinations.get(*code as usize))
        .map(|codes| levels(&design.table, names, codes).to_string())
        .collect();
    let more = named.len().saturating_sub(NAMED);
    let shown = named.iter().take(NAMED).cloned().collect::<Vec<_>>().join("; ");
    Some(if more > 0 { format!("at {shown} and {more} more") } else { format!("at {shown}") })
}
