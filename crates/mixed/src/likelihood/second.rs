//! The second-order quantities of Kenward–Roger and Satterthwaite at a point.
//!
//! For elements i, j:  Pᵢ = −X′V⁻¹∂ᵢV V⁻¹X,  Qᵢⱼ = X′V⁻¹∂ᵢV V⁻¹∂ⱼV V⁻¹X,  tr(V⁻¹∂ᵢV V⁻¹∂ⱼV), and
//! for the residual the second derivatives Rᵢⱼ = X′V⁻¹∂ᵢⱼV V⁻¹X and tr(V⁻¹∂ᵢⱼV).
//!
//! Source: Kenward & Roger (1997), Biometrics 53:983–997.

use super::Likelihood;
use super::first::{First, Member, scatter};
use super::pattern::{Pattern, weighted, weighted_zz};
use super::point::Element;
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

/// What all components of a pattern share, whole.
pub(super) struct Shared {
    /// S = Z′V⁻¹Z
    s: Matrix,
    /// H
    pub(super) h: Matrix,
    /// I − HK
    n: Matrix,
}

struct Place<'s> {
    component: &'s Component,
    member: &'s Member,
    pattern: &'s Pattern,
    shared: &'s Shared,
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
        if self.is_well_conditioned_plain(first) {
            self.add_plain(first, &mut second);
        } else {
            self.add_general(first, &mut second);
        }
        second.q.iter_mut().for_each(Matrix::make_symmetric);
        second
    }

    fn add_general(&self, first: &First, second: &mut Second) {
        let sorted = &self.design.sorted;
        let of_pattern = |((index, _), pattern): (&(usize, usize), &Pattern)| shared(&sorted.components[*index], pattern);
        let shared: Vec<Shared> = sorted.patterns.iter().zip(&first.patterns).map(of_pattern).collect();
        let slopes: Vec<Vec<f64>> = self.elements.iter().map(|element| self.minus_slopes(&first.point, *element)).collect();
        for (component, member) in sorted.components.iter().zip(&first.members) {
            let (shared, pattern) = (&shared[component.pattern], &first.patterns[component.pattern]);
            self.add_component(first, &Place { component, member, pattern, shared }, &slopes, second);
        }
        self.add_series(first, &shared, second);
    }

    fn add_component(&self, first: &First, place: &Place<'_>, slopes: &[Vec<f64>], second: &mut Second) {
        let parts: Vec<Option<ResidualPart>> =
            self.elements.iter().zip(slopes).map(|(element, slopes)| residual_part(place, *element, slopes)).collect();
        let present = |index: usize| !self.elements[index].is_residual() || place.component.meets(&slopes[index]);
        let here: Vec<usize> = (0..self.elements.len()).filter(|index| present(*index)).collect();
        for (end, i) in here.iter().enumerate() {
            for j in &here[..=end] {
                let (one, other) = (self.elements[*i], self.elements[*j]);
                let (q, trace) = match (&parts[*i], &parts[*j]) {
                    (None, None) => random_pair(place.component, place.member, &place.shared.s, one, other),
                    (Some(part), None) => mixed_pair(place, other, part),
                    (None, Some(part)) => mixed_pair(place, one, part),
                    (Some(a), Some(b)) => {
                        let own = (i == j).then(|| self.independent_part(first, place, one)).flatten();
                        residual_pair(place, a, b, own)
                    }
                };
                let at = pair(*i, *j);
                if let Some(q) = q {
                    scatter(place.component, &q, &mut second.q[at]);
                }
                second.traces[at] += trace;
            }
        }
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
        let through = weighted_zz(component, &slopes).map_or(0.0, |zz| place.pattern.h_inner(&zz));
        let rows = component.rows.iter().filter(|row| self.design.residual.stratum[**row] as usize == stratum);
        Some((cross, through, rows.count() as f64 / (variance * variance)))
    }
}

fn residual_part(place: &Place<'_>, element: Element, slopes: &[f64]) -> Option<ResidualPart> {
    let component = place.component;
    if !element.is_residual() || !component.meets(slopes) {
        return None;
    }
    let zz = weighted_zz(component, slopes).map_or(Matrix::zeros(0, 0), |zz| zz.to_dense());
    let mut zx = weighted(component, slopes, |sums| &sums.zx).into_owned();
    if component.random() > 0 {
        zx.add(-1.0, &zz.times(&place.member.v));
    }
    Some(ResidualPart { zz, zx })
}

fn shared(component: &Component, pattern: &Pattern) -> Shared {
    let q = component.random();
    let unit = Matrix::from_fn(q, q, |i, j| f64::from(u8::from(i == j)));
    let h = pattern.h_times(&unit);
    let n = pattern.leave(&component.blocks, &unit, &h).transposed();
    Shared { s: pattern.s(&component.blocks), n, h }
}

/// Rows of a block of a random element.
pub(super) fn rows_of(component: &Component, element: Element) -> Option<[std::ops::Range<usize>; 2]> {
    let Element::Random { term, a, b } = element else { return None };
    let find = |c| component.blocks.iter().find(|block| block.term == term && block.coefficient == c);
    let (one, other) = (find(a)?, find(b)?);
    Some([one.start..one.start + one.len, other.start..other.start + other.len])
}

/// E U for a random element.
pub(super) fn exchanged(component: &Component, matrix: &Matrix, element: Element) -> Option<Matrix> {
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

fn random_pair(component: &Component, member: &Member, s: &Matrix, one: Element, other: Element) -> (Option<Matrix>, f64) {
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
    let Some(f) = exchanged(place.component, &place.member.u, random) else { return (None, 0.0) };
    let n = &place.shared.n;
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
        let mut less = a.zx.transposed_times(&place.shared.h.times(&b.zx));
        less.scale(-1.0);
        match &mut q {
            Some(q) => q.add(1.0, &less),
            None => q = Some(less),
        }
        let (ha, hb) = (place.shared.h.times(&a.zz), place.shared.h.times(&b.zz));
        trace += ha.inner(&hb.transposed());
    }
    (q, trace)
}
