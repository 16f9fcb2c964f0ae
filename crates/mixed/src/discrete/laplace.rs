//! One component's share of the log-likelihood and its gradient: Laplace's approximation, or adaptive
//! Gauss–Hermite quadrature where the component has one random effect.
//!
//! METHOD: with u the standardised random effects, M = ZΛ and H = I + M′WM at the mode, Laplace's approximation is
//! Σ log f − ½u′u − ½ log|H|. W holds the second derivatives themselves. The gradient is exact: what the mode
//! moves comes in through one more solve with H (the adjoint of the implicit function theorem). Quadrature:
//! Liu & Pierce (1994), Biometrika 81:624–629.

use super::law::{High, Law, Low};
use super::mode::{Inner, State};
use super::quadrature::Rule;
use super::records::Part;
use crate::linear::{ArrowInverse, Matrix, dot};

/// Parameters other than the fixed effects, made ready.
pub struct Point<'p> {
    /// The family at κ.
    pub law: Law,
    /// Roots of the random terms' covariances.
    pub roots: Vec<Matrix>,
    /// The roots' entries that are parameters.
    pub entries: &'p [(usize, usize, usize)],
    /// Quadrature instead of Laplace's approximation.
    pub rule: Option<&'p Rule>,
}

/// A component's share.
#[derive(Debug, Clone, Default)]
pub struct Share {
    /// Of the log-likelihood.
    pub value: f64,
    /// Derivatives by the predictor of each distinct fixed row met.
    pub cells: Vec<f64>,
    /// Derivatives by the roots' entries.
    pub entries: Vec<f64>,
    /// Derivative by κ.
    pub kappa: f64,
    /// The mode.
    pub u: Vec<f64>,
}

/// What the integral over u does to the direct derivatives.
struct Integral {
    value: f64,
    /// Multiplies the derivative of −½ log|H|.
    spread: f64,
    /// Multiplies the derivative of the mode.
    shift: f64,
    /// For each record, means of l′, l′·u and ∂l/∂κ.
    means: Vec<[f64; 3]>,
}

/// A component's share with what neighbouring points start from.
pub struct Centre {
    /// The share.
    pub share: Share,
    /// The component at its mode.
    pub state: State,
    /// H⁻¹ there.
    pub factor: ArrowInverse,
    /// M
    pub loadings: Vec<f64>,
}

/// The share of `part`, whose distinct fixed rows have the predictors `fixed`; its mode is searched from `mode`.
pub fn share(part: &Part, point: &Point<'_>, fixed: &[f64], mode: &[f64]) -> Option<Centre> {
    let loadings = part.loadings(&point.roots);
    let base = base(part, fixed);
    let inner = Inner { part, law: &point.law, loadings: &loadings, base: &base };
    let state = inner.mode(mode)?;
    let (share, factor) = at_mode(&inner, point, &state)?;
    Some(Centre { share, state, factor, loadings })
}

/// The share at a point beside that of `centre`, κ moved by `kappa`.
///
/// METHOD: the mode is the one predicted to the first order. What that leaves is even in the distance to its
/// leading order and cancels in a central difference.
pub fn share_beside(part: &Part, point: &Point<'_>, fixed: &[f64], centre: &Centre, kappa: f64) -> Option<Share> {
    let loadings = part.loadings(&point.roots);
    let base = base(part, fixed);
    let inner = Inner { part, law: &point.law, loadings: &loadings, base: &base };
    let state = inner.rest(inner.predicted(&centre.state, &centre.factor, kappa))?;
    at_mode(&inner, point, &state).map(|(share, _)| share)
}

fn base(part: &Part, fixed: &[f64]) -> Vec<f64> {
    part.cell.iter().zip(&part.offset).map(|(cell, offset)| fixed[*cell as usize] + offset).collect()
}

/// The share at a mode, and H⁻¹.
fn at_mode(inner: &Inner<'_>, point: &Point<'_>, state: &State) -> Option<(Share, ArrowInverse)> {
    let Inner { part, loadings, .. } = inner;
    let factor = inner.factor(state)?;
    let high = &state.high;
    let integral = match point.rule {
        Some(rule) if part.random == 1 => quadrature(inner, state, rule, factor.log_det())?,
        _ => Integral { value: state.joint - 0.5 * factor.log_det(), spread: 1.0, shift: 0.0, means: Vec::new() },
    };
    let selected = factor.selected();
    let w = part.width;
    let mut through = vec![0.0; part.len() * w];
    let mut tilt = vec![0.0; part.len()];
    let mut spread = vec![0.0; part.len()];
    for i in 0..part.len() {
        let own = &mut through[i * w..(i + 1) * w];
        part.through(&selected, loadings, i, own);
        spread[i] = 0.5 * integral.spread * dot(own, &loadings[i * w..(i + 1) * w]);
        tilt[i] = spread[i] * high[i].third;
    }
    let mut adjoint = part.transposed_times(loadings, &tilt);
    adjoint.iter_mut().for_each(|a| *a += integral.shift);
    factor.solve(&mut adjoint);
    let parts = Derivatives { part, point, state, high, integral: &integral, through: &through, tilt: &tilt };
    Some((parts.share(loadings, &adjoint, &spread), factor))
}

struct Derivatives<'d> {
    part: &'d Part,
    point: &'d Point<'d>,
    state: &'d State,
    high: &'d [High],
    integral: &'d Integral,
    /// H⁻¹M′ on the columns of each record.
    through: &'d [f64],
    /// Derivative of −½ log|H| by each predictor.
    tilt: &'d [f64],
}

impl Derivatives<'_> {
    fn share(&self, loadings: &[f64], adjoint: &[f64], spread: &[f64]) -> Share {
        let Self { part, point, state, high, .. } = self;
        let slots: Vec<Option<(usize, usize)>> =
            point.entries.iter().map(|(term, row, col)| part.slot(*term, *row).zip(part.slot(*term, *col))).collect();
        let mut share = Share {
            value: self.integral.value,
            cells: vec![0.0; part.cells.len()],
            entries: vec![0.0; slots.len()],
            kappa: 0.0,
            u: state.u.clone(),
        };
        for i in 0..part.len() {
            let low = &state.low[i];
            let [first, _, by_kappa] = self.means(i);
            let moved = part.times(loadings, adjoint, i);
            let by_mode = self.tilt[i] + low.second * moved;
            share.cells[part.cell[i] as usize] += first + by_mode;
            share.kappa += by_kappa + spread[i] * high[i].second_by_kappa + moved * high[i].first_by_kappa;
            for (slots, entry) in slots.iter().zip(&mut share.entries) {
                if let Some((row, col)) = slots {
                    *entry += self.by_entry(i, *row, *col, by_mode, adjoint);
                }
            }
        }
        share
    }

    fn means(&self, i: usize) -> [f64; 3] {
        let means = self.integral.means.get(i).copied();
        means.unwrap_or_else(|| [self.state.low[i].first, f64::NAN, self.high[i].by_kappa])
    }

    fn by_entry(&self, i: usize, row: usize, col: usize, by_mode: f64, adjoint: &[f64]) -> f64 {
        let at = self.part.cols(i)[col] as usize;
        let (u, low) = (self.state.u[at], &self.state.low[i]);
        let direct = self.integral.means.get(i).map_or(low.first * u, |means| means[1]);
        let log_det = self.integral.spread * low.second * self.through[i * self.part.width + col];
        self.part.z(i)[row] * (direct + by_mode * u + adjoint[at] * low.first + log_det)
    }
}

fn quadrature(inner: &Inner<'_>, state: &State, rule: &Rule, log_det: f64) -> Option<Integral> {
    let part = inner.part;
    let width = std::f64::consts::SQRT_2 * (-0.5 * log_det).exp();
    let eta = |i: usize, step: f64| state.eta[i] + inner.loadings[i] * step;
    let logs: Vec<f64> = rule
        .0
        .iter()
        .map(|(t, log)| {
            let u = state.u[0] + width * t;
            let sum: f64 = part.records.iter().enumerate().map(|(i, record)| inner.law.low(record, eta(i, width * t)).value).sum();
            log + sum - 0.5 * u * u
        })
        .collect();
    let largest = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let total: f64 = logs.iter().map(|log| (log - largest).exp()).sum();
    let value = largest + total.ln() + width.ln() - 0.5 * (2.0 * std::f64::consts::PI).ln();
    let mut integral = Integral { value, spread: 1.0, shift: 0.0, means: vec![[0.0; 3]; part.len()] };
    for ((t, _), log) in rule.0.iter().zip(&logs) {
        let p = (log - largest).exp() / total;
        let u = state.u[0] + width * t;
        let mut slope = -u;
        for (i, (record, means)) in part.records.iter().zip(&mut integral.means).enumerate() {
            let at = eta(i, width * t);
            let (Low { first, .. }, High { by_kappa, .. }) = inner.law.both(record, at);
            slope += inner.loadings[i] * first;
            means.iter_mut().zip([first, first * u, by_kappa]).for_each(|(mean, value)| *mean += p * value);
        }
        integral.shift += p * slope;
        integral.spread += p * slope * width * t;
    }
    integral.value.is_finite().then_some(integral)
}
