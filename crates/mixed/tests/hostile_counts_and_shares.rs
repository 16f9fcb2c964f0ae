//! Counts and shares from tables that no one would wish for: an answer of finite numbers, or a sentence with the
//! exit status of the contract; never a panic, and never one that stands still.
#![allow(clippy::unwrap_used)]

use crosshouse_mixed::{CannotFit, Columns, Fit, Model, fit};
use proptest::prelude::*;

const FAMILIES: [&str; 4] = ["poisson", "negative-binomial", "binomial", "beta-binomial"];

struct Table {
    a: Vec<String>,
    g: Vec<String>,
    y: Vec<f64>,
    n: Vec<f64>,
    x: Vec<f64>,
}

impl Table {
    fn columns(&self) -> Columns {
        let mut columns = Columns::new(self.y.len());
        columns.category("a", &self.a).unwrap();
        columns.category("g", &self.g).unwrap();
        for (name, values) in [("y", &self.y), ("n", &self.n), ("x", &self.x)] {
            columns.number(name, values.clone()).unwrap();
        }
        columns
    }
}

fn model(family: &str, effects: &str, more: &str) -> Model {
    let trials = if matches!(family, "binomial" | "beta-binomial") { "trials = \"n\"\n" } else { "" };
    Model::from_toml(&format!(
        "response = \"y\"\nfamily = \"{family}\"\n{trials}categories = [\"a\", \"g\"]\neffects = {effects}\n{more}\n\
         [[compare]]\nmeans_of = [\"a\"]\nletters = true\n"
    ))
    .unwrap()
}

fn is_finite(fit: &Fit) {
    let text = serde_json::to_string(fit).unwrap();
    assert_eq!(&serde_json::from_str::<Fit>(&text).unwrap(), fit, "no number is NaN or infinite");
    assert!(fit.adjusted_means.iter().all(|mean| mean.se > 0.0 && mean.se < 60.0), "{:?}", fit.adjusted_means);
}

/// A fit, or a sentence; of an unusable table (2) or of one that cannot carry the model (3).
fn answered(found: Result<Fit, CannotFit>) -> u8 {
    match found {
        Ok(fit) => {
            is_finite(&fit);
            0
        }
        Err(why) => {
            let text = why.to_string();
            assert!(!text.contains("NaN") && text.len() > 20 && !why.mend().is_empty(), "{text}");
            why.exit_status()
        }
    }
}

fn even(rows: usize, levels: usize, groups: usize) -> Table {
    Table {
        a: (0..rows).map(|i| format!("a{:05}", i % levels)).collect(),
        g: (0..rows).map(|i| format!("g{:05}", i / levels % groups)).collect(),
        y: (0..rows).map(|i| ((i * 7 + i / 3) % 8 + 1) as f64).collect(),
        n: vec![20.0; rows],
        x: (0..rows).map(|i| ((i * 3) % 5) as f64 * 0.1).collect(),
    }
}

const A: &str = r#"[["a"]]"#;
const G: &str = r#"groups = [["g"]]"#;

#[test]
fn one_row_two_rows_and_more_effects_than_rows_get_a_fit_or_a_sentence() {
    for family in FAMILIES {
        for (rows, levels) in [(1, 1), (2, 1), (2, 2), (5, 5), (5, 4)] {
            for more in ["", G] {
                let status = answered(fit(&even(rows, levels, 2).columns(), &model(family, A, more)));
                assert!(status == 0 || status == 3, "{family} {rows} {levels}: {status}");
            }
        }
    }
}

#[test]
fn a_group_for_each_record_is_refused_only_where_the_family_has_its_own_spread() {
    let mut table = even(40, 2, 40);
    table.g = (0..40).map(|i| format!("g{i}")).collect();
    for (family, status) in FAMILIES.iter().zip([0, 3, 0, 3]) {
        assert_eq!(answered(fit(&table.columns(), &model(family, A, G))), status, "{family}");
    }
}

#[test]
fn ten_thousand_levels_of_a_grouping_are_fitted() {
    let table = even(20_000, 2, 10_000);
    for family in ["poisson", "binomial"] {
        assert_eq!(answered(fit(&table.columns(), &model(family, A, G))), 0, "{family}");
    }
}

#[test]
fn an_infinite_offset_is_unusable_and_a_missing_one_leaves_its_row_out() {
    let mut table = even(24, 2, 4);
    table.x[5] = f64::NEG_INFINITY;
    let offset = format!("offset = \"x\"\n{G}");
    let why = fit(&table.columns(), &model("poisson", A, &offset)).unwrap_err();
    assert_eq!((why.code(), why.exit_status(), why.to_string().contains("row 6")), ("value-infinite", 2, true), "{why}");
    table.x[5] = f64::NAN;
    let fit = fit(&table.columns(), &model("poisson", A, &offset)).unwrap();
    assert_eq!((fit.rows_used, fit.rows_left_out), (23, 1));
}

#[test]
fn counts_at_the_end_of_the_range_are_fitted_and_beyond_it_refused() {
    let mut table = even(24, 2, 4);
    table.y.iter_mut().for_each(|y| *y = 1e9 - *y * 1e7);
    for family in ["poisson", "negative-binomial"] {
        let status = answered(fit(&table.columns(), &model(family, A, G)));
        assert!(status == 0 || status == 3, "{family}");
    }
    table.y[3] = 2e9;
    assert_eq!(answered(fit(&table.columns(), &model("poisson", A, G))), 2);
}

fn value() -> impl Strategy<Value = f64> {
    prop_oneof![
        12 => (0_u32..12).prop_map(f64::from),
        6 => Just(0.0),
        3 => Just(20.0),
        2 => (0_u32..1_000_000).prop_map(f64::from),
        1 => prop_oneof![Just(-1.0), Just(0.5), Just(1e300), Just(f64::INFINITY), Just(f64::NAN), Just(-0.0), Just(1e9)],
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 150, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_table_gets_finite_numbers_or_a_sentence(
        rows in 1_usize..40, levels in 1_usize..6, groups in 1_usize..9, family in 0_usize..4, effects in 0_usize..3, random in 0_usize..4,
        y in prop::collection::vec(value(), 40), clean in any::<bool>(),
        n in prop::collection::vec(prop_oneof![6 => Just(20.0), 1 => Just(0.0), 1 => Just(1.0), 1 => value()], 40),
        x in prop::collection::vec(prop_oneof![6 => -1.0..1.0_f64, 1 => -300.0..300.0_f64], 40),
    ) {
        let mut table = even(rows, levels, groups);
        // Half of the tables hold counts alone, so that fits are met as well as refusals.
        let tidy = |y: f64| if clean { if y.is_finite() { y.abs().floor().min(20.0) } else { 0.0 } } else { y };
        table.y = y[..rows].iter().map(|y| tidy(*y)).collect();
        table.n = if clean { vec![20.0; rows] } else { n[..rows].to_vec() };
        table.x = x[..rows].to_vec();
        let effects = [A, r#"[["a"], ["x"]]"#, r#"[["a"], ["g"], ["a", "g"]]"#][effects];
        let more = ["", G, "offset = \"x\"\ngroups = [[\"g\"]]", "[[varying]]\nover = [\"g\"]\neffects = [[\"x\"]]\ncorrelated = true"][random];
        let status = answered(fit(&table.columns(), &model(FAMILIES[family], effects, more)));
        prop_assert!(status == 0 || status == 2 || status == 3);
        if clean {
            prop_assert!(status != 2);
        }
    }
}
