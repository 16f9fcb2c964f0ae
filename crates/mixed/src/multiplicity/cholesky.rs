//! A correlation matrix, singular or not, as directions in as few dimensions as it has
//! rank.

/// Remaining variance below which a difference counts as a combination of others.
const RANK_TOLERANCE: f64 = 1e-10;
/// Directions closer than this (in 1 − |cosine|) are the same difference twice.
const SAME_DIRECTION: f64 = 1e-13;

/// Unit vectors with `row_i · row_j = ±ρ_ij`, in as many dimensions as the rank of the
/// correlation matrix; a difference that repeats another one (correlation ±1) is left out.
/// `None` unless the matrix is square, finite and of positive diagonal.
///
/// Cholesky's factorisation with the largest remaining variance first, stopped where
/// nothing remains, so that a singular matrix (all differences of k means have rank k − 1)
/// is an ordinary case.
///
/// # Source
/// Higham (2002), Accuracy and Stability of Numerical Algorithms, 2nd ed., section 10.3.
pub(super) fn directions(correlation: &[f64]) -> Option<Vec<Vec<f64>>> {
    let count = correlation.len().isqrt();
    let rows = scaled_rows(correlation, count)?;
    let mut factor = vec![Vec::new(); count];
    let mut remaining = vec![1.0_f64; count];
    for _ in 0..count {
        let (pivot, &variance) = remaining.iter().enumerate().max_by(|a, b| a.1.total_cmp(b.1).then(b.0.cmp(&a.0)))?;
        if variance <= RANK_TOLERANCE {
            break;
        }
        add_column(&rows, &mut factor, &mut remaining, pivot);
    }
    factor.iter_mut().for_each(|row| make_unit(row));
    Some(distinct(factor))
}

/// The rows of the matrix with its diagonal scaled to one.
fn scaled_rows(correlation: &[f64], count: usize) -> Option<Vec<Vec<f64>>> {
    let square = count > 0 && count * count == correlation.len();
    if !square || correlation.iter().any(|value| !value.is_finite()) {
        return None;
    }
    let deviation: Vec<f64> = correlation.iter().step_by(count + 1).map(|variance| variance.sqrt()).collect();
    if deviation.iter().any(|deviation| deviation.is_nan() || *deviation <= 0.0) {
        return None;
    }
    let scaled = |(row, by): (&[f64], &f64)| row.iter().zip(&deviation).map(|(value, other)| value / (by * other)).collect();
    Some(correlation.chunks(count).zip(&deviation).map(scaled).collect())
}

/// One step of the factorisation: the column of the pivot, taken off what remains.
fn add_column(rows: &[Vec<f64>], factor: &mut [Vec<f64>], remaining: &mut [f64], pivot: usize) {
    let pivot_row = factor[pivot].clone();
    let scale = remaining[pivot].sqrt();
    for (index, row) in factor.iter_mut().enumerate() {
        let entry = if index == pivot { scale } else { (rows[index][pivot] - dot(row, &pivot_row)) / scale };
        remaining[index] -= entry * entry;
        row.push(entry);
    }
    remaining[pivot] = 0.0;
}

fn make_unit(row: &mut [f64]) {
    let length = dot(row, row).sqrt();
    row.iter_mut().for_each(|entry| *entry /= length);
}

fn distinct(rows: Vec<Vec<f64>>) -> Vec<Vec<f64>> {
    let mut kept: Vec<Vec<f64>> = Vec::with_capacity(rows.len());
    for row in rows {
        if kept.iter().all(|other| dot(other, &row).abs() < 1.0 - SAME_DIRECTION) {
            kept.push(row);
        }
    }
    kept
}

pub(super) fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// All differences of three means with equal variances.
    const THREE_MEANS: [f64; 9] = [1.0, 0.5, -0.5, 0.5, 1.0, 0.5, -0.5, 0.5, 1.0];

    #[test]
    fn all_differences_of_three_means_lie_in_a_plane() {
        let rows = directions(&THREE_MEANS).unwrap();
        assert!(rows.iter().all(|row| row.len() == 2));
        for i in 0..3 {
            for j in 0..3 {
                assert!((dot(&rows[i], &rows[j]) - THREE_MEANS[3 * i + j]).abs() < 1e-14);
            }
        }
    }

    #[test]
    fn a_difference_and_its_opposite_are_one_direction() {
        assert_eq!(directions(&[1.0, -1.0, -1.0, 1.0]).unwrap(), vec![vec![1.0]]);
    }

    #[test]
    fn a_covariance_is_scaled_to_a_correlation() {
        let rows = directions(&[4.0, 3.0, 3.0, 9.0]).unwrap();
        assert!((dot(&rows[0], &rows[1]) - 0.5).abs() < 1e-15);
    }

    #[test]
    fn what_is_no_correlation_matrix_is_refused() {
        assert!(directions(&[]).is_none());
        assert!(directions(&[1.0, 0.5]).is_none());
        assert!(directions(&[1.0, f64::NAN, f64::NAN, 1.0]).is_none());
        assert!(directions(&[1.0, 0.0, 0.0, 0.0]).is_none());
    }
}
