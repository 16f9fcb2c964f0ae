//! The Cholesky factor A = L Lᵀ of a positive definite matrix.

use faer::Par;
use faer::dyn_stack::{MemBuffer, MemStack};
use faer::linalg::cholesky::llt;

use super::matrix::{Matrix, axpy, dot};
use super::{bordered, small};

/// From this size on the factor comes from the library's blocked kernels.
const FACTOR_BLOCKED_FROM: usize = 48;
/// From this size on the inverse comes from the library's blocked kernels.
const INVERSE_BLOCKED_FROM: usize = 28;

/// A = L Lᵀ, with L lower triangular.
#[derive(Debug, Clone)]
pub struct Cholesky {
    factor: Matrix,
}

impl Cholesky {
    /// Factors a symmetric matrix, reading its lower triangle; `None` unless it is positive definite.
    pub fn new(matrix: &Matrix) -> Option<Self> {
        Self::of(matrix.clone())
    }

    /// As [`new`](Self::new), in the matrix's own storage.
    pub fn of(mut factor: Matrix) -> Option<Self> {
        if factor.rows() >= FACTOR_BLOCKED_FROM {
            return Self::blocked(factor);
        }
        let n = factor.rows();
        for k in 0..n {
            let pivot = factor[(k, k)];
            if !(pivot > 0.0 && pivot.is_finite()) {
                return None;
            }
            let root = pivot.sqrt();
            let over = 1.0 / root;
            let column = &mut factor.col_mut(k)[k..];
            column.iter_mut().for_each(|entry| *entry *= over);
            column[0] = root;
            for j in k + 1..n {
                let (head, tail) = factor.data_mut().split_at_mut(j * n);
                let source = &head[k * n + j..(k + 1) * n];
                let f = source[0];
                if f != 0.0 {
                    axpy(&mut tail[j..n], -f, source);
                }
            }
        }
        Some(Self { factor: lower(factor) })
    }

    fn blocked(mut factor: Matrix) -> Option<Self> {
        let n = factor.rows();
        let mut memory = MemBuffer::new(llt::factor::cholesky_in_place_scratch::<f64>(n, Par::Seq, Default::default()));
        let stack = MemStack::new(&mut memory);
        llt::factor::cholesky_in_place(factor.view_mut(), Default::default(), Par::Seq, stack, Default::default()).ok()?;
        let factor = lower(factor);
        factor.is_finite().then_some(Self { factor })
    }

    /// log|A|
    pub fn log_det(&self) -> f64 {
        2.0 * (0..self.factor.rows()).map(|i| self.factor[(i, i)].ln()).sum::<f64>()
    }

    /// L
    pub fn factor(&self) -> &Matrix {
        &self.factor
    }

    /// L⁻¹ b, in place.
    pub fn forward(&self, b: &mut [f64]) {
        let n = self.factor.rows();
        for k in 0..n {
            let column = self.factor.col(k);
            b[k] /= column[k];
            let f = b[k];
            axpy(&mut b[k + 1..n], -f, &column[k + 1..]);
        }
    }

    /// L⁻ᵀ b, in place.
    pub fn backward(&self, b: &mut [f64]) {
        let n = self.factor.rows();
        for k in (0..n).rev() {
            let column = self.factor.col(k);
            b[k] = (b[k] - dot(&column[k + 1..], &b[k + 1..n])) / column[k];
        }
    }

    /// A⁻¹ b
    pub fn solve_vec(&self, b: &[f64]) -> Vec<f64> {
        let mut x = b.to_vec();
        self.forward(&mut x);
        self.backward(&mut x);
        x
    }

    /// A⁻¹ B
    pub fn solve(&self, b: &Matrix) -> Matrix {
        let mut x = b.clone();
        for col in 0..x.cols() {
            self.forward(x.col_mut(col));
            self.backward(x.col_mut(col));
        }
        x
    }

    /// A⁻¹
    pub fn inverse(&self) -> Matrix {
        let n = self.factor.rows();
        if n >= INVERSE_BLOCKED_FROM {
            return self.blocked_inverse();
        }
        // The rows of L⁻¹, each from those above it, as columns; then A⁻¹ = L⁻ᵀ L⁻¹ as the sum of their squares.
        // Whole columns at a time: sums of products would wait for each other.
        let mut rows = Matrix::zeros(n, n);
        let mut inverse = Matrix::zeros(n, n);
        for k in 0..n {
            let (above, rest) = rows.data_mut().split_at_mut(k * n);
            let row = &mut rest[..=k];
            row[k] = 1.0;
            for (m, earlier) in above.chunks_exact(n).enumerate() {
                axpy(&mut row[..=m], -self.factor[(k, m)], &earlier[..=m]);
            }
            let over = 1.0 / self.factor[(k, k)];
            row.iter_mut().for_each(|x| *x *= over);
            for j in 0..=k {
                axpy(&mut inverse.col_mut(j)[j..=k], row[j], &row[j..]);
            }
        }
        inverse.mirror_lower();
        inverse
    }

    fn blocked_inverse(&self) -> Matrix {
        let n = self.factor.rows();
        let mut inverse = Matrix::zeros(n, n);
        let mut memory = MemBuffer::new(llt::inverse::inverse_scratch::<f64>(n, Par::Seq));
        let stack = MemStack::new(&mut memory);
        llt::inverse::inverse(inverse.view_mut(), self.factor.view(), Par::Seq, stack);
        inverse.mirror_lower();
        inverse
    }
}

/// A⁻¹ and log|A| of a symmetric matrix, whose lower triangle is read; `None` unless it is positive definite.
pub fn inverse_and_log_det(matrix: Matrix) -> Option<(Matrix, f64)> {
    match matrix.rows() {
        0..=4 => small::inverse_and_log_det::<4>(&matrix),
        5..=8 => small::inverse_and_log_det::<8>(&matrix),
        9..=12 => small::inverse_and_log_det::<12>(&matrix),
        13..=16 => small::inverse_and_log_det::<16>(&matrix),
        n => {
            let first = bordered::leading_diagonal(&matrix);
            match n - first {
                0..=4 => bordered::inverse_and_log_det::<4>(&matrix, first),
                5..=8 => bordered::inverse_and_log_det::<8>(&matrix, first),
                9..=12 => bordered::inverse_and_log_det::<12>(&matrix, first),
                13..=16 => bordered::inverse_and_log_det::<16>(&matrix, first),
                _ => inverse_and_log_det_of_any(matrix),
            }
        }
    }
}

fn inverse_and_log_det_of_any(matrix: Matrix) -> Option<(Matrix, f64)> {
    let cholesky = Cholesky::of(matrix)?;
    let log_det = cholesky.log_det();
    Some((cholesky.inverse(), log_det))
}

fn lower(mut matrix: Matrix) -> Matrix {
    for col in 1..matrix.cols() {
        matrix.col_mut(col)[..col].fill(0.0);
    }
    matrix
}

#[cfg(test)]
mod tests {
    use super::*;

    fn positive(n: usize) -> Matrix {
        let half = Matrix::from_fn(n, n, |i, j| ((i * 31 + j * 17) % 23) as f64 / 23.0 - 0.4);
        let mut a = half.transposed_times(&half);
        (0..n).for_each(|i| a[(i, i)] += 1.0);
        a
    }

    #[test]
    fn the_factor_rebuilds_the_matrix_and_the_inverse_undoes_it_in_both_sizes() {
        for n in [7, 40, 130] {
            let a = positive(n);
            let cholesky = Cholesky::new(&a).unwrap();
            let l = cholesky.factor();
            let mut rebuilt = l.times(&l.transposed());
            rebuilt.add(-1.0, &a);
            assert!(rebuilt.data().iter().all(|x| x.abs() < 1e-9));
            let unit = a.times(&cholesky.inverse());
            let off = (0..n * n).map(|k| (unit[(k / n, k % n)] - f64::from(u8::from(k / n == k % n))).abs());
            assert!(off.fold(0.0, f64::max) < 1e-9);
        }
    }

    #[test]
    fn an_indefinite_matrix_has_no_factor() {
        assert!(Cholesky::new(&Matrix::from_fn(2, 2, |i, j| if i == j { 1.0 } else { 2.0 })).is_none());
    }
}
