//! What all components of one pattern share at a point: the inverse of the random levels' system.

use super::point::{Element, Point};
use crate::design::{Block, Component, Sorted};
use crate::linear::{Cholesky, Matrix, dot};

/// H = Λ(I + Λ′KΛ)⁻¹Λ′ with K = Z′R⁻¹Z, so that V⁻¹ = R⁻¹ − R⁻¹ZHZ′R⁻¹.
#[derive(Debug, Clone)]
pub struct Pattern {
    /// K = Z′R⁻¹Z, q × q.
    pub k: Matrix,
    /// H, q × q.
    pub h: Matrix,
    /// log|I + Λ′KΛ|
    pub log_det: f64,
    /// For each block, 1/variance where its term has one coefficient of positive variance.
    pub ratio: Vec<Option<f64>>,
}

/// The sum over classes of weight × part.
pub fn weighted(component: &Component, weights: &[f64], part: impl Fn(usize) -> Matrix) -> Matrix {
    let mut total = Matrix::zeros(0, 0);
    for (index, class) in component.classes.iter().enumerate() {
        let mut one = part(index);
        if index == 0 {
            one.scale(weights[*class]);
            total = one;
        } else {
            total.add(weights[*class], &one);
        }
    }
    total
}

/// Λ′MΛ or ΛMΛ′ for the block-structured Λ = ⊕ Λₜ ⊗ I.
fn sandwich(blocks: &[Block], point: &Point, middle: &Matrix, transposed: bool) -> Matrix {
    let half = multiply(blocks, point, middle, transposed);
    let mut out = multiply(blocks, point, &half.transposed(), transposed);
    out.make_symmetric();
    out
}

/// Λ′M (`transposed`) or ΛM.
fn multiply(blocks: &[Block], point: &Point, matrix: &Matrix, transposed: bool) -> Matrix {
    let mut out = Matrix::zeros(matrix.rows(), matrix.cols());
    for to in blocks {
        for from in blocks.iter().filter(|from| from.term == to.term) {
            let root = &point.factor[to.term];
            let (a, b) = (to.coefficient, from.coefficient);
            let f = if transposed { root[(b, a)] } else { root[(a, b)] };
            if f == 0.0 {
                continue;
            }
            for col in 0..matrix.cols() {
                let source = &matrix.col(col)[from.start..from.start + from.len];
                let target = &mut out.col_mut(col)[to.start..to.start + to.len];
                target.iter_mut().zip(source).for_each(|(t, s)| *t += f * s);
            }
        }
    }
    out
}

impl Pattern {
    /// The pattern of a component at a point; `None` where the system is not positive definite.
    pub fn new(component: &Component, point: &Point, weights: &[f64]) -> Option<Self> {
        let blocks = &component.blocks;
        let q = component.random();
        if q == 0 {
            let empty = Matrix::zeros(0, 0);
            return Some(Self { k: empty.clone(), h: empty, log_det: 0.0, ratio: Vec::new() });
        }
        let k = weighted(component, weights, |index| component.sums[index].zz.clone());
        let mut system = sandwich(blocks, point, &k, true);
        (0..q).for_each(|i| system[(i, i)] += 1.0);
        let cholesky = Cholesky::new(&system)?;
        let h = sandwich(blocks, point, &cholesky.inverse(), false);
        let ratio = blocks.iter().map(|block| {
            let sigma = &point.sigma[block.term];
            (sigma.rows() == 1 && sigma[(0, 0)] > 0.0).then(|| 1.0 / sigma[(0, 0)])
        });
        Some(Self { ratio: ratio.collect(), log_det: cholesky.log_det(), k, h })
    }

    /// (I − KH) B, given HB: rows of one positive variance are HB/variance, without cancellation.
    pub fn leave(&self, blocks: &[Block], b: &Matrix, hb: &Matrix) -> Matrix {
        let mut out = Matrix::zeros(b.rows(), b.cols());
        for (block, ratio) in blocks.iter().zip(&self.ratio) {
            for col in 0..b.cols() {
                let through = hb.col(col);
                for row in block.start..block.start + block.len {
                    out[(row, col)] = match ratio {
                        Some(ratio) => ratio * through[row],
                        None => b[(row, col)] - dot(self.k.col(row), through),
                    };
                }
            }
        }
        out
    }

    /// S = Z′V⁻¹Z, whole.
    pub fn s(&self, blocks: &[Block]) -> Matrix {
        let mut s = self.leave(blocks, &self.k, &self.h.times(&self.k));
        s.make_symmetric();
        s
    }

    /// tr(V⁻¹ ∂V) within one component for a random element, from the rows of S that it needs.
    pub fn random_trace(&self, blocks: &[Block], element: Element) -> f64 {
        let Element::Random { term, a, b } = element else { return 0.0 };
        let find = |c| blocks.iter().position(|block| block.term == term && block.coefficient == c);
        let (Some(first), Some(second)) = (find(a), find(b)) else { return 0.0 };
        let twice = if a == b { 1.0 } else { 2.0 };
        let (one, other) = (blocks[first], blocks[second]);
        let entry = |index: usize| {
            let (i, j) = (one.start + index, other.start + index);
            match self.ratio[first] {
                Some(ratio) => ratio * dot(self.h.col(i), self.k.col(j)),
                None => self.k[(i, j)] - dot(self.k.col(i), &self.h.times_vec(self.k.col(j))),
            }
        };
        twice * (0..one.len).map(entry).sum::<f64>()
    }
}

/// The patterns of all components at a point.
pub fn patterns(sorted: &Sorted, point: &Point, weights: &[f64]) -> Option<Vec<Pattern>> {
    sorted.patterns.iter().map(|(first, _)| Pattern::new(&sorted.components[*first], point, weights)).collect()
}
