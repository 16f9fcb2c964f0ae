//! The combination of fixed effects that an adjusted mean is.
//!
//! Covariates are at their mean, where their columns are zero. The categories that the mean does
//! not name are averaged over: with equal weight every sum-to-zero column of theirs averages to zero;
//! with the weights of the rows used it averages to its mean over these rows.

use std::collections::BTreeMap;

use crate::design::{Coding, Table, Term, sum_to_zero};
use crate::model::{Compare, Weights};

/// Makes the adjusted means of one comparison.
pub struct MeanMaker<'d> {
    coding: &'d Coding,
    table: &'d Table,
    named: Vec<&'d str>,
    weights: Weights,
    /// For each set of averaged-over categories, the mean of each product of their columns.
    averages: BTreeMap<Vec<&'d str>, Vec<f64>>,
}

impl<'d> MeanMaker<'d> {
    /// For the means of one comparison.
    pub fn new(coding: &'d Coding, table: &'d Table, compare: &'d Compare) -> Self {
        let named = compare.means_of.iter().chain(&compare.within).map(String::as_str).collect();
        let mut maker = Self { coding, table, named, weights: compare.weights, averages: BTreeMap::new() };
        if compare.weights == Weights::Observed {
            for term in coding.terms.iter().filter(|term| term.covariates.is_empty()) {
                let others = maker.others(term);
                if !others.is_empty() && !maker.averages.contains_key(&others) {
                    let average = maker.observed(&others);
                    maker.averages.insert(others, average);
                }
            }
        }
        maker
    }

    fn others(&self, term: &'d Term) -> Vec<&'d str> {
        term.categories.iter().map(String::as_str).filter(|name| !self.named.contains(name)).collect()
    }

    /// The mean over the rows used of each product of sum-to-zero columns, the first name's fastest.
    fn observed(&self, names: &[&str]) -> Vec<f64> {
        let levels: Vec<usize> = names.iter().map(|name| self.coding.levels[*name]).collect();
        let size = levels.iter().map(|levels| levels.saturating_sub(1)).product();
        let mut sums = vec![0.0; size];
        for row in 0..self.table.len() {
            for (index, sum) in sums.iter_mut().enumerate() {
                let mut rest = index;
                let mut product = 1.0;
                for (name, levels) in names.iter().zip(&levels) {
                    let code = self.table.factors[*name].codes[row] as usize;
                    product *= sum_to_zero(code, rest % (levels - 1), *levels);
                    rest /= levels - 1;
                }
                *sum += product;
            }
        }
        sums.iter().map(|sum| sum / self.table.len() as f64).collect()
    }

    /// The weights of all fixed-effect columns, for one level of each named category.
    pub fn contrast(&self, level: impl Fn(&str) -> usize) -> Vec<f64> {
        let mut contrast = vec![0.0; self.coding.columns()];
        for term in self.coding.terms.iter().filter(|term| term.covariates.is_empty()) {
            let others = self.others(term);
            if !others.is_empty() && self.weights == Weights::Equal {
                continue;
            }
            for column in term.columns() {
                contrast[column] = self.entry(term, column, &others, &level);
            }
        }
        contrast
    }

    fn entry(&self, term: &Term, column: usize, others: &[&str], level: &impl Fn(&str) -> usize) -> f64 {
        let mut product = 1.0;
        let (mut place, mut stride) = (0, 1);
        for (name, contrast) in term.categories.iter().zip(term.contrasts(column)) {
            let levels = self.coding.levels[name];
            if others.contains(&name.as_str()) {
                place += stride * contrast;
                stride *= levels - 1;
            } else {
                product *= sum_to_zero(level(name), contrast, levels);
            }
        }
        if others.is_empty() { product } else { product * self.averages[others][place] }
    }
}
