//! The second-order quantities where the residual is independent with one variance σ²: only pairs of
//! random elements need work. Since V = Σ τₑ∂ₑV + σ²I over the random elements,
//!
//! V⁻¹V⁻¹ = (V⁻¹ − Σ τₑ V⁻¹∂ₑV V⁻¹)/σ²,
//!
//! and every quantity of the residual element follows from those of the random ones.

use std::ops::Range;

use super::Likelihood;
use super::first::{First, scatter};
use super::point::Element;
use super::second::{Second, exchanged, pair, rows_of};
use crate::design::{Block, Component};
use crate::linear::{Matrix, dot};

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
        self.add_random(first, second, AT_A_TIME);
        let random = self.elements.len() - 1;
        for j in 0..=random {
            self.add_residual_pair(first, second, random, j);
        }
    }

    /// All pairs of random elements. S = Z′V⁻¹Z is made a few columns at a time, so that memory grows with
    /// the number of levels and not with its square.
    fn add_random(&self, first: &First, second: &mut Second, at_a_time: usize) {
        let sorted = &self.design.sorted;
        let mut members: Vec<Vec<usize>> = vec![Vec::new(); sorted.patterns.len()];
        sorted.components.iter().enumerate().for_each(|(index, component)| members[component.pattern].push(index));
        for (members, pattern) in members.iter().zip(&first.patterns) {
            let Some(blocks) = members.first().map(|index| &sorted.components[*index].blocks) else { continue };
            for term in 0..self.design.terms.len() {
                let own: Vec<Block> = blocks.iter().filter(|block| block.term == term).copied().collect();
                let len = own.first().map_or(0, |block| block.len);
                for from in (0..len).step_by(at_a_time) {
                    let places = from..len.min(from + at_a_time);
                    let s = own.iter().map(|block| pattern.s_columns(blocks, block.start + places.start..block.start + places.end));
                    let chunk = Chunk { term, own: &own, s: s.collect(), places };
                    members.iter().for_each(|index| self.add_chunk(first, *index, &chunk, second));
                }
            }
        }
        second.q.iter_mut().for_each(Matrix::make_symmetric);
    }

    /// What the chunk's columns of S add to one component's pairs; the traces are each component's own.
    fn add_chunk(&self, first: &First, index: usize, chunk: &Chunk<'_>, second: &mut Second) {
        let (component, u) = (&self.design.sorted.components[index], &first.members[index].u);
        let random = &self.elements[..self.elements.len() - 1];
        for (j, other) in random.iter().enumerate() {
            let Element::Random { term, a: c, b: d } = *other else { continue };
            if term != chunk.term {
                continue;
            }
            let moved = chunk.moved(u, c, d);
            for (i, one) in random.iter().enumerate().skip(j) {
                let Some(f) = exchanged(component, u, *one) else { continue };
                let at = pair(i, j);
                scatter(component, &f.transposed_times(&moved), &mut second.q[at]);
                second.traces[at] += chunk.trace(component, *one, (c, d));
            }
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

/// Columns of S made at a time.
const AT_A_TIME: usize = 256;

/// The columns of S that belong to some levels of one random term.
struct Chunk<'c> {
    term: usize,
    /// The blocks of the term.
    own: &'c [Block],
    /// For each of them the columns of its levels.
    s: Vec<Matrix>,
    /// The levels' places within their blocks.
    places: Range<usize>,
}

impl Chunk<'_> {
    /// S F U, from the chunk's columns of S, for the element of coefficients c and d.
    fn moved(&self, u: &Matrix, c: usize, d: usize) -> Matrix {
        let rows = |at: usize| self.own[at].start + self.places.start..self.own[at].start + self.places.end;
        let mut moved = self.s[c].times(&u.part(rows(d), 0..u.cols()));
        if c != d {
            moved.add(1.0, &self.s[d].times(&u.part(rows(c), 0..u.cols())));
        }
        moved
    }

    /// The chunk's share of tr(E S F S), F being of coefficients c and d.
    fn trace(&self, component: &Component, element: Element, (c, d): (usize, usize)) -> f64 {
        let Some([a, b]) = rows_of(component, element) else { return 0.0 };
        let of = |a: &Range<usize>, b: &Range<usize>, c: usize, d: usize| {
            let product = |col: usize| dot(&self.s[c].col(col)[b.clone()], &self.s[d].col(col)[a.clone()]);
            (0..self.places.len()).map(product).sum::<f64>()
        };
        let both = |c: usize, d: usize| of(&a, &b, c, d) + if a == b { 0.0 } else { of(&b, &a, c, d) };
        both(c, d) + if c == d { 0.0 } else { both(d, c) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::columns::Columns;
    use crate::design::Design;
    use crate::likelihood::Point;
    use crate::model::Model;

    #[test]
    fn a_few_columns_at_a_time_and_all_at_once_are_one_sum() {
        let mut table = Columns::new(60);
        let code = |name: &str, by: usize, of: usize| (0..60).map(|row| format!("{name}{}", row * by / 7 % of)).collect::<Vec<_>>();
        table.category("a", &code("a", 3, 7)).unwrap();
        table.category("b", &code("b", 11, 5)).unwrap();
        table.number("t", (0..60).map(|row| f64::from(row % 9)).collect()).unwrap();
        table.number("y", (0..60).map(|row| f64::from(row * row % 23)).collect()).unwrap();
        let model = "response = \"y\"\ncategories = [\"a\", \"b\"]\neffects = [[\"t\"]]\ngroups = [[\"b\"]]\n\
                     [[varying]]\nover = [\"a\"]\neffects = [[\"t\"]]\ncorrelated = true\n";
        let mut design = Design::new(&table, &Model::from_toml(model).unwrap()).unwrap();
        let response = design.table.response.clone();
        design.fill_response(&response);
        let likelihood = Likelihood::new(&design, &response, true);
        let factor = vec![Matrix::from_fn(1, 1, |_, _| 0.7), Matrix::from_fn(2, 2, |i, j| if i >= j { 0.4 } else { 0.0 })];
        let mut first = likelihood.first(&Point::new(factor, vec![1.0], 0.0)).unwrap();
        likelihood.complete(&mut first);
        let by = |at_a_time| {
            let size = design.columns() + 1;
            let (q, traces) = (vec![Matrix::zeros(size, size); 15], vec![0.0; 15]);
            let mut second = Second { q, traces, bend: vec![None; 15], bend_traces: vec![0.0; 15] };
            likelihood.add_random(&first, &mut second, at_a_time);
            second
        };
        let (few, all) = (by(2), by(1000));
        for at in 0..10 {
            let size = all.q[at].data().iter().fold(1e-9_f64, |m, x| m.max(x.abs()));
            assert!(all.traces[at].abs() > 1e-6 && (few.traces[at] / all.traces[at] - 1.0).abs() < 1e-11, "{at}");
            assert!(few.q[at].data().iter().zip(all.q[at].data()).all(|(x, y)| (x - y).abs() < 1e-11 * size), "{at}");
        }
    }
}
