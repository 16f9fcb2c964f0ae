//! The spread of counts and shares, and their zeros, against what the fitted family itself leads to.

use rayon::prelude::*;

use crate::prepared::Prepared;
use crate::result::{Fit, FitDetails};
use crate::simulate::{Truth, predicted, simulate};

/// A number of the fit, its mean over simulated fits, and how far into their upper tail it lies.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Against {
    /// In the records.
    pub found: f64,
    /// Mean over the simulated fits.
    pub expected: f64,
    /// Share of all fits, the records' own among them, that have as much or more.
    pub p: f64,
}

/// The check of a discrete fit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SpreadCheck {
    /// Pearson's Σ (y − μ)²/V, μ with the predicted random effects.
    pub spread: Against,
    /// Records that are zero.
    pub zeros: Against,
    /// Simulated responses that could be fitted.
    pub draws: usize,
    /// The seed that they came from.
    pub seed: u64,
}

/// Draws `draws` responses from the fitted family given the predicted random effects, fits each in turn, and
/// compares; `None` for the normal family. The least p that can be found is 1/(draws + 1).
///
/// # Limits
/// For a family with a dispersion parameter the parameter takes up the spread: only zeros can be found too many.
/// Records of one trial have no spread of their own. Separated records are left out.
pub fn spread_check(prepared: &Prepared, fit: &Fit, details: &FitDetails, seed: u64, draws: usize) -> Option<SpreadCheck> {
    if prepared.model().family == crate::model::Family::Normal {
        return None;
    }
    let mut truth = Truth { fixed: predicted(details), ..Truth::of(fit, details) };
    truth.variances.iter_mut().for_each(|component| component.variance = 0.0);
    let one = |own: &mut Prepared, response: &Vec<f64>| {
        let (_, details) = own.fit_response(response).ok()?;
        Some((pearson(&details), zeros(response)))
    };
    let responses = simulate(prepared, &truth, seed, draws);
    let drawn: Vec<(f64, f64)> =
        responses.par_iter().map_init(|| prepared.clone(), one).collect::<Vec<_>>().into_iter().flatten().collect();
    let (spreads, nils): (Vec<f64>, Vec<f64>) = drawn.iter().copied().unzip();
    let (spread, zeros) = (against(pearson(details), &spreads), against(zeros(prepared.response()), &nils));
    Some(SpreadCheck { spread, zeros, draws: drawn.len(), seed })
}

fn pearson(details: &FitDetails) -> f64 {
    details.residuals.iter().map(|r| r * r).sum()
}

fn zeros(response: &[f64]) -> f64 {
    response.iter().filter(|y| **y == 0.0).count() as f64
}

fn against(found: f64, drawn: &[f64]) -> Against {
    let count = drawn.len() as f64;
    let above = drawn.iter().filter(|one| **one >= found).count() as f64;
    Against { found, expected: drawn.iter().sum::<f64>() / count.max(1.0), p: (1.0 + above) / (1.0 + count) }
}
