//! Written unit ids to units of the plan, by the site's identity rules and no further.
use crate::declare::{Case, IdRules, Keep};
use crosshouse_readings::declared::nearest;
use std::collections::BTreeMap;

/// The units of a site's plan, by their ids.
#[derive(Debug, Default)]
pub(crate) struct UnitIndex {
    rules: IdRules,
    ids: Vec<String>,
    by_normal: BTreeMap<String, usize>,
}

/// What a written id is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Resolved {
    Unit(usize),
    /// Unknown, with the plan's nearest id.
    Unknown(Option<String>),
}

/// An id as the rules compare it.
pub(crate) fn normal(text: &str, rules: &IdRules) -> String {
    let mut id = text.trim().to_owned();
    if rules.spaces == Keep::Drop {
        id.retain(|c| !c.is_whitespace());
    }
    if rules.case == Case::Ignore {
        id = id.to_lowercase();
    }
    if rules.zeros == Keep::Drop { without_leading_zeros(&id) } else { id }
}

/// Leading zeros of every run of digits go, its last digit stays.
fn without_leading_zeros(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    while !rest.is_empty() {
        let digits = rest.bytes().take_while(u8::is_ascii_digit).count();
        let (run, tail) = rest.split_at_checked(digits).unwrap_or((rest, ""));
        let kept = run.trim_start_matches('0');
        out.push_str(if kept.is_empty() && !run.is_empty() { "0" } else { kept });
        let words = tail.bytes().take_while(|b| !b.is_ascii_digit()).count();
        let (word, after) = tail.split_at_checked(words).unwrap_or((tail, ""));
        out.push_str(word);
        rest = after;
    }
    out
}

impl UnitIndex {
    pub fn new(rules: IdRules) -> Self {
        UnitIndex { rules, ids: Vec::new(), by_normal: BTreeMap::new() }
    }

    /// Adds a unit; the index of the one that already has this id, where one has.
    pub fn add(&mut self, id: &str) -> Result<usize, usize> {
        let key = normal(id, &self.rules);
        if let Some(index) = self.by_normal.get(&key) {
            return Err(*index);
        }
        let index = self.ids.len();
        self.ids.push(id.trim().to_owned());
        self.by_normal.insert(key, index);
        Ok(index)
    }

    pub fn resolve(&self, written: &str) -> Resolved {
        let key = normal(written, &self.rules);
        if let Some(index) = self.by_normal.get(&key) {
            return Resolved::Unit(*index);
        }
        let alias = self.rules.also.iter().find(|(alias, _)| normal(alias, &self.rules) == key);
        if let Some(index) = alias.and_then(|(_, unit)| self.by_normal.get(&normal(unit, &self.rules))) {
            return Resolved::Unit(*index);
        }
        Resolved::Unknown(nearest(written.trim(), self.ids.iter().map(String::as_str)).map(str::to_owned))
    }

    /// Aliases that lead to no unit of the plan.
    pub fn dangling(&self) -> Vec<(&str, &str)> {
        let dangles = |unit: &String| !self.by_normal.contains_key(&normal(unit, &self.rules));
        self.rules.also.iter().filter(|(_, unit)| dangles(unit)).map(|(a, u)| (a.as_str(), u.as_str())).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn index(case: Case, spaces: Keep, zeros: Keep) -> UnitIndex {
        let also = BTreeMap::from([("old B7".to_owned(), "B2-07".to_owned())]);
        let mut index = UnitIndex::new(IdRules { case, spaces, zeros, also, ..IdRules::default() });
        index.add("B2-07").unwrap();
        index.add("B2-10").unwrap();
        index
    }

    #[test]
    fn ids_that_differ_by_dropped_zeros_spaces_and_case_are_one_unit() {
        let loose = index(Case::Ignore, Keep::Drop, Keep::Drop);
        for written in ["B02-7", "b2-07", " B2 - 7 ", "OLD b7"] {
            assert_eq!(loose.resolve(written), Resolved::Unit(0), "{written}");
        }
        assert_eq!(loose.resolve("B2-010"), Resolved::Unit(1));
    }

    #[test]
    fn without_rules_ids_are_compared_as_written() {
        let strict = index(Case::Keep, Keep::Keep, Keep::Keep);
        assert_eq!(strict.resolve("B2-07"), Resolved::Unit(0));
        assert_eq!(strict.resolve("b2-07"), Resolved::Unknown(Some("B2-07".into())));
    }

    #[test]
    fn a_unit_that_stands_twice_in_the_plan_is_found_out() {
        assert_eq!(index(Case::Keep, Keep::Keep, Keep::Drop).add("B02-7"), Err(0));
    }

    #[test]
    fn an_alias_of_no_unit_dangles() {
        let mut index = UnitIndex::new(IdRules { also: BTreeMap::from([("x".into(), "Z9".into())]), ..IdRules::default() });
        index.add("A1").unwrap();
        assert_eq!(index.dangling(), [("x", "Z9")]);
    }
}
