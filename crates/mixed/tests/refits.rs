//! Many responses on one prepared design.
#![allow(clippy::unwrap_used)]

mod against;

use against::{model, table};
use crosshouse_mixed::{Prepared, Truth, fit_with_details, refit, simulate};

#[test]
fn a_refit_of_the_tables_own_response_is_the_fit_to_the_last_digit() {
    let model = model("multi-site-kenward-roger");
    let table = table("multi-site-kenward-roger", &model);
    let (fit, _) = fit_with_details(&table, &model).unwrap();
    let prepared = Prepared::new(&table, &model).unwrap();
    let other: Vec<f64> = prepared.response().iter().map(|y| 3.0 * y * y).collect();
    let refits = refit(&prepared, &[other, prepared.response().to_vec()]);
    assert_eq!(refits[1].as_ref().unwrap(), &fit);
}

#[test]
fn the_same_seed_draws_the_same_responses_and_their_variances_are_the_truths() {
    let model = model("split-plot");
    let table = table("split-plot", &model);
    let (fit, details) = fit_with_details(&table, &model).unwrap();
    let prepared = Prepared::new(&table, &model).unwrap();
    let truth = Truth::of(&fit, &details);
    let draws = simulate(&prepared, &truth, 2031, 400);
    assert_eq!(draws[..3], simulate(&prepared, &truth, 2031, 3));
    let refits = refit(&prepared, &draws);
    // The mean of 400 residual variances of 45 degrees of freedom has a relative standard error of √(2/45/400) = 1.05 %.
    let residual = |index: usize| refits[index].as_ref().unwrap().variance_components[2].variance;
    let mean = (0..400).map(residual).sum::<f64>() / 400.0;
    assert!((mean / fit.variance_components[2].variance - 1.0).abs() < 0.042, "{mean}");
    // 95 % intervals of a difference cover the truth in 95 % of 400 seasons, give or take 4 × 1.09 %.
    let truth = fit.differences[0].estimate;
    let covers = |index: &usize| {
        let difference = &refits[*index].as_ref().unwrap().differences[0];
        difference.low <= truth && truth <= difference.high
    };
    let share = (0..400).filter(covers).count() as f64 / 400.0;
    assert!((share - 0.95).abs() < 0.044, "{share}");
}
