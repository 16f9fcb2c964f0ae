//! The likelihood of the normal family and its derivatives, component by component.

mod average;
mod first;
mod pattern;
mod point;
mod second;
mod second_plain;
mod second_series;
mod series;

pub use first::First;
pub use point::{Element, Point, elements};
pub use second::{Second, pair};

use rayon::prelude::*;

use crate::design::{Component, Design, SHARED_OUT_FROM};

/// A response on a design, and which likelihood is maximised.
pub struct Likelihood<'d> {
    /// The design, its sums filled with `response`.
    pub design: &'d Design,
    /// The response, standardised.
    pub response: &'d [f64],
    /// Whether the likelihood is the restricted one.
    pub restricted: bool,
    /// ν: n − p, or n.
    pub freedom: f64,
    /// The directions of differentiation.
    pub elements: Vec<Element>,
    /// How many of them, from the first, the search needs: a lone residual variance is profiled out.
    searched: usize,
}

impl<'d> Likelihood<'d> {
    /// The likelihood of a response whose sums are in the design.
    pub fn new(design: &'d Design, response: &'d [f64], restricted: bool) -> Self {
        let n = design.rows() as f64;
        let freedom = if restricted { n - design.columns() as f64 } else { n };
        let elements = elements(&design.terms, &design.residual);
        let residual = &design.residual;
        let profiled = residual.strata.len() == 1 && residual.series.is_none();
        let searched = if profiled { elements.len() - 1 } else { elements.len() };
        Self { design, response, restricted, freedom, elements, searched }
    }

    /// `work` on every component, its index first, on all threads where there is enough of it. The results
    /// are in the components' order: what is made of them does not depend on the number of threads.
    fn each<R: Send>(&self, work: impl Fn(usize, &Component) -> R + Sync) -> Vec<R> {
        let components = &self.design.sorted.components;
        if self.design.rows() < SHARED_OUT_FROM || components.len() < 2 {
            return components.iter().enumerate().map(|(index, component)| work(index, component)).collect();
        }
        components.par_iter().enumerate().map(|(index, component)| work(index, component)).collect()
    }
}
