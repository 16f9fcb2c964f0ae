//! Counts and shares: awkward tables get a sentence or a notice, the answer does not depend on what it must not
//! depend on, and the derivatives are those of the likelihood.
#![allow(clippy::unwrap_used)]

use crosshouse_mixed::{CannotFit, Columns, Fit, Model, Prepared, Truth, fit, fit_with_details, quantile_residuals, refit, simulate};
use proptest::prelude::*;

const LEVELS: [&str; 3] = ["p", "q", "r"];

fn model(family: &str, more: &str) -> Model {
    let trials = if family.contains("binomial") && family != "negative-binomial" { "trials = \"n\"" } else { "" };
    let text = format!(
        "response = \"y\"\nfamily = \"{family}\"\n{trials}\ncategories = [\"medium\", \"block\"]\neffects = [[\"medium\"]]\n{more}\n[[compare]]\nmeans_of = [\"medium\"]\nadjust = \"tukey\"\nletters = true\n"
    );
    Model::from_toml(&text).unwrap()
}

fn table(y: &[f64], n: &[f64]) -> Columns {
    let rows = y.len();
    let mut columns = Columns::new(rows);
    let medium: Vec<&str> = (0..rows).map(|i| LEVELS[i % 3]).collect();
    let block: Vec<String> = (0..rows).map(|i| format!("b{}", i / 6)).collect();
    columns.category("medium", &medium).unwrap();
    columns.category("block", &block).unwrap();
    columns.number("y", y.to_vec()).unwrap();
    columns.number("n", n.to_vec()).unwrap();
    columns.number("exposure", vec![0.7; rows]).unwrap();
    columns
}

const Y: [f64; 24] = [3., 7., 2., 1., 9., 4., 0., 2., 1., 2., 3., 0., 8., 12., 6., 5., 20., 7., 2., 4., 3., 4., 9., 2.];
const N: [f64; 24] = [25.0; 24];
const FAMILIES: [&str; 4] = ["poisson", "negative-binomial", "binomial", "beta-binomial"];
const GROUPS: &str = "groups = [[\"block\"]]";

fn json_is_finite(fit: &Fit) {
    let text = serde_json::to_string(fit).unwrap();
    let back: Fit = serde_json::from_str(&text).unwrap();
    assert_eq!(&back, fit, "every number survives the round trip, so none is NaN or infinite");
}

fn has(fit: &Fit, code: &str) -> bool {
    fit.notices.iter().any(|notice| notice.code == code)
}

fn near(a: f64, b: f64, tolerance: f64) -> bool {
    (a - b).abs() <= tolerance * (1.0 + b.abs())
}

#[test]
fn every_family_is_fitted_with_and_without_a_grouping() {
    for family in FAMILIES {
        for groups in ["", GROUPS] {
            let fit = fit(&table(&Y, &N), &model(family, groups)).unwrap();
            json_is_finite(&fit);
            assert_eq!(fit.adjusted_means.len(), 3);
            assert!(fit.adjusted_means.iter().all(|mean| mean.df.is_none() && mean.se > 0.0 && mean.se < 3.0));
            assert_eq!(fit.criterion, None);
        }
    }
}

#[test]
fn without_effects_the_plain_mean_is_the_estimate() {
    // The Poisson estimate of one mean is the sum over the exposure; its log has variance 1/sum.
    let text = "response = \"y\"\nfamily = \"poisson\"\noffset = \"exposure\"\ncategories = [\"medium\"]\neffects = [[\"medium\"]]\n[[compare]]\nmeans_of = [\"medium\"]\n";
    let fit = fit(&table(&Y, &N), &Model::from_toml(text).unwrap()).unwrap();
    for (index, mean) in fit.adjusted_means.iter().enumerate() {
        let sum: f64 = Y.iter().skip(index).step_by(3).sum();
        assert!(near(mean.estimate, (sum / (8.0 * 0.7_f64.exp())).ln(), 1e-9));
        assert!(near(mean.se, 1.0 / sum.sqrt(), 1e-7));
        assert!(near(mean.response.unwrap(), mean.estimate.exp(), 1e-12));
    }
}

#[test]
fn quadrature_of_many_nodes_settles_and_one_node_is_laplace() {
    for family in FAMILIES {
        let with = |nodes: u32| {
            let more = format!("{GROUPS}\n[estimation]\nnodes = {nodes}\n");
            fit(&table(&Y, &N), &model(family, &more)).unwrap()
        };
        let laplace = fit(&table(&Y, &N), &model(family, GROUPS)).unwrap();
        assert_eq!(with(1), laplace);
        let (few, many) = (with(15), with(40));
        assert!(near(few.log_likelihood, many.log_likelihood, 1e-6), "{family}");
        assert!(near(few.adjusted_means[0].se, many.adjusted_means[0].se, 1e-4), "{family}");
        assert!((few.log_likelihood - laplace.log_likelihood).abs() < 0.2);
    }
}

/// log ∫ Π Poisson(yᵢ; exp(βᵢ + σu)) φ(u) du by the trapezoid rule, which converges geometrically here.
fn integral(block: &[(f64, f64)], sd: f64) -> f64 {
    let step = 1e-3;
    let density = |u: f64| {
        let log: f64 = block.iter().map(|(y, beta)| y * (beta + sd * u) - (beta + sd * u).exp() - factorial(*y)).sum();
        (log - 0.5 * u * u).exp()
    };
    let sum: f64 = (-9000..9000).map(|k| density(f64::from(k) * step)).sum();
    (sum * step / (2.0 * std::f64::consts::PI).sqrt()).ln()
}

fn factorial(y: f64) -> f64 {
    (1..=y as u32).map(|k| f64::from(k).ln()).sum()
}

#[test]
fn quadrature_meets_the_integral_itself() {
    let more = format!("{GROUPS}\n[estimation]\nnodes = 31\n");
    let fit = fit(&table(&Y, &N), &model("poisson", &more)).unwrap();
    let sd = fit.variance_components[0].variance.sqrt();
    assert!(sd > 0.05);
    let records: Vec<(f64, f64)> = Y.iter().enumerate().map(|(i, y)| (*y, fit.adjusted_means[i % 3].estimate)).collect();
    let exact: f64 = records.chunks(6).map(|block| integral(block, sd)).sum();
    assert!((exact - fit.log_likelihood).abs() < 1e-8, "{exact} {}", fit.log_likelihood);
}

#[test]
fn quadrature_with_two_groupings_is_refused() {
    let mut model = model("poisson", GROUPS);
    model.groups.push(vec!["block".to_owned(), "medium".to_owned()]);
    model.estimation.nodes = Some(7);
    let why = fit(&table(&Y, &N), &model).unwrap_err();
    assert_eq!((why.code(), why.exit_status()), ("model-unusable", 2));
    assert!(why.to_string().contains("one scalar random effect"), "{why}");
}

#[test]
fn a_cell_of_zeros_gets_a_sentence_that_names_it() {
    let mut y = Y;
    y.iter_mut().skip(1).step_by(3).for_each(|y| *y = 0.0);
    for family in FAMILIES {
        for groups in ["", GROUPS] {
            let fit = fit(&table(&y, &N), &model(family, groups)).unwrap();
            let notice = fit.notices.iter().find(|notice| notice.code == "separation").unwrap();
            assert!(notice.text.starts_with("at medium q "), "{}", notice.text);
            assert_eq!((fit.adjusted_means.len(), fit.differences.len()), (2, 1));
            assert!(fit.not_estimable.iter().all(|entry| entry.why().contains("at medium q ")), "{:?}", fit.not_estimable);
            json_is_finite(&fit);
        }
    }
}

#[test]
fn a_table_of_zeros_or_of_successes_alone_gets_a_sentence() {
    for family in FAMILIES {
        let why = fit(&table(&[0.0; 24], &N), &model(family, GROUPS)).unwrap_err();
        assert_eq!((why.code(), why.exit_status()), ("separation", 3), "{family}");
        assert!(why.to_string().contains("whole table"), "{why}");
    }
    let why = fit(&table(&N, &N), &model("binomial", GROUPS)).unwrap_err();
    assert!(why.to_string().contains("every trial is a success"), "{why}");
}

#[test]
fn a_constant_count_gets_a_sentence() {
    for family in FAMILIES {
        let why = fit(&table(&[4.0; 24], &N), &model(family, GROUPS)).unwrap_err();
        assert_eq!((why.code(), why.exit_status()), ("no-residual-variation", 3), "{family}");
    }
}

fn refused(y: f64, n: f64, family: &str) -> CannotFit {
    let (mut ys, mut ns) = (Y, N);
    (ys[4], ns[4]) = (y, n);
    fit(&table(&ys, &ns), &model(family, GROUPS)).unwrap_err()
}

#[test]
fn fractional_and_negative_counts_and_trials_below_successes_are_refused_by_row() {
    for (y, n, family) in [(1.5, 25.0, "poisson"), (-1.0, 25.0, "negative-binomial"), (9.0, 8.0, "binomial"), (2.0, 3.5, "beta-binomial")] {
        let why = refused(y, n, family);
        assert_eq!((why.code(), why.exit_status()), ("value-outside", 2));
        assert!(why.to_string().contains("row 5"), "{why}");
    }
}

#[test]
fn every_fault_of_a_table_is_told_at_once() {
    let (mut y, mut n) = (Y, N);
    (y[2], y[7], y[11], n[4], n[20]) = (1.5, -2.0, 26.0, f64::INFINITY, 2.5);
    let why = fit(&table(&y, &n), &model("binomial", GROUPS)).unwrap_err();
    assert_eq!((why.code(), why.exit_status()), ("value-infinite", 2));
    let CannotFit::Several { faults } = &why else { unreachable!() };
    assert_eq!(faults.len(), 5, "{why}");
    for place in ["row 3: found 1.5", "row 8: found -2", "row 12: found 25", "row 5: found an infinite", "row 21: found 2.5"] {
        assert!(why.to_string().contains(place), "{place}: {why}");
    }
}

#[test]
fn units_without_a_trial_are_left_out_and_counted() {
    let (mut y, mut n) = (Y, N);
    (y[3], n[3]) = (0.0, 0.0);
    let with = fit(&table(&y, &n), &model("binomial", GROUPS)).unwrap();
    assert_eq!((with.rows_used, with.rows_left_out), (23, 1));
    assert!(has(&with, "no-trials"));
    json_is_finite(&with);
}

#[test]
fn counts_that_spread_less_than_their_mean_reach_the_edge_with_a_notice() {
    let y: Vec<f64> = (0..24).map(|i| 20.0 + f64::from(i % 2)).collect();
    let fit = fit(&table(&y, &N), &model("negative-binomial", GROUPS)).unwrap();
    assert!(has(&fit, "dispersion-at-edge") && has(&fit, "variance-at-zero"));
    assert_eq!(fit.variance_components[0].variance, 0.0);
    json_is_finite(&fit);
}

#[test]
fn spread_and_zeros_beyond_poisson_are_noticed() {
    let y: Vec<f64> = (0..24).map(|i| if (i / 3) % 2 == 0 { 0.0 } else { f64::from(5 + 9 * (i % 5)) }).collect();
    let fit = fit(&table(&y, &N), &model("poisson", "")).unwrap();
    assert!(has(&fit, "over-dispersion") && has(&fit, "zero-inflation"));
}

#[test]
fn as_many_effects_as_records_are_fitted_where_the_family_allows_it() {
    let fit = fit(&table(&[5.0, 3.0, 8.0], &[10.0; 3]), &model("binomial", "")).unwrap();
    assert!(near(fit.adjusted_means[0].response.unwrap(), 0.5, 1e-9));
    json_is_finite(&fit);
}

#[test]
fn all_or_nothing_blocks_do_not_hang() {
    let y: Vec<f64> = (0..24).map(|i| if (i / 6) % 2 == 0 { 0.0 } else { 25.0 }).collect();
    match fit(&table(&y, &N), &model("binomial", GROUPS)) {
        Ok(fit) => json_is_finite(&fit),
        Err(why) => assert_eq!(why.exit_status(), 3, "{why}"),
    }
}

#[test]
fn huge_counts_are_fitted() {
    let y: Vec<f64> = Y.iter().map(|y| y * 1e5 + 7.0).collect();
    for family in ["poisson", "negative-binomial"] {
        let fit = fit(&table(&y, &N), &model(family, GROUPS)).unwrap();
        json_is_finite(&fit);
        assert!(fit.adjusted_means[0].estimate > 10.0);
    }
}

/// 90 records in 15 blocks, with a mean near 5 or a share near ½.
fn larger() -> Columns {
    let y: Vec<f64> = (0..90).map(|i| f64::from((i * 7 + i / 6) % 11)).collect();
    table(&y, &[11.0; 90])
}

#[test]
fn refits_of_drawn_responses_cover_the_truth_in_their_stated_share() {
    // Of 900 intervals at 95 % (three means, 300 responses each) between 93 and 97 % hold the truth, save by chance.
    for (family, s, icc) in
        [("negative-binomial", Some(3.0), None), ("beta-binomial", None, Some(0.1)), ("poisson", None, None), ("binomial", None, None)]
    {
        let model = model(family, GROUPS);
        let columns = larger();
        let (first, details) = fit_with_details(&columns, &model).unwrap();
        let prepared = Prepared::new(&columns, &model).unwrap();
        let mut truth = Truth::of(&first, &details);
        truth.variances[0].variance = 0.16;
        truth.dispersion.iter_mut().for_each(|d| (d.size, d.intraclass) = (s, icc));
        let refits = refit(&prepared, &simulate(&prepared, &truth, 2031, 300));
        let fits: Vec<Fit> = refits.into_iter().flatten().collect();
        assert!(fits.len() > 297, "{family}: {}", fits.len());
        let mut held = [0.0; 2];
        for fit in &fits {
            for (mean, exact) in fit.differences.iter().zip(&first.differences) {
                held[0] += f64::from(u8::from(mean.low <= exact.estimate && exact.estimate <= mean.high));
                held[1] += 1.0;
            }
        }
        let share = held[0] / held[1];
        assert!((0.925..0.975).contains(&share), "{family}: {share}");
    }
}

#[test]
fn quantile_residuals_are_drawn_from_their_seed_alone() {
    let model = model("negative-binomial", GROUPS);
    let columns = larger();
    let (fit, details) = fit_with_details(&columns, &model).unwrap();
    let prepared = Prepared::new(&columns, &model).unwrap();
    let residuals = quantile_residuals(&prepared, &fit, &details, 1).unwrap();
    assert_eq!(residuals, quantile_residuals(&prepared, &fit, &details, 1).unwrap());
    assert_ne!(residuals, quantile_residuals(&prepared, &fit, &details, 2).unwrap());
    assert!(residuals.iter().all(|r| r.abs() < 5.0));
}

#[test]
fn absurd_counts_and_offsets_get_a_fit_or_a_sentence() {
    let big: Vec<f64> = Y.iter().map(|y| y * 4e7 + 3.0).collect();
    let trials: Vec<f64> = big.iter().map(|_| 9e8).collect();
    for family in FAMILIES {
        for (y, n) in [(Y.to_vec(), N.to_vec()), (big.clone(), trials.clone())] {
            for step in [0.0, 30.0, -700.0, 1e6] {
                let mut columns = table(&y, &n);
                columns.number("far", (0..24).map(|i| step * f64::from(i % 5)).collect()).unwrap();
                for groups in ["", GROUPS] {
                    match fit(&columns, &model(family, &format!("offset = \"far\"\n{groups}"))) {
                        Ok(fit) => json_is_finite(&fit),
                        Err(why) => assert_eq!(why.exit_status(), 3, "{why}"),
                    }
                }
            }
        }
    }
}

#[test]
fn a_covariate_that_separates_gets_a_sentence() {
    let mut y = [0.0; 24];
    y[12..].fill(3.0);
    y[20] = 5.0;
    let mut columns = table(&y, &N);
    columns.number("late", (0..24).map(|i| f64::from(u8::from(i >= 12))).collect()).unwrap();
    let mut model = model("poisson", "");
    model.effects.push(vec!["late".to_owned()]);
    let fit = fit(&columns, &model).unwrap();
    let notice = fit.notices.iter().find(|notice| notice.code == "separation").unwrap();
    assert!(notice.text.contains("12 of the records"), "{}", notice.text);
    // A mean is taken at the mean of the covariate, which leans on its coefficient; their differences do not.
    assert_eq!((fit.adjusted_means.len(), fit.differences.len()), (0, 3));
}

fn agree(a: &Fit, b: &Fit, shift: f64) {
    assert!(near(a.log_likelihood, b.log_likelihood, 1e-7), "{} {}", a.log_likelihood, b.log_likelihood);
    for (a, b) in a.variance_components.iter().zip(&b.variance_components) {
        assert!(near(a.variance, b.variance, 1e-5), "{} {}", a.variance, b.variance);
    }
    for (a, b) in a.adjusted_means.iter().zip(&b.adjusted_means) {
        assert!(near(a.estimate + shift, b.estimate, 1e-5) && near(a.se, b.se, 1e-5), "{a:?} {b:?}");
    }
    for (a, b) in a.differences.iter().zip(&b.differences) {
        assert!(near(a.estimate, b.estimate, 1e-5) && near(a.se, b.se, 1e-5), "{a:?} {b:?}");
    }
}

fn counts() -> impl Strategy<Value = Vec<f64>> {
    prop::collection::vec(0_u32..25, 24)
        .prop_filter("separated", |y| (0..3).all(|m| y.iter().skip(m).step_by(3).sum::<u32>() > 3))
        .prop_map(|y| y.into_iter().map(f64::from).collect())
}

/// The rows of a table in another order, its levels under other names that sort alike, or its exposure changed.
fn changed(y: &[f64], order: &[usize], prefix: &str, offset: f64) -> Columns {
    let mut columns = Columns::new(y.len());
    let medium: Vec<String> = order.iter().map(|i| format!("{prefix}{}", LEVELS[i % 3])).collect();
    let block: Vec<String> = order.iter().map(|i| format!("{prefix}{}", i / 6)).collect();
    columns.category("medium", &medium).unwrap();
    columns.category("block", &block).unwrap();
    columns.number("y", order.iter().map(|i| y[*i]).collect()).unwrap();
    columns.number("n", vec![25.0; y.len()]).unwrap();
    columns.number("exposure", order.iter().map(|i| 0.05 * (*i as f64) + offset).collect()).unwrap();
    columns
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 60, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn sparse_tables_get_a_fit_or_a_sentence(
        y in prop::collection::vec(prop_oneof![4 => Just(0_u32), 2 => 1_u32..3, 1 => 3_u32..26], 24), family in 0_usize..4, random in 0_usize..4,
    ) {
        let y: Vec<f64> = y.into_iter().map(f64::from).collect();
        let groups = [
            "",
            GROUPS,
            "groups = [[\"block\"], [\"block\", \"medium\"]]",
            "[[varying]]\nover = [\"block\"]\neffects = [[\"exposure\"]]",
        ];
        let order: Vec<usize> = (0..24).collect();
        match fit(&changed(&y, &order, "", 0.0), &model(FAMILIES[family], groups[random])) {
            Ok(fit) => {
                json_is_finite(&fit);
                prop_assert!(fit.adjusted_means.iter().all(|mean| mean.se < 30.0), "{:?}", fit.adjusted_means);
            }
            Err(why) => prop_assert_eq!((why.exit_status(), why.to_string().contains("NaN")), (3, false), "{}", why),
        }
    }

    #[test]
    fn order_names_and_unit_of_exposure_do_not_matter(y in counts(), turn in 1_usize..23, family in 0_usize..4) {
        let more = format!("offset = \"exposure\"\n{GROUPS}");
        let model = model(FAMILIES[family], &more);
        let plain: Vec<usize> = (0..24).collect();
        let turned: Vec<usize> = (0..24).map(|i| (i * 5 + turn) % 24).collect();
        let first = fit(&changed(&y, &plain, "", 0.0), &model).unwrap();
        json_is_finite(&first);
        agree(&first, &fit(&changed(&y, &turned, "new ", 0.0), &model).unwrap(), 0.0);
        agree(&first, &fit(&changed(&y, &plain, "", 1.25), &model).unwrap(), -1.25);
    }
}
