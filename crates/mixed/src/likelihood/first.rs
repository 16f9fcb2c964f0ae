//! The profiled log-likelihood at a point, with its gradient.
//!
//! V = V₁·c, where V₁ is the covariance at the point and the common scale c is profiled out:
//! ĉ = r′V₁⁻¹r / ν with ν = n − p (restricted) or n.
//!
//! ℓ = −½ [ ν log 2π + log|V₁| (+ log|X′V₁⁻¹X|) + ν log ĉ + ν ]
//!
//! Source: Patterson & Thompson (1971), Biometrika 58:545–554; the identity
//! V⁻¹ = R⁻¹ − R⁻¹ZHZ′R⁻¹ is Henderson's.

use super::Likelihood;
use super::pattern::{Pattern, patterns, weighted, weighted_zz};
use super::point::{Element, Point};
use crate::design::Component;
use crate::linear::{Cholesky, Matrix, dot};

/// What a component contributes at a point: [X y] standing for its fixed columns and the response.
#[derive(Debug, Clone)]
pub struct Member {
    /// H Z′R⁻¹[X y], q × (p + 1).
    pub v: Matrix,
    /// Z′V⁻¹[X y], q × (p + 1).
    pub u: Matrix,
}

/// The likelihood at a point.
#[derive(Debug, Clone)]
pub struct First {
    /// The point.
    pub point: Point,
    /// Weight of each class of the residual's inverse covariance.
    pub weights: Vec<f64>,
    /// Shared parts.
    pub patterns: Vec<Pattern>,
    /// Parts of each component.
    pub members: Vec<Member>,
    /// Φ = (X′V₁⁻¹X)⁻¹, p × p.
    pub phi: Matrix,
    /// Fixed-effect estimates.
    pub beta: Vec<f64>,
    /// ĉ
    pub scale: f64,
    /// ℓ
    pub value: f64,
    /// For each element, [X y]′V₁⁻¹ ∂V V₁⁻¹[X y], (p + 1) × (p + 1).
    pub crosses: Vec<Matrix>,
    /// For each element, tr(V₁⁻¹ ∂V).
    pub traces: Vec<f64>,
    /// For each element, y′P ∂V P y / ĉ.
    pub quadratic: Vec<f64>,
    /// For each element, the derivative of ℓ. During the search the last elements may be absent.
    pub gradient: Vec<f64>,
}

impl First {
    /// (−β, 1): the response less its fixed part, as weights of [X y].
    pub fn residual_weights(&self) -> Vec<f64> {
        self.beta.iter().map(|b| -b).chain([1.0]).collect()
    }
}

/// The entries of a whole vector that belong to a component's columns, the response's last.
pub fn local(component: &Component, whole: &[f64]) -> Vec<f64> {
    let last = whole.len() - 1;
    component.fixed.iter().chain([&last]).map(|column| whole[*column]).collect()
}

/// Adds a component's matrix over its own columns into the whole.
pub fn scatter(component: &Component, part: &Matrix, whole: &mut Matrix) {
    let last = whole.rows() - 1;
    for (col, place) in component.fixed.iter().chain([&last]).enumerate() {
        let target = whole.col_mut(*place);
        let (fixed, response) = part.col(col).split_at(component.fixed.len());
        component.fixed.iter().zip(fixed).for_each(|(row, entry)| target[*row] += entry);
        response.iter().for_each(|entry| target[last] += entry);
    }
}

/// As [`scatter`] for the lower triangle of a symmetric matrix.
fn scatter_lower(component: &Component, part: &Matrix, whole: &mut Matrix) {
    let last = whole.rows() - 1;
    for (col, place) in component.fixed.iter().chain([&last]).enumerate() {
        let target = whole.col_mut(*place);
        let (fixed, response) = part.col(col).split_at(component.fixed.len());
        component.fixed[col..].iter().zip(&fixed[col..]).for_each(|(row, entry)| target[*row] += entry);
        response.iter().for_each(|entry| target[last] += entry);
    }
}

impl Likelihood<'_> {
    /// Evaluates ℓ and its gradient; `None` where the covariance is not positive definite.
    pub fn first(&self, point: &Point) -> Option<First> {
        let sorted = &self.design.sorted;
        let weights: Vec<f64> = sorted.classes.iter().map(|class| point.weight(*class)).collect();
        let patterns = patterns(sorted, point, &weights)?;
        let size = self.design.columns() + 1;
        let mut cross = Matrix::zeros(size, size);
        let mut members = Vec::with_capacity(sorted.components.len());
        let parts = self.each(|_, component| member(component, &patterns[component.pattern], &weights));
        for (component, (member, part)) in sorted.components.iter().zip(parts) {
            scatter_lower(component, &part, &mut cross);
            members.push(member);
        }
        cross.mirror_lower();
        let log_det: f64 = sorted.components.iter().map(|component| patterns[component.pattern].log_det).sum::<f64>()
            + point.log_det_residual(&self.design.residual);
        let mut first = self.profile(point, cross, log_det)?;
        (first.weights, first.patterns, first.members) = (weights, patterns, members);
        self.gradient(&mut first, self.searched);
        first.value.is_finite().then_some(first)
    }

    fn profile(&self, point: &Point, cross: Matrix, log_det: f64) -> Option<First> {
        let p = self.design.columns();
        let cholesky = Cholesky::of(cross.part(0..p, 0..p))?;
        let xy = &cross.col(p)[..p];
        let beta = cholesky.solve_vec(xy);
        let rest = cross[(p, p)] - dot(xy, &beta);
        let scale = rest / self.freedom;
        if scale.is_nan() || scale <= 0.0 {
            return None;
        }
        let fixed = if self.restricted { cholesky.log_det() } else { 0.0 };
        let constant = self.freedom * ((2.0 * std::f64::consts::PI).ln() + 1.0 + scale.ln());
        Some(First {
            point: point.clone(),
            weights: Vec::new(),
            patterns: Vec::new(),
            members: Vec::new(),
            phi: cholesky.inverse(),
            beta,
            scale,
            value: -0.5 * (constant + log_det + fixed),
            crosses: Vec::new(),
            traces: Vec::new(),
            quadratic: Vec::new(),
            gradient: Vec::new(),
        })
    }

    /// Adds what the search did not need of the elements.
    pub fn complete(&self, first: &mut First) {
        self.gradient(first, self.elements.len());
    }

    fn gradient(&self, first: &mut First, count: usize) {
        let weights = first.residual_weights();
        let range = first.gradient.len()..count;
        let crosses = self.element_crosses(first, range.clone());
        for (element, cross) in self.elements[range].iter().zip(crosses) {
            let trace = self.element_trace(first, *element);
            let quadratic = cross.form(&weights, &weights) / first.scale;
            let mut slope = quadratic - trace;
            if self.restricted {
                slope += first.phi.inner_with_first(&cross);
            }
            first.gradient.push(0.5 * slope);
            first.quadratic.push(quadratic);
            first.traces.push(trace);
            first.crosses.push(cross);
        }
    }

    /// [X y]′V⁻¹ ∂V V⁻¹[X y] for some elements.
    fn element_crosses(&self, first: &First, range: std::ops::Range<usize>) -> Vec<Matrix> {
        let size = self.design.columns() + 1;
        let elements = &self.elements[range];
        let slopes: Vec<Vec<f64>> = elements.iter().map(|element| self.minus_slopes(&first.point, *element)).collect();
        let of_component = |index: usize, component: &Component| -> Vec<Option<Matrix>> {
            let member = &first.members[index];
            let cross = |(element, slopes): (&Element, &Vec<f64>)| match *element {
                Element::Random { term, a, b } => random_cross(component, &member.u, term, a, b),
                _ if !component.meets(slopes) => None,
                _ => Some(residual_cross(component, member, slopes)),
            };
            elements.iter().zip(&slopes).map(cross).collect()
        };
        let mut wholes = vec![Matrix::zeros(size, size); elements.len()];
        for (component, parts) in self.design.sorted.components.iter().zip(self.each(of_component)) {
            for (whole, part) in wholes.iter_mut().zip(parts) {
                if let Some(part) = part {
                    scatter_lower(component, &part, whole);
                }
            }
        }
        wholes.iter_mut().for_each(Matrix::mirror_lower);
        wholes
    }

    /// tr(V⁻¹ ∂V) for one element.
    fn element_trace(&self, first: &First, element: Element) -> f64 {
        let sorted = &self.design.sorted;
        let slopes = self.minus_slopes(&first.point, element);
        let mut trace = first.point.residual_trace(&self.design.residual, element);
        for ((index, count), pattern) in sorted.patterns.iter().zip(&first.patterns) {
            let component = &sorted.components[*index];
            let one = if element.is_residual() {
                -residual_trace(component, pattern, &slopes)
            } else {
                pattern.random_trace(&component.blocks, element)
            };
            trace += *count as f64 * one;
        }
        trace
    }

    /// For each class −∂weight: the weights of R⁻¹ ∂R R⁻¹.
    pub fn minus_slopes(&self, point: &Point, element: Element) -> Vec<f64> {
        self.design.sorted.classes.iter().map(|class| -point.slope(*class, element)).collect()
    }
}

fn member(component: &Component, pattern: &Pattern, weights: &[f64]) -> (Member, Matrix) {
    let mut xx = weighted(component, weights, |sums| &sums.xx).into_owned();
    if component.random() == 0 {
        let none = Matrix::zeros(0, xx.cols());
        return (Member { v: none.clone(), u: none }, xx);
    }
    let zx = weighted(component, weights, |sums| &sums.zx);
    let v = pattern.h_times(&zx);
    let u = pattern.leave(&component.blocks, &zx, &v);
    xx.add_product(-1.0, &zx, &v);
    (Member { v, u }, xx)
}

/// The columns of a block as a range of rows.
fn block_of(component: &Component, term: usize, coefficient: usize) -> Option<std::ops::Range<usize>> {
    let found = component.blocks.iter().find(|b| b.term == term && b.coefficient == coefficient)?;
    Some(found.start..found.start + found.len)
}

/// U′EU for the covariance of two coefficients.
fn random_cross(component: &Component, u: &Matrix, term: usize, a: usize, b: usize) -> Option<Matrix> {
    let one = block_of(component, term, a)?;
    if a == b {
        return Some(u.rows_product(one.clone(), u, one));
    }
    let mut cross = u.rows_product(one, u, block_of(component, term, b)?);
    let turned = cross.transposed();
    cross.add(1.0, &turned);
    Some(cross)
}

/// N′DN with N = [−V; I]: [X y]′V⁻¹ ∂R V⁻¹[X y].
pub fn residual_cross(component: &Component, member: &Member, slopes: &[f64]) -> Matrix {
    let mut xx = weighted(component, slopes, |sums| &sums.xx).into_owned();
    if component.random() == 0 {
        return xx;
    }
    let zx = weighted(component, slopes, |sums| &sums.zx);
    let Some(zz) = weighted_zz(component, slopes) else { return xx };
    let mut inner = zz.times(&member.v);
    inner.add(-2.0, &zx);
    xx.add_product(1.0, &member.v, &inner);
    xx.make_symmetric();
    xx
}

/// tr(H D)
fn residual_trace(component: &Component, pattern: &Pattern, slopes: &[f64]) -> f64 {
    if component.random() == 0 || !component.meets(slopes) {
        return 0.0;
    }
    component.classes.iter().zip(&component.sums).map(|(c, sums)| slopes[*c] * pattern.h_inner(&sums.zz)).sum()
}
