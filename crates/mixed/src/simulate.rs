//! Responses drawn from a fitted model on its own design, and their refits.

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;

use crate::cannot_fit::CannotFit;
use crate::design::{RandomTerm, Series};
use crate::discrete::{Source, normal, uniform};
use crate::linear::Matrix;
use crate::model::Family;
use crate::prepared::Prepared;
use crate::result::{Correlation, Dispersion, Fit, FitDetails, VarianceComponent};

/// What responses are drawn from.
#[derive(Debug, Clone, PartialEq)]
pub struct Truth {
    /// For each row used, the fixed part on the fitted or link scale, the offset included for a discrete family.
    pub fixed: Vec<f64>,
    /// Variances in the order of [`Fit::variance_components`].
    pub variances: Vec<VarianceComponent>,
    /// Correlations in the order of [`Fit::correlations`]; `None` counts as 0.
    pub correlations: Vec<Correlation>,
    /// Autocorrelation at a gap of one.
    pub serial: f64,
    /// Dispersion of a discrete family.
    pub dispersion: Option<Dispersion>,
}

impl Truth {
    /// A fit taken as the truth.
    pub fn of(fit: &Fit, details: &FitDetails) -> Self {
        Self {
            fixed: of_every_row(details, &details.fitted),
            variances: fit.variance_components.clone(),
            correlations: fit.correlations.clone(),
            serial: fit.serial.map_or(0.0, |serial| serial.correlation),
            dispersion: fit.dispersion,
        }
    }
}

/// The predictor of every row used, random effects included.
pub(crate) fn predicted(details: &FitDetails) -> Vec<f64> {
    of_every_row(details, &details.predicted)
}

/// A predictor of every row used; that of separated records is infinite.
fn of_every_row(details: &FitDetails, predictor: &[f64]) -> Vec<f64> {
    let apart = details.separated.iter().flat_map(|cell| {
        let end = if cell.count > 0.0 { f64::INFINITY } else { f64::NEG_INFINITY };
        cell.rows.iter().map(move |row| (*row, end))
    });
    let mut all: Vec<(usize, f64)> = details.rows.iter().copied().zip(predictor.iter().copied()).chain(apart).collect();
    all.sort_by_key(|(row, _)| *row);
    all.into_iter().map(|(_, predictor)| predictor).collect()
}

/// Draws `count` responses, on the fitted scale, or counts and successes for a discrete family, one value for each of [`Prepared::rows`]. Response i
/// depends on `seed` and i alone.
pub fn simulate(prepared: &Prepared, truth: &Truth, seed: u64, count: usize) -> Vec<Vec<f64>> {
    (0..count as u64).into_par_iter().map(|number| draw(prepared, truth, seed, number)).collect()
}

/// Fits each response on the prepared design, in order; the result does not depend on the number of threads.
pub fn refit(prepared: &Prepared, responses: &[Vec<f64>]) -> Vec<Result<Fit, CannotFit>> {
    let fit = |own: &mut Prepared, response: &Vec<f64>| own.fit_response(response).map(|(fit, _)| fit);
    responses.par_iter().map_init(|| prepared.clone(), fit).collect()
}

/// Randomised quantile residuals of a discrete fit, one for each of [`FitDetails::rows`]: standard normal where the
/// model holds, given the predicted random effects. Counts fall on steps, and where within its step a record lies
/// is drawn from `seed`. `None` for the normal family.
pub fn quantile_residuals(prepared: &Prepared, fit: &Fit, details: &FitDetails, seed: u64) -> Option<Vec<f64>> {
    let source = source(prepared, fit.dispersion)?;
    let mut stream = ChaCha8Rng::seed_from_u64(seed);
    let trials = trials(prepared);
    // Both ascend: the rows of the fit are those of the table that have a finite predictor.
    let mut places = (0..prepared.rows().len()).filter(|place| details.rows.binary_search(&prepared.rows()[*place]).is_ok());
    let residual = |eta: &f64| {
        let place = places.next()?;
        let n = trials.map_or(0.0, |trials| trials[place]);
        Some(source.quantile_residual(prepared.response()[place], *eta, n, uniform(&mut stream)))
    };
    details.predicted.iter().map(residual).collect()
}

/// The family of a discrete model with its dispersion parameter; `None` for the normal family.
fn source(prepared: &Prepared, dispersion: Option<Dispersion>) -> Option<Source> {
    let family = prepared.model().family;
    let of = |d: Dispersion| d.size.or(d.intraclass.map(|share| (1.0 - share) / share));
    let s = dispersion.and_then(of).unwrap_or(1.0);
    (family != Family::Normal).then_some(Source { family, s })
}

fn trials(prepared: &Prepared) -> Option<&[f64]> {
    let name = prepared.model().trials.as_ref()?;
    prepared.design().table.numbers.get(name).map(Vec::as_slice)
}

fn draw(prepared: &Prepared, truth: &Truth, seed: u64, number: u64) -> Vec<f64> {
    let mut stream = ChaCha8Rng::seed_from_u64(seed);
    stream.set_stream(number);
    let design = prepared.design();
    let mut response = truth.fixed.clone();
    response.resize(design.rows(), 0.0);
    let mut variances = truth.variances.iter().map(|component| component.variance);
    let mut correlations = truth.correlations.iter().map(|correlation| correlation.value.unwrap_or(0.0));
    for term in &design.terms {
        let root = root(term, &mut variances, &mut correlations);
        add_random(term, &root, &mut stream, &mut response);
    }
    if let Some(source) = source(prepared, truth.dispersion) {
        let trials = trials(prepared);
        for (row, y) in response.iter_mut().enumerate() {
            *y = source.draw(*y, trials.map_or(0.0, |trials| trials[row]), &mut stream);
        }
        return response;
    }
    let sd: Vec<f64> = variances.map(f64::sqrt).collect();
    let noise = match &design.residual.series {
        None => (0..design.rows()).map(|_| normal(&mut stream)).collect(),
        Some(series) => serial_noise(series, truth.serial, design.rows(), &mut stream),
    };
    for ((y, e), stratum) in response.iter_mut().zip(noise).zip(&design.residual.stratum) {
        *y += e * sd.get(*stratum as usize).copied().unwrap_or(0.0);
    }
    response
}

/// A root of the covariance of a term's coefficients, as these are scaled in the design.
fn root(term: &RandomTerm, variances: &mut impl Iterator<Item = f64>, correlations: &mut impl Iterator<Item = f64>) -> Matrix {
    let k = term.coefficients.len();
    let mut sigma = Matrix::zeros(k, k);
    for (a, coefficient) in term.coefficients.iter().enumerate() {
        sigma[(a, a)] = variances.next().unwrap_or(0.0) * coefficient.scale * coefficient.scale;
        for b in 0..a {
            sigma[(a, b)] = correlations.next().unwrap_or(0.0) * (sigma[(a, a)] * sigma[(b, b)]).sqrt();
        }
    }
    // Cholesky that takes a nil pivot as a nil column.
    for col in 0..k {
        for row in col..k {
            let less: f64 = (0..col).map(|c| sigma[(row, c)] * sigma[(col, c)]).sum();
            let left = sigma[(row, col)] - less;
            let pivot = sigma[(col, col)];
            sigma[(row, col)] = if row == col {
                left.max(0.0).sqrt()
            } else if pivot > 0.0 {
                left / pivot
            } else {
                0.0
            };
        }
    }
    sigma
}

fn add_random(term: &RandomTerm, root: &Matrix, stream: &mut ChaCha8Rng, response: &mut [f64]) {
    let k = term.coefficients.len();
    let effects: Vec<Vec<f64>> = (0..term.levels)
        .map(|_| {
            let z: Vec<f64> = (0..k).map(|_| normal(stream)).collect();
            (0..k).map(|a| (0..=a).map(|b| root[(a, b)] * z[b]).sum()).collect()
        })
        .collect();
    for (row, (y, code)) in response.iter_mut().zip(&term.codes).enumerate() {
        for (coefficient, effect) in term.coefficients.iter().zip(&effects[*code as usize]) {
            *y += effect * coefficient.values.as_ref().map_or(1.0, |values| values[row]);
        }
    }
}

/// Autocorrelated deviations of variance 1.
fn serial_noise(series: &Series, rho: f64, rows: usize, stream: &mut ChaCha8Rng) -> Vec<f64> {
    let mut noise = vec![0.0; rows];
    for (rows, places) in series.rows.iter().zip(&series.places) {
        let mut last: Option<(f64, i64)> = None;
        for (row, place) in rows.iter().zip(places) {
            let e = match last {
                None => normal(stream),
                Some((before, at)) => {
                    let r = rho.powi(i32::try_from(place - at).unwrap_or(i32::MAX));
                    r * before + (1.0 - r * r).max(0.0).sqrt() * normal(stream)
                }
            };
            noise[*row] = e;
            last = Some((e, *place));
        }
    }
    noise
}
