//! The search for the maximum: quasi-Newton steps (Broyden, Fletcher, Goldfarb, Shanno) that begin from rough second
//! derivatives at the start, then Newton steps with the exact ones at the end.
//!
//! METHOD: the likelihood is even in the standard deviation of a random term, so that a search crawls toward zero.
//! A step that crosses zero is therefore tried with its end at zero, and the term held there. At the end its second
//! derivative says whether the likelihood rises on leaving zero: if so the term is released, once.

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
const CLOSE: f64 = 1e-12;
/// As [`CLOSE`], for the Newton steps at the end.
const CONVERGED: f64 = 1e-8;
/// A first step of a standard deviation, or of κ, goes at most as far as itself, or as this.
const LEAST_SCALE: f64 = 0.05;
/// As [`LEAST_SCALE`], for κ.
const KAPPA_SCALE: f64 = 1.0;
/// The share of the expected curvature that an update leaves at least (Powell).
const KEPT: f64 = 0.2;
/// Where a term released from zero goes on.
const RELEASED_AT: f64 = 0.02;
/// While more than this is to be gained the second derivatives are taken afresh at each step: they change with it.
const FAR: f64 = 0.5;
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
    /// Whether each parameter was let go of from zero once.
    released: Vec<bool>,
    evaluations: usize,
}

/// Climbs from `start`.
///
/// # Errors
/// [`CannotFit`] where the likelihood has no maximum that these records hold.
pub fn search(problem: &Problem<'_>, start: &[f64]) -> Result<Found, CannotFit> {
    let not_finite = || CannotFit::NotFinite { place: "the start of the search".to_owned() };
    let at = problem.at(start, &problem.no_modes()).ok_or_else(not_finite)?;
    let (held, released) = (vec![false; start.len()], vec![false; start.len()]);
    let mut climb = Climb { problem, theta: start.to_vec(), at, held, released, evaluations: 1 };
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
        self.evaluations += if is_rough { 1 + self.theta.len() - self.problem.layout.fixed } else { 2 * self.theta.len() };
        let found = self.problem.curvature(&self.theta, &self.at.modes, is_rough);
        found.ok_or_else(|| CannotFit::NotFinite { place: "its second derivatives".to_owned() })
    }

    /// Rough second derivatives, made positive definite: the likelihood may bend upward by roots and κ.
    fn fresh(&mut self) -> Result<Matrix, CannotFit> {
        let mut b = self.curvature(true)?;
        let layout = &self.problem.layout;
        let others = layout.fixed..layout.len();
        for at in others.clone() {
            let is_kappa = layout.dispersion && at == layout.kappa_at();
            let scale = if is_kappa { KAPPA_SCALE } else { self.theta[at].abs().max(LEAST_SCALE) };
            b[(at, at)] = b[(at, at)].max(self.at.gradient[at].abs() / scale).max(1e-6);
        }
        if Cholesky::new(&b).is_none() {
            for at in others {
                (0..layout.len()).filter(|other| *other != at).for_each(|other| (b[(at, other)], b[(other, at)]) = (0.0, 0.0));
            }
        }
        Ok(b)
    }

    fn quasi_newton(&mut self) -> Result<(), CannotFit> {
        let mut b = self.fresh()?;
        let (mut is_fresh, mut is_looked_into) = (true, false);
        for _ in 0..STEPS {
            let gradient = self.at.gradient.clone();
            let step = direction(&b, &gradient, &self.free());
            let gain: f64 = dot(&step, &gradient);
            if gain < FAR && !is_looked_into {
                is_looked_into = true;
                if self.release() {
                    b = self.fresh()?;
                    continue;
                }
            }
            if gain.abs() < CLOSE {
                return Ok(());
            }
            let before = self.theta.clone();
            let is_at_zero = self.advance_to_zero(&step);
            if is_at_zero || self.advance(&step, gain) {
                is_fresh = is_at_zero || gain > FAR;
                if is_fresh {
                    b = self.fresh()?;
                    continue;
                }
                let s: Vec<f64> = self.theta.iter().zip(&before).map(|(a, b)| a - b).collect();
                let y: Vec<f64> = gradient.iter().zip(&self.at.gradient).map(|(a, b)| a - b).collect();
                update(&mut b, &s, y);
            } else if is_fresh {
                return Ok(());
            } else {
                b = self.fresh()?;
                is_fresh = true;
            }
        }
        Ok(())
    }

    /// A step that takes single standard deviations across zero, with its end at zero for them.
    fn advance_to_zero(&mut self, step: &[f64]) -> bool {
        let mut theta = self.moved(step, self.longest(step));
        let crosses = |at: &usize| !self.held[*at] && !self.released[*at] && self.theta[*at] * theta[*at] < 0.0;
        let crossing: Vec<usize> = self.single_roots().into_iter().filter(crosses).collect();
        if crossing.is_empty() {
            return false;
        }
        crossing.iter().for_each(|at| theta[*at] = 0.0);
        let expected: f64 = self.at.gradient.iter().zip(theta.iter().zip(&self.theta)).map(|(g, (to, from))| g * (to - from)).sum();
        if !self.take(theta, 1e-4 * expected.max(0.0)) {
            return false;
        }
        crossing.iter().for_each(|at| self.held[*at] = true);
        true
    }

    /// The share of a step that keeps every parameter's within reason.
    fn longest(&self, step: &[f64]) -> f64 {
        let largest = step.iter().fold(0.0_f64, |m, s| m.max(s.abs()));
        (5.0 / largest).min(1.0)
    }

    fn moved(&self, step: &[f64], length: f64) -> Vec<f64> {
        let mut theta: Vec<f64> = self.theta.iter().zip(step).map(|(x, s)| x + length * s).collect();
        if self.problem.layout.dispersion {
            let kappa = &mut theta[self.problem.layout.kappa_at()];
            *kappa = kappa.clamp(KAPPA.0, KAPPA.1);
        }
        theta
    }

    /// Goes to `theta` if the likelihood rises by `rise` there, save for rounding.
    fn take(&mut self, theta: Vec<f64>, rise: f64) -> bool {
        self.evaluations += 1;
        let noise = 1e-11 * (1.0 + self.at.value.abs()) + self.problem.noise;
        let Some(at) = self.problem.at(&theta, &self.at.modes).filter(|at| at.value >= self.at.value + rise - noise) else {
            return false;
        };
        (self.theta, self.at) = (theta, at);
        true
    }

    /// The step, shortened until the likelihood rises enough.
    fn advance(&mut self, step: &[f64], gain: f64) -> bool {
        let mut length = self.longest(step);
        for _ in 0..30 {
            if self.take(self.moved(step, length), 1e-4 * length * gain) {
                return true;
            }
            length *= if length > 0.1 { 0.5 } else { 0.2 };
        }
        false
    }

    /// The parameters that are the standard deviation of a term with one coefficient.
    fn single_roots(&self) -> Vec<usize> {
        let entries = &self.problem.layout.entries;
        let is_single = |term: usize| entries.iter().filter(|(other, _, _)| *other == term).count() == 1;
        (0..entries.len()).filter(|index| is_single(entries[*index].0)).map(|index| self.problem.layout.fixed + index).collect()
    }

    /// Lets go of the terms held at zero on leaving which the likelihood rises.
    fn release(&mut self) -> bool {
        let held: Vec<usize> = self.single_roots().into_iter().filter(|at| self.held[*at] && !self.released[*at]).collect();
        if held.is_empty() {
            return false;
        }
        let mut theta = self.theta.clone();
        held.iter().for_each(|at| theta[*at] = RELEASED_AT);
        self.evaluations += 1;
        let Some(beside) = self.problem.at(&theta, &self.at.modes) else { return false };
        let rising: Vec<usize> = held.into_iter().filter(|at| beside.gradient[*at] > 0.0).collect();
        self.let_go(&rising)
    }

    fn let_go(&mut self, which: &[usize]) -> bool {
        let mut theta = self.theta.clone();
        for at in which {
            (self.held[*at], self.released[*at], theta[*at]) = (false, true, RELEASED_AT);
        }
        self.evaluations += 1;
        match self.problem.at(&theta, &self.at.modes) {
            Some(at) if !which.is_empty() => (self.theta, self.at) = (theta, at),
            _ => return false,
        }
        true
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
            if row != col || self.held[at] {
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
            let rising = |at: &usize| self.held[*at] && !self.released[*at] && curvature[(*at, *at)] < 0.0;
            let rising: Vec<usize> = self.single_roots().into_iter().filter(rising).collect();
            if self.let_go(&rising) {
                self.quasi_newton()?;
                self.check_bounds()?;
                if self.settle_roots() {
                    self.quasi_newton()?;
                }
                continue;
            }
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

/// B ← B − Bss′B/s′Bs + yy′/y′s, y drawn toward Bs where the likelihood bends too little along s (Powell 1978,
/// Lecture Notes in Mathematics 630:144–157).
fn update(b: &mut Matrix, s: &[f64], mut y: Vec<f64>) {
    let bs = b.times_vec(s);
    let (sbs, ys) = (dot(s, &bs), dot(&y, s));
    if !(sbs > 0.0 && ys.is_finite()) {
        return;
    }
    if ys < KEPT * sbs {
        let share = (1.0 - KEPT) * sbs / (sbs - ys);
        y.iter_mut().zip(&bs).for_each(|(y, bs)| *y = share * *y + (1.0 - share) * bs);
    }
    let ys = dot(&y, s);
    for col in 0..s.len() {
        let column = b.col_mut(col);
        for (row, entry) in column.iter_mut().enumerate() {
            *entry += y[row] * y[col] / ys - bs[row] * bs[col] / sbs;
        }
    }
}
