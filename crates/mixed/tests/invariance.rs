//! What must not change the answer: the unit and zero of the response, the order of rows, the names of
//! levels and factors, the order of effects.
#![allow(clippy::unwrap_used)]

use crosshouse_mixed::{Columns, Fit, Model, fit};
use proptest::prelude::*;

const MODEL: &str = r#"
response = "y"
categories = ["site", "block", "medium", "pot"]
effects = [["site"], ["medium"], ["pot"], ["medium", "pot"], ["x"]]
groups = [["site", "block"], ["site", "medium"]]
[[compare]]
means_of = ["medium"]
adjust = "tukey"
[[compare]]
means_of = ["pot"]
within = ["medium"]
"#;

#[derive(Debug, Clone)]
struct Record {
    labels: [usize; 4],
    x: f64,
    y: f64,
}

fn records() -> impl Strategy<Value = Vec<Record>> {
    let noise = prop::collection::vec((-1.0..1.0_f64, 0.0..1.0_f64, prop::bool::weighted(0.9)), 72);
    noise.prop_map(|noise| {
        let mut records = Vec::new();
        for (index, (e, x, kept)) in noise.into_iter().enumerate() {
            let labels = [index % 3, (index / 3) % 4, (index / 12) % 3, (index / 36) % 2];
            let block = (labels[0] * 5 + labels[1] * 3) % 7;
            let y = 5.0 + labels[2] as f64 * 0.5 + block as f64 * 0.3 + e + x;
            if kept {
                records.push(Record { labels, x, y });
            }
        }
        records
    })
}

/// The labels of factor `f`; `named` maps a level's number to its text.
fn table(records: &[Record], named: impl Fn(usize, usize) -> String, change: impl Fn(f64) -> f64) -> Columns {
    let mut columns = Columns::new(records.len());
    for (place, name) in ["site", "block", "medium", "pot"].iter().enumerate() {
        let texts: Vec<String> = records.iter().map(|r| named(place, r.labels[place])).collect();
        columns.category(name, &texts).unwrap();
    }
    columns.number("x", records.iter().map(|r| r.x).collect()).unwrap();
    columns.number("y", records.iter().map(|r| change(r.y)).collect()).unwrap();
    columns
}

fn plain(_: usize, level: usize) -> String {
    format!("l{level}")
}

fn model() -> Model {
    Model::from_toml(MODEL).unwrap()
}

/// Estimates in their own standard errors, t, df, F: `unit` and `zero` undo a change of the response.
fn digest(fit: &Fit, unit: f64, zero: f64) -> Vec<(f64, f64)> {
    let mut all = Vec::new();
    for mean in &fit.adjusted_means {
        all.push(((mean.estimate - zero) / unit, mean.se / unit));
        all.push((mean.df.unwrap(), mean.df.unwrap()));
    }
    for d in &fit.differences {
        all.push((d.estimate / unit, d.se / unit));
        all.push((d.df.unwrap(), d.df.unwrap()));
        all.push((d.p, 1.0));
    }
    for test in &fit.effect_tests {
        all.push((test.f, 1.0 + test.f));
        all.push((test.df_den.unwrap(), test.df_den.unwrap()));
    }
    for component in &fit.variance_components {
        all.push((component.variance / (unit * unit), 1.0));
    }
    all
}

fn near(a: &[(f64, f64)], b: &[(f64, f64)], tolerance: f64) -> Result<(), TestCaseError> {
    prop_assert_eq!(a.len(), b.len());
    for ((x, size), (y, _)) in a.iter().zip(b) {
        prop_assert!((x - y).abs() <= tolerance * size.abs(), "{} and {} (size {})", x, y, size);
    }
    Ok(())
}

/// Models with a residual structure and coefficients that vary; `x` is a covariate, `week` orders the records of a block.
const STRUCTURES: [&str; 4] = [
    "[residual]\nvariance_by = [\"site\"]\n",
    "[residual.serial]\norder = \"week\"\nwithin = [\"site\", \"block\"]\n",
    "[[varying]]\nover = [\"site\", \"block\"]\neffects = [[\"x\"]]\n",
    "[[varying]]\nover = [\"site\", \"block\"]\neffects = [[\"x\"]]\ncorrelated = false\n[residual]\nvariance_by = [\"pot\"]\n",
];

fn structured(index: usize) -> Model {
    let text = if index < 2 { MODEL.to_owned() } else { MODEL.replace("[\"site\", \"block\"], ", "") };
    Model::from_toml(&(text + STRUCTURES[index])).unwrap()
}

fn with_weeks(records: &[Record], change: impl Fn(f64) -> f64, named: impl Fn(usize, usize) -> String) -> Columns {
    let mut columns = table(records, named, change);
    columns.number("week", records.iter().map(|r| (r.labels[2] * 2 + r.labels[3]) as f64).collect()).unwrap();
    columns
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 12, ..ProptestConfig::default() })]

    #[test]
    fn unit_zero_and_row_order_change_no_structured_fit_but_in_scale(records in records(), power in -6..7_i32, which in 0..4_usize) {
        let model = structured(which);
        let unit = 10.0_f64.powi(power);
        let one = fit(&with_weeks(&records, |y| y, plain), &model).unwrap();
        let scaled = fit(&with_weeks(&records, |y| y * unit, plain), &model).unwrap();
        near(&digest(&one, 1.0, 0.0), &digest(&scaled, unit, 0.0), 1e-7)?;
        let shifted = fit(&with_weeks(&records, |y| y + 1e9, plain), &model).unwrap();
        near(&digest(&one, 1.0, 0.0), &digest(&shifted, 1.0, 1e9), 2e-4)?;
        let mut turned = records.clone();
        turned.reverse();
        let turned = fit(&with_weeks(&turned, |y| y, plain), &model).unwrap();
        near(&digest(&one, 1.0, 0.0), &digest(&turned, 1.0, 0.0), 1e-7)?;
    }

    #[test]
    fn other_names_for_levels_move_no_test_of_a_structured_fit(records in records(), which in 0..4_usize) {
        let renamed = |place: usize, level: usize| if place == 2 { plain(place, level) } else { format!("l{}", 9 - level) };
        let model = structured(which);
        let one = fit(&with_weeks(&records, |y| y, plain), &model).unwrap();
        let other = fit(&with_weeks(&records, |y| y, renamed), &model).unwrap();
        for (a, b) in one.effect_tests.iter().zip(&other.effect_tests) {
            prop_assert!((a.f - b.f).abs() <= 1e-6 * (1.0 + a.f), "{} {}", a.f, b.f);
            prop_assert!((a.df_den.unwrap() - b.df_den.unwrap()).abs() <= 1e-6 * a.df_den.unwrap());
        }
        prop_assert!((one.log_likelihood - other.log_likelihood).abs() < 1e-7);
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]

    #[test]
    fn a_shift_of_the_response_by_1e9_shifts_means_and_nothing_else(records in records()) {
        let model = model();
        let one = fit(&table(&records, plain, |y| y), &model).unwrap();
        let other = fit(&table(&records, plain, |y| y + 1e9), &model).unwrap();
        near(&digest(&one, 1.0, 0.0), &digest(&other, 1.0, 1e9), 2e-5)?;
    }

    #[test]
    fn a_change_of_unit_scales_estimates_and_leaves_f_and_freedom(records in records(), power in -6..7_i32) {
        let model = model();
        let unit = 10.0_f64.powi(power);
        let one = fit(&table(&records, plain, |y| y), &model).unwrap();
        let other = fit(&table(&records, plain, |y| y * unit), &model).unwrap();
        near(&digest(&one, 1.0, 0.0), &digest(&other, unit, 0.0), 1e-8)?;
    }

    #[test]
    fn the_order_of_rows_moves_no_estimate_by_1e_9_of_its_error(records in records(), turn in 1..60_usize) {
        let model = model();
        let mut turned = records.clone();
        turned.rotate_left(turn % records.len());
        turned.reverse();
        let one = fit(&table(&records, plain, |y| y), &model).unwrap();
        let other = fit(&table(&turned, plain, |y| y), &model).unwrap();
        near(&digest(&one, 1.0, 0.0), &digest(&other, 1.0, 0.0), 1e-9)?;
    }

    #[test]
    fn other_names_for_levels_move_no_test(records in records()) {
        // Site, block and pot levels sort the other way round; F, df and the medium means stay.
        let renamed = |place: usize, level: usize| if place == 2 { plain(place, level) } else { format!("l{}", 9 - level) };
        let model = model();
        let one = fit(&table(&records, plain, |y| y), &model).unwrap();
        let other = fit(&table(&records, renamed, |y| y), &model).unwrap();
        for (a, b) in one.effect_tests.iter().zip(&other.effect_tests) {
            prop_assert!((a.f - b.f).abs() <= 1e-8 * (1.0 + a.f));
            prop_assert!((a.df_den.unwrap() - b.df_den.unwrap()).abs() <= 1e-7 * a.df_den.unwrap());
        }
        for (a, b) in one.adjusted_means.iter().zip(&other.adjusted_means).take(3) {
            prop_assert!((a.estimate - b.estimate).abs() <= 1e-8 * a.se && (a.se - b.se).abs() <= 1e-8 * a.se);
        }
        prop_assert!((one.log_likelihood - other.log_likelihood).abs() < 1e-7);
    }

    #[test]
    fn the_order_of_effects_and_of_names_in_them_moves_no_test(records in records()) {
        let model = model();
        let mut turned = model.clone();
        turned.effects.reverse();
        turned.effects.iter_mut().for_each(|effect| effect.reverse());
        turned.groups.reverse();
        let one = fit(&table(&records, plain, |y| y), &model).unwrap();
        let other = fit(&table(&records, plain, |y| y), &turned).unwrap();
        for (a, b) in one.effect_tests.iter().zip(other.effect_tests.iter().rev()) {
            prop_assert!((a.f - b.f).abs() <= 1e-8 * (1.0 + a.f));
            prop_assert!((a.df_den.unwrap() - b.df_den.unwrap()).abs() <= 1e-7 * a.df_den.unwrap());
        }
        near(&digest(&one, 1.0, 0.0)[..6], &digest(&other, 1.0, 0.0)[..6], 1e-8)?;
    }
}
