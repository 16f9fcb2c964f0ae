//! A point in the space of variances, and what the residual's inverse covariance is there.

use crate::design::{Class, RandomTerm, ResidualStructure};
use crate::linear::Matrix;

/// Covariances, all relative to one common scale.
#[derive(Debug, Clone, PartialEq)]
pub struct Point {
    /// For each random term, the k × k covariance of its coefficients.
    pub sigma: Vec<Matrix>,
    /// For each random term, a lower triangular root of `sigma`; zeros on its diagonal are ordinary.
    pub factor: Vec<Matrix>,
    /// Residual variance of each stratum.
    pub strata: Vec<f64>,
    /// Autocorrelation at a gap of one; 0 where there are no series.
    pub rho: f64,
}

impl Point {
    /// The point with these roots, strata and ρ.
    pub fn new(factor: Vec<Matrix>, strata: Vec<f64>, rho: f64) -> Self {
        let sigma = factor.iter().map(|root| root.times(&root.transposed())).collect();
        Self { sigma, factor, strata, rho }
    }
}

/// A direction in which the covariance is differentiated: an entry of a random term's covariance, a
/// residual variance, or ρ.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Element {
    /// Covariance of coefficients `a` ≥ `b` of random term `term`.
    Random {
        /// The random term.
        term: usize,
        /// Row.
        a: usize,
        /// Column.
        b: usize,
    },
    /// Residual variance of a stratum.
    Stratum(usize),
    /// Autocorrelation.
    Rho,
}

impl Element {
    /// Whether this is a residual variance or ρ.
    pub fn is_residual(self) -> bool {
        !matches!(self, Self::Random { .. })
    }
}

/// All directions: random terms in order (row by row of the lower triangle), strata, ρ.
pub fn elements(terms: &[RandomTerm], residual: &ResidualStructure) -> Vec<Element> {
    let mut all = Vec::new();
    for (term, random) in terms.iter().enumerate() {
        let size = random.coefficients.len();
        all.extend((0..size).flat_map(|a| (0..=a).map(move |b| Element::Random { term, a, b })));
    }
    all.extend((0..residual.strata.len()).map(Element::Stratum));
    if residual.series.is_some() {
        all.push(Element::Rho);
    }
    all
}

/// r = ρᵍ and its derivative by ρ.
pub fn power(rho: f64, gap: i32) -> (f64, f64) {
    (rho.powi(gap), f64::from(gap) * rho.powi(gap - 1))
}

impl Point {
    /// The weight of a class in the residual's inverse covariance.
    pub fn weight(&self, class: Class) -> f64 {
        let variance = |stratum: u32| self.strata[stratum as usize];
        match class {
            Class::Alone { stratum } => 1.0 / variance(stratum),
            Class::Later { stratum, gap } => {
                let (r, _) = power(self.rho, gap);
                1.0 / (variance(stratum) * (1.0 - r * r))
            }
            Class::Earlier { stratum, gap } => {
                let (r, _) = power(self.rho, gap);
                r * r / (variance(stratum) * (1.0 - r * r))
            }
            Class::Between { strata: (s, t), gap } => {
                let (r, _) = power(self.rho, gap);
                -r / ((variance(s) * variance(t)).sqrt() * (1.0 - r * r))
            }
        }
    }

    /// The derivative of a class's weight by a residual variance or ρ.
    pub fn slope(&self, class: Class, element: Element) -> f64 {
        match element {
            Element::Random { .. } => 0.0,
            Element::Stratum(stratum) => {
                let share = match class {
                    Class::Alone { stratum: s } | Class::Later { stratum: s, .. } | Class::Earlier { stratum: s, .. } => {
                        f64::from(u8::from(s as usize == stratum))
                    }
                    Class::Between { strata: (s, t), .. } => {
                        0.5 * f64::from(u8::from(s as usize == stratum) + u8::from(t as usize == stratum))
                    }
                };
                if share == 0.0 { 0.0 } else { -share * self.weight(class) / self.strata[stratum] }
            }
            Element::Rho => self.slope_by_rho(class),
        }
    }

    fn slope_by_rho(&self, class: Class) -> f64 {
        let variance = |stratum: u32| self.strata[stratum as usize];
        match class {
            Class::Alone { .. } => 0.0,
            Class::Later { stratum, gap } | Class::Earlier { stratum, gap } => {
                let (r, by_rho) = power(self.rho, gap);
                2.0 * r * by_rho / (variance(stratum) * (1.0 - r * r).powi(2))
            }
            Class::Between { strata: (s, t), gap } => {
                let (r, by_rho) = power(self.rho, gap);
                -by_rho * (1.0 + r * r) / ((variance(s) * variance(t)).sqrt() * (1.0 - r * r).powi(2))
            }
        }
    }

    /// log|R|
    pub fn log_det_residual(&self, residual: &ResidualStructure) -> f64 {
        let strata = residual.counts.iter().zip(&self.strata).map(|(n, v)| *n as f64 * v.ln()).sum::<f64>();
        let Some(series) = &residual.series else { return strata };
        let gap = |(gap, count): (&i32, &usize)| {
            let (r, _) = power(self.rho, *gap);
            *count as f64 * (-r * r).ln_1p()
        };
        strata + series.gaps.iter().map(gap).sum::<f64>()
    }

    /// tr(R⁻¹ ∂R), which is the derivative of log|R|.
    pub fn residual_trace(&self, residual: &ResidualStructure, element: Element) -> f64 {
        match element {
            Element::Random { .. } => 0.0,
            Element::Stratum(stratum) => residual.counts[stratum] as f64 / self.strata[stratum],
            Element::Rho => {
                let Some(series) = &residual.series else { return 0.0 };
                let gap = |(gap, count): (&i32, &usize)| {
                    let (r, by_rho) = power(self.rho, *gap);
                    -2.0 * *count as f64 * r * by_rho / (1.0 - r * r)
                };
                series.gaps.iter().map(gap).sum()
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_slope_is_the_derivative_of_its_weight() {
        let at = |strata: [f64; 2], rho| Point { sigma: vec![], factor: vec![], strata: strata.to_vec(), rho };
        let classes = [
            Class::Alone { stratum: 0 },
            Class::Later { stratum: 1, gap: 2 },
            Class::Earlier { stratum: 0, gap: 3 },
            Class::Between { strata: (0, 1), gap: 2 },
            Class::Between { strata: (1, 1), gap: 1 },
        ];
        let h = 1e-6;
        for class in classes {
            let near = |s: f64, t: f64, r: f64| at([1.3 + s, 0.7 + t], 0.6 + r).weight(class);
            let expected = [
                (near(h, 0.0, 0.0) - near(-h, 0.0, 0.0)) / (2.0 * h),
                (near(0.0, h, 0.0) - near(0.0, -h, 0.0)) / (2.0 * h),
                (near(0.0, 0.0, h) - near(0.0, 0.0, -h)) / (2.0 * h),
            ];
            let point = at([1.3, 0.7], 0.6);
            let elements = [Element::Stratum(0), Element::Stratum(1), Element::Rho];
            for (element, expected) in elements.into_iter().zip(expected) {
                assert!((point.slope(class, element) - expected).abs() < 1e-7 * (1.0 + expected.abs()));
            }
        }
    }
}
