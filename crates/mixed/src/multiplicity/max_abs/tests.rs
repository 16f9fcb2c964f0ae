use super::*;
use crate::multiplicity::range::{studentized_range_quantile, studentized_range_upper};
use proptest::prelude::*;
use std::f64::consts::SQRT_2;

/// Correlation of differences given as weights of independent means with these variances.
fn correlation_of(differences: &[Vec<f64>], variances: &[f64]) -> Vec<f64> {
    let covariance = |a: &[f64], b: &[f64]| -> f64 { a.iter().zip(b).zip(variances).map(|((x, y), v)| x * y * v).sum() };
    let mut matrix = Vec::new();
    for a in differences {
        for b in differences {
            matrix.push(covariance(a, b) / (covariance(a, a) * covariance(b, b)).sqrt());
        }
    }
    matrix
}

fn all_pairs(variances: &[f64]) -> Vec<f64> {
    let mut differences = Vec::new();
    for i in 0..variances.len() {
        for j in i + 1..variances.len() {
            let mut weights = vec![0.0; variances.len()];
            (weights[i], weights[j]) = (1.0, -1.0);
            differences.push(weights);
        }
    }
    correlation_of(&differences, variances)
}

fn against_first(variances: &[f64]) -> Vec<f64> {
    let weights = |i: usize| (0..variances.len()).map(|j| f64::from(j == i) - f64::from(j == 0)).collect();
    let differences: Vec<Vec<f64>> = (1..variances.len()).map(weights).collect();
    correlation_of(&differences, variances)
}

fn against_average(count: usize) -> Vec<f64> {
    let weights = |i| (0..count).map(|j| f64::from(i == j) - 1.0 / count as f64).collect();
    let differences: Vec<Vec<f64>> = (0..count).map(weights).collect();
    correlation_of(&differences, &vec![1.0; count])
}

fn equal(rho: f64, count: usize) -> Vec<f64> {
    (0..count * count).map(|at| if at % (count + 1) == 0 { 1.0 } else { rho }).collect()
}

fn upper(t: f64, correlation: &[f64], df: Option<f64>) -> f64 {
    max_abs_t_upper(t, correlation, df).value
}

fn by_cells(correlation: &[f64]) -> MaxAbs {
    let rows = directions(correlation).unwrap();
    MaxAbs { count: rows.len(), table: Tabulated::new(Route::Cells(Cells::new(&rows))) }
}

const FREEDOMS: [Option<f64>; 4] = [Some(1.0), Some(7.3), Some(60.0), None];

#[test]
fn independent_differences_multiply_their_probabilities() {
    // Known scale: P(max |Z_i| > w) = 1 − (1 − P(|Z| > w))ᵐ, exactly.
    for count in 1..8 {
        for w in [0.3, 1.5, 2.5, 6.0, 12.0] {
            let exact = -(count as f64 * (-normal::two_sided(w)).ln_1p()).exp_m1();
            let ratio = upper(w, &equal(0.0, count), None) / exact;
            assert!((ratio - 1.0).abs() < 1e-10, "{count} at {w}: {ratio}");
        }
    }
}

#[test]
fn all_differences_of_equally_precise_means_are_their_studentized_range() {
    for groups in [2, 3, 4] {
        let correlation = all_pairs(&vec![1.0; groups]);
        for df in FREEDOMS {
            for t in [0.2, 1.0, 2.3, 4.0, 8.0] {
                let ratio = upper(t, &correlation, df) / studentized_range_upper(t * SQRT_2, groups, df);
                assert!((ratio - 1.0).abs() < 1e-9, "{groups} {df:?} at {t}: {ratio}");
            }
            let t = max_abs_t_quantile(0.95, &correlation, df);
            let q = studentized_range_quantile(0.95, groups, df);
            assert!((t * SQRT_2 / q - 1.0).abs() < 1e-9);
        }
    }
}

/// What is sampled may miss by its stated error (three standard errors) and half as much
/// again; far tails by a millionth of themselves.
fn assert_sampled(sampled: &MaxAbs, t: f64, df: Option<f64>, exact: f64, most: f64) {
    let found = sampled.probability(t, df);
    let off = (found.value - exact).abs();
    let allowed = (1.5 * found.error).min(most) + 1e-6 * exact;
    assert!(off < allowed, "{df:?} at {t}: off by {off:e}, stated {:e}", found.error);
}

#[test]
fn sampled_borders_agree_with_the_studentized_range_within_their_error() {
    for (groups, most) in [(4, 1e-5), (5, 1e-5), (6, 1e-5), (8, 5e-5)] {
        let sampled = by_cells(&all_pairs(&vec![1.0; groups]));
        for df in [Some(3.0), Some(20.0), None] {
            for t in [0.2, 0.5, 1.5, 2.5, 3.5, 6.0, 9.0] {
                let exact = studentized_range_upper(t * SQRT_2, groups, df);
                assert_sampled(&sampled, t, df, exact, most);
            }
            let q = studentized_range_quantile(0.95, groups, df);
            let off = sampled.quantile(0.95, df) - q / SQRT_2;
            assert!(off.abs() < 10.0 * most, "{groups} {df:?}: {off}");
        }
    }
}

#[test]
fn sampled_borders_agree_with_one_factor_quadrature_within_their_error() {
    for (rho, count, most) in [(0.5, 4, 1e-5), (0.2, 6, 1e-5), (0.8, 7, 2e-5)] {
        let correlation = equal(rho, count);
        let sampled = by_cells(&correlation);
        for t in [0.5, 1.5, 2.5, 3.5] {
            let exact = upper(t, &correlation, Some(12.0));
            assert_sampled(&sampled, t, Some(12.0), exact, most);
        }
    }
}

#[test]
fn the_sphere_agrees_with_one_factor_quadrature() {
    for variances in [[1.0, 1.0, 1.0, 1.0], [1.0, 0.2, 3.0, 0.5], [0.01, 1.0, 1.0, 2.0], [30.0, 1.0, 2.0, 1.5]] {
        let correlation = against_first(&variances);
        let rows = directions(&correlation).unwrap();
        let (sphere, factor) = (Sphere::new(&rows), OneFactor::find(&rows).unwrap());
        for w in [0.1, 1.0, 2.2, 4.0, 9.0, 20.0] {
            let ratio = sphere.upper(w) / factor.upper(w);
            assert!((ratio - 1.0).abs() < 1e-10, "{variances:?} at {w}: {ratio}");
        }
    }
}

#[test]
fn nearly_equal_differences_come_near_to_one() {
    for closeness in [1e-2, 1e-4, 1e-6, 1e-9] {
        for count in [2, 3] {
            let many = upper(2.0, &equal(1.0 - closeness, count), None);
            let one = normal::two_sided(2.0);
            assert!(many > one && many - one < 0.2 * closeness.sqrt(), "{closeness}: {many}");
        }
    }
}

#[test]
fn repeated_and_opposite_differences_add_nothing() {
    let repeated = [1.0, 1.0, -1.0, 1.0, 1.0, -1.0, -1.0, -1.0, 1.0];
    assert_eq!(upper(2.0, &repeated, Some(9.0)), upper(2.0, &[1.0], Some(9.0)));
}

#[test]
fn deviations_from_an_average_are_an_ordinary_singular_family() {
    for count in [3, 4, 5, 9] {
        let correlation = against_average(count);
        for df in FREEDOMS {
            let p = upper(2.5, &correlation, df);
            let single = upper(2.5, &[1.0], df);
            assert!(single < p && p < count as f64 * single);
        }
    }
    // Two deviations of three means from their average fix the third: cosines are ±½, as
    // for the three differences of three means.
    let ratio = upper(2.0, &against_average(3), Some(5.0)) / upper(2.0, &all_pairs(&[1.0; 3]), Some(5.0));
    assert!((ratio - 1.0).abs() < 1e-12);
}

#[test]
fn the_same_question_has_the_same_answer_to_the_last_digit() {
    let correlation = all_pairs(&[1.0, 2.0, 0.7, 1.3, 1.0, 0.4]);
    let ask = || max_abs_t_upper(2.7, &correlation, Some(14.2));
    assert_eq!(ask(), ask());
}

#[test]
fn what_is_no_correlation_matrix_has_no_probability() {
    assert!(upper(2.0, &[], None).is_nan());
    assert!(upper(2.0, &[1.0, 0.0], None).is_nan());
    assert!(upper(2.0, &[1.0], Some(-1.0)).is_nan());
    assert!(max_abs_t_quantile(0.95, &[f64::NAN], None).is_nan());
}

fn variances() -> impl Strategy<Value = Vec<f64>> {
    proptest::collection::vec(0.2..3.0_f64, 3..6)
}

/// Reverses the order of the differences and turns the first one round.
fn shuffled(correlation: &[f64]) -> Vec<f64> {
    let count = correlation.len().isqrt();
    let sign = |i: usize| if i == 0 { -1.0 } else { 1.0 };
    let at = |i: usize, j: usize| correlation[(count - 1 - i) * count + count - 1 - j] * sign(i) * sign(j);
    (0..count * count).map(|k| at(k / count, k % count)).collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]

    #[test]
    fn p_falls_with_t_and_lies_between_one_difference_and_bonferroni(
        variances in variances(), t in 0.1..5.0_f64, df in 1.5..80.0_f64,
    ) {
        let correlation = all_pairs(&variances);
        let largest = MaxAbs::new(&correlation).unwrap();
        let (p, single) = (largest.upper(t, Some(df)), upper(t, &[1.0], Some(df)));
        let bonferroni = (largest.count as f64 * single).min(1.0);
        prop_assert!(single * (1.0 - 1e-9) <= p && p <= bonferroni * (1.0 + 1e-9));
        prop_assert!(largest.upper(t + 0.01, Some(df)) < p);
    }

    #[test]
    fn order_and_sign_of_the_differences_do_not_matter(
        variances in variances(), t in 0.1..5.0_f64,
    ) {
        let correlation = all_pairs(&variances);
        let one = max_abs_t_upper(t, &correlation, Some(11.0));
        let other = max_abs_t_upper(t, &shuffled(&correlation), Some(11.0));
        prop_assert!((one.value - other.value).abs() <= 1e-10 + one.error + other.error);
    }

    #[test]
    fn unequally_precise_means_are_no_surer_than_the_range_says(
        variances in variances(), t in 0.5..4.0_f64,
    ) {
        // Hayter (1984), Annals of Statistics 12:61–75: Tukey–Kramer is conservative.
        let one = max_abs_t_upper(t, &all_pairs(&variances), Some(9.0));
        let bound = studentized_range_upper(t * SQRT_2, variances.len(), Some(9.0));
        prop_assert!(one.value <= bound + one.error + 1e-9);
    }

    #[test]
    fn a_quantile_turns_its_tail_back(variances in variances(), level in 0.5..0.999_f64) {
        let correlation = all_pairs(&variances);
        let largest = MaxAbs::new(&correlation).unwrap();
        let t = largest.quantile(level, Some(6.5));
        prop_assert!((largest.upper(t, Some(6.5)) - (1.0 - level)).abs() < 1e-9);
    }
}
