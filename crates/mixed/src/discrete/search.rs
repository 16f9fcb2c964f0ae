//! The search for the maximum: quasi-Newton steps (Broyden, Fletcher, Goldfarb, Shanno) that begin from the second
//! derivatives at the start, then Newton steps with those at the end.

use super::parameters::KAPPA;
use super::problem::{At, Problem};
use crate::cannot_fit::CannotFit;
use crate::linear::{Cholesky, Matrix, dot};
use crate::search::damped;

/// The maximum.
pub struct Found {
    /// The parameters.
    pub theta: Vec<f64>,
    /// The likelihood there.
    pub at: At,
    /// Minus the second derivatives there.
    pub curvature: Matrix,
    /// The parameters that are free: neither a root at zero nor κ at the edge of its range.
    pub free: Vec<usize>,
    /// Evaluations of the likelihood.
    pub evaluations: usize,
}

/// Twice the gain still expected, below which the quasi-Newton steps end.
const CLOSE: f64 = 1e-11;
/// As [`CLOSE`], for the Newton steps at the end.
const CONVERGED: f64 = 1e-8;
/// A root's diagonal below this is tried at zero.
const SMALL: f64 = 0.02;
/// A standard deviation of a random effect beyond this means that nothing holds it.
const UNBOUNDED: f64 = 40.0;
const STEPS: usize = 300;

struct Climb<'p> {
    problem: &'p Problem<'p>,
    theta: Vec<f64>,
    at: At,
    held: Vec<bool>,
    evaluations: usize,
}

/// Climbs from `start`.
///
/// # Errors
/// [`CannotFit`] where the likelihood has no maximum that these records hold.
pub fn search(problem: &Problem<'_>, start: &[f64]) -> Result<Found, CannotFit> {
    let not_finite = || CannotFit::NotFinite { place: "the start of the search".to_owned() };
    let at = problem.at(start, &problem.no_modes()).ok_or_else(not_finite)?;
    let mut climb = Climb { problem, theta: start.to_vec(), at, held: vec![false; start.len()], evaluations: 1 };
    climb.quasi_newton()?;
    climb.check_bounds()?;
    if climb.settle_roots() {
        climb.quasi_newton()?;
    }
    climb.finish()
}

impl Climb<'_> {
    fn free(&self) -> Vec<usize> {
        let layout = &self.problem.layout;
        let pushed_out = |index: usize| {
            let (theta, slope) = (self.theta[index], self.at.gradient[index]);
            layout.dispersion && index == layout.kappa_at() && ((theta >= KAPPA.1 && slope >= 0.0) || (theta <= KAPPA.0 && slope <= 0.0))
        };
        (0..self.theta.len()).filter(|index| !self.held[*index] && !pushed_out(*index)).collect()
    }

    fn curvature(&mut self, is_rough: bool) -> Result<Matrix, CannotFit> {
        self.evaluations += self.theta.len() * if is_rough { 1 } else { 2 };
        let found = self.problem.curvature(&self.theta, &self.at.modes, is_rough);
        found.ok_or_else(|| CannotFit::NotFinite { place: "its second derivatives".to_owned() })
    }

    fn quasi_newton(&mut self) -> Result<(), CannotFit> {
        let mut b = self.curvature(true)?;
        let mut is_fresh = true;
        for _ in 0..STEPS {
            let free = self.free();
            let gradient = self.at.gradient.clone();
            let step = direction(&b, &gradient, &free);
            let gain: f64 = dot(&step, &gradient);
            if gain.abs() < CLOSE {
                return Ok(());
            }
            let before = self.theta.clone();
            if self.advance(&step, gain) {
                let s: Vec<f64> = self.theta.iter().zip(&before).map(|(a, b)| a - b).collect();
                let y: Vec<f64> = gradient.iter().zip(&self.at.gradient).map(|(a, b)| a - b).collect();
                update(&mut b, &s, &y);
                is_fresh = false;
            } else if is_fresh {
                return Ok(());
            } else {
                b = self.curvature(true)?;
                is_fresh = true;
            }
        }
        Ok(())
    }

    /// The step, shortened until the likelihood rises enough.
    fn advance(&mut self, step: &[f64], gain: f64) -> bool {
        let largest = step.iter().fold(0.0_f64, |m, s| m.max(s.abs()));
        let mut length = (5.0 / largest).min(1.0);
        let noise = 1e-11 * (1.0 + self.at.value.abs()) + self.problem.parts.iter().map(|part| part.noise).sum::<f64>();
        for _ in 0..30 {
            let mut theta: Vec<f64> = self.theta.iter().zip(step).map(|(x, s)| x + length * s).collect();
            if self.problem.layout.dispersion {
                let kappa = &mut theta[self.problem.layout.kappa_at()];
                *kappa = kappa.clamp(KAPPA.0, KAPPA.1);
            }
            self.evaluations += 1;
            if let Some(at) = self.problem.at(&theta, &self.at.modes).filter(|at| at.value >= self.at.value + 1e-4 * length * gain - noise)
            {
                (self.theta, self.at) = (theta, at);
                return true;
            }
            length *= if length > 0.1 { 0.5 } else { 0.2 };
        }
        false
    }

    /// Refuses a random term whose variance grows without bound.
    fn check_bounds(&self) -> Result<(), CannotFit> {
        let layout = &self.problem.layout;
        for ((term, _, _), value) in layout.entries.iter().zip(&self.theta[layout.fixed..]) {
            if value.abs() > UNBOUNDED {
                let group = self.problem.design.terms[*term].group.join(" × ");
                return Err(CannotFit::NoResidualVariation { explained: format!("the combinations of {group}") });
            }
        }
        Ok(())
    }

    /// Makes diagonals positive, and sets to zero, and holds there, what is there to rounding.
    fn settle_roots(&mut self) -> bool {
        let layout = &self.problem.layout;
        let entries: Vec<(usize, (usize, usize, usize))> =
            layout.entries.iter().enumerate().map(|(index, entry)| (layout.fixed + index, *entry)).collect();
        let mut has_moved = false;
        for (at, (term, row, col)) in entries.iter().copied() {
            if row != col {
                continue;
            }
            // A column of a root may change its sign: the modes of its coefficient change theirs.
            let column = entries.iter().filter(|(_, (t, _, c))| (*t, *c) == (term, col)).map(|(at, _)| *at);
            let column: Vec<usize> = column.collect();
            if self.theta[at] < 0.0 {
                column.iter().for_each(|at| self.theta[*at] = -self.theta[*at]);
                has_moved = true;
            }
            if self.theta[at] < SMALL {
                let mut theta = self.theta.clone();
                // With nothing of this column left, what it gave to later rows goes to their own diagonals.
                for other in column {
                    let (row, value) = (entries[other - layout.fixed].1.1, theta[other]);
                    theta[other] = 0.0;
                    if other != at
                        && let Some((own, _)) = entries.iter().find(|(_, entry)| *entry == (term, row, row))
                    {
                        theta[*own] = theta[*own].hypot(value);
                    }
                }
                has_moved |= self.try_at_zero(theta, at, &entries, term, col);
            }
        }
        has_moved
    }

    fn try_at_zero(&mut self, theta: Vec<f64>, at: usize, entries: &[(usize, (usize, usize, usize))], term: usize, col: usize) -> bool {
        self.evaluations += 1;
        let Some(there) = self.problem.at(&theta, &self.problem.no_modes()) else { return false };
        if there.value < self.at.value - 1e-8 * (1.0 + self.at.value.abs() * 1e-3) {
            return false;
        }
        self.held[at] = true;
        entries.iter().filter(|(_, (t, _, c))| (*t, *c) == (term, col)).for_each(|(at, _)| self.held[*at] = true);
        (self.theta, self.at) = (theta, there);
        true
    }

    /// Newton steps with the second derivatives, and those at the end.
    fn finish(mut self) -> Result<Found, CannotFit> {
        // Signs may have changed: the modes are found again from their start.
        if let Some(at) = self.problem.at(&self.theta, &self.problem.no_modes()) {
            self.at = at;
        }
        for _ in 0..8 {
            let curvature = self.curvature(false)?;
            let free = self.free();
            let step = direction(&curvature, &self.at.gradient, &free);
            let gain = dot(&step, &self.at.gradient);
            if gain.abs() < CONVERGED {
                // One step more costs one evaluation; the second derivatives do not change by it.
                self.advance(&step, 0.0);
                return self.found(curvature, free);
            }
            if !self.advance(&step, gain) {
                break;
            }
        }
        Err(CannotFit::NotSettled { gradient: self.at.gradient.iter().fold(0.0_f64, |m, g| m.max(g.abs())) })
    }

    fn found(self, curvature: Matrix, free: Vec<usize>) -> Result<Found, CannotFit> {
        let part = Matrix::from_fn(free.len(), free.len(), |i, j| curvature[(free[i], free[j])]);
        if Cholesky::new(&part).is_none() {
            let terms: Vec<String> = self.problem.design.terms.iter().map(|term| term.group.join(" × ")).collect();
            return Err(CannotFit::VariancesConfounded { terms: terms.join(" and ") });
        }
        Ok(Found { theta: self.theta, at: self.at, curvature, free, evaluations: self.evaluations })
    }
}

fn direction(b: &Matrix, gradient: &[f64], free: &[usize]) -> Vec<f64> {
    let g: Vec<f64> = free.iter().map(|index| gradient[*index]).collect();
    let h = Matrix::from_fn(free.len(), free.len(), |i, j| b[(free[i], free[j])]);
    let mut step = vec![0.0; gradient.len()];
    free.iter().zip(damped(&h, &g)).for_each(|(index, d)| step[*index] = d);
    step
}

/// B ← B − Bss′B/s′Bs + yy′/y′s, left as it is where the curvature along s is not positive.
fn update(b: &mut Matrix, s: &[f64], y: &[f64]) {
    let bs = b.times_vec(s);
    let (sbs, ys) = (dot(s, &bs), dot(y, s));
    if !(ys > 1e-10 * sbs.abs() && sbs > 0.0) {
        return;
    }
    for col in 0..s.len() {
        let column = b.col_mut(col);
        for (row, entry) in column.iter_mut().enumerate() {
            *entry += y[row] * y[col] / ys - bs[row] * bs[col] / sbs;
        }
    }
}
