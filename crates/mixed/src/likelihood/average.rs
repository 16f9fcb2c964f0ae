//! The average information: half of y′P ∂ᵢV P ∂ⱼV P y.
//!
//! Source: Gilmour, Thompson & Cullis (1995), Biometrics 51:1440–1450.

use std::collections::BTreeMap;

use super::Likelihood;
use super::first::{First, local};
use super::point::Element;
use super::series::SeriesCovariance;
use crate::design::Component;
use crate::linear::{Matrix, axpy, dot};

/// The parts of one working vector ∂V P y that a component holds.
struct Working {
    /// E u for a random element, zero for a residual one: the vector is Z times this…
    w: Vec<f64>,
    /// …or, for a residual element, Z′R⁻¹ of it.
    d: Option<Vec<f64>>,
    /// Z′V⁻¹ of the vector.
    s: Vec<f64>,
}

impl Likelihood<'_> {
    /// y′P ∂ᵢV P ∂ⱼV P y / ĉ for all pairs of elements.
    pub fn working_products(&self, first: &First) -> Matrix {
        let count = first.gradient.len();
        let p = self.design.columns();
        let weights = first.residual_weights();
        let mut products = self.residual_products(first);
        let mut fixed = Matrix::zeros(p + 1, count);
        let slopes: Vec<Vec<f64>> = self.elements[..count].iter().map(|element| self.minus_slopes(&first.point, *element)).collect();
        let parts = self.each(|index, component| {
            let b = local(component, &weights);
            let (working, own) = self.component_vectors(first, index, &b, &slopes);
            (products_of(&working, first, component), own)
        });
        for (component, (part, own)) in self.design.sorted.components.iter().zip(parts) {
            products.add(1.0, &part);
            own.iter().enumerate().for_each(|(place, x)| add_local(component, x, fixed.col_mut(place)));
        }
        for i in 0..count {
            let through = first.phi.times_vec(&fixed.col(i)[..p]);
            for j in 0..count {
                products[(i, j)] -= dot(&through, &fixed.col(j)[..p]);
            }
        }
        products.scale(1.0 / first.scale);
        products.make_symmetric();
        products
    }

    /// The working vectors of one component, and of each its part over the component's own [X y].
    fn component_vectors(&self, first: &First, index: usize, b: &[f64], slopes: &[Vec<f64>]) -> (Vec<Option<Working>>, Vec<Vec<f64>>) {
        let component = &self.design.sorted.components[index];
        let (member, pattern) = (&first.members[index], &first.patterns[component.pattern]);
        let u = member.u.times_vec(b);
        // What is left of the residuals only a residual element asks for.
        let is_residual = self.elements[..slopes.len()].iter().any(|element| element.is_residual());
        let n: Vec<f64> = if is_residual { member.v.times_vec(b).iter().map(|x| -x).collect() } else { Vec::new() };
        let (mut all, mut own) = (Vec::new(), Vec::new());
        for (place, element) in self.elements.iter().enumerate().take(slopes.len()) {
            let (working, x) = match *element {
                Element::Random { term, a, b } => {
                    let w = swap(component, &u, term, a, b);
                    let k = pattern.k.times_vec(&w);
                    let x = member.u.transposed_times_vec(&w);
                    let s = leave(first, component, &k);
                    (Some(Working { w, d: None, s }), x)
                }
                _ if !component.meets(&slopes[place]) => (None, Vec::new()),
                _ => {
                    let (z, mut x) = derivative_vector(component, &slopes[place], &n, b);
                    axpy(&mut x, -1.0, &member.v.transposed_times_vec(&z));
                    let s = leave(first, component, &z);
                    (Some(Working { w: Vec::new(), d: Some(z), s }), x)
                }
            };
            all.push(working);
            own.push(x);
        }
        (all, own)
    }

    /// f′R⁻¹f for the working vectors of residual elements: from the sums where records are
    /// independent, series by series otherwise.
    fn residual_products(&self, first: &First) -> Matrix {
        let count = first.gradient.len();
        let mut products = Matrix::zeros(count, count);
        let start = self.elements.len() - self.residual_elements().len();
        if start == count {
            return products;
        }
        let residuals = self.conditional_residuals(first);
        if self.design.residual.series.is_none() {
            for (row, e) in residuals.iter().enumerate() {
                let stratum = self.design.residual.stratum[row] as usize;
                let variance = first.point.strata[stratum];
                products[(start + stratum, start + stratum)] += e * e / (variance * variance * variance);
            }
            return products;
        }
        let Some(all) = &self.design.residual.series else { return products };
        let mut covariances: BTreeMap<usize, SeriesCovariance> = BTreeMap::new();
        for (rows, like) in all.rows.iter().zip(&all.like) {
            let covariance = covariances.entry(*like).or_insert_with(|| self.series_covariance(&first.point, *like));
            let own: Vec<f64> = rows.iter().map(|row| residuals[*row]).collect();
            add_series_products(covariance, &own, &mut products, start);
        }
        products
    }

    /// For each row used: response − Xβ − Zû, û the predicted random effects.
    pub fn conditional_residuals(&self, first: &First) -> Vec<f64> {
        self.residuals_beside(first, &self.random_parts(first))
    }

    /// As [`conditional_residuals`](Self::conditional_residuals), Zû given.
    pub fn residuals_beside(&self, first: &First, random: &[f64]) -> Vec<f64> {
        let fixed = self.design.cells.times(&first.beta);
        let cell = &self.design.cells.of_row;
        (0..self.design.rows()).map(|row| self.response[row] - fixed[cell[row] as usize] - random[row]).collect()
    }

    /// For each row used: Zû.
    pub fn random_parts(&self, first: &First) -> Vec<f64> {
        let weights = first.residual_weights();
        let sorted = &self.design.sorted;
        let mut parts = vec![0.0; self.design.rows()];
        for (component, member) in sorted.components.iter().zip(&first.members) {
            let effects = member.v.times_vec(&local(component, &weights));
            for block in &component.blocks {
                let term = &self.design.terms[block.term];
                let values = &term.coefficients[block.coefficient].values;
                for row in &component.rows {
                    let place = sorted.places[block.term][term.codes[*row] as usize] as usize;
                    parts[*row] += effects[block.start + place] * values.as_ref().map_or(1.0, |v| v[*row]);
                }
            }
        }
        parts
    }
}

fn add_series_products(covariance: &SeriesCovariance, residuals: &[f64], products: &mut Matrix, start: usize) {
    let e = covariance.inverse.times_vec(residuals);
    let moved = |by: &Option<Matrix>| {
        let f = by.as_ref()?.times_vec(&e);
        Some((covariance.inverse.times_vec(&f), f))
    };
    let vectors: Vec<_> = covariance.by.iter().map(moved).collect();
    for (i, one) in vectors.iter().enumerate() {
        for (j, other) in vectors.iter().enumerate() {
            if let (Some((through, _)), Some((_, f))) = (one, other) {
                products[(start + i, start + j)] += dot(through, f);
            }
        }
    }
}

/// E u: the entries of coefficients a and b, exchanged.
fn swap(component: &Component, u: &[f64], term: usize, a: usize, b: usize) -> Vec<f64> {
    let mut out = vec![0.0; u.len()];
    let find = |c| component.blocks.iter().find(|block| block.term == term && block.coefficient == c);
    if let (Some(one), Some(other)) = (find(a), find(b)) {
        for i in 0..one.len {
            out[one.start + i] = u[other.start + i];
            out[other.start + i] = u[one.start + i];
        }
    }
    out
}

/// (I − KH) b
fn leave(first: &First, component: &Component, b: &[f64]) -> Vec<f64> {
    let pattern = &first.patterns[component.pattern];
    let mut out = pattern.h_times_vec(b);
    let direct = pattern.ratio.iter().any(Option::is_none).then(|| pattern.k.times_vec(&out));
    for (block, ratio) in component.blocks.iter().zip(&pattern.ratio) {
        for row in block.start..block.start + block.len {
            match (ratio, &direct) {
                (Some(ratio), _) => out[row] *= ratio,
                (None, Some(direct)) => out[row] = b[row] - direct[row],
                (None, None) => {}
            }
        }
    }
    out
}

/// D n over the random columns and over [X y], for n = [n over random columns; b].
fn derivative_vector(component: &Component, slopes: &[f64], n: &[f64], b: &[f64]) -> (Vec<f64>, Vec<f64>) {
    let mut z = vec![0.0; n.len()];
    let mut x = vec![0.0; b.len()];
    for (class, sums) in component.classes.iter().zip(&component.sums) {
        let f = slopes[*class];
        if f != 0.0 {
            axpy(&mut z, f, &sums.zz.times_vec(n));
            axpy(&mut z, f, &sums.zx.times_vec(b));
            axpy(&mut x, f, &sums.zx.transposed_times_vec(n));
            axpy(&mut x, f, &sums.xx.times_vec(b));
        }
    }
    (z, x)
}

fn add_local(component: &Component, part: &[f64], whole: &mut [f64]) {
    let last = whole.len() - 1;
    for (index, value) in part.iter().enumerate() {
        whole[component.fixed.get(index).copied().unwrap_or(last)] += value;
    }
}

/// What a component adds to the products of the working vectors.
fn products_of(working: &[Option<Working>], first: &First, component: &Component) -> Matrix {
    let pattern = &first.patterns[component.pattern];
    let mut products = Matrix::zeros(working.len(), working.len());
    for (i, one) in working.iter().enumerate() {
        let Some(one) = one else { continue };
        let through = one.d.as_ref().map(|d| pattern.h_times_vec(d));
        for (j, other) in working.iter().enumerate() {
            let Some(other) = other else { continue };
            products[(i, j)] += match (&through, &other.d) {
                (None, _) => dot(&one.w, &other.s),
                (Some(_), None) => dot(&other.w, &one.s),
                (Some(through), Some(d)) => -dot(through, d),
            };
        }
    }
    products
}
