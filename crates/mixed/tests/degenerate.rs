//! Awkward input gets a right answer with a notice, or a sentence; never a panic, never a NaN.
#![allow(clippy::unwrap_used)]

use crosshouse_mixed::{CannotFit, Columns, Fit, Model, estimable, fit};

const MODEL: &str = r#"
response = "y"
categories = ["medium", "block"]
effects = [["medium"]]
groups = [["block"]]
[[compare]]
means_of = ["medium"]
adjust = "tukey"
letters = true
"#;

fn table(medium: &[&str], block: &[&str], y: &[f64]) -> Columns {
    let mut columns = Columns::new(y.len());
    columns.category("medium", medium).unwrap();
    columns.category("block", block).unwrap();
    columns.number("y", y.to_vec()).unwrap();
    columns
}

fn model(text: &str) -> Model {
    Model::from_toml(text).unwrap()
}

fn json_is_finite(fit: &Fit) {
    let text = serde_json::to_string(fit).unwrap();
    let back: Fit = serde_json::from_str(&text).unwrap();
    assert_eq!(&back, fit, "every number survives the round trip, so none is NaN or infinite");
}

const MEDIUM: [&str; 8] = ["p", "q", "p", "q", "p", "q", "p", "q"];
const BLOCK: [&str; 8] = ["1", "1", "2", "2", "3", "3", "4", "4"];
const Y: [f64; 8] = [1.0, 2.1, 1.4, 2.2, 0.9, 2.6, 1.2, 1.9];

#[test]
fn a_constant_response_gets_a_sentence() {
    let why = fit(&table(&MEDIUM, &BLOCK, &[3.3; 8]), &model(MODEL)).unwrap_err();
    assert_eq!((why.code(), why.exit_status()), ("no-residual-variation", 3));
}

#[test]
fn one_row_gets_a_sentence() {
    let why = fit(&table(&["p"], &["1"], &[1.0]), &model(MODEL)).unwrap_err();
    assert_eq!(why.code(), "no-freedom");
}

#[test]
fn no_complete_row_gets_a_sentence() {
    let why = fit(&table(&["p", ""], &["", "1"], &[1.0, 2.0]), &model(MODEL)).unwrap_err();
    assert_eq!(why.code(), "no-rows");
}

#[test]
fn as_many_effects_as_rows_get_a_sentence() {
    let why = fit(&table(&["p", "q", "r"], &["1", "1", "2"], &[1.0, 2.0, 4.0]), &model(MODEL)).unwrap_err();
    assert_eq!(why.to_string(), "3 rows cannot estimate 3 effect columns and a residual variance: no freedom is left");
}

#[test]
fn a_group_with_one_record_each_is_the_residual() {
    let block = ["1", "2", "3", "4", "5", "6", "7", "8"];
    let why = fit(&table(&MEDIUM, &block, &Y), &model(MODEL)).unwrap_err();
    assert_eq!(why.code(), "group-is-residual");
}

#[test]
fn a_group_that_is_an_effect_gets_a_sentence() {
    let why = fit(&table(&MEDIUM, &MEDIUM, &Y), &model(MODEL)).unwrap_err();
    assert_eq!(why.code(), "group-within-effects");
}

#[test]
fn two_groupings_that_divide_alike_get_a_sentence() {
    let text = MODEL.replace("groups = [[\"block\"]]", "groups = [[\"block\"], [\"block\", \"house\"]]");
    let text = text.replace("\"block\"]\neffects", "\"block\", \"house\"]\neffects");
    let mut columns = table(&MEDIUM, &BLOCK, &Y);
    columns.category("house", &["h"; 8]).unwrap();
    assert_eq!(fit(&columns, &model(&text)).unwrap_err().code(), "groups-alike");
}

#[test]
fn an_infinite_value_is_named_with_its_row() {
    let mut y = Y;
    y[4] = f64::INFINITY;
    let why = fit(&table(&MEDIUM, &BLOCK, &y), &model(MODEL)).unwrap_err();
    assert!(matches!(&why, CannotFit::Infinite { column, row: 5 } if column == "y"), "{why}");
}

#[test]
fn a_missing_value_is_left_out_and_counted() {
    let mut y = Y;
    y[0] = f64::NAN;
    let fit = fit(&table(&MEDIUM, &BLOCK, &y), &model(MODEL)).unwrap();
    assert_eq!((fit.rows_used, fit.rows_left_out), (7, 1));
    json_is_finite(&fit);
}

#[test]
fn a_zero_or_negative_value_has_no_logarithm_and_says_so() {
    let mut y = Y;
    y[2] = 0.0;
    let text = format!("response_scale = \"log\"\n{MODEL}");
    let why = fit(&table(&MEDIUM, &BLOCK, &y), &model(&text)).unwrap_err();
    assert_eq!((why.code(), why.exit_status()), ("value-outside", 2));
}

#[test]
fn a_collinear_covariate_is_not_estimable_and_the_rest_is() {
    let text = MODEL.replace("[[\"medium\"]]\n", "[[\"medium\"], [\"x\"], [\"z\"]]\n");
    let mut columns = table(&MEDIUM, &BLOCK, &Y);
    let x: Vec<f64> = (0..8).map(|i| f64::from((i * 3) % 5)).collect();
    columns.number("z", x.iter().map(|x| 7.0 - 3.0 * x).collect()).unwrap();
    columns.number("x", x).unwrap();
    let fit = fit(&columns, &model(&text)).unwrap();
    assert_eq!(fit.effect_tests.iter().map(|t| t.effect[0].as_str()).collect::<Vec<_>>(), ["medium"]);
    assert_eq!(fit.not_estimable.len(), 2);
    assert!(fit.not_estimable[0].why().contains('z'), "{}", fit.not_estimable[0].why());
    json_is_finite(&fit);
}

#[test]
fn a_constant_covariate_is_not_estimable() {
    let text = MODEL.replace("[[\"medium\"]]\n", "[[\"medium\"], [\"x\"]]\n");
    let mut columns = table(&MEDIUM, &BLOCK, &Y);
    columns.number("x", vec![0.1 + 0.2; 8]).unwrap();
    let fit = fit(&columns, &model(&text)).unwrap();
    assert_eq!(fit.not_estimable[0].why(), "x does not vary in the rows used");
    assert_eq!(fit.differences.len(), 1);
    json_is_finite(&fit);
}

#[test]
fn a_category_of_one_level_is_not_estimable() {
    let fit = fit(&table(&["p"; 8], &BLOCK, &Y), &model(MODEL)).unwrap();
    assert!(fit.effect_tests.is_empty());
    assert_eq!(fit.not_estimable[0].why(), "medium has one level only, p");
    json_is_finite(&fit);
}

#[test]
fn blocks_that_explain_everything_get_a_sentence() {
    let y = [1.0, 2.0, 3.0, 4.0, 0.5, 1.5, 7.0, 8.0];
    let why = fit(&table(&MEDIUM, &BLOCK, &y), &model(MODEL)).unwrap_err();
    assert_eq!(why.code(), "no-residual-variation");
}

#[test]
fn tiny_and_huge_group_variances_are_found_alike() {
    for power in [-6, -3, 0, 3] {
        let lift = 10.0_f64.powi(power);
        let effects = [0.3, -1.1, 0.9, 0.4];
        let y: Vec<f64> = Y.iter().enumerate().map(|(i, y)| y + lift * effects[i / 2]).collect();
        let fit = fit(&table(&MEDIUM, &BLOCK, &y), &model(MODEL)).unwrap();
        json_is_finite(&fit);
        assert!((fit.differences[0].df.unwrap() - 3.0).abs() < 1e-6 || fit.notices.iter().any(|n| n.code == "variance-at-zero"));
    }
}

#[test]
fn two_records_of_a_series_in_one_week_are_named() {
    let text = MODEL.replace("groups = [[\"block\"]]", "") + "[residual.serial]\norder = \"week\"\nwithin = [\"block\"]\n";
    let mut columns = table(&MEDIUM, &BLOCK, &Y);
    columns.number("week", vec![1.0, 2.0, 1.0, 1.0, 1.0, 2.0, 1.0, 2.0]).unwrap();
    let why = fit(&columns, &model(&text)).unwrap_err();
    assert_eq!(why.to_string(), "the series block 2 has two records at week = 1");
}

#[test]
fn a_misspelt_key_is_refused_with_the_nearest_one_and_its_line() {
    let faults = Model::from_toml("response = \"y\"\nefects = []\ngroup = []\nfamily = \"norml\"\n").unwrap_err();
    let lines: Vec<_> = faults.0.iter().map(|fault| fault.line).collect();
    assert_eq!(lines, [Some(2), Some(3), Some(4)]);
    assert!(faults.0[0].mend.contains("\"effects\"") && faults.0[2].mend.contains("\"normal\""), "{faults}");
}

#[test]
fn an_interaction_without_its_parts_and_a_margin_on_the_log_scale_are_both_reported() {
    let text = r#"response = "y"
response_scale = "log"
categories = ["a", "b"]
effects = [["a"], ["a", "b"]]

[[compare]]
means_of = ["a"]
margin = 0.2
"#;
    let faults = Model::from_toml(text).unwrap_err();
    let found: Vec<_> = faults.0.iter().map(|fault| (fault.line, fault.code.code())).collect();
    assert_eq!(found, [(Some(4), "model-parts-missing"), (Some(8), "model-not-together")]);
}

#[test]
fn a_model_survives_its_own_text() {
    let one = model(MODEL);
    assert_eq!(model(&one.to_toml().unwrap()), one);
}

#[test]
fn a_column_that_is_not_there_is_named_with_those_that_are() {
    let why = estimable(&table(&MEDIUM, &BLOCK, &Y), &model(&MODEL.replace("\"y\"", "\"yield\""))).unwrap_err();
    assert_eq!((why.code(), why.exit_status()), ("column-absent", 2));
    assert!(why.to_string().ends_with("its columns are block, medium, y"), "{why}");
}

#[test]
fn a_level_that_is_not_there_is_named_with_those_that_are() {
    let text = MODEL.replace("adjust = \"tukey\"", "pairs = \"against r\"");
    let why = fit(&table(&MEDIUM, &BLOCK, &Y), &model(&text)).unwrap_err();
    assert!(why.to_string().ends_with("its levels are p, q"), "{why}");
}

#[test]
fn every_faulty_column_is_named_at_once() {
    let text = MODEL.replace("effects = [[\"medium\"]]", "effects = [[\"medium\"], [\"dose\"], [\"block\"]]");
    let text =
        text.replace("response = \"y\"", "response = \"yield\"").replace("groups = [[\"block\"]]", "groups = [[\"block\", \"house\"]]");
    let text = text.replace("\"block\"]\neffects", "\"block\", \"house\"]\neffects");
    let why = fit(&table(&MEDIUM, &BLOCK, &Y), &model(&text)).unwrap_err();
    assert_eq!((why.code(), why.exit_status(), why.each().len()), ("column-absent", 2, 3));
    assert!(["\"yield\"", "\"dose\"", "\"house\""].iter().all(|name| why.to_string().contains(name)), "{why}");
}

#[test]
fn infinite_values_of_several_columns_are_named_at_once() {
    let mut columns = table(&MEDIUM, &BLOCK, &[1.0, 2.0, f64::INFINITY, 2.2, 0.9, 2.6, 1.2, 1.9]);
    columns.number("x", vec![0.0, f64::NEG_INFINITY, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0]).unwrap();
    let why = fit(&columns, &model(&MODEL.replace("[[\"medium\"]]\n", "[[\"medium\"], [\"x\"]]\n"))).unwrap_err();
    assert_eq!(why.each().len(), 2, "{why}");
}

#[test]
fn a_site_without_a_value_is_left_out_and_the_rest_is_fitted() {
    let text = MODEL.replace("categories = [", "categories = [\"site\", ").replace("[[\"medium\"]]", "[[\"medium\"], [\"site\"]]");
    let mut y = Y;
    y[6] = f64::NAN;
    y[7] = f64::NAN;
    let mut columns = table(&MEDIUM, &["1", "1", "2", "2", "3", "3", "4", "4"], &y);
    columns.category("site", &["a", "a", "a", "a", "b", "b", "c", "c"]).unwrap();
    let fit = fit(&columns, &model(&text)).unwrap();
    assert_eq!((fit.rows_used, fit.rows_left_out), (6, 2));
    assert_eq!(fit.effect_tests.iter().find(|test| test.effect == ["site"]).unwrap().df_num, 1, "sites a and b only");
    json_is_finite(&fit);
}

#[test]
fn a_grouping_of_ten_thousand_levels_is_fitted() {
    let rows = 20_000;
    let block: Vec<String> = (0..rows).map(|row| format!("k{}", row / 2)).collect();
    let medium: Vec<&str> = (0..rows).map(|row| if row % 2 == 0 { "p" } else { "q" }).collect();
    let noise = |i: usize| ((i * 7919 + 13) % 1009) as f64 / 1009.0;
    let y: Vec<f64> = (0..rows).map(|row| noise(row) + 2.0 * noise(row / 2 + 5) + f64::from(u8::from(row % 2 == 0))).collect();
    let block: Vec<&str> = block.iter().map(String::as_str).collect();
    let fit = fit(&table(&medium, &block, &y), &model(MODEL)).unwrap();
    // Complete blocks: the difference has the residual freedom of the two-way layout, (10000 − 1)(2 − 1).
    assert!((fit.differences[0].df.unwrap() - 9999.0).abs() < 1e-3, "{:?}", fit.differences[0].df);
    json_is_finite(&fit);
}

#[test]
fn a_mean_over_an_empty_cell_names_where_it_can_be_told() {
    let text = MODEL.replace("categories = [", "categories = [\"pot\", ");
    let text = text.replace("[[\"medium\"]]\n", "[[\"medium\"], [\"pot\"], [\"medium\", \"pot\"]]\n");
    let medium = ["p", "q", "p", "q", "p", "p", "p", "q", "p", "q", "p", "p"];
    let pot = ["s", "s", "t", "t", "u", "u", "s", "s", "t", "t", "u", "u"];
    let block = ["1", "1", "1", "1", "1", "2", "2", "2", "2", "2", "2", "1"];
    let y = [1.0, 2.1, 1.4, 2.2, 0.9, 2.6, 1.2, 1.9, 1.1, 2.5, 1.6, 1.3];
    let mut columns = table(&medium, &block, &y);
    columns.category("pot", &pot).unwrap();
    let fit = fit(&columns, &model(&text)).unwrap();
    let why: Vec<&str> = fit.not_estimable.iter().map(|entry| entry.why()).collect();
    let end = "no row at medium q, pot u; the same difference can be estimated at pot s, t";
    assert!(why.contains(&end), "{why:#?}");
    // What is named is what a comparison within pots then estimates.
    let within = text.replace("means_of = [\"medium\"]", "means_of = [\"medium\"]\nwithin = [\"pot\"]");
    let at: Vec<String> =
        crosshouse_mixed::fit(&columns, &model(&within)).unwrap().differences.iter().map(|d| d.within.to_string()).collect();
    assert_eq!(at, ["pot s", "pot t"]);
}
