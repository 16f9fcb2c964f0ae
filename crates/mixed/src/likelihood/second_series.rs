//! What autocorrelated series add to the second-order quantities: their residual's derivatives are taken
//! series by series, with matrices of the series' length.

use super::Likelihood;
use super::first::{First, Member, scatter};
use super::second::{Second, Shared, pair};
use super::series::SeriesCovariance;
use crate::design::Component;
use crate::linear::Matrix;

/// One series at a point.
struct OneSeries<'s> {
    component: &'s Component,
    h: &'s Matrix,
    covariance: SeriesCovariance,
    /// R⁻¹Z
    iz: Matrix,
    /// R⁻¹([X y] − ZV)
    ix: Matrix,
}

impl Likelihood<'_> {
    /// Adds the residual pairs of all series.
    pub(super) fn add_series(&self, first: &First, shared: &[Shared], second: &mut Second) {
        let Some(all) = &self.design.residual.series else { return };
        let mut components = vec![0; self.design.rows()];
        for (index, component) in self.design.sorted.components.iter().enumerate() {
            component.rows.iter().for_each(|row| components[*row] = index);
        }
        for (series, rows) in all.rows.iter().enumerate() {
            let Some(index) = rows.first().map(|row| components[*row]) else { continue };
            let component = &self.design.sorted.components[index];
            let covariance = self.series_covariance(&first.point, series);
            let (z, x) = self.series_rows(component, &first.members[index], rows);
            let (iz, ix) = (covariance.inverse.times(&z), covariance.inverse.times(&x));
            let one = OneSeries { component, h: &shared[component.pattern].h, covariance, iz, ix };
            one.add_pairs(self.elements.len(), second);
            self.add_bends(first, series, &one, second);
        }
    }

    fn add_bends(&self, first: &First, series: usize, one: &OneSeries<'_>, second: &mut Second) {
        let count = one.covariance.by.len();
        let start = self.elements.len() - count;
        let size = self.design.columns() + 1;
        for i in 0..count {
            for j in 0..=i {
                let Some(by) = self.series_second(&first.point, series, &one.covariance, (i, j)) else { continue };
                let at = pair(start + i, start + j);
                let whole = second.bend[at].get_or_insert_with(|| Matrix::zeros(size, size));
                scatter(one.component, &one.ix.transposed_times(&by.times(&one.ix)), whole);
                let zz = one.iz.transposed_times(&by.times(&one.iz));
                second.bend_traces[at] += one.covariance.inverse.inner(&by) - one.h.inner(&zz);
            }
        }
    }

    /// The rows of a series: Z, and [X y] − Z V.
    fn series_rows(&self, component: &Component, member: &Member, rows: &[usize]) -> (Matrix, Matrix) {
        let design = self.design;
        let p = component.fixed.len();
        let mut z = Matrix::zeros(rows.len(), component.random());
        let mut x = Matrix::zeros(rows.len(), p + 1);
        for (place, row) in rows.iter().enumerate() {
            for block in &component.blocks {
                let term = &design.terms[block.term];
                let at = design.sorted.places[block.term][term.codes[*row] as usize] as usize;
                let values = &term.coefficients[block.coefficient].values;
                z[(place, block.start + at)] = values.as_ref().map_or(1.0, |values| values[*row]);
            }
            for (column, value) in design.cells.entries(design.cells.of_row[*row] as usize) {
                if let Ok(at) = component.fixed.binary_search(&column) {
                    x[(place, at)] = value;
                }
            }
            x[(place, p)] = self.response[*row];
        }
        if component.random() > 0 {
            x.add(-1.0, &z.times(&member.v));
        }
        (z, x)
    }
}

impl OneSeries<'_> {
    /// W = R⁻¹∂R R⁻¹∂R R⁻¹ of every pair of residual elements.
    fn add_pairs(&self, elements: usize, second: &mut Second) {
        let Self { component, h, covariance, iz, ix } = self;
        let start = elements - covariance.by.len();
        let moved: Vec<_> =
            covariance.by.iter().map(|by| by.as_ref().map(|by| (by.times(iz), by.times(ix), covariance.inverse.times(by)))).collect();
        for (i, one) in moved.iter().enumerate() {
            for (j, other) in moved.iter().enumerate().take(i + 1) {
                let (Some((az, ax, a)), Some((bz, bx, b))) = (one, other) else { continue };
                let at = pair(start + i, start + j);
                scatter(component, &ax.transposed_times(&covariance.inverse.times(bx)), &mut second.q[at]);
                let zz = az.transposed_times(&covariance.inverse.times(bz));
                second.traces[at] += a.inner(&b.transposed()) - 2.0 * h.inner(&zz);
            }
        }
    }
}
