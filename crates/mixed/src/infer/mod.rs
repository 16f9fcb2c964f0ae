//! From fixed effects and their covariance to tests, means and differences.

mod compare;
mod effects;
mod family;
mod means;
mod nearest;
mod reach;
mod reason;

pub use compare::comparisons;
pub use effects::{not_estimable as effects_not_estimable, tests};
pub use reach::{NO_INFORMATION, within_reach};

use std::collections::BTreeSet;

use crate::cannot_fit::CannotFit;
use crate::design::{Coding, Rank, Table};
use crate::model::Model;
use crate::result::NotEstimable;

/// The fixed effects of a design: what estimability depends on.
pub struct Fixed<'d> {
    /// The coding.
    pub coding: &'d Coding,
    /// Rank and dependencies.
    pub rank: &'d Rank,
    /// The rows used.
    pub table: &'d Table,
}

impl Fixed<'_> {
    /// The entries of a combination over the kept columns.
    pub fn kept(&self, combination: &[f64]) -> Vec<f64> {
        self.rank.kept.iter().map(|column| combination[*column]).collect()
    }
}

/// Everything a model asks for that the cells present cannot estimate, each thing once.
pub fn not_estimable(fixed: &Fixed<'_>, model: &Model) -> Result<Vec<NotEstimable>, CannotFit> {
    let mut all = effects_not_estimable(fixed);
    for compare in &model.compare {
        for family in family::families(fixed, compare)? {
            all.extend(family.not_estimable(fixed, compare));
        }
    }
    Ok(once(all))
}

/// Each entry once, in order of first appearance.
pub fn once(all: Vec<NotEstimable>) -> Vec<NotEstimable> {
    let mut seen = BTreeSet::new();
    all.into_iter().filter(|entry| seen.insert(entry.clone())).collect()
}
