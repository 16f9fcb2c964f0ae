//! The families of a comparison: at each combination of `within`, the means and the differences asked
//! for, each with its combination of fixed effects.

use std::cell::{Cell, RefCell};
use std::collections::BTreeMap;

use super::Fixed;
use super::means::MeanMaker;
use super::nearest::nearest;
use super::reason::reason;
use crate::cannot_fit::CannotFit;
use crate::linear::axpy;
use crate::model::{Compare, Pairs};
use crate::result::{Levels, NotEstimable};

/// Entries of a family for which the nearest that can be estimated is looked for.
const SOUGHT: usize = 200;

/// One mean of a family.
pub struct Mean {
    /// Whose mean.
    pub of: Levels,
    /// The weights of all fixed-effect columns.
    pub contrast: Vec<f64>,
    /// Whether it can be estimated.
    pub is_estimable: bool,
}

/// One difference of a family.
pub struct Pair {
    /// The mean.
    pub first: usize,
    /// The mean taken off; `None` for the average of all.
    pub second: Option<usize>,
    /// The weights of all fixed-effect columns.
    pub contrast: Vec<f64>,
    /// Whether it can be estimated.
    pub is_estimable: bool,
}

/// The means and differences at one combination of `within`.
pub struct Family {
    /// The combination.
    pub within: Levels,
    /// The means.
    pub means: Vec<Mean>,
    /// The differences asked for.
    pub pairs: Vec<Pair>,
}

/// The families of one comparison, combinations in order.
pub fn families(fixed: &Fixed<'_>, compare: &Compare) -> Result<Vec<Family>, CannotFit> {
    let maker = MeanMaker::new(fixed.coding, fixed.table, compare);
    let control = control(fixed, compare)?;
    let family = |within: Vec<usize>| {
        let means: Vec<Mean> = combinations(fixed, &compare.means_of)
            .into_iter()
            .map(|of| {
                let level = |name: &str| place(&compare.means_of, &of, name).or(place(&compare.within, &within, name));
                let contrast = maker.contrast(|name| level(name).unwrap_or(0));
                let is_estimable = fixed.rank.is_estimable(&contrast);
                Mean { of: named(fixed, &compare.means_of, &of), contrast, is_estimable }
            })
            .collect();
        let pairs = pairs(fixed, &compare.pairs, &means, control);
        Family { within: named(fixed, &compare.within, &within), means, pairs }
    };
    Ok(combinations(fixed, &compare.within).into_iter().map(family).collect())
}

fn place(names: &[String], levels: &[usize], name: &str) -> Option<usize> {
    names.iter().position(|other| other == name).map(|index| levels[index])
}

/// Every combination of levels, the first name slowest.
fn combinations(fixed: &Fixed<'_>, names: &[String]) -> Vec<Vec<usize>> {
    let mut all = vec![Vec::new()];
    for name in names {
        let levels = fixed.table.factors.get(name).map_or(0, |factor| factor.levels.len());
        all = all
            .into_iter()
            .flat_map(|start: Vec<usize>| (0..levels).map(move |level| start.iter().copied().chain([level]).collect()))
            .collect();
    }
    all
}

fn named(fixed: &Fixed<'_>, names: &[String], levels: &[usize]) -> Levels {
    let codes: Vec<u32> = levels.iter().map(|level| *level as u32).collect();
    crate::design::levels(fixed.table, names, &codes)
}

/// The place of the level in `against X`.
fn control(fixed: &Fixed<'_>, compare: &Compare) -> Result<Option<usize>, CannotFit> {
    let (Pairs::Against(level), [category]) = (&compare.pairs, compare.means_of.as_slice()) else { return Ok(None) };
    let levels = fixed.table.factors.get(category).map(|factor| factor.levels.as_slice()).unwrap_or_default();
    match levels.iter().position(|other| other == level) {
        Some(place) => Ok(Some(place)),
        None => Err(CannotFit::LevelAbsent { level: level.clone(), category: category.clone(), levels: levels.join(", ") }),
    }
}

fn pairs(fixed: &Fixed<'_>, asked: &Pairs, means: &[Mean], control: Option<usize>) -> Vec<Pair> {
    let all = 0..means.len();
    let which: Vec<(usize, Option<usize>)> = match asked {
        Pairs::None => Vec::new(),
        Pairs::All => all.flat_map(|i| (i + 1..means.len()).map(move |j| (i, Some(j)))).collect(),
        Pairs::Against(_) => all.filter(|i| Some(*i) != control).map(|i| (i, control)).collect(),
        Pairs::AgainstAverage => all.map(|i| (i, None)).collect(),
    };
    let pairs = which.into_iter().map(|(first, second)| pair(fixed, means, first, second));
    // A lone mean is its family's average: there is nothing to compare.
    pairs.filter(|pair| pair.contrast.iter().any(|weight| *weight != 0.0)).collect()
}

fn pair(fixed: &Fixed<'_>, means: &[Mean], first: usize, second: Option<usize>) -> Pair {
    let mut contrast = means[first].contrast.clone();
    match second {
        Some(other) => axpy(&mut contrast, -1.0, &means[other].contrast),
        None => {
            let share = -1.0 / means.len() as f64;
            means.iter().for_each(|mean| axpy(&mut contrast, share, &mean.contrast));
        }
    }
    Pair { first, second, is_estimable: fixed.rank.is_estimable(&contrast), contrast }
}

impl Family {
    /// The levels taken off in a difference.
    pub fn minus(&self, pair: &Pair) -> Levels {
        pair.second.map(|other| self.means[other].of.clone()).unwrap_or_default()
    }

    /// What of this family cannot be estimated.
    pub fn not_estimable(&self, fixed: &Fixed<'_>, compare: &Compare) -> Vec<NotEstimable> {
        // One reason for each set of dependencies reached: there are few, however many differences.
        let own: Vec<String> = self.means.first().map(|mean| mean.of.0.iter().map(|(name, _)| name.clone()).collect()).unwrap_or_default();
        let known: RefCell<BTreeMap<Vec<bool>, String>> = RefCell::default();
        let why = |contrast: &[f64]| {
            let reached = fixed.rank.reach(contrast).iter().map(|reach| *reach != 0.0).collect();
            let tell = || reason(fixed.coding, fixed.rank, fixed.table, contrast, &own);
            known.borrow_mut().entry(reached).or_insert_with(tell).clone()
        };
        let sought = Cell::new(0);
        let with_nearest = |why: String, what: &str, one: &Levels, other: Option<&Levels>| {
            sought.set(sought.get() + 1);
            let at = if sought.get() > SOUGHT { None } else { nearest(fixed, compare, one, other, &self.within) };
            at.map_or(why.clone(), |at| format!("{why}; the same {what} can be estimated at {at}"))
        };
        let means = self.means.iter().filter(|mean| !mean.is_estimable).map(|mean| NotEstimable::Mean {
            of: mean.of.clone(),
            within: self.within.clone(),
            why: with_nearest(why(&mean.contrast), "mean", &mean.of, None),
        });
        let pairs = self.pairs.iter().filter(|pair| !pair.is_estimable).map(|pair| NotEstimable::Difference {
            of: self.means[pair.first].of.clone(),
            minus: self.minus(pair),
            within: self.within.clone(),
            why: match pair.second {
                Some(second) => with_nearest(why(&pair.contrast), "difference", &self.means[pair.first].of, Some(&self.means[second].of)),
                None => why(&pair.contrast),
            },
        });
        means.chain(pairs).collect()
    }
}
