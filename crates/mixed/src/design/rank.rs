//! Which fixed-effect columns depend on earlier ones, and what that leaves estimable.
//!
//! METHOD: columns are scaled to length 1 and orthogonalised from left to right, twice each. A column
//! of which less than [`TOLERANCE`] remains is dependent: of dependent columns the later ones go. A
//! combination L β is estimable when L is orthogonal to every dependency (row-space rule).

use super::cells::Cells;
use crate::linear::{Cholesky, Matrix, axpy, dot};

/// The share of a column's length that must remain for the column to count as independent.
pub const TOLERANCE: f64 = 1e-9;

/// A share that squared sums, exact to 1e-16, show beyond doubt.
const SURE: f64 = 1e-4;

/// Tolerance of the row-space rule, relative to Σ|Lᵢ nᵢ|.
const ORTHOGONAL: f64 = 1e-8;

/// The rank of the fixed effects and their dependencies.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Rank {
    /// Independent columns, ascending.
    pub kept: Vec<usize>,
    /// Dependent columns, ascending.
    pub dropped: Vec<usize>,
    /// For each dependent column a vector n ≠ 0 with X n = 0.
    pub null: Vec<Vec<f64>>,
}

impl Rank {
    /// The rank of the distinct rows.
    pub fn new(cells: &Cells, columns: usize) -> Self {
        if is_surely_full(cells, columns) {
            return Self { kept: (0..columns).collect(), ..Self::default() };
        }
        let mut dense = vec![vec![0.0; cells.len()]; columns];
        let mut fill = |cell| cells.entries(cell).for_each(|(column, value)| dense[column][cell] = value);
        (0..cells.len()).for_each(&mut fill);
        Self::of_columns(&dense)
    }

    /// The rank of dense columns.
    pub fn of_columns(columns: &[Vec<f64>]) -> Self {
        let mut rank = Self::default();
        let mut basis: Vec<Vec<f64>> = Vec::new();
        // Column j = Σ over the basis of coefficients: the triangle R, to solve for dependencies.
        let mut triangle: Vec<Vec<f64>> = Vec::new();
        for (index, column) in columns.iter().enumerate() {
            let length = dot(column, column).sqrt();
            let scale = if length > 0.0 { length } else { 1.0 };
            let mut rest: Vec<f64> = column.iter().map(|x| x / scale).collect();
            let mut coefficients = vec![0.0; basis.len()];
            for _ in 0..2 {
                for (coefficient, unit) in coefficients.iter_mut().zip(&basis) {
                    let share = dot(unit, &rest);
                    *coefficient += share;
                    axpy(&mut rest, -share, unit);
                }
            }
            let left = dot(&rest, &rest).sqrt();
            if length > 0.0 && left > TOLERANCE {
                rest.iter_mut().for_each(|x| *x /= left);
                coefficients.push(left);
                coefficients.iter_mut().for_each(|c| *c *= scale);
                basis.push(rest);
                triangle.push(coefficients);
                rank.kept.push(index);
            } else {
                coefficients.iter_mut().for_each(|c| *c *= scale);
                rank.null.push(dependency(&triangle, &rank.kept, coefficients, index, columns.len()));
                rank.dropped.push(index);
            }
        }
        rank
    }

    /// Whether the combination L β is estimable.
    pub fn is_estimable(&self, combination: &[f64]) -> bool {
        self.null.iter().all(|null| {
            let size: f64 = combination.iter().zip(null).map(|(l, n)| (l * n).abs()).sum();
            dot(combination, null).abs() <= ORTHOGONAL * size
        })
    }

    /// L N: how far each combination reaches into each dependency.
    pub fn reach(&self, combination: &[f64]) -> Vec<f64> {
        self.null
            .iter()
            .map(|null| {
                let size: f64 = combination.iter().zip(null).map(|(l, n)| (l * n).abs()).sum();
                let along = dot(combination, null);
                if along.abs() <= ORTHOGONAL * size { 0.0 } else { along }
            })
            .collect()
    }
}

/// Whether the cross-products alone show that no column depends on earlier ones: of each, more than the
/// rounding of squares could hide must remain. The exact rule is then spared.
fn is_surely_full(cells: &Cells, columns: usize) -> bool {
    let mut gram = Matrix::zeros(columns, columns);
    for cell in 0..cells.len() {
        for (a, x) in cells.entries(cell) {
            let target = gram.col_mut(a);
            cells.entries(cell).for_each(|(b, y)| target[b] += x * y);
        }
    }
    let size: Vec<f64> = (0..columns).map(|i| gram[(i, i)].sqrt()).collect();
    if size.contains(&0.0) {
        return false;
    }
    let scaled = Matrix::from_fn(columns, columns, |i, j| gram[(i, j)] / (size[i] * size[j]));
    Cholesky::new(&scaled).is_some_and(|c| (0..columns).all(|i| c.factor()[(i, i)] > SURE))
}

/// Solves R c = coefficients backwards: the dependent column is Σ cₖ · keptₖ.
fn dependency(triangle: &[Vec<f64>], kept: &[usize], mut coefficients: Vec<f64>, index: usize, columns: usize) -> Vec<f64> {
    let mut null = vec![0.0; columns];
    null[index] = 1.0;
    for k in (0..kept.len()).rev() {
        let share = coefficients[k] / triangle[k][k];
        axpy(&mut coefficients[..=k], -share, &triangle[k][..=k]);
        null[kept[k]] = -share;
    }
    let largest = null.iter().fold(0.0_f64, |m, x| m.max(x.abs()));
    null.iter_mut().filter(|x| x.abs() < 1e-11 * largest).for_each(|x| *x = 0.0);
    null
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_later_of_two_dependent_columns_goes_and_the_dependency_is_found() {
        let columns = vec![vec![1.0, 1.0, 1.0], vec![1.0, 0.0, -1.0], vec![3.0, 1.0, -1.0]];
        let rank = Rank::of_columns(&columns);
        assert_eq!((rank.kept.as_slice(), rank.dropped.as_slice()), (&[0, 1][..], &[2][..]));
        let expected = [-1.0, -2.0, 1.0];
        assert!(rank.null[0].iter().zip(expected).all(|(x, e)| (x - e).abs() < 1e-12));
        assert!(rank.is_estimable(&[1.0, 0.0, 1.0]) && !rank.is_estimable(&[0.0, 1.0, 0.0]));
    }

    #[test]
    fn scale_does_not_decide_the_rank() {
        let columns = vec![vec![1e9, 1e9, 1e9], vec![1e-9, 0.0, 0.0], vec![0.0, 1e-3, 0.0]];
        assert_eq!(Rank::of_columns(&columns).kept, [0, 1, 2]);
    }
}
