//! The largest absolute value of correlated t statistics with one common scale.

mod cells;
mod circle;
mod lattice;
mod one_factor;
mod sphere;

use super::cholesky::directions;
use super::normal;
use super::root::falling_root_near;
use super::scale::{Tail, quantile, t_density, t_two_sided_quantile, upper_tail};
use super::tabulated::{NormalTail, Tabulated};
use cells::Cells;
use circle::Circle;
use one_factor::OneFactor;
use sphere::Sphere;

/// Error bound stated where the quadrature is deterministic.
const QUADRATURE_ERROR: f64 = 1e-10;

/// A probability and a bound of its numerical error, both absolute.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Probability {
    pub value: f64,
    pub error: f64,
}

/// P(max |T_i| > t) for differences T_i whose normal deviates have the given correlation
/// and share one estimated scale (the multivariate t distribution).
///
/// * `t`: at least 0
/// * `correlation`: m × m, row by row; may be singular, and a covariance will do
/// * `df`: degrees of freedom of the scale, whole or not; `None` is a known scale
///
/// The value is NaN where `correlation` is not square and finite with a positive diagonal,
/// or `df` is not positive. The same arguments give the same digits, always.
///
/// Deterministic quadrature serves ranks 1 to 3 (all differences of up to four means) and
/// correlations that are products λ_i·λ_j (comparisons with a control of independent
/// means). Everything else is averaged over a fixed set of directions. Its error (three
/// standard errors) stays below 5e-6 for all differences of five or six means, near 1e-5
/// at seven, 2e-5 at eight, 5e-5 at ten, 2e-4 at fifteen and 2e-3 at thirty, where p is
/// likely; less in the tails.
///
/// # Source
/// Genz & Bretz (2009), Computation of Multivariate Normal and t Probabilities, Springer.
pub fn max_abs_t_upper(t: f64, correlation: &[f64], df: Option<f64>) -> Probability {
    match MaxAbs::new(correlation) {
        Some(distribution) => distribution.probability(t, df),
        None => Probability { value: f64::NAN, error: f64::NAN },
    }
}

/// The t that max |T_i| stays below with probability `level` (for example 0.95), with the
/// arguments of [`max_abs_t_upper`]; NaN where that has no value.
pub fn max_abs_t_quantile(level: f64, correlation: &[f64], df: Option<f64>) -> f64 {
    match MaxAbs::new(correlation) {
        Some(distribution) => distribution.quantile(level, df),
        None => f64::NAN,
    }
}

/// The distribution of max |T_i| for one correlation matrix, prepared for many t and df.
pub(super) struct MaxAbs {
    count: usize,
    table: Tabulated<Route>,
}

impl MaxAbs {
    /// `None` where `correlation` is no correlation matrix.
    pub(super) fn new(correlation: &[f64]) -> Option<Self> {
        let rows = directions(correlation)?;
        let count = rows.len();
        Some(Self { count, table: Tabulated::new(Route::through(&rows)) })
    }

    /// P(max |T_i| > t).
    pub(super) fn upper(&self, t: f64, df: Option<f64>) -> f64 {
        let exact = |w: f64| self.table.exact.upper(w);
        upper_tail(t, df, 1.0, exact, |w| self.table.upper(w))
    }

    fn probability(&self, t: f64, df: Option<f64>) -> Probability {
        let value = self.upper(t, df);
        let error_at = |w: f64| self.table.exact.error(w);
        let error = match &self.table.exact {
            Route::Cells(_) if t > 0.0 => upper_tail(t, df, 1.0, error_at, |w| Tail::plain(error_at(w))),
            _ => value * QUADRATURE_ERROR,
        };
        Probability { value, error }
    }

    /// The t with P(max |T_i| > t) = 1 − level, searched for from Bonferroni's.
    pub(super) fn quantile(&self, level: f64, df: Option<f64>) -> f64 {
        let alpha = 1.0 - level;
        quantile(alpha, df, || {
            if self.count == 1 {
                return t_two_sided_quantile(alpha, df);
            }
            let share = alpha / self.count as f64;
            let bonferroni = t_two_sided_quantile(share, df);
            let slope = -2.0 * t_density(bonferroni, df) / share;
            falling_root_near(|t| self.upper(t, df), alpha, bonferroni, slope)
        })
    }
}

/// How P(max |Z_i| > w) of the normal deviates is computed.
enum Route {
    /// One difference, or several that are all the same.
    Single,
    Circle(Circle),
    Sphere(Sphere),
    OneFactor(OneFactor),
    Cells(Cells),
}

impl Route {
    /// The most accurate route for deviates along `rows`, unit vectors of one length.
    fn through(rows: &[Vec<f64>]) -> Self {
        match rows.first().map_or(1, Vec::len) {
            0 | 1 => Self::Single,
            2 => Self::Circle(Circle::new(rows)),
            3 => Self::Sphere(Sphere::new(rows)),
            _ => match OneFactor::find(rows) {
                Some(one_factor) => Self::OneFactor(one_factor),
                None => Self::Cells(Cells::new(rows)),
            },
        }
    }

    fn error(&self, w: f64) -> f64 {
        match self {
            Self::Cells(cells) => cells.estimate(w).error,
            _ => QUADRATURE_ERROR * self.upper(w),
        }
    }
}

impl NormalTail for Route {
    fn upper(&self, w: f64) -> f64 {
        match self {
            Self::Single => normal::two_sided(w),
            Self::Circle(circle) => circle.upper(w),
            Self::Sphere(sphere) => sphere.upper(w),
            Self::OneFactor(one_factor) => one_factor.upper(w),
            Self::Cells(cells) => cells.estimate(w).value,
        }
    }

    fn decay(&self) -> f64 {
        1.0
    }
}

#[cfg(test)]
mod tests;
