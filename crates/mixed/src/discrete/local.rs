//! A component's own coordinates among the fixed effects: distinct fixed rows, or fixed columns where these are fewer.

use super::parameters::Layout;
use super::records::Part;
use crate::design::Cells;
use crate::linear::{Matrix, axpy};

/// The coordinates of one component.
pub struct Local {
    columns: Vec<usize>,
    /// Distinct rows × columns; empty where the coordinates are the distinct rows.
    x: Matrix,
    by_cell: bool,
}

impl Local {
    /// The coordinates of `part`.
    pub fn new(cells: &Cells, part: &Part) -> Self {
        let entries = |cell: &u32| cells.entries(*cell as usize);
        let mut columns: Vec<usize> = part.cells.iter().flat_map(entries).map(|(column, _)| column).collect();
        columns.sort_unstable();
        columns.dedup();
        if part.cells.len() <= columns.len() {
            return Self { columns: (0..part.cells.len()).collect(), x: Matrix::default(), by_cell: true };
        }
        let mut x = Matrix::zeros(part.cells.len(), columns.len());
        for (index, cell) in part.cells.iter().enumerate() {
            for (column, value) in entries(cell) {
                x[(index, columns.partition_point(|c| *c < column))] = value;
            }
        }
        Self { columns, x, by_cell: false }
    }

    /// Number of coordinates.
    pub fn len(&self) -> usize {
        self.columns.len()
    }

    /// The predictor of a distinct row by a coordinate.
    pub fn slope(&self, cell: usize, at: usize) -> f64 {
        if self.by_cell { f64::from(u8::from(cell == at)) } else { self.x[(cell, at)] }
    }

    /// Predictors with one coordinate moved.
    pub fn moved(&self, fixed: &[f64], at: usize, by: f64) -> Vec<f64> {
        let mut moved = fixed.to_vec();
        if self.by_cell {
            moved[at] += by;
        } else {
            axpy(&mut moved, by, self.x.col(at));
        }
        moved
    }

    /// Derivatives by the predictors of the distinct rows, turned into those by the coordinates.
    pub fn gradient(&self, cells: &[f64]) -> Vec<f64> {
        if self.by_cell { cells.to_vec() } else { self.x.transposed_times_vec(cells) }
    }

    /// X′WX in these coordinates, `weights` by distinct row.
    pub fn normal(&self, weights: &[f64]) -> Matrix {
        if self.by_cell {
            return Matrix::from_fn(weights.len(), weights.len(), |i, j| if i == j { weights[i] } else { 0.0 });
        }
        let weighted = Matrix::from_fn(self.x.rows(), self.len(), |cell, col| weights[cell] * self.x[(cell, col)]);
        self.x.transposed_times(&weighted)
    }

    /// Adds a component's block, these coordinates first and the rest after, to the whole.
    pub fn scatter(&self, cells: &Cells, part: &Part, layout: &Layout, block: &Matrix, total: &mut Matrix) {
        let own = self.len();
        let places = |at: usize| -> Vec<(usize, f64)> {
            if at >= own {
                vec![(layout.fixed + at - own, 1.0)]
            } else if self.by_cell {
                cells.entries(part.cells[at] as usize).collect()
            } else {
                vec![(self.columns[at], 1.0)]
            }
        };
        let all: Vec<Vec<(usize, f64)>> = (0..block.rows()).map(places).collect();
        let mut column = vec![0.0; total.rows()];
        for (j, cols) in all.iter().enumerate() {
            // First the rows, then the columns: a distinct row with many entries is spread once.
            column.fill(0.0);
            for (i, rows) in all.iter().enumerate() {
                rows.iter().for_each(|(row, x)| column[*row] += x * block[(i, j)]);
            }
            // Few of the whole's rows are met by one component.
            for (col, y) in cols {
                let target = total.col_mut(*col);
                column.iter().zip(target).filter(|(x, _)| **x != 0.0).for_each(|(x, entry)| *entry += y * x);
            }
        }
    }
}
