//! Eigenvalues and vectors of a symmetric matrix.

use faer::Side;

use super::matrix::Matrix;

/// Eigenvalues in ascending order, with their vectors as columns; `None` if the iteration fails.
pub fn symmetric_eigen(matrix: &Matrix) -> Option<(Vec<f64>, Matrix)> {
    let n = matrix.rows();
    if n == 0 {
        return Some((Vec::new(), Matrix::zeros(0, 0)));
    }
    let eigen = matrix.view().self_adjoint_eigen(Side::Lower).ok()?;
    let (values, vectors) = (eigen.S(), eigen.U());
    let values: Vec<f64> = (0..n).map(|i| values[i]).collect();
    Some((values, Matrix::from_fn(n, n, |i, j| vectors[(i, j)])))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn eigenvectors_times_eigenvalues_rebuild_the_matrix() {
        let a = Matrix::from_fn(4, 4, |i, j| 1.0 / (1.0 + i as f64 + j as f64));
        let (values, vectors) = symmetric_eigen(&a).unwrap();
        assert!(values.windows(2).all(|pair| pair[0] <= pair[1]));
        let scaled = Matrix::from_fn(4, 4, |i, j| vectors[(i, j)] * values[j]);
        let rebuilt = scaled.times(&vectors.transposed());
        assert!(rebuilt.data().iter().zip(a.data()).all(|(x, y)| (x - y).abs() < 1e-14));
    }
}
