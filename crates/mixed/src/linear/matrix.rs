//! A dense matrix, stored column by column.

use std::ops::{Index, IndexMut};

use faer::linalg::matmul::matmul;
use faer::{Accum, MatMut, MatRef, Par};

/// From this many multiply-adds on, products go to the library's kernels, which use the machine's widest
/// registers.
const BLOCKED_FROM: usize = 200;

/// A dense `rows × cols` matrix, column-major.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Matrix {
    rows: usize,
    cols: usize,
    data: Vec<f64>,
}

/// Σ aᵢ bᵢ, in four sums that do not wait for each other.
pub fn dot(a: &[f64], b: &[f64]) -> f64 {
    let length = a.len().min(b.len());
    let (a, b) = (a[..length].chunks_exact(4), b[..length].chunks_exact(4));
    let rest: f64 = a.remainder().iter().zip(b.remainder()).map(|(x, y)| x * y).sum();
    let mut sums = [0.0; 4];
    for (a, b) in a.zip(b) {
        sums.iter_mut().zip(a.iter().zip(b)).for_each(|(sum, (x, y))| *sum += x * y);
    }
    (sums[0] + sums[2]) + (sums[1] + sums[3]) + rest
}

/// y ← y + f·x
pub fn axpy(y: &mut [f64], f: f64, x: &[f64]) {
    for (y, x) in y.iter_mut().zip(x) {
        *y += f * x;
    }
}

impl Index<(usize, usize)> for Matrix {
    type Output = f64;
    fn index(&self, (row, col): (usize, usize)) -> &f64 {
        &self.data[col * self.rows + row]
    }
}

impl IndexMut<(usize, usize)> for Matrix {
    fn index_mut(&mut self, (row, col): (usize, usize)) -> &mut f64 {
        &mut self.data[col * self.rows + row]
    }
}

impl Matrix {
    /// All zeros.
    pub fn zeros(rows: usize, cols: usize) -> Self {
        Self { rows, cols, data: vec![0.0; rows * cols] }
    }

    /// Entry by entry.
    pub fn from_fn(rows: usize, cols: usize, mut entry: impl FnMut(usize, usize) -> f64) -> Self {
        let mut matrix = Self::zeros(rows, cols);
        for col in 0..cols {
            for row in 0..rows {
                matrix[(row, col)] = entry(row, col);
            }
        }
        matrix
    }

    /// Number of rows.
    pub fn rows(&self) -> usize {
        self.rows
    }

    /// Number of columns.
    pub fn cols(&self) -> usize {
        self.cols
    }

    /// All entries, column by column.
    pub fn data(&self) -> &[f64] {
        &self.data
    }

    /// All entries, column by column.
    pub fn data_mut(&mut self) -> &mut [f64] {
        &mut self.data
    }

    /// One column.
    pub fn col(&self, col: usize) -> &[f64] {
        &self.data[col * self.rows..(col + 1) * self.rows]
    }

    /// One column.
    pub fn col_mut(&mut self, col: usize) -> &mut [f64] {
        &mut self.data[col * self.rows..(col + 1) * self.rows]
    }

    /// The library's view of this matrix.
    pub(super) fn view(&self) -> MatRef<'_, f64> {
        MatRef::from_column_major_slice(&self.data, self.rows, self.cols)
    }

    /// The library's view of this matrix.
    pub(super) fn view_mut(&mut self) -> MatMut<'_, f64> {
        MatMut::from_column_major_slice_mut(&mut self.data, self.rows, self.cols)
    }

    /// self · other
    pub fn times(&self, other: &Self) -> Self {
        let mut out = Self::zeros(self.rows, other.cols);
        if self.rows * self.cols * other.cols >= BLOCKED_FROM {
            let (a, b) = (self.view(), other.view());
            matmul(out.view_mut(), Accum::Replace, a, b, 1.0, Par::Seq);
            return out;
        }
        for col in 0..other.cols {
            let (target, source) = (out.col_mut(col), other.col(col));
            for (k, factor) in source.iter().enumerate() {
                if *factor != 0.0 {
                    axpy(target, *factor, self.col(k));
                }
            }
        }
        out
    }

    /// selfᵀ · other
    pub fn transposed_times(&self, other: &Self) -> Self {
        if self.rows * self.cols * other.cols >= BLOCKED_FROM {
            let mut out = Self::zeros(self.cols, other.cols);
            matmul(out.view_mut(), Accum::Replace, self.view().transpose(), other.view(), 1.0, Par::Seq);
            return out;
        }
        Self::from_fn(self.cols, other.cols, |i, j| dot(self.col(i), other.col(j)))
    }

    /// self ← self + f · aᵀ · b
    pub fn add_product(&mut self, f: f64, a: &Self, b: &Self) {
        if a.rows * a.cols * b.cols >= BLOCKED_FROM {
            matmul(self.view_mut(), Accum::Add, a.view().transpose(), b.view(), f, Par::Seq);
            return;
        }
        for col in 0..b.cols {
            let target = self.col_mut(col);
            target.iter_mut().enumerate().for_each(|(row, entry)| *entry += f * dot(a.col(row), b.col(col)));
        }
    }

    /// The product of some rows of selfᵀ's with as many of another matrix: `self[rows]ᵀ · other[others]`.
    pub fn rows_product(&self, rows: std::ops::Range<usize>, other: &Self, others: std::ops::Range<usize>) -> Self {
        if rows.len() * self.cols * other.cols >= BLOCKED_FROM {
            let mut out = Self::zeros(self.cols, other.cols);
            let (a, b) = (self.view().get(rows, ..), other.view().get(others, ..));
            matmul(out.view_mut(), Accum::Replace, a.transpose(), b, 1.0, Par::Seq);
            return out;
        }
        Self::from_fn(self.cols, other.cols, |i, j| dot(&self.col(i)[rows.clone()], &other.col(j)[others.clone()]))
    }

    /// self · vector
    pub fn times_vec(&self, vector: &[f64]) -> Vec<f64> {
        let mut out = vec![0.0; self.rows];
        if self.data.len() >= BLOCKED_FROM {
            let target = MatMut::from_column_major_slice_mut(&mut out, self.rows, 1);
            let source = MatRef::from_column_major_slice(vector, self.cols, 1);
            matmul(target, Accum::Replace, self.view(), source, 1.0, Par::Seq);
            return out;
        }
        for (col, factor) in vector.iter().enumerate() {
            axpy(&mut out, *factor, self.col(col));
        }
        out
    }

    /// selfᵀ · vector
    pub fn transposed_times_vec(&self, vector: &[f64]) -> Vec<f64> {
        if self.data.len() >= BLOCKED_FROM {
            let mut out = vec![0.0; self.cols];
            let target = MatMut::from_column_major_slice_mut(&mut out, self.cols, 1);
            let source = MatRef::from_column_major_slice(vector, self.rows, 1);
            matmul(target, Accum::Replace, self.view().transpose(), source, 1.0, Par::Seq);
            return out;
        }
        (0..self.cols).map(|col| dot(self.col(col), vector)).collect()
    }

    /// self ← self + f · other
    pub fn add(&mut self, f: f64, other: &Self) {
        axpy(&mut self.data, f, &other.data);
    }

    /// self ← f · self
    pub fn scale(&mut self, f: f64) {
        self.data.iter_mut().for_each(|entry| *entry *= f);
    }

    /// Σᵢⱼ selfᵢⱼ otherᵢⱼ, which is tr(selfᵀ other).
    pub fn inner(&self, other: &Self) -> f64 {
        dot(&self.data, &other.data)
    }

    /// Σᵢⱼ selfᵢⱼ otherᵢⱼ over the rows and columns of self, which are the first of other's.
    pub fn inner_with_first(&self, other: &Self) -> f64 {
        (0..self.cols).map(|col| dot(self.col(col), &other.col(col)[..self.rows])).sum()
    }

    /// aᵀ · self · b
    pub fn form(&self, a: &[f64], b: &[f64]) -> f64 {
        dot(a, &self.times_vec(b))
    }

    /// Transpose.
    pub fn transposed(&self) -> Self {
        Self::from_fn(self.cols, self.rows, |i, j| self[(j, i)])
    }

    /// Makes the matrix symmetric by its lower triangle.
    pub fn mirror_lower(&mut self) {
        let n = self.rows;
        for col in 1..self.cols {
            let (before, column) = self.data.split_at_mut(col * n);
            column.iter_mut().zip(before[col..].iter().step_by(n)).for_each(|(entry, below)| *entry = *below);
        }
    }

    /// ½ (self + selfᵀ), in place.
    pub fn make_symmetric(&mut self) {
        for col in 0..self.cols {
            for row in 0..col {
                let mean = 0.5 * (self[(row, col)] + self[(col, row)]);
                self[(row, col)] = mean;
                self[(col, row)] = mean;
            }
        }
    }

    /// The rows and columns of a range of indices.
    pub fn part(&self, rows: std::ops::Range<usize>, cols: std::ops::Range<usize>) -> Self {
        Self::from_fn(rows.len(), cols.len(), |i, j| self[(rows.start + i, cols.start + j)])
    }

    /// Whether every entry is finite.
    pub fn is_finite(&self) -> bool {
        self.data.iter().all(|entry| entry.is_finite())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_small_and_the_blocked_product_agree() {
        let a = Matrix::from_fn(50, 41, |i, j| ((i * 7 + j * 3) % 11) as f64 - 5.0);
        let b = Matrix::from_fn(41, 45, |i, j| ((i * 5 + j * 2) % 13) as f64 - 6.0);
        let whole = a.times(&b);
        for j in 0..45 {
            let col = a.times_vec(b.col(j));
            assert!(whole.col(j).iter().zip(&col).all(|(x, y)| (x - y).abs() < 1e-9));
        }
        assert_eq!(a.transposed().transposed_times(&b), whole);
    }
}
