//! Inverses of symmetric matrices whose first columns do not meet one another, as the levels of one factor
//! beside those of another give them: the first columns are eliminated each alone, and only the Schur
//! complement of the few others needs a factor.

use super::matrix::{Matrix, dot};
use super::small::{Rows, add, factor, inverse_rows, square};

/// How many of the first columns have nothing off the diagonal among themselves, by the lower triangle.
pub fn leading_diagonal(matrix: &Matrix) -> usize {
    let mut size = matrix.rows();
    let mut col = 0;
    while col < size {
        let below = &matrix.col(col)[col + 1..size];
        size = below.iter().position(|entry| *entry != 0.0).map_or(size, |place| col + 1 + place);
        col += 1;
    }
    size
}

/// A row of the ratio A⁻¹C, and the pivot of its column.
struct Eliminated<const W: usize> {
    pivot: f64,
    ratio: [f64; W],
}

/// The matrix's inverse and log-determinant from its lower triangle, whose `first` first columns are diagonal among
/// themselves; `None` unless it is positive definite. At most `W` columns follow them.
pub fn inverse_and_log_det<const W: usize>(matrix: &Matrix, first: usize) -> Option<(Matrix, f64)> {
    let rest = matrix.rows() - first;
    let mut schur = [[0.0; W]; W];
    for (col, column) in schur.iter_mut().enumerate().take(rest) {
        column[col..rest].copy_from_slice(&matrix.col(first + col)[first + col..]);
    }
    let mut log_det = 0.0;
    let mut eliminated = Vec::with_capacity(first);
    for col in 0..first {
        let column = matrix.col(col);
        let one = eliminate(column[col], &column[first..], &mut schur)?;
        log_det += one.pivot.ln();
        eliminated.push(one);
    }
    log_det += factor(&mut schur, rest)?;
    let schur = square(&inverse_rows(&schur, rest), rest);
    Some((assembled(&eliminated, &schur, rest), log_det))
}

/// Takes one column off the Schur complement of the others.
fn eliminate<const W: usize>(pivot: f64, cross: &[f64], schur: &mut Rows<W>) -> Option<Eliminated<W>> {
    if !(pivot > 0.0 && pivot.is_finite()) {
        return None;
    }
    let (mut wide, mut ratio) = ([0.0; W], [0.0; W]);
    for ((wide, ratio), c) in wide.iter_mut().zip(&mut ratio).zip(cross) {
        (*wide, *ratio) = (*c, c / pivot);
    }
    for (target, f) in schur.iter_mut().zip(ratio) {
        if f != 0.0 {
            add(target, -f, &wide);
        }
    }
    Some(Eliminated { pivot, ratio })
}

/// The whole inverse [A⁻¹ + WS⁻¹W′, −WS⁻¹; −S⁻¹W′, S⁻¹] from the ratio W = A⁻¹C and S⁻¹.
fn assembled<const W: usize>(eliminated: &[Eliminated<W>], schur: &Rows<W>, rest: usize) -> Matrix {
    let first = eliminated.len();
    let mut inverse = Matrix::zeros(first + rest, first + rest);
    for (col, one) in eliminated.iter().enumerate() {
        let mut through = [0.0; W];
        for (row, f) in schur.iter().zip(one.ratio) {
            if f != 0.0 {
                add(&mut through, -f, row);
            }
        }
        let (above, column) = inverse.col_mut(col).split_at_mut(first);
        column.copy_from_slice(&through[..rest]);
        for (entry, other) in above[col..].iter_mut().zip(&eliminated[col..]) {
            *entry = -dot(&other.ratio, &through);
        }
        above[col] += 1.0 / one.pivot;
    }
    for (col, row) in schur.iter().enumerate().take(rest) {
        inverse.col_mut(first + col)[first..].copy_from_slice(&row[..rest]);
    }
    inverse.mirror_lower();
    inverse
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::linear::Cholesky;

    /// A positive definite matrix whose `first` first columns are diagonal among themselves.
    fn bordered(first: usize, rest: usize) -> Matrix {
        let n = first + rest;
        Matrix::from_fn(n, n, |i, j| match (i == j, i.max(j) < first) {
            (true, _) => 3.0 + 0.1 * i as f64,
            (false, true) => 0.0,
            _ => ((i.max(j) * 7 + i.min(j) * 5) % 11) as f64 / (11.0 * n as f64),
        })
    }

    #[test]
    fn the_inverse_is_that_of_the_general_factor() {
        for (first, rest) in [(12, 12), (30, 1), (9, 16), (20, 0), (1, 7)] {
            let a = bordered(first, rest);
            assert_eq!(leading_diagonal(&a), first);
            let cholesky = Cholesky::new(&a).unwrap();
            let (inverse, log_det) = inverse_and_log_det::<16>(&a, first).unwrap();
            assert!(inverse.data().iter().zip(cholesky.inverse().data()).all(|(x, y)| (x - y).abs() < 1e-14), "{first} {rest}");
            assert!((log_det - cholesky.log_det()).abs() < 1e-12 * (1.0 + log_det.abs()));
            assert_eq!(inverse, inverse.transposed());
        }
    }
}
