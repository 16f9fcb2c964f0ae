//! Where the search begins: the fit without random effects and without a dispersion parameter, by Newton's method.
//! It also shows separation: its steps then keep their length while the likelihood no longer rises.

use super::law::{Law, Record};
use super::separation::{Counted, Stopped, is_recession};
use crate::cannot_fit::CannotFit;
use crate::design::{Coefficient, Design, RandomTerm};
use crate::linear::{Cholesky, Matrix, dot};
use crate::model::Family;
use crate::search::damped;

/// Newton steps at most.
const STEPS: usize = 60;
/// Predictors that still move by more than this when the likelihood has stopped rising have no finite value.
const MOVING: f64 = 0.05;

/// Fixed effects of the plain Poisson or binomial fit.
///
/// # Errors
/// [`Stopped::Separated`] with the records without a finite predictor.
pub fn plain(design: &Design, counted: Counted<'_>) -> Result<Vec<f64>, Stopped> {
    let Counted { family, records, offset, .. } = counted;
    let plain = if family.has_trials() { Family::Binomial } else { Family::Poisson };
    let fit = Plain { design, law: Law::new(plain, 0.0, &[]), records, offset };
    let mut beta = fit.crude(plain)?;
    let mut value = fit.value(&beta);
    for _ in 0..STEPS {
        let (gradient, normal) = fit.derivatives(&beta);
        let step = damped(&normal, &gradient);
        let by_cell = design.cells.times(&step);
        let moved = by_cell.iter().fold(0.0_f64, |m, s| m.max(s.abs()));
        let gain = dot(&step, &gradient);
        if gain < 1e-9 * (1.0 + value.abs() * 1e-3) {
            if moved < MOVING {
                return Ok(beta);
            }
            let of_row = |row: usize| by_cell[design.cells.of_row[row] as usize];
            let apart: Vec<bool> = (0..records.len()).map(|row| of_row(row).abs() > MOVING).collect();
            let is_recession = is_recession(records, &apart, of_row);
            return Err(if is_recession { Stopped::Separated(apart) } else { counted.refuse(design, &apart).into() });
        }
        let Some((next, at)) = fit.advance(&beta, value, &step, gain) else { return Ok(beta) };
        (beta, value) = (next, at);
    }
    Ok(beta)
}

struct Plain<'p> {
    design: &'p Design,
    law: Law,
    records: &'p [Record],
    offset: &'p [f64],
}

impl Plain<'_> {
    fn value(&self, beta: &[f64]) -> f64 {
        let fixed = self.design.cells.times(beta);
        let of_row = &self.design.cells.of_row;
        let eta = |i: usize| fixed[of_row[i] as usize] + self.offset[i];
        self.records.iter().enumerate().map(|(i, record)| self.law.low(record, eta(i)).value).sum()
    }

    fn advance(&self, beta: &[f64], value: f64, step: &[f64], gain: f64) -> Option<(Vec<f64>, f64)> {
        let mut length = 1.0;
        for _ in 0..40 {
            let next: Vec<f64> = beta.iter().zip(step).map(|(b, s)| b + length * s).collect();
            let at = self.value(&next);
            if at.is_finite() && at >= value + 1e-4 * length * gain - 1e-12 * value.abs() {
                return Some((next, at));
            }
            length *= 0.5;
        }
        None
    }

    fn derivatives(&self, beta: &[f64]) -> (Vec<f64>, Matrix) {
        let cells = &self.design.cells;
        let fixed = cells.times(beta);
        let mut sums = vec![(0.0, 0.0); cells.len()];
        for (i, record) in self.records.iter().enumerate() {
            let cell = cells.of_row[i] as usize;
            let low = self.law.low(record, fixed[cell] + self.offset[i]);
            sums[cell].0 += low.first;
            sums[cell].1 -= low.second;
        }
        self.normal(&sums)
    }

    /// X′ of the first, X′ diag(second) X.
    fn normal(&self, sums: &[(f64, f64)]) -> (Vec<f64>, Matrix) {
        let p = self.design.columns();
        let (mut gradient, mut normal) = (vec![0.0; p], Matrix::zeros(p, p));
        for (cell, (first, second)) in sums.iter().enumerate() {
            for (a, x) in self.design.cells.entries(cell) {
                gradient[a] += x * first;
                self.design.cells.entries(cell).for_each(|(b, y)| normal[(b, a)] += second * x * y);
            }
        }
        (gradient, normal)
    }

    /// Weighted least squares of the responses drawn in from their limits, on the link scale.
    fn crude(&self, family: Family) -> Result<Vec<f64>, CannotFit> {
        let mut sums = vec![(0.0, 0.0); self.design.cells.len()];
        for (i, record) in self.records.iter().enumerate() {
            let (weight, link) = if family.has_trials() {
                let p = (record.y + 0.5) / (record.n + 1.0);
                (record.n * p * (1.0 - p), (p / (1.0 - p)).ln())
            } else {
                (record.y + 0.5, (record.y + 0.5).ln())
            };
            let cell = &mut sums[self.design.cells.of_row[i] as usize];
            cell.0 += weight * (link - self.offset[i]);
            cell.1 += weight;
        }
        let (right, normal) = self.normal(&sums);
        let solved = Cholesky::new(&normal).map_or_else(|| damped(&normal, &right), |cholesky| cholesky.solve_vec(&right));
        let not_finite = || CannotFit::NotFinite { place: "the start of the fit".to_owned() };
        solved.iter().all(|b| b.is_finite()).then_some(solved).ok_or_else(not_finite)
    }
}

/// Range of a root's diagonal at the start.
const ROOT: (f64, f64) = (0.1, 1.5);

/// Standard deviations of the random terms' coefficients, and κ, from the squares and products of the plain fit's
/// deviations.
pub struct Spread {
    /// Term by term, coefficient by coefficient.
    pub roots: Vec<Vec<f64>>,
    /// The logarithm of the dispersion parameter.
    pub kappa: f64,
}

/// The spread around the plain fit `beta`.
///
/// METHOD: two records that share a level with coefficients z and z′ have deviations of covariance ww′zz′σ² to the
/// first order, w the derivative of the mean by the predictor.
pub fn spread(design: &Design, family: Family, records: &[Record], offset: &[f64], beta: &[f64]) -> Spread {
    let plain = if family.has_trials() { Family::Binomial } else { Family::Poisson };
    let law = Law::new(plain, 0.0, &[]);
    let fixed = design.cells.times(beta);
    let moments = |(i, record): (usize, &Record)| {
        let (mean, variance) = law.moments(record, fixed[design.cells.of_row[i] as usize] + offset[i]);
        (record.y - mean, variance)
    };
    let moments: Vec<(f64, f64)> = records.iter().enumerate().map(moments).collect();
    let shared = |term: &RandomTerm| term.coefficients.iter().map(|coefficient| variance(term, coefficient, &moments)).collect();
    let variances: Vec<Vec<f64>> = design.terms.iter().map(shared).collect();
    let root = |variance: &f64| if variance.is_finite() { variance.sqrt().clamp(ROOT.0, ROOT.1) } else { ROOT.0 };
    let all: f64 = variances.iter().flatten().sum();
    Spread { roots: variances.iter().map(|of| of.iter().map(root).collect()).collect(), kappa: kappa(family, records, &moments, all) }
}

/// σ² of one coefficient, not below zero.
fn variance(term: &RandomTerm, coefficient: &Coefficient, moments: &[(f64, f64)]) -> f64 {
    let mut sums = vec![(0.0, 0.0); term.levels];
    let (mut own, mut own_size) = (0.0, 0.0);
    for (row, (code, (deviation, weight))) in term.codes.iter().zip(moments).enumerate() {
        let z = coefficient.values.as_ref().map_or(1.0, |values| values[row]);
        let (a, b) = (z * deviation, z * z * weight);
        sums[*code as usize].0 += a;
        sums[*code as usize].1 += b;
        (own, own_size) = (own + a * a, own_size + b * b);
    }
    let (square, size) = sums.iter().fold((0.0, 0.0), |(square, size), (a, b)| (square + a * a, size + b * b));
    if size > own_size { ((square - own) / (size - own_size)).max(0.0) } else { 0.0 }
}

/// κ from what the random terms' variances `shared` leave of the excess.
fn kappa(family: Family, records: &[Record], moments: &[(f64, f64)], shared: f64) -> f64 {
    let (mut excess, mut size) = (0.0, 0.0);
    for (record, (deviation, variance)) in records.iter().zip(moments) {
        excess += deviation * deviation - variance;
        size += if family.has_trials() { variance * (record.n - 1.0).max(0.0) } else { variance * variance };
    }
    let all = if size > 0.0 { excess / size } else { 0.0 };
    if family.has_trials() {
        let share = (0.5 * all).clamp(0.01, 0.8);
        return ((1.0 - share) / share).ln();
    }
    let share = (all - shared).max(0.3 * all);
    -if share.is_finite() { share.clamp(0.02, 10.0).ln() } else { 0.0 }
}
