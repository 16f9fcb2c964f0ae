//! The covariance with one natural parameter held, and the values that remain free, in absolute units.
//!
//! A term of one coefficient is free in its variance. A term of several is Σ = LL′ with L linear in its free
//! values: the rows of the held coefficients come first, so that a held variance is a held first entry, and a
//! held correlation r makes the second row s·(r, √(1 − r²)).

use crate::design::Design;
use crate::freedom::Natural;
use crate::likelihood::{Element, Point};
use crate::linear::Matrix;

/// One free value.
#[derive(Debug, Clone, PartialEq)]
enum Free {
    /// Variance of a term with one coefficient.
    Variance { term: usize },
    /// L moves along this direction.
    Root { term: usize, along: Matrix, bounded: bool },
    /// log of a stratum's variance.
    LogVariance { stratum: usize },
    /// Inverse hyperbolic tangent of ρ.
    Rho,
}

/// The free values beside one that is held.
pub struct Space {
    free: Vec<Free>,
    base: Point,
}

/// Largest |atanh ρ| and |log σ²| visited.
const FAR: (f64, f64) = (7.0, 60.0);

impl Space {
    /// The space in which `held` has the value `at`, and the free values nearest to `near`.
    pub fn new(design: &Design, near: &Point, held: Natural, at: f64) -> (Self, Vec<f64>) {
        let mut space = Self { free: Vec::new(), base: near.clone() };
        let mut start = Vec::new();
        for term in 0..design.terms.len() {
            space.add_term(near, term, held, at, &mut start);
        }
        for stratum in 0..near.strata.len() {
            if held == Natural::Stratum(stratum) {
                space.base.strata[stratum] = at;
            } else {
                space.free.push(Free::LogVariance { stratum });
                start.push(near.strata[stratum].ln());
            }
        }
        if held == Natural::Rho {
            space.base.rho = at;
        } else if design.residual.series.is_some() {
            space.free.push(Free::Rho);
            start.push(near.rho.atanh().clamp(-FAR.0, FAR.0));
        }
        (space, start)
    }

    fn add_term(&mut self, near: &Point, term: usize, held: Natural, at: f64, start: &mut Vec<f64>) {
        let sigma = &near.sigma[term];
        let k = sigma.rows();
        if k == 1 {
            if held == (Natural::Variance { term, a: 0 }) {
                self.base.sigma[term][(0, 0)] = at;
                self.base.factor[term][(0, 0)] = at.sqrt();
            } else {
                self.free.push(Free::Variance { term });
                start.push(sigma[(0, 0)]);
            }
            return;
        }
        let first: Vec<usize> = match held {
            Natural::Variance { term: t, a } if t == term => vec![a],
            Natural::Correlation { term: t, a, b } if t == term => vec![a, b],
            _ => Vec::new(),
        };
        let order: Vec<usize> = first.iter().copied().chain((0..k).filter(|a| !first.contains(a))).collect();
        let l = root(&Matrix::from_fn(k, k, |i, j| sigma[(order[i], order[j])]));
        let mut fixed = Matrix::zeros(k, k);
        for i in 0..k {
            if first.len() == 2 && i == 1 {
                let mut along = Matrix::zeros(k, k);
                along[(order[1], 0)] = at;
                along[(order[1], 1)] = (1.0 - at * at).max(0.0).sqrt();
                self.free.push(Free::Root { term, along, bounded: true });
                start.push(sigma[(order[1], order[1])].sqrt());
                continue;
            }
            for j in 0..=i {
                if first.len() == 1 && j == 0 && (i == 0 || at == 0.0) {
                    fixed[(order[i], 0)] = if i == 0 { at.sqrt() } else { 0.0 };
                    continue;
                }
                let mut along = Matrix::zeros(k, k);
                along[(order[i], j)] = 1.0;
                self.free.push(Free::Root { term, along, bounded: first.len() == 2 && i == 0 });
                // A diagonal entry of nil has no slope to leave it by.
                start.push(if i == j && l[(i, j)] == 0.0 { 0.03 * (1.0 + sigma[(order[i], order[i])].sqrt()) } else { l[(i, j)] });
            }
        }
        self.base.factor[term] = fixed;
    }

    /// Number of free values.
    pub fn len(&self) -> usize {
        self.free.len()
    }

    /// Whether a free value is an entry of a root.
    pub fn is_root(&self, index: usize) -> bool {
        matches!(self.free[index], Free::Root { .. })
    }

    /// The range of a free value.
    pub fn range(&self, index: usize) -> (f64, f64) {
        match self.free[index] {
            Free::Variance { .. } | Free::Root { bounded: true, .. } => (0.0, f64::INFINITY),
            Free::Root { .. } => (f64::NEG_INFINITY, f64::INFINITY),
            Free::LogVariance { .. } => (-FAR.1, FAR.1),
            Free::Rho => (-FAR.0, FAR.0),
        }
    }

    /// L of each term of several coefficients, not triangular in general.
    fn roots(&self, values: &[f64]) -> Vec<Matrix> {
        let mut roots = self.base.factor.clone();
        for (free, value) in self.free.iter().zip(values) {
            if let Free::Root { term, along, .. } = free {
                roots[*term].add(*value, along);
            }
        }
        roots
    }

    /// The covariance at some values.
    pub fn point(&self, values: &[f64]) -> Point {
        let mut point = self.base.clone();
        for (term, l) in self.roots(values).into_iter().enumerate().filter(|(_, l)| l.rows() > 1) {
            point.sigma[term] = l.times(&l.transposed());
            point.factor[term] = root(&point.sigma[term]);
        }
        for (free, value) in self.free.iter().zip(values) {
            match *free {
                Free::Variance { term } => {
                    point.sigma[term][(0, 0)] = *value;
                    point.factor[term][(0, 0)] = value.sqrt();
                }
                Free::LogVariance { stratum } => point.strata[stratum] = value.exp(),
                Free::Rho => point.rho = value.tanh(),
                Free::Root { .. } => {}
            }
        }
        point
    }

    /// ∂element/∂value, elements × values, and Σ gradient × ∂²element/∂values.
    pub fn derivatives(&self, values: &[f64], point: &Point, elements: &[Element], gradient: &[f64]) -> (Matrix, Matrix) {
        let roots = self.roots(values);
        let slope = |e: usize, f: usize| match (elements[e], &self.free[f]) {
            (Element::Random { term, .. }, Free::Variance { term: t }) if term == *t => 1.0,
            (Element::Random { term, a, b }, Free::Root { term: t, along, .. }) if term == *t => both(along, &roots[term], a, b),
            (Element::Stratum(s), Free::LogVariance { stratum }) if s == *stratum => point.strata[s],
            (Element::Rho, Free::Rho) => 1.0 - point.rho * point.rho,
            _ => 0.0,
        };
        let curve = |e: usize, f: usize, g: usize| match (elements[e], &self.free[f], &self.free[g]) {
            (Element::Random { term, a, b }, Free::Root { term: t, along, .. }, Free::Root { term: s, along: other, .. })
                if term == *t && term == *s =>
            {
                both(along, other, a, b)
            }
            (Element::Stratum(s), Free::LogVariance { stratum }, Free::LogVariance { stratum: t }) if s == *stratum && s == *t => {
                point.strata[s]
            }
            (Element::Rho, Free::Rho, Free::Rho) => -2.0 * point.rho * (1.0 - point.rho * point.rho),
            _ => 0.0,
        };
        let n = self.len();
        let bend = |f: usize, g: usize| (0..elements.len()).map(|e| gradient[e] * curve(e, f, g)).sum();
        (Matrix::from_fn(elements.len(), n, slope), Matrix::from_fn(n, n, bend))
    }
}

/// Entry (a, b) of MN′ + NM′.
fn both(m: &Matrix, n: &Matrix, a: usize, b: usize) -> f64 {
    (0..m.cols()).map(|c| m[(a, c)] * n[(b, c)] + n[(a, c)] * m[(b, c)]).sum()
}

/// A pivot below this share of its diagonal entry is nil.
const NIL: f64 = 1e-13;

/// A lower triangular root of a covariance; a nil pivot makes a nil column.
pub fn root(sigma: &Matrix) -> Matrix {
    let k = sigma.rows();
    let mut l = Matrix::zeros(k, k);
    for j in 0..k {
        let left = sigma[(j, j)] - (0..j).map(|c| l[(j, c)] * l[(j, c)]).sum::<f64>();
        if left <= NIL * sigma[(j, j)] {
            continue;
        }
        l[(j, j)] = left.sqrt();
        for i in j + 1..k {
            let less: f64 = (0..j).map(|c| l[(i, c)] * l[(j, c)]).sum();
            l[(i, j)] = (sigma[(i, j)] - less) / l[(j, j)];
        }
    }
    l
}
