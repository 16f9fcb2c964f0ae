//! The inverse of an arrow matrix: groups eliminated first, then a dense factor of the shared columns.

use std::sync::Arc;

use super::block;
use super::matrix::Arrow;
use super::plan::{ArrowPlan, Group};
use crate::linear::cholesky::{Cholesky, inverse_and_log_det};
use crate::linear::matrix::{Matrix, axpy, dot};

/// Eliminates one group: its inverse, its ratio W = A⁻¹C to the shared columns, and the lower triangle of
/// their Schur complement.
fn eliminate(group: &Group, own: &mut [f64], cross: &[f64], ratio: &mut [f64], shared: &mut Matrix) -> Option<f64> {
    let q = group.cols.len();
    let own = &mut own[group.own_at..group.own_at + q * q];
    let range = group.cross_at..group.cross_at + q * group.meets.len();
    let (cross, ratio) = (&cross[range.clone()], &mut ratio[range]);
    if q == 1 {
        return eliminate_one(group, &mut own[0], cross, ratio, shared);
    }
    let one_plus = |i, j| own[j * q + i] + f64::from(u8::from(i == j));
    let cholesky = Cholesky::new(&Matrix::from_fn(q, q, one_plus))?;
    own.copy_from_slice(cholesky.inverse().data());
    ratio.copy_from_slice(cross);
    ratio.chunks_exact_mut(q).for_each(|column| {
        cholesky.forward(column);
        cholesky.backward(column);
    });
    for (place, (b, w)) in group.meets.iter().zip(ratio.chunks_exact(q)).enumerate() {
        let target = shared.col_mut(*b);
        group.meets.iter().zip(cross.chunks_exact(q)).skip(place).for_each(|(a, c)| target[*a] -= dot(c, w));
    }
    Some(cholesky.log_det())
}

/// As [`eliminate`], for a group of one column.
fn eliminate_one(group: &Group, own: &mut f64, cross: &[f64], ratio: &mut [f64], shared: &mut Matrix) -> Option<f64> {
    let pivot = 1.0 + *own;
    if pivot.is_nan() || pivot <= 0.0 {
        return None;
    }
    *own = 1.0 / pivot;
    for (place, ((b, w), c)) in group.meets.iter().zip(ratio).zip(cross).enumerate() {
        *w = c / pivot;
        let (f, target) = (*w, shared.col_mut(*b));
        group.meets[place..].iter().zip(&cross[place..]).for_each(|(a, c)| target[*a] -= f * c);
    }
    Some(pivot.ln())
}

impl Arrow {
    /// The inverse of I + self; `None` unless that is positive definite.
    pub fn inverse_of_one_plus(&self) -> Option<ArrowInverse> {
        self.clone().into_inverse_of_one_plus()
    }

    /// As [`inverse_of_one_plus`](Self::inverse_of_one_plus), in the matrix's own storage.
    pub fn into_inverse_of_one_plus(self) -> Option<ArrowInverse> {
        let Self { plan, mut own, cross, mut shared } = self;
        (0..plan.shared.len()).for_each(|i| shared[(i, i)] += 1.0);
        let mut ratio = vec![0.0; plan.cross_len];
        let mut log_det = 0.0;
        for group in &plan.groups {
            log_det += eliminate(group, &mut own, &cross, &mut ratio, &mut shared)?;
        }
        let (shared, log_det_shared) = inverse_and_log_det(shared)?;
        log_det += log_det_shared;
        Some(ArrowInverse { plan, own, ratio, shared, log_det })
    }
}

/// (I + A)⁻¹ for an arrow matrix A.
#[derive(Debug, Clone)]
pub struct ArrowInverse {
    plan: Arc<ArrowPlan>,
    own: Vec<f64>,
    ratio: Vec<f64>,
    shared: Matrix,
    log_det: f64,
}

impl ArrowInverse {
    /// log|I + A|
    pub fn log_det(&self) -> f64 {
        self.log_det
    }

    /// The inverse as a matrix where no columns are apart from the shared ones; itself again otherwise.
    pub fn into_whole(self) -> Result<Arrow, Self> {
        if !self.plan.groups.is_empty() {
            return Err(self);
        }
        let Self { plan, own, ratio: cross, shared, .. } = self;
        Ok(Arrow { plan, own, cross, shared })
    }

    /// (I + A)⁻¹ · vector, in place.
    pub fn solve(&self, vector: &mut [f64]) {
        let plan = &self.plan;
        if plan.groups.is_empty() {
            let solved = self.shared.times_vec(vector);
            vector.copy_from_slice(&solved);
            return;
        }
        let mut right: Vec<f64> = plan.shared.iter().map(|col| vector[*col]).collect();
        for group in &plan.groups {
            let q = group.cols.len();
            for (j, shared) in group.meets.iter().enumerate() {
                let w = block(&self.ratio, group.cross_at, q, j);
                right[*shared] -= group.cols.iter().zip(w).map(|(row, w)| w * vector[*row]).sum::<f64>();
            }
        }
        let solved = self.shared.times_vec(&right);
        for group in &plan.groups {
            let q = group.cols.len();
            let b: Vec<f64> = group.cols.iter().map(|col| vector[*col]).collect();
            let mut x = vec![0.0; q];
            for (j, b) in b.iter().enumerate() {
                axpy(&mut x, *b, block(&self.own, group.own_at, q, j));
            }
            for (j, shared) in group.meets.iter().enumerate() {
                axpy(&mut x, -solved[*shared], block(&self.ratio, group.cross_at, q, j));
            }
            group.cols.iter().zip(x).for_each(|(col, x)| vector[*col] = x);
        }
        plan.shared.iter().zip(solved).for_each(|(col, x)| vector[*col] = x);
    }

    /// (I + A)⁻¹ · B
    pub fn solve_all(&self, b: &Matrix) -> Matrix {
        if self.plan.groups.is_empty() {
            return self.shared.times(b);
        }
        // Turned, so that the right sides of one column of A lie together.
        let mut x = b.transposed();
        let mut right = Matrix::zeros(b.cols(), self.plan.shared.len());
        for (place, col) in self.plan.shared.iter().enumerate() {
            right.col_mut(place).copy_from_slice(x.col(*col));
        }
        for group in &self.plan.groups {
            let q = group.cols.len();
            for (j, shared) in group.meets.iter().enumerate() {
                let target = right.col_mut(*shared);
                let w = block(&self.ratio, group.cross_at, q, j);
                group.cols.iter().zip(w).for_each(|(row, w)| axpy(target, -w, x.col(*row)));
            }
        }
        let solved = right.times(&self.shared);
        let mut own = Matrix::zeros(b.cols(), 0);
        for group in &self.plan.groups {
            self.solve_group(group, &solved, &mut own, &mut x);
        }
        for (place, col) in self.plan.shared.iter().enumerate() {
            x.col_mut(*col).copy_from_slice(solved.col(place));
        }
        x.transposed()
    }

    fn solve_group(&self, group: &Group, solved: &Matrix, own: &mut Matrix, x: &mut Matrix) {
        let q = group.cols.len();
        if own.cols() != q {
            *own = Matrix::zeros(x.rows(), q);
        }
        for (place, col) in group.cols.iter().enumerate() {
            own.col_mut(place).copy_from_slice(x.col(*col));
        }
        for (i, row) in group.cols.iter().enumerate() {
            let target = x.col_mut(*row);
            target.fill(0.0);
            let inverse = block(&self.own, group.own_at, q, i);
            inverse.iter().enumerate().for_each(|(j, f)| axpy(target, *f, own.col(j)));
            for (j, shared) in group.meets.iter().enumerate() {
                axpy(target, -self.ratio[group.cross_at + j * q + i], solved.col(*shared));
            }
        }
    }

    /// The entries of the inverse on the pattern of A.
    pub fn selected(&self) -> Arrow {
        let mut selected = Arrow::zeros(&self.plan);
        selected.own.copy_from_slice(&self.own);
        for group in &self.plan.groups {
            self.select_group(group, &mut selected);
        }
        selected.shared = self.shared.clone();
        selected
    }

    /// A group's own block A⁻¹ + WS⁻¹W′ and its block with the shared columns −WS⁻¹.
    fn select_group(&self, group: &Group, selected: &mut Arrow) {
        let (q, s) = (group.cols.len(), group.meets.len());
        let range = group.cross_at..group.cross_at + q * s;
        let w = &self.ratio[range.clone()];
        let through = &mut selected.cross[range];
        let own = &mut selected.own[group.own_at..group.own_at + q * q];
        if q == 1 {
            // Each entry below the diagonal of S⁻¹ is read once and serves both of its places.
            for (place, b) in group.meets.iter().enumerate() {
                let column = self.shared.col(*b);
                let (own_w, mut sum) = (w[place], w[place] * column[*b]);
                for (later, a) in group.meets.iter().enumerate().skip(place + 1) {
                    let entry = column[*a];
                    sum += w[later] * entry;
                    through[later] -= own_w * entry;
                }
                through[place] -= sum;
            }
            own[0] -= dot(w, through);
            return;
        }
        for (target, b) in through.chunks_exact_mut(q).zip(&group.meets) {
            let column = self.shared.col(*b);
            group.meets.iter().zip(w.chunks_exact(q)).for_each(|(a, w)| axpy(target, -column[*a], w));
        }
        for j in 0..q {
            for (w, through) in w.chunks_exact(q).zip(through.chunks_exact(q)) {
                axpy(&mut own[j * q..(j + 1) * q], -w[j], through);
            }
        }
    }
}
