//! Inverses of matrices of a few columns, as most sites give them: rows of one fixed width, which the
//! compiler turns into whole registers, in place of loops over lengths that are known only here.

use super::matrix::Matrix;

/// A square matrix of up to `W` columns, row by row.
pub type Rows<const W: usize> = [[f64; W]; W];

/// y ← y + f·x over the whole width; what lies beyond a row's own length is zero.
#[inline]
pub fn add<const W: usize>(y: &mut [f64; W], f: f64, x: &[f64; W]) {
    for (y, x) in y.iter_mut().zip(x) {
        *y += f * x;
    }
}

/// A⁻¹ and log|A| by the Cholesky factor of A, whose lower triangle is read; `None` unless A is positive
/// definite. The order of A is at most `W`.
pub fn inverse_and_log_det<const W: usize>(matrix: &Matrix) -> Option<(Matrix, f64)> {
    let n = matrix.rows();
    let mut columns = [[0.0; W]; W];
    for (col, column) in columns.iter_mut().enumerate().take(n) {
        column[col..n].copy_from_slice(&matrix.col(col)[col..]);
    }
    let log_det = factor(&mut columns, n)?;
    let square = square(&inverse_rows(&columns, n), n);
    Some((Matrix::from_fn(n, n, |i, j| square[i.max(j)][i.min(j)]), log_det))
}

/// Turns the columns of A's lower triangle into those of L; log|A|.
pub fn factor<const W: usize>(columns: &mut Rows<W>, n: usize) -> Option<f64> {
    let mut log_det = 0.0;
    for k in 0..n {
        let pivot = columns[k][k];
        if !(pivot > 0.0 && pivot.is_finite()) {
            return None;
        }
        log_det += pivot.ln();
        let over = 1.0 / pivot.sqrt();
        columns[k].iter_mut().for_each(|x| *x *= over);
        let column = columns[k];
        for (later, f) in columns[k + 1..n].iter_mut().zip(&column[k + 1..n]) {
            add(later, -f, &column);
        }
        // What was added above a later column's diagonal is no part of the factor.
    }
    Some(log_det)
}

/// The rows of L⁻¹, each from those above it.
pub fn inverse_rows<const W: usize>(columns: &Rows<W>, n: usize) -> Rows<W> {
    let mut rows = [[0.0; W]; W];
    for k in 0..n {
        let (above, rest) = rows.split_at_mut(k);
        let row = &mut rest[0];
        row[k] = 1.0;
        for (m, earlier) in above.iter().enumerate() {
            add(row, -columns[m][k], earlier);
        }
        let over = 1.0 / columns[k][k];
        row.iter_mut().for_each(|x| *x *= over);
    }
    rows
}

/// L⁻ᵀ L⁻¹ by rows.
pub fn square<const W: usize>(rows: &Rows<W>, n: usize) -> Rows<W> {
    let mut square = [[0.0; W]; W];
    for (k, row) in rows.iter().enumerate().take(n) {
        // Beyond its diagonal a row of L⁻¹ is zero.
        for (target, f) in square.iter_mut().zip(row).take(k + 1) {
            add(target, *f, row);
        }
    }
    square
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::linear::Cholesky;

    #[test]
    fn a_small_inverse_is_that_of_the_general_factor() {
        for n in 1..=16 {
            let half = Matrix::from_fn(n, n, |i, j| ((i * 31 + j * 17) % 23) as f64 / 23.0 - 0.4);
            let mut a = half.transposed_times(&half);
            (0..n).for_each(|i| a[(i, i)] += 0.01);
            let cholesky = Cholesky::new(&a).unwrap();
            let (inverse, log_det) = inverse_and_log_det::<16>(&a).unwrap();
            let general = cholesky.inverse();
            let scale = general.data().iter().fold(0.0_f64, |most, x| most.max(x.abs()));
            assert!(inverse.data().iter().zip(general.data()).all(|(x, y)| (x - y).abs() < 1e-12 * scale), "{n}");
            assert!((log_det - cholesky.log_det()).abs() < 1e-12 * (1.0 + log_det.abs()));
            assert_eq!(inverse, inverse.transposed());
        }
    }

    #[test]
    fn an_indefinite_small_matrix_has_no_inverse() {
        assert!(inverse_and_log_det::<8>(&Matrix::from_fn(2, 2, |i, j| if i == j { 1.0 } else { 2.0 })).is_none());
        assert!(inverse_and_log_det::<8>(&Matrix::from_fn(1, 1, |_, _| f64::NAN)).is_none());
    }
}
