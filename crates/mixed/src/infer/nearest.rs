//! The comparison nearest to one that cannot be estimated: the same one at those levels of another category where
//! the cells present can tell it. Each is put to the row-space rule before it is named.

use super::Fixed;
use super::means::MeanMaker;
use crate::linear::axpy;
use crate::model::Compare;
use crate::result::Levels;

/// Levels of a category beyond which none is looked for.
const LEVELS: usize = 60;

/// Levels named.
const NAMED: usize = 6;

/// In words, where the mean of `one` (less that of `other`) at `within` can be estimated; `None` if nowhere.
pub fn nearest(fixed: &Fixed<'_>, compare: &Compare, one: &Levels, other: Option<&Levels>, within: &Levels) -> Option<String> {
    let named = |name: &String| compare.means_of.contains(name) || compare.within.contains(name);
    let others = fixed.table.factors.values().filter(|factor| fixed.coding.levels.contains_key(&factor.name) && !named(&factor.name));
    let tell = |factor: &crate::design::Factor| {
        let mut narrower = compare.clone();
        narrower.within.push(factor.name.clone());
        let maker = MeanMaker::new(fixed.coding, fixed.table, &narrower);
        let contrast =
            |of: &Levels, at: usize| maker.contrast(|name| if name == factor.name { at } else { place(fixed, name, of, within) });
        let can = |at: &usize| {
            let mut combination = contrast(one, *at);
            if let Some(other) = other {
                axpy(&mut combination, -1.0, &contrast(other, *at));
            }
            fixed.rank.is_estimable(&combination)
        };
        (2..=LEVELS).contains(&factor.levels.len()).then(|| (0..factor.levels.len()).filter(can).collect::<Vec<_>>())
    };
    let found = others.filter_map(|factor| Some((factor, tell(factor)?))).filter(|(_, at)| !at.is_empty());
    let (factor, at) = found.max_by_key(|(factor, at)| (at.len() * 100 / factor.levels.len(), std::cmp::Reverse(factor.name.clone())))?;
    let levels: Vec<&str> = at.iter().take(NAMED).filter_map(|at| factor.levels.get(*at)).map(String::as_str).collect();
    let more = if at.len() > NAMED { " and others" } else { "" };
    Some(format!("{} {}{more}", factor.name, levels.join(", ")))
}

/// The place of the level that `of` or `within` has of a category.
fn place(fixed: &Fixed<'_>, name: &str, of: &Levels, within: &Levels) -> usize {
    let level = of.get(name).or(within.get(name));
    let levels = fixed.table.factors.get(name).map(|factor| factor.levels.as_slice()).unwrap_or_default();
    levels.iter().position(|other| Some(other.as_str()) == level).unwrap_or(0)
}
