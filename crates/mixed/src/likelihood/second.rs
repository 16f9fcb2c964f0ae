//! The second-order quantities of Kenward–Roger and Satterthwaite at a point.
//!
//! For elements i, j:  Pᵢ = −X′V⁻¹∂ᵢV V⁻¹X,  Qᵢⱼ = X′V⁻¹∂ᵢV V⁻¹∂ⱼV V⁻¹X,  tr(V⁻¹∂ᵢV V⁻¹∂ⱼV), and
//! for the residual the second derivatives Rᵢⱼ = X′V⁻¹∂ᵢⱼV V⁻¹X and tr(V⁻¹∂ᵢⱼV).
//!
//! Source: Kenward & Roger (1997), Biometrics 53:983–997.

use super::first::{First, Member, scatter};
use super::pattern::{Pattern, weighted};
use super::point::Element;
use super::{Likelihood, series::SeriesCovariance};
use crate::design::Component;
use crate::linear::Matrix;

/// Second-order quantities; element pairs are stored for i ≥ j at i(i + 1)/2 + j.
#[derive(Debug, Clone)]
pub struct Second {
    /// Qᵢⱼ made symmetric, (p + 1) × (p + 1) over [X y].
    pub q: Vec<Matrix>,
    /// tr(V⁻¹∂ᵢV V⁻¹∂ⱼV)
    pub traces: Vec<f64>,
    /// [X y]′V⁻¹∂ᵢⱼV V⁻¹[X y] where the covariance is not linear in the elements.
    pub bend: Vec<Option<Matrix>>,
    /// tr(V⁻¹∂ᵢⱼV)
    pub bend_traces: Vec<f64>,
}

/// Where the pair i, j is stored.
pub fn pair(i: usize, j: usize) -> usize {
    let (high, low) = (i.max(j), i.min(j));
    high * (high + 1) / 2 + low
}

/// A residual element's parts within a component.
struct ResidualPart {
    /// D over the random columns.
    zz: Matrix,
    /// (D N)_z over [X y].
    zx: Matrix,
}

struct Place<'s> {
    component: &'s Component,
    member: &'s Member,
    pattern: &'s Pattern,
    s: &'s Matrix,
    /// I − HK, from the left: (I − KH)′.
    n: Option<&'s Matrix>,
}

impl Likelihood<'_> {
    /// All second-order quantities at the point of `first`.
    pub fn second(&self, first: &First) -> Second {
        let count = self.elements.len();
        let (pairs, size) = (count * (count + 1) / 2, self.design.columns() + 1);
        let mut second = Second {
            q: vec![Matrix::zeros(size, size); pairs],
            traces: vec![0.0; pairs],
            bend: vec![None; pairs],
            bend_traces: vec![0.0; pairs],
        };
        let sorted = &self.design.sorted;
        let shared: Vec<(Matrix, Option<Matrix>)> = sorted
            .patterns
            .iter()
            .zip(&first.patterns)
            .map(|((index, _), pattern)| self.shared(&sorted.components[*index], pattern))
            .collect();
        for (component, member) in sorted.components.iter().zip(&first.members) {
            let (s, n) = &shared[component.pattern];
            let pattern = &first.patterns[component.pattern];
            let place = Place { component, member, pattern, s, n: n.as_ref() };
            self.add_component(first, &place, &mut second);
        }
        self.add_series(first, &mut second);
        second.q.iter_mut().for_each(Matrix::make_symmetric);
        second
    }

    fn shared(&self, component: &Component, pattern: &Pattern) -> (Matrix, Option<Matrix>) {
        if component.random() == 0 {
            return (Matrix::zeros(0, 0), None);
        }
        let q = component.random();
        let unit = Matrix::from_fn(q, q, |i, j| f64::from(u8::from(i == j)));
        let n = pattern.leave(&component.blocks, &unit, &pattern.h).transposed();
        (pattern.s(&component.blocks), Some(n))
    }

    fn add_component(&self, first: &First, place: &Place<'_>, second: &mut Second) {
        let parts: Vec<Option<ResidualPart>> = self.elements.iter().map(|element| self.residual_part(first, place, *element)).collect();
        for (i, one) in self.elements.iter().enumerate() {
            for (j, other) in self.elements.iter().enumerate().take(i + 1) {
                let at = pair(i, j);
                let (q, trace) = match (&parts[i], &parts[j]) {
                    (None, None) => random_pair(place, *one, *other),
                    (Some(part), None) => mixed_pair(place, *other, part),
                    (None, Some(part)) => mixed_pair(place, *one, part),
                    (Some(a), Some(b)) => {
                        let own = (i == j).then(|| self.independent_part(first, place, *one)).flatten();
                        residual_pair(place, a, b, own)
                    }
                };
                if let Some(q) = q {
                    scatter(place.component, &q, &mut second.q[at]);
                }
                second.traces[at] += trace;
            }
        }
    }

    fn residual_part(&self, first: &First, place: &Place<'_>, element: Element) -> Option<ResidualPart> {
        if !element.is_residual() {
            return None;
        }
        let component = place.component;
        let slopes = self.minus_slopes(&first.point, element);
        let zz = weighted(component, &slopes, |index| component.sums[index].zz.clone());
        let mut zx = weighted(component, &slopes, |index| component.sums[index].zx.clone());
        if component.random() > 0 {
            zx.add(-1.0, &zz.times(&place.member.v));
        }
        Some(ResidualPart { zz, zx })
    }

    /// W = R⁻¹∂R R⁻¹∂R R⁻¹ of a stratum's variance where records are independent: its N′WN, tr(HW)
    /// and tr(R⁻¹∂R R⁻¹∂R) of the component's rows.
    fn independent_part(&self, first: &First, place: &Place<'_>, element: Element) -> Option<(Matrix, f64, f64)> {
        let Element::Stratum(stratum) = element else { return None };
        if self.design.residual.series.is_some() {
            return None;
        }
        let component = place.component;
        let variance = first.point.strata[stratum];
        let mut slopes = self.minus_slopes(&first.point, element);
        slopes.iter_mut().for_each(|slope| *slope /= variance);
        let cross = super::first::residual_cross(component, place.member, &slopes);
        let zz = weighted(component, &slopes, |index| component.sums[index].zz.clone());
        let rows = component.rows.iter().filter(|row| self.design.residual.stratum[**row] as usize == stratum);
        Some((cross, place.pattern.h.inner(&zz), rows.count() as f64 / (variance * variance)))
    }

    fn add_series(&self, first: &First, second: &mut Second) {
        let Some(all) = &self.design.residual.series else { return };
        let mut components = vec![0; self.design.rows()];
        for (index, component) in self.design.sorted.components.iter().enumerate() {
            component.rows.iter().for_each(|row| components[*row] = index);
        }
        for (series, rows) in all.rows.iter().enumerate() {
            if let Some(row) = rows.first() {
                self.add_one_series(first, series, rows, components[*row], second);
            }
        }
    }

    fn add_one_series(&self, first: &First, series: usize, rows: &[usize], index: usize, second: &mut Second) {
        let component = &self.design.sorted.components[index];
        let pattern = &first.patterns[component.pattern];
        let covariance = self.series_covariance(&first.point, series);
        let (z, x) = self.series_rows(component, &first.members[index], rows);
        let (iz, ix) = (covariance.inverse.times(&z), covariance.inverse.times(&x));
        let by = &covariance.by;
        let start = self.elements.len() - by.len();
        let moved: Vec<_> =
            by.iter().map(|by| by.as_ref().map(|by| (by.times(&iz), by.times(&ix), covariance.inverse.times(by)))).collect();
        for i in 0..by.len() {
            for j in 0..=i {
                let at = pair(start + i, start + j);
                if let (Some((az, ax, a)), Some((bz, bx, b))) = (&moved[i], &moved[j]) {
                    let back = covariance.inverse.times(bx);
                    scatter(component, &ax.transposed_times(&back), &mut second.q[at]);
                    let zz = az.transposed_times(&covariance.inverse.times(bz));
                    second.traces[at] += a.inner(&b.transposed()) - 2.0 * pattern.h.inner(&zz);
                }
                self.add_bend(first, series, &covariance, (i, j), (&iz, &ix), index, &mut second.bend[at], &mut second.bend_traces[at]);
            }
        }
    }

    #[allow(clippy::too_many_arguments)]
    fn add_bend(
        &self,
        first: &First,
        series: usize,
        covariance: &SeriesCovariance,
        (i, j): (usize, usize),
        (iz, ix): (&Matrix, &Matrix),
        index: usize,
        bend: &mut Option<Matrix>,
        trace: &mut f64,
    ) {
        let Some(by) = self.series_second(&first.point, series, covariance, (i, j)) else { return };
        let component = &self.design.sorted.components[index];
        let size = self.design.columns() + 1;
        let whole = bend.get_or_insert_with(|| Matrix::zeros(size, size));
        scatter(component, &ix.transposed_times(&by.times(ix)), whole);
        let zz = iz.transposed_times(&by.times(iz));
        *trace += covariance.inverse.inner(&by) - first.patterns[component.pattern].h.inner(&zz);
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

/// Rows of a block of a random element.
fn rows_of(component: &Component, element: Element) -> Option<[std::ops::Range<usize>; 2]> {
    let Element::Random { term, a, b } = element else { return None };
    let find = |c| component.blocks.iter().find(|block| block.term == term && block.coefficient == c);
    let (one, other) = (find(a)?, find(b)?);
    Some([one.start..one.start + one.len, other.start..other.start + other.len])
}

/// E U for a random element.
fn exchanged(component: &Component, matrix: &Matrix, element: Element) -> Option<Matrix> {
    let [one, other] = rows_of(component, element)?;
    let mut out = Matrix::zeros(matrix.rows(), matrix.cols());
    for col in 0..matrix.cols() {
        let source = matrix.col(col);
        let target = out.col_mut(col);
        target[one.clone()].copy_from_slice(&source[other.clone()]);
        target[other.clone()].copy_from_slice(&source[one.clone()]);
    }
    Some(out)
}

fn random_pair(place: &Place<'_>, one: Element, other: Element) -> (Option<Matrix>, f64) {
    let Place { component, member, s, .. } = place;
    let (Some(f), Some(g)) = (exchanged(component, &member.u, one), exchanged(component, &member.u, other)) else {
        return (None, 0.0);
    };
    let q = f.transposed_times(&s.times(&g));
    (Some(q), exchange_trace(component, s, one, other))
}

/// tr(E S F S)
fn exchange_trace(component: &Component, s: &Matrix, one: Element, other: Element) -> f64 {
    let (Some(e), Some(f)) = (rows_of(component, one), rows_of(component, other)) else { return 0.0 };
    let turns = |rows: &[std::ops::Range<usize>; 2]| {
        let mut turns = vec![(rows[0].clone(), rows[1].clone())];
        if rows[0] != rows[1] {
            turns.push((rows[1].clone(), rows[0].clone()));
        }
        turns
    };
    let mut trace = 0.0;
    for (a, b) in turns(&e) {
        for (c, d) in turns(&f) {
            trace += s.part(b.clone(), c.clone()).inner(&s.part(a.clone(), d.clone()));
        }
    }
    trace
}

fn mixed_pair(place: &Place<'_>, random: Element, part: &ResidualPart) -> (Option<Matrix>, f64) {
    let (Some(n), Some(f)) = (place.n, exchanged(place.component, &place.member.u, random)) else {
        return (None, 0.0);
    };
    // n is (I − KH)′, that is N′ over the random columns reads D from the left as n′.
    let q = f.transposed_times(&n.transposed_times(&part.zx));
    let gamma = n.transposed_times(&part.zz.times(n));
    let Some([one, other]) = rows_of(place.component, random) else { return (Some(q), 0.0) };
    let twice = if one == other { 1.0 } else { 2.0 };
    let trace = twice * one.zip(other).map(|(i, j)| gamma[(i, j)]).sum::<f64>();
    (Some(q), trace)
}

fn residual_pair(place: &Place<'_>, a: &ResidualPart, b: &ResidualPart, own: Option<(Matrix, f64, f64)>) -> (Option<Matrix>, f64) {
    let (mut q, mut trace) = (None, 0.0);
    if let Some((cross, through, direct)) = own {
        q = Some(cross);
        trace += direct - 2.0 * through;
    }
    if place.component.random() > 0 {
        let mut less = a.zx.transposed_times(&place.pattern.h.times(&b.zx));
        less.scale(-1.0);
        match &mut q {
            Some(q) => q.add(1.0, &less),
            None => q = Some(less),
        }
        let (ha, hb) = (place.pattern.h.times(&a.zz), place.pattern.h.times(&b.zz));
        trace += ha.inner(&hb.transposed());
    }
    (q, trace)
}
