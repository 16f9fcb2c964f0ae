//! The log-likelihood of a discrete family over all components, and its gradient.

use rayon::prelude::*;

use super::laplace::{Point, share};
use super::law::{Law, Record, has_dispersion};
use super::parameters::Layout;
use super::quadrature::Rule;
use super::records::Part;
use crate::design::Design;
use crate::model::Family;

/// A design with a discrete response.
pub struct Problem<'d> {
    /// The design.
    pub design: &'d Design,
    /// The family.
    pub family: Family,
    /// The parameters.
    pub layout: Layout,
    /// The components.
    pub parts: Vec<Part>,
    /// Quadrature instead of Laplace's approximation.
    pub rule: Option<Rule>,
    /// Rounding of the log-likelihood.
    pub noise: f64,
    distinct: Vec<f64>,
    rows: usize,
}

/// The log-likelihood at some parameters.
#[derive(Debug, Clone)]
pub struct At {
    /// Its value, all constants included.
    pub value: f64,
    /// Its derivatives.
    pub gradient: Vec<f64>,
    /// The modes, component by component.
    pub modes: Vec<Vec<f64>>,
}

/// From this many records on components are shared out among threads.
const PARALLEL_FROM: usize = 1500;

impl<'d> Problem<'d> {
    /// Lays out records and offsets, one for each row used; `None` where the random columns are too many to number.
    pub fn new(design: &'d Design, family: Family, records: &mut [Record], offset: &[f64], rule: Option<Rule>) -> Option<Self> {
        let mut distinct: Vec<f64> = records.iter().map(|record| record.y).collect();
        distinct.sort_by(f64::total_cmp);
        distinct.dedup();
        for record in &mut *records {
            record.distinct = distinct.partition_point(|y| *y < record.y) as u32;
        }
        let parts = design.sorted.components.iter().map(|component| Part::new(design, component, records, offset));
        let parts = parts.collect::<Option<Vec<Part>>>()?;
        let layout = Layout::new(design, has_dispersion(family));
        let noise = parts.iter().map(|part| part.noise).sum();
        Some(Self { design, family, layout, parts, rule, noise, distinct, rows: records.len() })
    }

    /// The family at κ.
    pub fn law(&self, kappa: f64) -> Law {
        Law::new(self.family, kappa, &self.distinct)
    }

    /// The point at `theta`.
    pub(super) fn point(&self, theta: &[f64]) -> Point<'_> {
        let law = self.law(self.layout.kappa(theta));
        Point { law, roots: self.layout.roots(theta), entries: &self.layout.entries, rule: self.rule.as_ref() }
    }

    /// Runs over the components, in their order whatever the number of threads.
    pub(super) fn over_parts<T: Send>(&self, run: impl Fn(usize, &Part) -> Option<T> + Sync) -> Option<Vec<T>> {
        if self.rows < PARALLEL_FROM || self.parts.len() == 1 {
            return self.parts.iter().enumerate().map(|(index, part)| run(index, part)).collect();
        }
        self.parts.par_iter().enumerate().map(|(index, part)| run(index, part)).collect()
    }

    /// Modes at zero, to begin from.
    pub fn no_modes(&self) -> Vec<Vec<f64>> {
        self.parts.iter().map(|part| vec![0.0; part.random]).collect()
    }

    /// The likelihood at `theta`, modes searched from `modes`.
    pub fn at(&self, theta: &[f64], modes: &[Vec<f64>]) -> Option<At> {
        let point = self.point(theta);
        let fixed = self.design.cells.times(&theta[..self.layout.fixed]);
        let shares = self.over_parts(|index, part| share(part, &point, &own(part, &fixed), &modes[index]))?;
        let mut at = At { value: 0.0, gradient: vec![0.0; self.layout.len()], modes: Vec::with_capacity(shares.len()) };
        let mut by_cell = vec![0.0; self.design.cells.len()];
        for (part, centre) in self.parts.iter().zip(shares) {
            let share = centre.share;
            at.value += share.value;
            part.cells.iter().zip(&share.cells).for_each(|(cell, g)| by_cell[*cell as usize] += g);
            let rest = &mut at.gradient[self.layout.fixed..];
            rest.iter_mut().zip(&share.entries).for_each(|(g, entry)| *g += entry);
            if self.layout.dispersion {
                at.gradient[self.layout.kappa_at()] += share.kappa;
            }
            at.modes.push(share.u);
        }
        for (cell, g) in by_cell.iter().enumerate() {
            self.design.cells.entries(cell).for_each(|(column, x)| at.gradient[column] += x * g);
        }
        (at.value.is_finite() && at.gradient.iter().all(|g| g.is_finite())).then_some(at)
    }
}

/// The predictors of a component's distinct fixed rows.
pub(super) fn own(part: &Part, fixed: &[f64]) -> Vec<f64> {
    part.cells.iter().map(|cell| fixed[*cell as usize]).collect()
}
