//! The mode of one component's standardised random effects given the parameters: damped Newton steps with the
//! observed second derivatives. Close to the mode the last factor serves again.

use super::law::{High, Law, Low};
use super::records::Part;
use crate::linear::{ArrowInverse, dot};

/// A component at some random effects.
#[derive(Debug, Clone)]
pub struct State {
    /// Standardised random effects.
    pub u: Vec<f64>,
    /// Linear predictors.
    pub eta: Vec<f64>,
    /// Log densities with derivatives.
    pub low: Vec<Low>,
    /// The further derivatives, where the state is the mode.
    pub high: Vec<High>,
    /// Σ log f − ½ u′u
    pub joint: f64,
}

/// Newton steps at most.
const STEPS: usize = 80;

/// What is left below this, in standard deviations of a random effect, ends the search.
const CLOSE: f64 = 1e-10;

/// After a step below this the factor serves again.
const NEAR: f64 = 1e-2;

/// Steps with one factor at most.
const CHORDS: usize = 8;

/// A component, its loadings and the fixed part of its predictors.
pub struct Inner<'i> {
    /// The component.
    pub part: &'i Part,
    /// The family.
    pub law: &'i Law,
    /// M = ZΛ
    pub loadings: &'i [f64],
    /// Fixed part and offset, record by record.
    pub base: &'i [f64],
}

impl Inner<'_> {
    /// The component at `u`; `None` where the density leaves the range of numbers.
    fn at(&self, u: Vec<f64>) -> Option<State> {
        let part = self.part;
        let eta: Vec<f64> = (0..part.len()).map(|i| self.predictor(&u, i)).collect();
        let low: Vec<Low> = part.records.iter().zip(&eta).map(|(record, eta)| self.law.low(record, *eta)).collect();
        let joint = low.iter().map(|low| low.value).sum::<f64>() - 0.5 * dot(&u, &u);
        joint.is_finite().then_some(State { u, eta, low, high: Vec::new(), joint })
    }

    fn predictor(&self, u: &[f64], record: usize) -> f64 {
        self.base[record] + self.part.times(self.loadings, u, record)
    }

    /// (I + M′WM)⁻¹ with W minus the second derivatives; `None` unless positive definite.
    pub fn factor(&self, state: &State) -> Option<ArrowInverse> {
        self.part.weigh(self.loadings, |i| -state.low[i].second).inverse_of_one_plus()
    }

    fn slope(&self, state: &State) -> Vec<f64> {
        let first: Vec<f64> = state.low.iter().map(|low| low.first).collect();
        let mut slope = self.part.transposed_times(self.loadings, &first);
        slope.iter_mut().zip(&state.u).for_each(|(s, u)| *s -= u);
        slope
    }

    /// The component at `u`, taken as its mode, with the further derivatives.
    pub fn rest(&self, u: Vec<f64>) -> Option<State> {
        let part = self.part;
        let eta: Vec<f64> = (0..part.len()).map(|i| self.predictor(&u, i)).collect();
        let (low, high): (Vec<Low>, Vec<High>) = part.records.iter().zip(&eta).map(|(record, eta)| self.law.both(record, *eta)).unzip();
        let joint = low.iter().map(|low| low.value).sum::<f64>() - 0.5 * dot(&u, &u);
        joint.is_finite().then_some(State { u, eta, low, high, joint })
    }

    /// The mode, searched from `start`.
    pub fn mode(&self, start: &[f64]) -> Option<State> {
        if start.is_empty() {
            return self.rest(Vec::new());
        }
        let mut state = self.at(start.to_vec()).or_else(|| self.at(vec![0.0; start.len()]))?;
        let mut last = f64::INFINITY;
        for _ in 0..STEPS {
            let mut step = self.slope(&state);
            // Where the density bends upward the positive weights alone still give a rise.
            let positive = || self.part.weigh(self.loadings, |i| (-state.low[i].second).max(0.0)).inverse_of_one_plus();
            let factor = self.factor(&state).or_else(positive)?;
            let slope = step.clone();
            factor.solve(&mut step);
            let size = largest(&step);
            let scale = largest(&state.u).max(1.0);
            if size < NEAR * scale {
                let near: Vec<f64> = state.u.iter().zip(&step).map(|(u, s)| u + s).collect();
                if let Some(state) = self.chord(near, size, &factor) {
                    return Some(state);
                }
            }
            state = self.advance(&state, &step, dot(&slope, &step))?;
            if size <= CLOSE * scale || (size < 1e-8 * scale && size > 0.3 * last) {
                return self.rest(state.u);
            }
            last = size;
        }
        None
    }

    /// Steps with one factor after a step of size `last`; `None` where they do not contract quickly.
    fn chord(&self, mut u: Vec<f64>, mut last: f64, factor: &ArrowInverse) -> Option<State> {
        for _ in 0..CHORDS {
            let first: Vec<f64> = (0..self.part.len()).map(|i| self.law.first(&self.part.records[i], self.predictor(&u, i))).collect();
            let mut step = self.part.transposed_times(self.loadings, &first);
            step.iter_mut().zip(&u).for_each(|(s, u)| *s -= u);
            factor.solve(&mut step);
            u.iter_mut().zip(&step).for_each(|(u, s)| *u += s);
            let (size, scale) = (largest(&step), largest(&u).max(1.0));
            // What is left after this step is smaller than it by the ratio of the last two.
            if size * (size / last) <= CLOSE * scale {
                return self.rest(u);
            }
            if !(size < NEAR * scale && size < 0.1 * last) {
                return None;
            }
            last = size;
        }
        None
    }

    /// To the first order, where the mode `of` another state goes when predictors and loadings become this
    /// component's and κ moves by `kappa`; `factor` is (I + M′WM)⁻¹ there.
    pub fn predicted(&self, of: &State, factor: &ArrowInverse, kappa: f64) -> Vec<f64> {
        let slope = |i: usize| {
            let moved = self.predictor(&of.u, i) - of.eta[i];
            of.low[i].first + of.low[i].second * moved + of.high[i].first_by_kappa * kappa
        };
        let first: Vec<f64> = (0..self.part.len()).map(slope).collect();
        let mut step = self.part.transposed_times(self.loadings, &first);
        step.iter_mut().zip(&of.u).for_each(|(s, u)| *s -= u);
        factor.solve(&mut step);
        step.iter_mut().zip(&of.u).for_each(|(s, u)| *s += u);
        step
    }

    /// The step, halved until the joint density rises.
    fn advance(&self, state: &State, step: &[f64], rise: f64) -> Option<State> {
        let noise = self.part.noise + 1e-12 * state.joint.abs();
        let mut length = 1.0;
        for _ in 0..60 {
            let u = state.u.iter().zip(step).map(|(u, s)| u + length * s).collect();
            if let Some(next) = self.at(u).filter(|next| next.joint >= state.joint + 1e-4 * length * rise - noise) {
                return Some(next);
            }
            length *= 0.5;
        }
        None
    }
}

fn largest(values: &[f64]) -> f64 {
    values.iter().fold(0.0, |m, value| m.max(value.abs()))
}
