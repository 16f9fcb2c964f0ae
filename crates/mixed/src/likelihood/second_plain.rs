//! The second-order quantities where the residual is independent with one variance σ²: only pairs of
//! random elements need work. Since V = Σ τₑ∂ₑV + σ²I over the random elements,
//!
//! V⁻¹V⁻¹ = (V⁻¹ − Σ τₑ V⁻¹∂ₑV V⁻¹)/σ²,
//!
//! and every quantity of the residual element follows from those of the random ones.

use super::Likelihood;
use super::first::{First, scatter};
use super::point::Element;
use super::second::{Second, pair, random_pair};
use crate::linear::Matrix;

/// Up to this ratio of random to residual variance, times records of a level, the difference above keeps
/// its digits.
const KEEPS_DIGITS: f64 = 1e4;

impl Likelihood<'_> {
    pub(super) fn is_well_conditioned_plain(&self, first: &First) -> bool {
        let residual = &self.design.residual;
        let plain = residual.strata.len() == 1 && residual.series.is_none() && !self.design.terms.is_empty();
        let largest = self.design.terms.iter().zip(&first.point.sigma).map(|(term, sigma)| {
            let records = self.design.rows() as f64 / term.levels.max(1) as f64;
            (0..sigma.rows()).map(|a| sigma[(a, a)]).fold(0.0, f64::max) * records
        });
        plain && largest.fold(0.0, f64::max) < KEEPS_DIGITS * first.point.strata[0]
    }

    pub(super) fn add_plain(&self, first: &First, second: &mut Second) {
        let sorted = &self.design.sorted;
        let whole = |((index, _), pattern): (&(usize, usize), &super::pattern::Pattern)| pattern.s(&sorted.components[*index].blocks);
        let s: Vec<Matrix> = sorted.patterns.iter().zip(&first.patterns).map(whole).collect();
        let random = self.elements.len() - 1;
        for (component, member) in sorted.components.iter().zip(&first.members) {
            for i in 0..random {
                for j in 0..=i {
                    let at = pair(i, j);
                    let s = &s[component.pattern];
                    let (q, trace) = random_pair(component, member, s, self.elements[i], self.elements[j]);
                    if let Some(q) = q {
                        scatter(component, &q, &mut second.q[at]);
                    }
                    second.traces[at] += trace;
                }
            }
        }
        second.q.iter_mut().for_each(Matrix::make_symmetric);
        for j in 0..=random {
            self.add_residual_pair(first, second, random, j);
        }
    }

    /// The pair of the residual element, which is the last, and element j.
    fn add_residual_pair(&self, first: &First, second: &mut Second, last: usize, j: usize) {
        let mut q = first.crosses[j].clone();
        let mut trace = first.traces[j];
        for (index, element) in self.elements[..last].iter().enumerate() {
            let Element::Random { term, a, b } = *element else { continue };
            let weight = first.point.sigma[term][(a, b)];
            let at = pair(index, j);
            q.add(-weight, &second.q[at]);
            trace -= weight * second.traces[at];
        }
        let variance = first.point.strata[0];
        q.scale(1.0 / variance);
        let at = pair(last, j);
        second.q[at] = q;
        second.traces[at] = trace / variance;
    }
}
