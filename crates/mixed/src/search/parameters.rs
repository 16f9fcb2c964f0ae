//! The parameters of the search and how the covariance's elements depend on them.

use crate::design::Design;
use crate::likelihood::{Element, Point};
use crate::linear::Matrix;

/// One parameter of the search.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Parameter {
    /// Variance of a random term with one coefficient, relative to the reference residual variance; ≥ 0.
    Variance {
        /// The random term.
        term: usize,
    },
    /// Entry of the lower triangular root of a random term's covariance; ≥ 0 on the diagonal.
    Root {
        /// The random term.
        term: usize,
        /// Row.
        row: usize,
        /// Column.
        col: usize,
    },
    /// log of a stratum's residual variance relative to the reference stratum's.
    LogVariance {
        /// The stratum.
        stratum: usize,
    },
    /// Inverse hyperbolic tangent of ρ.
    Rho,
}

/// Largest relative variance that the search visits.
pub const LARGEST: f64 = 1e10;
/// Largest |log| of a ratio of residual variances. A variance that falls without end is stopped here, where the
/// likelihood can still be told from its neighbours.
pub const LARGEST_LOG: f64 = 12.0;
/// |log| of a ratio of residual variances beyond which one of them counts as on its edge, a hundred thousand to one.
pub const FAR_LOG: f64 = 11.5;
/// Largest |atanh ρ|.
pub const LARGEST_RHO: f64 = 7.0;

/// The parameters of a design.
#[derive(Debug, Clone)]
pub struct Parameters {
    /// The parameters.
    pub all: Vec<Parameter>,
    sizes: Vec<usize>,
    strata: usize,
}

impl Parameters {
    /// The parameters of a design; the stratum with most rows is the reference.
    pub fn new(design: &Design) -> Self {
        let counts = &design.residual.counts;
        let reference = (0..counts.len()).max_by_key(|s| (counts[*s], usize::MAX - s)).unwrap_or(0);
        Self::with_reference(design, reference)
    }

    fn with_reference(design: &Design, reference: usize) -> Self {
        let sizes: Vec<usize> = design.terms.iter().map(|term| term.coefficients.len()).collect();
        let mut all = Vec::new();
        for (term, size) in sizes.iter().enumerate() {
            if *size == 1 {
                all.push(Parameter::Variance { term });
            } else {
                let entry = |row| (0..=row).map(move |col| Parameter::Root { term, row, col });
                all.extend((0..*size).flat_map(entry));
            }
        }
        let counts = &design.residual.counts;
        let strata = (0..counts.len()).filter(|stratum| *stratum != reference);
        all.extend(strata.map(|stratum| Parameter::LogVariance { stratum }));
        if design.residual.series.is_some() {
            all.push(Parameter::Rho);
        }
        Self { all, sizes, strata: counts.len() }
    }

    /// The parameters and values relative to the largest residual variance, where it exceeds the reference's so far
    /// that the reference seems to vanish: all else would grow beyond bounds beside it.
    pub fn relative_to_largest(&self, design: &Design, values: &[f64]) -> Option<(Self, Vec<f64>)> {
        let strata = self.point(values).strata;
        let largest = (0..strata.len()).max_by(|a, b| strata[*a].total_cmp(&strata[*b]))?;
        let unit = strata[largest];
        if unit.ln() < FAR_LOG / 2.0 {
            return None;
        }
        let other = Self::with_reference(design, largest);
        let logs = other.all.iter().filter_map(|parameter| match parameter {
            Parameter::LogVariance { stratum } => Some((strata[*stratum] / unit).ln().clamp(-LARGEST_LOG, LARGEST_LOG)),
            _ => None,
        });
        let mut logs = logs.collect::<Vec<_>>().into_iter();
        let value = |(parameter, value): (&Parameter, &f64)| match parameter {
            Parameter::Variance { .. } => value / unit,
            Parameter::Root { .. } => value / unit.sqrt(),
            Parameter::LogVariance { .. } => logs.next().unwrap_or(0.0),
            Parameter::Rho => *value,
        };
        // Both list the same kinds in the same order: only which stratum is left out differs.
        let values = self.all.iter().zip(values).map(value).collect();
        Some((other, values))
    }

    /// The values with the signs turned of what is below a root's diagonal entry.
    pub fn with_column_turned(&self, values: &[f64], diagonal: usize) -> Vec<f64> {
        let Parameter::Root { term, col, .. } = self.all[diagonal] else { return values.to_vec() };
        let below =
            |parameter: &Parameter| matches!(parameter, Parameter::Root { term: t, row, col: c } if *t == term && *c == col && row > c);
        self.all.iter().zip(values).map(|(parameter, value)| if below(parameter) { -value } else { *value }).collect()
    }

    /// Whether zero bounds the parameter from below.
    pub fn is_bounded(&self, index: usize) -> bool {
        match self.all[index] {
            Parameter::Variance { .. } => true,
            Parameter::Root { row, col, .. } => row == col,
            _ => false,
        }
    }

    /// The range that the search visits.
    pub fn range(&self, index: usize) -> (f64, f64) {
        match self.all[index] {
            Parameter::Variance { .. } => (0.0, LARGEST),
            Parameter::Root { row, col, .. } if row == col => (0.0, LARGEST.sqrt()),
            Parameter::Root { .. } => (-LARGEST.sqrt(), LARGEST.sqrt()),
            Parameter::LogVariance { .. } => (-LARGEST_LOG, LARGEST_LOG),
            Parameter::Rho => (-LARGEST_RHO, LARGEST_RHO),
        }
    }

    /// The covariance at some values.
    pub fn point(&self, values: &[f64]) -> Point {
        let mut factor: Vec<Matrix> = self.sizes.iter().map(|size| Matrix::zeros(*size, *size)).collect();
        let mut strata = vec![1.0; self.strata];
        let mut rho = 0.0;
        for (parameter, value) in self.all.iter().zip(values) {
            match *parameter {
                Parameter::Variance { term } => factor[term][(0, 0)] = value.sqrt(),
                Parameter::Root { term, row, col } => factor[term][(row, col)] = *value,
                Parameter::LogVariance { stratum } => strata[stratum] = value.exp(),
                Parameter::Rho => rho = value.tanh(),
            }
        }
        let mut point = Point::new(factor, strata, rho);
        // A variance is the value itself, not the square of its rounded root.
        for (parameter, value) in self.all.iter().zip(values) {
            if let Parameter::Variance { term } = *parameter {
                point.sigma[term][(0, 0)] = *value;
            }
        }
        point
    }

    /// The values with every coefficient's variance below `nil` at zero, and with it its root's whole row; an
    /// entry of a root is zero too where its square is a rounding's share of its variance.
    pub fn without_nil(&self, point: &Point, values: &[f64], nil: f64) -> Vec<f64> {
        let settled = |(parameter, value): (&Parameter, &f64)| match *parameter {
            Parameter::Variance { .. } if *value < nil => 0.0,
            Parameter::Root { term, row, col } => {
                let variance = point.sigma[term][(row, row)];
                let share = if row == col { nil } else { nil * nil };
                let is_nil = variance < nil || value * value < share * variance;
                if is_nil { 0.0 } else { *value }
            }
            _ => *value,
        };
        self.all.iter().zip(values).map(settled).collect()
    }

    /// ∂element/∂parameter, elements × parameters.
    pub fn jacobian(&self, point: &Point, elements: &[Element]) -> Matrix {
        Matrix::from_fn(elements.len(), self.all.len(), |e, p| slope(point, elements[e], self.all[p]))
    }

    /// Σ over elements of gradient × ∂²element/∂parameters.
    pub fn bend(&self, point: &Point, elements: &[Element], gradient: &[f64]) -> Matrix {
        let n = self.all.len();
        let mut total = Matrix::zeros(n, n);
        for (element, g) in elements.iter().zip(gradient) {
            for i in 0..n {
                for j in 0..n {
                    total[(i, j)] += g * curve(point, *element, self.all[i], self.all[j]);
                }
            }
        }
        total
    }
}

fn same(yes: bool) -> f64 {
    f64::from(u8::from(yes))
}

fn slope(point: &Point, element: Element, parameter: Parameter) -> f64 {
    match (element, parameter) {
        (Element::Random { term, .. }, Parameter::Variance { term: t }) => same(term == t),
        (Element::Random { term, a, b }, Parameter::Root { term: t, row, col }) if term == t => {
            let root = &point.factor[term];
            same(a == row) * root[(b, col)] + same(b == row) * root[(a, col)]
        }
        (Element::Stratum(s), Parameter::LogVariance { stratum }) => same(s == stratum) * point.strata[s],
        (Element::Rho, Parameter::Rho) => 1.0 - point.rho * point.rho,
        _ => 0.0,
    }
}

fn curve(point: &Point, element: Element, one: Parameter, other: Parameter) -> f64 {
    match (element, one, other) {
        (Element::Random { term, a, b }, Parameter::Root { term: t, row: u, col: v }, Parameter::Root { term: s, row: w, col: x })
            if term == t && term == s && v == x =>
        {
            same(a == u && b == w) + same(b == u && a == w)
        }
        (Element::Stratum(s), Parameter::LogVariance { stratum }, Parameter::LogVariance { stratum: t }) => {
            same(s == stratum && s == t) * point.strata[s]
        }
        (Element::Rho, Parameter::Rho, Parameter::Rho) => -2.0 * point.rho * (1.0 - point.rho * point.rho),
        _ => 0.0,
    }
}
