//! Satterthwaite's degrees of freedom from the observed information of the restricted likelihood.
//!
//! Source: Fai & Cornelius (1996), Journal of Statistical Computation and Simulation 54:363–378, for
//! several contrasts together.

use super::Basis;
use super::information::{inverse, observed};
use super::natural::{Natural, jacobian, natural};
use crate::cannot_fit::CannotFit;
use crate::likelihood::{First, Likelihood, Point};
use crate::linear::{Matrix, symmetric_eigen};
use crate::search::{FAR_LOG, LARGEST_RHO};

/// What Satterthwaite needs beyond the fit, at unit scale.
pub struct Satterthwaite {
    phi: Matrix,
    /// ∂Φ by each natural parameter.
    shifts: Vec<Matrix>,
    /// Covariance of the natural parameters.
    w: Matrix,
}

impl Satterthwaite {
    /// Prepares tests at the optimum. Parameters on the edge of their range are held there.
    pub fn new(likelihood: &Likelihood<'_>, first: &First) -> Result<Self, CannotFit> {
        let parameters: Vec<Natural> =
            natural(likelihood, &first.point).into_iter().filter(|parameter| is_inside(&first.point, *parameter)).collect();
        let second = likelihood.second(first);
        let information = observed(likelihood, first, &second, &parameters);
        let w = inverse(likelihood, &information, &parameters)?;
        let p = likelihood.design.columns();
        let jacobian = jacobian(&first.point, &likelihood.elements, &parameters);
        let shift = |index: usize| {
            let mut total = Matrix::zeros(p, p);
            for (cross, factor) in first.crosses.iter().zip(jacobian.col(index)) {
                total.add(*factor, &cross.part(0..p, 0..p));
            }
            first.phi.times(&total).times(&first.phi)
        };
        let shifts = (0..parameters.len()).map(shift).collect();
        Ok(Self { phi: first.phi.clone(), shifts, w })
    }

    /// Degrees of freedom of one contrast: 2 (l′Φl)² / (g′Wg), g = l′∂Φl.
    pub fn single(&self, contrast: &[f64]) -> f64 {
        let size = self.phi.form(contrast, contrast);
        let g: Vec<f64> = self.shifts.iter().map(|shift| shift.form(contrast, contrast) / size).collect();
        2.0 / self.w.form(&g, &g)
    }

    /// Degrees of freedom of several contrasts together (columns of `basis`), by their independent
    /// combinations.
    pub fn several(&self, basis: &Basis) -> Option<f64> {
        let count = basis.cols();
        if count == 1 {
            return Some(self.single(basis.col(0)));
        }
        let (_, vectors) = symmetric_eigen(&basis.transposed_times(&self.phi.times(basis)))?;
        let rotated = basis.times(&vectors);
        let each: Vec<f64> = (0..count).map(|col| self.single(rotated.col(col))).collect();
        let (least, most) = each.iter().fold((f64::INFINITY, 0.0_f64), |(l, m), df| (l.min(*df), m.max(*df)));
        if most - least < 1e-8 {
            return Some(each.iter().sum::<f64>() / count as f64);
        }
        if least <= 2.0 {
            return Some(2.0);
        }
        let sum: f64 = each.iter().map(|df| df / (df - 2.0)).sum();
        Some(2.0 * sum / (sum - count as f64))
    }
}

/// Whether a parameter is off the edges of its range.
fn is_inside(point: &Point, parameter: Natural) -> bool {
    match parameter {
        Natural::Variance { term, a } => point.sigma[term][(a, a)] > 0.0,
        Natural::Correlation { term, a, b } => {
            let sigma = &point.sigma[term];
            sigma[(a, b)].powi(2) < (1.0 - 1e-9) * sigma[(a, a)] * sigma[(b, b)]
        }
        Natural::Stratum(stratum) => point.strata[stratum].ln().abs() < FAR_LOG,
        Natural::Rho => point.rho.abs() < (LARGEST_RHO - 0.5).tanh(),
    }
}
