use std::sync::Arc;

use super::*;
use crate::linear::cholesky::Cholesky;
use crate::linear::matrix::Matrix;

/// Five groups of one or two columns that meet two of three shared columns.
fn example() -> Arrow {
    let group_of = [Some(0), None, Some(1), Some(1), None, Some(2), None, Some(2), Some(3)];
    let meetings = [(0, 1), (0, 4), (1, 4), (1, 6), (2, 1), (3, 6), (3, 1)];
    let plan = Arc::new(ArrowPlan::new(9, &group_of, &meetings));
    let mut arrow = Arrow::zeros(&plan);
    for i in 0..9 {
        for j in 0..9 {
            let meets = |a: usize, b: usize| group_of[a].is_some_and(|g| group_of[b].is_none() && meetings.contains(&(g, b)));
            let shared = group_of[i].is_none() && group_of[j].is_none();
            if (group_of[i].is_some() && group_of[i] == group_of[j]) || meets(i, j) || meets(j, i) || shared {
                let value = if i == j { 6.0 } else { 1.0 / (1.0 + (i + j) as f64) };
                arrow.add_entry(i, j, value);
            }
        }
    }
    arrow
}

#[test]
fn solving_undoes_multiplying() {
    let arrow = example();
    let inverse = arrow.inverse_of_one_plus().unwrap();
    let x: Vec<f64> = (0..9).map(|i| f64::from(i) - 3.3).collect();
    let mut b = arrow.times_vec(&x);
    b.iter_mut().zip(&x).for_each(|(b, x)| *b += x);
    inverse.solve(&mut b);
    assert!(b.iter().zip(&x).all(|(a, b)| (a - b).abs() < 1e-12));
}

#[test]
fn many_right_sides_are_multiplied_and_solved_as_each_alone() {
    let arrow = example();
    let inverse = arrow.inverse_of_one_plus().unwrap();
    let b = Matrix::from_fn(9, 4, |i, j| ((i * 5 + j * 3) % 7) as f64 - 3.0);
    let (product, solved) = (arrow.times(&b), inverse.solve_all(&b));
    for col in 0..4 {
        let mut alone = b.col(col).to_vec();
        assert!(arrow.times_vec(&alone).iter().zip(product.col(col)).all(|(x, y)| (x - y).abs() < 1e-13));
        inverse.solve(&mut alone);
        assert!(alone.iter().zip(solved.col(col)).all(|(x, y)| (x - y).abs() < 1e-13));
    }
}

#[test]
fn determinant_and_selected_inverse_are_those_of_the_dense_matrix() {
    let arrow = example();
    let mut dense = arrow.to_dense();
    (0..9).for_each(|i| dense[(i, i)] += 1.0);
    let cholesky = Cholesky::new(&dense).unwrap();
    let inverse = arrow.inverse_of_one_plus().unwrap();
    assert!((cholesky.log_det() - inverse.log_det()).abs() < 1e-12);
    let (selected, whole) = (inverse.selected(), cholesky.inverse());
    for i in 0..9 {
        for j in 0..9 {
            if arrow.entry(i, j) != 0.0 {
                assert!((selected.entry(i, j) - whole[(i, j)]).abs() < 1e-12, "{i} {j}");
            }
        }
    }
    let sums = arrow.row_inner(&selected);
    let row = |i: usize| (0..9).map(|j| arrow.entry(i, j) * whole[(i, j)]).sum::<f64>();
    assert!((0..9).all(|i| (sums[i] - row(i)).abs() < 1e-12));
}

#[test]
fn columns_and_the_whole_are_the_entries_one_by_one() {
    let arrow = example();
    let (whole, part) = (arrow.to_dense(), arrow.columns(2..7));
    for i in 0..9 {
        assert!((0..9).all(|j| whole[(i, j)] == arrow.entry(i, j) && whole[(i, j)] == whole[(j, i)]));
        assert!((2..7).all(|j| part[(i, j - 2)] == arrow.entry(i, j)));
    }
}
