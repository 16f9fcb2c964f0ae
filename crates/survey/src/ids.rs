//! Unit-identity rules: the fewest that make the written ids units of the plan, and no two units one.
use crate::draft::{Line, Section, many, some};
use crosshouse_logs::declare::{Case, IdRules, Keep};
use crosshouse_logs::raw::same_id;
use std::collections::{BTreeMap, BTreeSet};

fn rules(case: bool, spaces: bool, zeros: bool) -> IdRules {
    let drop = |yes: bool| if yes { Keep::Drop } else { Keep::Keep };
    IdRules { case: if case { Case::Ignore } else { Case::Keep }, spaces: drop(spaces), zeros: drop(zeros), ..IdRules::default() }
}

pub(crate) fn loosest() -> IdRules {
    rules(true, true, true)
}

/// How written ids meet the plan.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Match {
    pub rules: IdRules,
    /// Cells that are units as written, and those that are units only by the rules.
    pub as_written: usize,
    pub by_rules: usize,
    /// Written ids that are in no plan, with how often.
    pub unknown: BTreeMap<String, usize>,
    /// An id that needs the rules, and the unit that it then is.
    pub example: Option<(String, String)>,
}

/// Tries every set of rules, the strictest first.
pub(crate) fn find(units: &[String], written: &BTreeMap<String, usize>) -> Match {
    let mut best: Option<Match> = None;
    for n in [0_u8, 1, 2, 4, 3, 5, 6, 7] {
        let tried = rules(n & 1 != 0, n & 2 != 0, n & 4 != 0);
        let Some(found) = by(units, written, tried) else { continue };
        if best.as_ref().is_none_or(|b| found.as_written + found.by_rules > b.as_written + b.by_rules) {
            best = Some(found);
        }
    }
    best.unwrap_or_else(|| Match { rules: IdRules::default(), as_written: 0, by_rules: 0, unknown: written.clone(), example: None })
}

/// `None`: the rules make one unit of two.
fn by(units: &[String], written: &BTreeMap<String, usize>, rules: IdRules) -> Option<Match> {
    let known: BTreeMap<String, &String> = units.iter().map(|u| (same_id(u, &rules), u)).collect();
    let distinct: BTreeSet<&String> = units.iter().collect();
    if known.len() < distinct.len() {
        return None;
    }
    let mut found = Match { rules, as_written: 0, by_rules: 0, unknown: BTreeMap::new(), example: None };
    for (word, n) in written {
        match known.get(&same_id(word, &found.rules)) {
            Some(_) if distinct.contains(word) => found.as_written += n,
            Some(unit) => {
                found.by_rules += n;
                found.example.get_or_insert_with(|| (word.clone(), (*unit).clone()));
            }
            None => {
                found.unknown.insert(word.clone(), *n);
            }
        }
    }
    Some(found)
}

/// `[unit_ids]`; `None`: every id is written as in the plan.
pub(crate) fn section(found: &Match) -> Option<Section> {
    let (written, unit) = found.example.as_ref()?;
    let mut section = Section::new("[unit_ids]");
    section.intro.push(format!(
        "{} ids are written as in the plan, {} more only by these rules (\"{written}\" for \"{unit}\"); they make no two units one.",
        many(found.as_written),
        many(found.by_rules)
    ));
    if !found.unknown.is_empty() {
        section.intro.push(format!("No unit of the plan: {}.", some(found.unknown.keys().map(String::as_str), 6)));
    }
    let r = &found.rules;
    for (key, word, on) in
        [("case", "ignore", r.case == Case::Ignore), ("spaces", "drop", r.spaces == Keep::Drop), ("zeros", "drop", r.zeros == Keep::Drop)]
    {
        if on {
            section.push(Line::sure(format!("{key} = \"{word}\""), "without it fewer ids are units of the plan"));
        }
    }
    Some(section)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn written(words: &[&str]) -> BTreeMap<String, usize> {
        words.iter().map(|w| ((*w).to_owned(), 1)).collect()
    }

    fn units(words: &[&str]) -> Vec<String> {
        words.iter().map(|w| (*w).to_owned()).collect()
    }

    #[test]
    fn the_fewest_rules_are_taken() {
        let found = find(&units(&["B2-07", "B2-08"]), &written(&["B2-07", "b2-08", "L3"]));
        assert_eq!(found.rules, rules(true, false, false));
        assert_eq!((found.as_written, found.by_rules, found.unknown.len()), (1, 1, 1));
        assert_eq!(find(&units(&["B2-07"]), &written(&["B2-07"])).rules, IdRules::default());
    }

    #[test]
    fn rules_that_make_one_unit_of_two_are_not_taken() {
        let found = find(&units(&["a1", "A1"]), &written(&["a1", "A 1"]));
        assert_eq!((found.rules, found.by_rules), (rules(false, true, false), 1));
    }
}
