//! The response made ready for the search: its least-squares fit taken off and divided by the root mean
//! square of what remains. A shift or a change of unit of the response then changes nothing inside.

use crate::design::Design;
use crate::linear::Cholesky;

/// A standardised response.
#[derive(Debug, Clone, PartialEq)]
pub struct Standardised {
    /// (response − X base) / scale
    pub response: Vec<f64>,
    /// Least-squares coefficients of the kept columns.
    pub base: Vec<f64>,
    /// Root mean square of the least-squares residuals; 1 where these are nil.
    pub scale: f64,
    /// Whether the least-squares residuals are nil up to rounding.
    pub is_exact: bool,
}

/// Residuals below this share of the largest response are rounding: sixteen units in its last place.
const ROUNDING: f64 = 16.0 * f64::EPSILON;

impl Standardised {
    /// Standardises a response; `None` where the fixed effects cannot be solved for.
    pub fn new(design: &Design, response: &[f64]) -> Option<Self> {
        let cells = &design.cells;
        let p = design.columns();
        let cholesky = Cholesky::of(cells.normal(p))?;
        let middle = mean(response);
        let mut rest: Vec<f64> = response.iter().map(|y| y - middle).collect();
        let mut base = vec![0.0; p];
        // Twice more than once: the second and third pass mend the rounding of the first.
        for _ in 0..3 {
            let mut sums = vec![0.0; cells.len()];
            rest.iter().zip(&cells.of_row).for_each(|(y, cell)| sums[*cell as usize] += y);
            let mut right = vec![0.0; p];
            for (cell, sum) in sums.iter().enumerate() {
                cells.entries(cell).for_each(|(column, x)| right[column] += x * sum);
            }
            let step = cholesky.solve_vec(&right);
            let fitted = cells.times(&step);
            rest.iter_mut().zip(&cells.of_row).for_each(|(y, cell)| *y -= fitted[*cell as usize]);
            base.iter_mut().zip(&step).for_each(|(b, s)| *b += s);
        }
        let size = root_mean_square(&rest);
        let largest = response.iter().fold(0.0_f64, |m, y| m.max(y.abs()));
        let is_exact = size <= ROUNDING * largest;
        let scale = if is_exact { 1.0 } else { size };
        if let Some(first) = base.first_mut() {
            *first += middle;
        }
        rest.iter_mut().for_each(|y| *y /= scale);
        Some(Self { response: rest, base, scale, is_exact })
    }
}

fn mean(values: &[f64]) -> f64 {
    let first = values.first().copied().unwrap_or(0.0);
    first + values.iter().map(|y| y - first).sum::<f64>() / values.len().max(1) as f64
}

fn root_mean_square(values: &[f64]) -> f64 {
    (values.iter().map(|y| y * y).sum::<f64>() / values.len().max(1) as f64).sqrt()
}
