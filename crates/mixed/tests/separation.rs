//! Counts and shares at the edge of their range: what leans on them is named with what was counted and an exact
//! limit, all else is estimated from the other records, and no exploded row appears.
#![allow(clippy::unwrap_used)]

use crosshouse_mixed::{CannotFit, Columns, Fit, Model, NotEstimable, Prepared, Truth, fit, fit_with_details, refit, simulate};
use crosshouse_mixed::{quantile_residuals, spread_check};
use proptest::prelude::*;

const FAMILIES: [&str; 4] = ["poisson", "negative-binomial", "binomial", "beta-binomial"];

/// Rows of a trial: site, medium, block and response.
#[derive(Clone)]
struct Trial {
    site: Vec<String>,
    medium: Vec<String>,
    block: Vec<String>,
    y: Vec<f64>,
}

/// `sites` sites with `blocks` blocks of `media` media, responses by a rule of (site, medium, block).
fn trial(sites: usize, media: usize, blocks: usize, y: impl Fn(usize, usize, usize) -> f64) -> Trial {
    let mut trial = Trial { site: vec![], medium: vec![], block: vec![], y: vec![] };
    for s in 0..sites {
        for b in 0..blocks {
            for m in 0..media {
                trial.site.push(format!("s{s}"));
                trial.medium.push(format!("m{m}"));
                trial.block.push(format!("s{s}b{b}"));
                trial.y.push(y(s, m, b));
            }
        }
    }
    trial
}

impl Trial {
    fn columns(&self, keep: impl Fn(usize) -> bool) -> Columns {
        let rows: Vec<usize> = (0..self.y.len()).filter(|row| keep(*row)).collect();
        let mut columns = Columns::new(rows.len());
        let pick = |from: &[String]| rows.iter().map(|row| from[*row].clone()).collect::<Vec<_>>();
        for (name, values) in [("site", &self.site), ("medium", &self.medium), ("block", &self.block)] {
            columns.category(name, &pick(values)).unwrap();
        }
        columns.number("y", rows.iter().map(|row| self.y[*row]).collect()).unwrap();
        columns.number("n", vec![20.0; rows.len()]).unwrap();
        columns
    }
}

fn model(family: &str, effects: &str, groups: &str, within: &str) -> Model {
    let trials = if matches!(family, "binomial" | "beta-binomial") { "trials = \"n\"\n" } else { "" };
    let text = format!(
        "response = \"y\"\nfamily = \"{family}\"\n{trials}categories = [\"site\", \"medium\", \"block\"]\neffects = {effects}\n{groups}\n\
         [[compare]]\nmeans_of = [\"medium\"]\n{within}adjust = \"tukey\"\nletters = true\n"
    );
    Model::from_toml(&text).unwrap()
}

const BOTH: &str = r#"[["site"], ["medium"], ["site", "medium"]]"#;
const ADDITIVE: &str = r#"[["site"], ["medium"]]"#;
const BLOCKS: &str = r#"groups = [["block"]]"#;
const BY_SITE: &str = "within = [\"site\"]\n";

/// Something near 5 that varies over blocks.
fn plain(s: usize, m: usize, b: usize) -> f64 {
    ((s * 5 + m * 3 + b * 7) % 8 + 2) as f64
}

fn code(fit: &Fit, code: &str) -> usize {
    fit.notices.iter().filter(|notice| notice.code == code).count()
}

fn near(a: f64, b: f64, tolerance: f64) -> bool {
    (a - b).abs() <= tolerance * (1.0 + b.abs())
}

/// The same answers, to what a search settles to.
fn agree(a: &Fit, b: &Fit) {
    assert!(near(a.log_likelihood, b.log_likelihood, 1e-8), "{} {}", a.log_likelihood, b.log_likelihood);
    assert_eq!((a.adjusted_means.len(), a.differences.len()), (b.adjusted_means.len(), b.differences.len()));
    for (a, b) in a.adjusted_means.iter().zip(&b.adjusted_means) {
        assert_eq!((&a.of, &a.within), (&b.of, &b.within));
        assert!(near(a.estimate, b.estimate, 1e-5) && near(a.se, b.se, 1e-5), "{a:?} {b:?}");
    }
    for (a, b) in a.differences.iter().zip(&b.differences) {
        assert!(near(a.estimate, b.estimate, 1e-5) && near(a.se, b.se, 1e-5), "{a:?} {b:?}");
    }
}

#[test]
fn a_cell_of_zeros_with_its_own_parameter_leaves_every_other_answer_as_without_its_rows() {
    let trial = trial(3, 3, 4, |s, m, b| if (s, m) == (1, 2) { 0.0 } else { plain(s, m, b) });
    for family in FAMILIES {
        let model = model(family, BOTH, BLOCKS, BY_SITE);
        let (whole, details) = fit_with_details(&trial.columns(|_| true), &model).unwrap();
        let others = fit(&trial.columns(|row| !(trial.site[row] == "s1" && trial.medium[row] == "m2")), &model).unwrap();
        agree(&whole, &others);
        assert_eq!((code(&whole, "separation"), whole.rows_used, details.rows.len()), (1, 36, 32), "{family}");
        let cell = &details.separated[0];
        assert_eq!((cell.of.get("site"), cell.of.get("medium"), cell.rows.len(), cell.count), (Some("s1"), Some("m2"), 4, 0.0));
        let about = whole.not_estimable.iter().filter(|entry| entry.why().contains("site s1")).count();
        assert_eq!(about, whole.not_estimable.len(), "{:?}", whole.not_estimable);
        let author = if family.contains("negative") || family == "poisson" { "Poisson" } else { "Clopper and Pearson 1934" };
        assert!(whole.not_estimable.iter().all(|entry| entry.why().contains(author)), "{:?}", whole.not_estimable);
    }
}

#[test]
fn a_medium_of_zeros_leaves_the_differences_of_the_other_media_in_an_additive_model_too() {
    let trial = trial(3, 4, 4, |s, m, b| if m == 1 { 0.0 } else { plain(s, m, b) });
    for family in FAMILIES {
        let model = model(family, ADDITIVE, BLOCKS, "");
        let whole = fit(&trial.columns(|_| true), &model).unwrap();
        agree(&whole, &fit(&trial.columns(|row| trial.medium[row] != "m1"), &model).unwrap());
        let lost = |entry: &&NotEstimable| !matches!(entry, NotEstimable::Effect { .. });
        // Of four means one, of six differences the three with it.
        assert_eq!((whole.adjusted_means.len(), whole.differences.len(), whole.not_estimable.iter().filter(lost).count()), (3, 3, 4));
        // What is left of the effect of the medium is tested on two contrasts.
        assert_eq!(whole.effect_tests.iter().map(|test| test.df_num).collect::<Vec<_>>(), [2, 2]);
    }
}

#[test]
fn a_cell_of_zeros_in_an_additive_model_is_no_separation() {
    let trial = trial(3, 3, 4, |s, m, b| if (s, m) == (1, 2) { 0.0 } else { plain(s, m, b) });
    for family in FAMILIES {
        let whole = fit(&trial.columns(|_| true), &model(family, ADDITIVE, BLOCKS, "")).unwrap();
        assert_eq!((code(&whole, "separation"), whole.adjusted_means.len()), (0, 3), "{family}");
    }
}

#[test]
fn the_likelihood_of_the_others_is_the_supremum_that_larger_offsets_approach() {
    // With the predictor of the zeros pushed down by hand the likelihood rises to the one reported.
    let trial = trial(2, 3, 5, |s, m, b| if m == 1 { 0.0 } else { plain(s, m, b) });
    let mut columns = trial.columns(|_| true);
    let down: Vec<f64> = trial.medium.iter().map(|medium| if medium == "m1" { -40.0 } else { 0.0 }).collect();
    columns.number("down", down).unwrap();
    columns.category("kind", &trial.medium.iter().map(|m| if m == "m1" { "m0" } else { m }).collect::<Vec<_>>()).unwrap();
    let whole = fit(&columns, &model("poisson", ADDITIVE, BLOCKS, "")).unwrap();
    let forced = "response = \"y\"\nfamily = \"poisson\"\noffset = \"down\"\ncategories = [\"site\", \"kind\", \"block\"]\n\
                  effects = [[\"site\"], [\"kind\"]]\ngroups = [[\"block\"]]\n";
    let forced = fit(&columns, &Model::from_toml(forced).unwrap()).unwrap();
    assert!((whole.log_likelihood - forced.log_likelihood).abs() < 1e-6, "{} {}", whole.log_likelihood, forced.log_likelihood);
}

#[test]
fn nothing_but_zeros_or_successes_is_refused_with_the_records_as_data() {
    for (family, y) in [("poisson", 0.0), ("negative-binomial", 0.0), ("binomial", 20.0), ("beta-binomial", 0.0)] {
        let trial = trial(2, 3, 4, |_, _, _| y);
        let why = fit(&trial.columns(|_| true), &model(family, ADDITIVE, BLOCKS, "")).unwrap_err();
        assert_eq!((why.code(), why.exit_status()), ("separation", 3));
        let CannotFit::Separation { separated, .. } = &why else { unreachable!() };
        assert_eq!(separated.iter().map(|cell| cell.rows.len()).sum::<usize>(), 24, "{why}");
    }
}

#[test]
fn a_separated_fit_can_be_drawn_from_refitted_and_checked() {
    let trial = trial(3, 3, 6, |s, m, b| if m == 2 { 0.0 } else { plain(s, m, b) });
    let (columns, model) = (trial.columns(|_| true), model("negative-binomial", ADDITIVE, BLOCKS, ""));
    let (fit, details) = fit_with_details(&columns, &model).unwrap();
    let prepared = Prepared::new(&columns, &model).unwrap();
    let drawn = simulate(&prepared, &Truth::of(&fit, &details), 2031, 5);
    assert!(drawn.iter().flat_map(|y| y.iter().zip(&trial.medium)).all(|(y, medium)| medium != "m2" || *y == 0.0));
    assert!(refit(&prepared, &drawn).iter().all(Result::is_ok));
    let residuals = quantile_residuals(&prepared, &fit, &details, 7).unwrap();
    assert_eq!((residuals.len(), residuals.iter().all(|r| r.is_finite())), (details.rows.len(), true));
    assert!(spread_check(&prepared, &fit, &details, 7, 19).unwrap().draws > 15);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 80, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn no_exploded_row_appears_whatever_cells_are_empty_or_full(
        kind in prop::collection::vec(prop_oneof![3 => Just(0_u8), 1 => Just(1_u8), 1 => Just(2_u8)], 9),
        family in 0_usize..4, effects in 0_usize..2, groups in 0_usize..2,
    ) {
        let y = |s: usize, m: usize, b: usize| match kind[s * 3 + m] {
            1 => 0.0,
            2 => 20.0,
            _ => plain(s, m, b),
        };
        let trial = trial(3, 3, 4, y);
        let model = model(FAMILIES[family], [ADDITIVE, BOTH][effects], ["", BLOCKS][groups], BY_SITE);
        match fit(&trial.columns(|_| true), &model) {
            Ok(fit) => {
                prop_assert!(fit.adjusted_means.iter().all(|mean| mean.se < 30.0 && mean.estimate.abs() < 40.0), "{:?}", fit.adjusted_means);
                prop_assert!(fit.differences.iter().all(|d| d.se < 30.0 && d.se > 0.0), "{:?}", fit.differences);
                let text = serde_json::to_string(&fit).unwrap();
                prop_assert_eq!(serde_json::from_str::<Fit>(&text).unwrap(), fit);
            }
            Err(why) => prop_assert_eq!(why.exit_status(), 3, "{}", why),
        }
    }
}
