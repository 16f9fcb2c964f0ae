//! What all components of one pattern share at a point: the inverse of the random levels' system.

use std::borrow::Cow;
use std::sync::Arc;

use rayon::prelude::*;

use super::point::{Element, Point};
use crate::design::{Block, Component, SHARED_OUT_FROM, Sorted, Sums};
use crate::linear::{Arrow, ArrowInverse, Local, Matrix};

/// H = Λ(I + Λ′KΛ)⁻¹Λ′ with K = Z′R⁻¹Z, so that V⁻¹ = R⁻¹ − R⁻¹ZHZ′R⁻¹.
#[derive(Debug, Clone)]
pub struct Pattern {
    /// K = Z′R⁻¹Z, q × q.
    pub k: Arc<Arrow>,
    /// log|I + Λ′KΛ|
    pub log_det: f64,
    /// For each block, 1/variance where its term has one coefficient of positive variance.
    pub ratio: Vec<Option<f64>>,
    /// (I + Λ′KΛ)⁻¹, where `selected` is not all of H.
    inverse: Option<ArrowInverse>,
    /// The entries of H on the pattern of K.
    selected: Arrow,
    /// For each row i, Σⱼ Hᵢⱼ Kᵢⱼ.
    row_sums: Vec<f64>,
    root: Root,
}

/// Λ = ⊕ Λₜ ⊗ I
#[derive(Debug, Clone)]
struct Root {
    blocks: Vec<Block>,
    factor: Vec<Matrix>,
    /// The diagonal, where Λ has nothing else.
    diagonal: Option<Vec<f64>>,
}

impl Root {
    fn new(blocks: &[Block], point: &Point) -> Self {
        let is_diagonal = point.factor.iter().all(|factor| factor.rows() == 1);
        let of_block = |block: &Block| std::iter::repeat_n(point.factor[block.term][(block.coefficient, block.coefficient)], block.len);
        let diagonal = is_diagonal.then(|| blocks.iter().flat_map(of_block).collect());
        Self { blocks: blocks.to_vec(), factor: point.factor.clone(), diagonal }
    }

    /// Λ · vector, or Λ′ · vector.
    fn times(&self, vector: &mut [f64], transposed: bool) {
        if let Some(diagonal) = &self.diagonal {
            vector.iter_mut().zip(diagonal).for_each(|(x, f)| *x *= f);
            return;
        }
        let source = vector.to_vec();
        vector.fill(0.0);
        for to in &self.blocks {
            for from in self.blocks.iter().filter(|from| from.term == to.term) {
                let (a, b) = (to.coefficient, from.coefficient);
                let factor = &self.factor[to.term];
                let f = if transposed { factor[(b, a)] } else { factor[(a, b)] };
                if f != 0.0 {
                    let target = &mut vector[to.start..to.start + to.len];
                    target.iter_mut().zip(&source[from.start..from.start + from.len]).for_each(|(t, s)| *t += f * s);
                }
            }
        }
    }

    /// The part of Λ, or of Λ′, over some columns.
    fn local(&self, cols: &[usize], transposed: bool) -> Local {
        if let Some(diagonal) = &self.diagonal {
            return Local::Diagonal(cols.iter().map(|col| diagonal[*col]).collect());
        }
        let place = |col: usize| self.blocks.iter().find(|block| (block.start..block.start + block.len).contains(&col));
        let entry = |i: usize, j: usize| match (place(cols[i]), place(cols[j])) {
            (Some(a), Some(b)) if a.term == b.term && cols[i] - a.start == cols[j] - b.start => {
                self.factor[a.term][(a.coefficient, b.coefficient)]
            }
            _ => 0.0,
        };
        let n = cols.len();
        Local::Whole(Matrix::from_fn(n, n, |i, j| if transposed { entry(j, i) } else { entry(i, j) }))
    }
}

/// The sum over classes of weight × part.
pub fn weighted<'c>(component: &'c Component, weights: &[f64], part: impl Fn(&'c Sums) -> &'c Matrix) -> Cow<'c, Matrix> {
    if let ([class], [sums]) = (component.classes.as_slice(), component.sums.as_slice())
        && weights[*class] == 1.0
    {
        return Cow::Borrowed(part(sums));
    }
    let mut classes = component.classes.iter().zip(&component.sums);
    let Some((class, sums)) = classes.next() else { return Cow::Owned(Matrix::zeros(0, 0)) };
    let mut total = part(sums).clone();
    total.scale(weights[*class]);
    classes.filter(|(class, _)| weights[**class] != 0.0).for_each(|(class, sums)| total.add(weights[*class], part(sums)));
    Cow::Owned(total)
}

/// The sum over classes of weight × Z′KZ.
pub fn weighted_zz(component: &Component, weights: &[f64]) -> Option<Arc<Arrow>> {
    let mut classes = component.classes.iter().zip(&component.sums);
    let (class, sums) = classes.next()?;
    if component.classes.len() == 1 && weights[*class] == 1.0 {
        return Some(Arc::clone(&sums.zz));
    }
    let mut total = Arrow::clone(&sums.zz);
    total.scale(weights[*class]);
    classes.filter(|(class, _)| weights[**class] != 0.0).for_each(|(class, sums)| total.add(weights[*class], &sums.zz));
    Some(Arc::new(total))
}

impl Pattern {
    /// The pattern of a component at a point; `None` where the system is not positive definite.
    pub fn new(component: &Component, point: &Point, weights: &[f64]) -> Option<Self> {
        let blocks = &component.blocks;
        let k = weighted_zz(component, weights)?;
        let root = Root::new(blocks, point);
        let inverse = Arrow::clone(&k).sandwich(&|cols| root.local(cols, false)).into_inverse_of_one_plus()?;
        let log_det = inverse.log_det();
        let (selected, inverse) = match inverse.into_whole() {
            Ok(whole) => (whole, None),
            Err(inverse) => (inverse.selected(), Some(inverse)),
        };
        let selected = selected.sandwich(&|cols| root.local(cols, true));
        let ratio = blocks.iter().map(|block| {
            let sigma = &point.sigma[block.term];
            (sigma.rows() == 1 && sigma[(0, 0)] > 0.0).then(|| 1.0 / sigma[(0, 0)])
        });
        let row_sums = selected.row_inner(&k);
        Some(Self { ratio: ratio.collect(), log_det, row_sums, k, inverse, selected, root })
    }

    /// H · vector
    pub fn h_times_vec(&self, vector: &[f64]) -> Vec<f64> {
        let Some(inverse) = &self.inverse else { return self.selected.times_vec(vector) };
        let mut out = vector.to_vec();
        self.root.times(&mut out, true);
        inverse.solve(&mut out);
        self.root.times(&mut out, false);
        out
    }

    /// H · matrix
    pub fn h_times(&self, matrix: &Matrix) -> Matrix {
        let Some(inverse) = &self.inverse else { return self.selected.times(matrix) };
        let mut out = matrix.clone();
        (0..out.cols()).for_each(|col| self.root.times(out.col_mut(col), true));
        let mut out = inverse.solve_all(&out);
        (0..out.cols()).for_each(|col| self.root.times(out.col_mut(col), false));
        out
    }

    /// Σᵢⱼ Hᵢⱼ otherᵢⱼ for a matrix of the pattern of K.
    pub fn h_inner(&self, other: &Arrow) -> f64 {
        self.selected.inner(other)
    }

    /// (I − KH) B, given HB: rows of one positive variance are HB/variance, without cancellation.
    pub fn leave(&self, blocks: &[Block], b: &Matrix, hb: &Matrix) -> Matrix {
        let mut out = hb.clone();
        let direct = self.ratio.iter().any(Option::is_none).then(|| self.k.times(hb));
        for (block, ratio) in blocks.iter().zip(&self.ratio) {
            let rows = block.start..block.start + block.len;
            for col in 0..b.cols() {
                let target = &mut out.col_mut(col)[rows.clone()];
                match (ratio, &direct) {
                    (Some(ratio), _) => target.iter_mut().for_each(|x| *x *= ratio),
                    (None, Some(direct)) => {
                        let less = b.col(col)[rows.clone()].iter().zip(&direct.col(col)[rows.clone()]);
                        target.iter_mut().zip(less).for_each(|(x, (b, k))| *x = b - k);
                    }
                    (None, None) => {}
                }
            }
        }
        out
    }

    /// S = Z′V⁻¹Z, whole.
    pub fn s(&self, blocks: &[Block]) -> Matrix {
        let k = self.k.to_dense();
        let mut s = self.leave(blocks, &k, &self.h_times(&k));
        s.make_symmetric();
        s
    }

    /// Some columns of S = Z′V⁻¹Z.
    pub fn s_columns(&self, blocks: &[Block], cols: std::ops::Range<usize>) -> Matrix {
        let k = self.k.columns(cols);
        self.leave(blocks, &k, &self.h_times(&k))
    }

    /// tr(V⁻¹ ∂V) within one component for a random element.
    pub fn random_trace(&self, blocks: &[Block], element: Element) -> f64 {
        let Element::Random { term, a, b } = element else { return 0.0 };
        let find = |c| blocks.iter().position(|block| block.term == term && block.coefficient == c);
        let (Some(first), Some(second)) = (find(a), find(b)) else { return 0.0 };
        let (one, other) = (blocks[first], blocks[second]);
        if let Some(ratio) = self.ratio[first] {
            return ratio * self.row_sums[one.start..one.start + one.len].iter().sum::<f64>();
        }
        let twice = if a == b { 1.0 } else { 2.0 };
        let own = (0..one.len).map(|index| self.k.entry(one.start + index, other.start + index)).sum::<f64>();
        twice * (own - self.taken_off(one, other))
    }

    /// tr(K H K) over the columns of two blocks, a few at a time.
    fn taken_off(&self, one: Block, other: Block) -> f64 {
        let chunk = |from: usize| {
            let to = one.len.min(from + AT_A_TIME);
            let part = |block: Block| self.k.columns(block.start + from..block.start + to);
            part(one).inner(&self.h_times(&part(other)))
        };
        (0..one.len).step_by(AT_A_TIME).map(chunk).sum()
    }
}

/// Columns solved for together where a trace needs them one by one.
const AT_A_TIME: usize = 64;

/// The patterns of all components at a point.
pub fn patterns(sorted: &Sorted, point: &Point, weights: &[f64]) -> Option<Vec<Pattern>> {
    let pattern = |(first, _): &(usize, usize)| Pattern::new(&sorted.components[*first], point, weights);
    let rows: usize = sorted.patterns.iter().map(|(first, _)| sorted.components[*first].rows.len()).sum();
    if rows >= SHARED_OUT_FROM && sorted.patterns.len() > 1 {
        return sorted.patterns.par_iter().map(pattern).collect();
    }
    sorted.patterns.iter().map(pattern).collect()
}
