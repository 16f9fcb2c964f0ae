//! Fixed-effect columns in sum-to-zero coding.
//!
//! A category of L levels has L − 1 columns; its last level is −1 in all of them. An interaction's
//! columns are products. Covariates enter centred at their mean and divided by their standard
//! deviation; [`Coding::raw_weights`] leads back to the covariates as measured.

use std::collections::BTreeMap;

use super::table::Table;
use crate::model::Model;

/// A covariate's mean and standard deviation over the rows used.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Standard {
    /// Mean.
    pub mean: f64,
    /// Standard deviation (divisor n); 1 for a constant column.
    pub sd: f64,
    /// Whether the column varies by no more than rounding: it then stands for nothing but its mean.
    pub constant: bool,
}

impl Standard {
    /// The covariate centred and scaled; exactly zero for a constant column.
    pub fn of(&self, value: f64) -> f64 {
        if self.constant { 0.0 } else { (value - self.mean) / self.sd }
    }
}

const NEUTRAL: Standard = Standard { mean: 0.0, sd: 1.0, constant: false };

/// One effect: its categories, its covariates, its columns.
#[derive(Debug, Clone, PartialEq)]
pub struct Term {
    /// The names as the model has them; empty for the overall mean.
    pub effect: Vec<String>,
    /// Its categories, sorted by name.
    pub categories: Vec<String>,
    /// Its covariates, sorted by name.
    pub covariates: Vec<String>,
    /// Number of columns of each category: levels − 1.
    pub sizes: Vec<usize>,
    /// Its first column.
    pub start: usize,
    /// Number of columns.
    pub len: usize,
}

impl Term {
    /// The sum-to-zero contrast of each category that a column of this term multiplies.
    pub fn contrasts(&self, column: usize) -> Vec<usize> {
        let mut rest = column - self.start;
        self.sizes
            .iter()
            .map(|size| {
                let contrast = rest % size;
                rest /= size;
                contrast
            })
            .collect()
    }

    /// The columns of this term.
    pub fn columns(&self) -> std::ops::Range<usize> {
        self.start..self.start + self.len
    }

    /// Whether every name of this term is in `other` too, and `other` has more.
    pub fn is_inside(&self, other: &Self) -> bool {
        self.effect.len() < other.effect.len() && self.effect.iter().all(|name| other.effect.contains(name))
    }
}

/// The coding of all effects, the overall mean first.
#[derive(Debug, Clone, PartialEq)]
pub struct Coding {
    /// The terms.
    pub terms: Vec<Term>,
    /// Number of levels of each category in the effects.
    pub levels: BTreeMap<String, usize>,
    /// The covariates of the effects.
    pub covariates: BTreeMap<String, Standard>,
}

/// The code of a level in a sum-to-zero contrast.
pub fn sum_to_zero(level: usize, contrast: usize, levels: usize) -> f64 {
    if level == contrast {
        1.0
    } else if level + 1 == levels {
        -1.0
    } else {
        0.0
    }
}

impl Coding {
    /// The coding of a model's effects over the rows used.
    pub fn new(model: &Model, table: &Table) -> Self {
        let mut coding = Self { terms: Vec::new(), levels: BTreeMap::new(), covariates: BTreeMap::new() };
        let mut start = 0;
        for effect in std::iter::once(&Vec::new()).chain(&model.effects) {
            let term = coding.term(model, table, effect, start);
            start += term.len;
            coding.terms.push(term);
        }
        coding
    }

    fn term(&mut self, model: &Model, table: &Table, effect: &[String], start: usize) -> Term {
        let (mut categories, mut covariates): (Vec<String>, Vec<String>) = effect.iter().cloned().partition(|name| model.is_category(name));
        categories.sort();
        covariates.sort();
        let mut sizes = Vec::new();
        for name in &categories {
            let levels = table.factors.get(name).map_or(0, |factor| factor.levels.len());
            self.levels.insert(name.clone(), levels);
            sizes.push(levels.saturating_sub(1));
        }
        for name in &covariates {
            if let Some(values) = table.numbers.get(name) {
                self.covariates.insert(name.clone(), standard(values));
            }
        }
        let len = sizes.iter().product();
        Term { effect: effect.to_vec(), categories, covariates, sizes, start, len }
    }

    /// Number of columns.
    pub fn columns(&self) -> usize {
        self.terms.last().map_or(0, |term| term.start + term.len)
    }

    /// The term that a column belongs to.
    pub fn term_of(&self, column: usize) -> Option<&Term> {
        self.terms.iter().find(|term| term.columns().contains(&column))
    }

    /// The non-zero entries of one row, given each category's level and each standardised covariate.
    pub fn row(&self, level: impl Fn(&str) -> usize, value: impl Fn(&str) -> f64) -> Vec<(usize, f64)> {
        let mut entries = Vec::new();
        for term in &self.terms {
            let factor: f64 = term.covariates.iter().map(|name| value(name)).product();
            if factor == 0.0 || term.len == 0 {
                continue;
            }
            let mut partial = vec![(term.start, factor)];
            let mut stride = 1;
            for (name, size) in term.categories.iter().zip(&term.sizes) {
                let at = level(name);
                partial = if at < *size {
                    partial.into_iter().map(|(column, x)| (column + at * stride, x)).collect()
                } else {
                    let all = |(column, x): (usize, f64)| (0..*size).map(move |c| (column + c * stride, -x));
                    partial.into_iter().flat_map(all).collect()
                };
                stride *= size;
            }
            entries.extend(partial);
        }
        entries
    }

    /// The coefficient of `column`, were the covariates entered as measured, as weights of the
    /// coefficients of the standardised columns.
    ///
    /// A product Π (xₖ − mₖ)/sₖ over the covariates of a term contributes to each term with the same
    /// categories and fewer covariates.
    pub fn raw_weights(&self, column: usize) -> Vec<(usize, f64)> {
        let Some(term) = self.term_of(column) else { return Vec::new() };
        let offset = column - term.start;
        let mut weights = Vec::new();
        for other in &self.terms {
            let covers = term.covariates.iter().all(|name| other.covariates.contains(name));
            if other.categories != term.categories || !covers {
                continue;
            }
            let weight = other.covariates.iter().map(|name| {
                let standard = self.covariates.get(name).copied().unwrap_or(NEUTRAL);
                let kept = term.covariates.contains(name);
                if kept { 1.0 / standard.sd } else { -standard.mean / standard.sd }
            });
            weights.push((other.start + offset, weight.product()));
        }
        weights
    }

    /// log of the product of all covariates' standard deviations over the given columns: what
    /// ½ log|X′V⁻¹X| gains when the covariates enter as measured.
    pub fn log_scale(&self, columns: &[usize]) -> f64 {
        let of = |column: &usize| {
            let covariates = self.term_of(*column).map(|term| term.covariates.as_slice()).unwrap_or_default();
            covariates.iter().filter_map(|name| self.covariates.get(name)).map(|s| s.sd.ln()).sum::<f64>()
        };
        columns.iter().map(of).sum()
    }
}

fn standard(values: &[f64]) -> Standard {
    let n = values.len().max(1) as f64;
    let first = values.first().copied().unwrap_or(0.0);
    let mean = first + values.iter().map(|x| x - first).sum::<f64>() / n;
    let sd = (values.iter().map(|x| (x - mean) * (x - mean)).sum::<f64>() / n).sqrt();
    let constant = sd <= 1e-13 * mean.abs() || sd == 0.0;
    Standard { mean, sd: if constant { 1.0 } else { sd }, constant }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::columns::Columns;

    fn coding() -> Coding {
        let mut data = Columns::new(6);
        data.category("a", &["p", "q", "r", "p", "q", "r"]).unwrap();
        data.category("b", &["x", "x", "x", "y", "y", "y"]).unwrap();
        data.number("t", vec![1.0, 2.0, 3.0, 5.0, 8.0, 13.0]).unwrap();
        data.number("y", vec![0.0; 6]).unwrap();
        let names = |list: &[&str]| list.iter().map(|s| (*s).to_owned()).collect::<Vec<_>>();
        let model = Model {
            response: "y".into(),
            categories: names(&["a", "b"]),
            effects: vec![names(&["a"]), names(&["b"]), names(&["b", "a"]), names(&["t"]), names(&["a", "t"])],
            ..Model::default()
        };
        Coding::new(&model, &Table::new(&data, &model).unwrap())
    }

    #[test]
    fn the_last_levels_row_is_minus_one_in_every_column_and_products_in_the_interaction() {
        let row = coding().row(|name| if name == "a" { 2 } else { 1 }, |_| 2.0);
        let expected = [(0, 1.0), (1, -1.0), (2, -1.0), (3, -1.0), (4, 1.0), (5, 1.0), (6, 2.0), (7, -2.0), (8, -2.0)];
        assert_eq!(row, expected);
    }

    #[test]
    fn a_straight_line_keeps_its_raw_intercept_and_slope() {
        // y = 3 + 2 t in standardised columns is intercept 3 + 2 m and slope 2 s.
        let coding = coding();
        let s = coding.covariates["t"];
        let mut beta = vec![0.0; coding.columns()];
        beta[0] = 3.0 + 2.0 * s.mean;
        beta[6] = 2.0 * s.sd;
        let raw = |column| coding.raw_weights(column).iter().map(|(c, w)| w * beta[*c]).sum::<f64>();
        assert!((raw(0) - 3.0).abs() < 1e-12 && (raw(6) - 2.0).abs() < 1e-12);
    }
}
