//! One series of records: its covariance, the inverse, and the derivatives, all of the series' length.

use super::Likelihood;
use super::point::{Element, Point};
use crate::linear::Matrix;

/// Covariance of one series and its derivatives.
pub struct SeriesCovariance {
    /// R
    pub r: Matrix,
    /// R⁻¹ (tridiagonal).
    pub inverse: Matrix,
    /// For each residual element of the model, ∂R; `None` where zero.
    pub by: Vec<Option<Matrix>>,
}

impl Likelihood<'_> {
    /// The residual elements, in the order of all elements.
    pub fn residual_elements(&self) -> Vec<Element> {
        self.elements.iter().copied().filter(|element| element.is_residual()).collect()
    }

    /// The covariance of a series at a point.
    pub fn series_covariance(&self, point: &Point, series: usize) -> SeriesCovariance {
        let Some((rows, places)) = self.design.residual.series.as_ref().map(|all| (&all.rows[series], &all.places[series])) else {
            let empty = Matrix::zeros(0, 0);
            return SeriesCovariance { r: empty.clone(), inverse: empty, by: Vec::new() };
        };
        let strata: Vec<usize> = rows.iter().map(|row| self.design.residual.stratum[*row] as usize).collect();
        let m = rows.len();
        let sd = |i: usize| point.strata[strata[i]].sqrt();
        let lag = |i: usize, j: usize| (places[i] - places[j]).unsigned_abs();
        let r = Matrix::from_fn(m, m, |i, j| sd(i) * sd(j) * raised(point.rho, lag(i, j)));
        let by = self.residual_elements().into_iter().map(|element| match element {
            Element::Stratum(s) => {
                let share = |i: usize, j: usize| {
                    let count = u8::from(strata[i] == s) + u8::from(strata[j] == s);
                    0.5 * f64::from(count) / point.strata[s]
                };
                strata.contains(&s).then(|| Matrix::from_fn(m, m, |i, j| r[(i, j)] * share(i, j)))
            }
            _ => (m > 1).then(|| Matrix::from_fn(m, m, |i, j| sd(i) * sd(j) * first(point.rho, lag(i, j)))),
        });
        let by = by.collect();
        SeriesCovariance { inverse: inverse(point, &strata, places), by, r }
    }

    /// ∂²R of a series by two residual elements; `None` where zero.
    pub fn series_second(&self, point: &Point, series: usize, covariance: &SeriesCovariance, pair: (usize, usize)) -> Option<Matrix> {
        let all = self.design.residual.series.as_ref()?;
        let (rows, places) = (&all.rows[series], &all.places[series]);
        let elements = self.residual_elements();
        let strata: Vec<usize> = rows.iter().map(|row| self.design.residual.stratum[*row] as usize).collect();
        let m = rows.len();
        match (elements[pair.0], elements[pair.1]) {
            (Element::Stratum(s), Element::Stratum(t)) => {
                let entry = |i: usize, j: usize| {
                    let (a, b) = (strata[i], strata[j]);
                    let f = if s == t {
                        if (a == s) == (b == s) { 0.0 } else { -0.25 }
                    } else if (a == s && b == t) || (a == t && b == s) {
                        0.25
                    } else {
                        0.0
                    };
                    f * covariance.r[(i, j)] / (point.strata[s] * point.strata[t])
                };
                let mixed = strata.iter().any(|one| *one != strata[0]);
                mixed.then(|| Matrix::from_fn(m, m, entry))
            }
            (Element::Rho, Element::Rho) => {
                let sd = |i: usize| point.strata[strata[i]].sqrt();
                let lag = |i: usize, j: usize| (places[i] - places[j]).unsigned_abs();
                Some(Matrix::from_fn(m, m, |i, j| sd(i) * sd(j) * second(point.rho, lag(i, j))))
            }
            (Element::Stratum(s), _) | (_, Element::Stratum(s)) => {
                let by_rho = covariance.by.last()?.as_ref()?;
                let share = |i: usize, j: usize| 0.5 * f64::from(u8::from(strata[i] == s) + u8::from(strata[j] == s)) / point.strata[s];
                Some(Matrix::from_fn(m, m, |i, j| by_rho[(i, j)] * share(i, j)))
            }
            _ => None,
        }
    }
}

fn raised(rho: f64, lag: u64) -> f64 {
    rho.powi(i32::try_from(lag).unwrap_or(i32::MAX))
}

/// d ρᵈ⁻¹
fn first(rho: f64, lag: u64) -> f64 {
    if lag == 0 { 0.0 } else { lag as f64 * raised(rho, lag - 1) }
}

/// d (d − 1) ρᵈ⁻²
fn second(rho: f64, lag: u64) -> f64 {
    if lag < 2 { 0.0 } else { lag as f64 * (lag - 1) as f64 * raised(rho, lag - 2) }
}

fn inverse(point: &Point, strata: &[usize], places: &[i64]) -> Matrix {
    let m = places.len();
    let mut inverse = Matrix::zeros(m, m);
    let sd = |i: usize| point.strata[strata[i]].sqrt();
    for j in 0..m {
        if j == 0 {
            inverse[(0, 0)] += 1.0 / (sd(0) * sd(0));
            continue;
        }
        let i = j - 1;
        let r = raised(point.rho, places[j].abs_diff(places[i]));
        let rest = 1.0 - r * r;
        inverse[(j, j)] += 1.0 / (sd(j) * sd(j) * rest);
        inverse[(i, i)] += r * r / (sd(i) * sd(i) * rest);
        let between = -r / (sd(i) * sd(j) * rest);
        inverse[(i, j)] = between;
        inverse[(j, i)] = between;
    }
    inverse
}
