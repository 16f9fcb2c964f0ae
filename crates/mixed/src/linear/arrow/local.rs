//! The part of a block-structured factor over the columns of one group.

use crate::linear::matrix::Matrix;

/// The part of a block-structured L over some columns: a diagonal, or a whole matrix.
pub enum Local {
    /// L = diag.
    Diagonal(Vec<f64>),
    /// L whole.
    Whole(Matrix),
}

impl Local {
    /// block ← self′ · block · right
    pub(super) fn both(&self, data: &mut [f64], rows: usize, right: &Self) {
        let cols = data.len().checked_div(rows).unwrap_or(0);
        if let (Self::Diagonal(l), Self::Diagonal(r)) = (self, right) {
            for (col, f) in r.iter().enumerate().take(cols) {
                let column = &mut data[col * rows..(col + 1) * rows];
                column.iter_mut().zip(l).for_each(|(entry, l)| *entry *= l * f);
            }
            return;
        }
        let middle = Matrix::from_fn(rows, cols, |i, j| data[j * rows + i]);
        let product = self.whole().transposed_times(&middle).times(&right.whole());
        data.copy_from_slice(product.data());
    }

    fn whole(&self) -> Matrix {
        match self {
            Self::Diagonal(d) => Matrix::from_fn(d.len(), d.len(), |i, j| if i == j { d[i] } else { 0.0 }),
            Self::Whole(matrix) => matrix.clone(),
        }
    }
}
