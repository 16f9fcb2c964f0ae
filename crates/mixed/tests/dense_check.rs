//! The engine against a plain dense evaluation of the same formulas, written out once more with
//! n × n matrices, on small random designs: likelihood, estimates, standard errors, Kenward–Roger and
//! Satterthwaite. At the variances that the engine reports both must give the same numbers.
#![allow(clippy::unwrap_used, clippy::needless_range_loop)]

mod dense;

use crosshouse_mixed::{Columns, Fit, Freedom, Model, fit};
use dense::{Dense, Parameter, Season};

fn named(list: &[&[&str]]) -> Vec<Vec<String>> {
    list.iter().map(|names| names.iter().map(|name| (*name).to_owned()).collect()).collect()
}

fn model(text: &str) -> Model {
    let head = r#"
response = "y"
categories = ["a", "b", "site", "block", "plot"]
effects = [["a"], ["b"], ["a", "b"], ["x"]]
"#;
    let tail = r#"
[[compare]]
means_of = ["a"]
[[compare]]
means_of = ["b"]
within = ["a"]
"#;
    Model::from_toml(&format!("{head}{text}{tail}")).unwrap()
}

fn close(what: &str, found: f64, expected: f64, relative: f64) {
    let allowed = relative * expected.abs().max(1e-6);
    assert!((found - expected).abs() <= allowed, "{what}: found {found:?}, dense {expected:?}");
}

/// Compares everything that a fit reports with its dense evaluation.
fn compare(season: &Season, model: &Model, parameters: Vec<Parameter>, values: impl Fn(&Fit) -> Vec<f64>) {
    let table: Columns = season.columns();
    let fit = fit(&table, model).unwrap();
    let dense = Dense::new(season, parameters, values(&fit));
    close("log-likelihood", fit.log_likelihood, dense.log_likelihood(), 1e-9);
    let steepest = dense.steepest_slope();
    assert!(steepest < 1e-5, "not at the optimum: slope {steepest}");
    let kenward_roger = model.freedom() == Freedom::KenwardRoger;
    let tolerance = if kenward_roger { 1e-7 } else { 2e-3 };
    for mean in &fit.adjusted_means {
        let at = |name: &str| mean.of.get(name).or(mean.within.get(name));
        let contrast = dense.mean(at("a"), at("b"));
        close("mean", mean.estimate, dense.estimate(&contrast), 1e-8);
        close("standard error", mean.se, dense.standard_error(&contrast, kenward_roger), 1e-7);
        close("freedom", mean.df.unwrap(), dense.freedom(&contrast, kenward_roger), tolerance);
    }
    for difference in &fit.differences {
        let at = |of: &crosshouse_mixed::Levels, name: &str| of.get(name).or(difference.within.get(name)).map(str::to_owned);
        let one = dense.mean(at(&difference.of, "a").as_deref(), at(&difference.of, "b").as_deref());
        let other = dense.mean(at(&difference.minus, "a").as_deref(), at(&difference.minus, "b").as_deref());
        let contrast: Vec<f64> = one.iter().zip(&other).map(|(x, y)| x - y).collect();
        close("difference", difference.estimate, dense.estimate(&contrast), 1e-7);
        close("its error", difference.se, dense.standard_error(&contrast, kenward_roger), 1e-7);
        close("its freedom", difference.df.unwrap(), dense.freedom(&contrast, kenward_roger), tolerance);
    }
    assert_eq!(fit.effect_tests.len(), 4);
    if kenward_roger {
        for test in &fit.effect_tests {
            let (f, df) = dense.test(&dense.columns_of(&test.effect));
            close("F", test.f, f, 1e-7);
            close("its denominator", test.df_den.unwrap(), df, 1e-6);
        }
    }
}

fn variances(fit: &Fit) -> Vec<f64> {
    fit.variance_components.iter().map(|component| component.variance).collect()
}

#[test]
fn nested_and_crossed_groups_agree_with_the_dense_evaluation() {
    let model = model(r#"groups = [["site"], ["site", "block"], ["plot"]]"#);
    for seed in 1..4 {
        let season = Season::new(seed, 70);
        let parameters = vec![
            Parameter::Group(named(&[&["site"]]).remove(0)),
            Parameter::Group(named(&[&["site", "block"]]).remove(0)),
            Parameter::Group(named(&[&["plot"]]).remove(0)),
            Parameter::Residual(None),
        ];
        compare(&season, &model, parameters, variances);
    }
}

#[test]
fn correlated_slopes_agree_with_the_second_derivative_term() {
    let text = "[[varying]]\nover = [\"plot\"]\neffects = [[\"x\"]]\ncorrelated = true\n";
    let season = Season::new(11, 80);
    let over = vec!["plot".to_owned()];
    let parameters =
        vec![Parameter::Base(over.clone()), Parameter::Slope(over.clone()), Parameter::Correlation(over), Parameter::Residual(None)];
    compare(&season, &model(text), parameters, |fit| {
        let v = variances(fit);
        vec![v[0], v[1], fit.correlations[0].value.unwrap(), v[2]]
    });
}

#[test]
fn autocorrelation_with_gaps_beside_groups_and_variances_by_site_agrees() {
    let text = r#"groups = [["site", "block"]]
[residual]
variance_by = ["site"]
[residual.serial]
order = "week"
within = ["plot"]
"#;
    let season = Season::new(5, 90);
    let parameters = vec![
        Parameter::Group(vec!["site".to_owned(), "block".to_owned()]),
        Parameter::Residual(Some("s0".to_owned())),
        Parameter::Residual(Some("s1".to_owned())),
        Parameter::Residual(Some("s2".to_owned())),
        Parameter::Serial,
    ];
    compare(&season, &model(text), parameters, |fit| {
        let mut values = variances(fit);
        values.push(fit.serial.unwrap().correlation);
        values
    });
}

#[test]
fn satterthwaite_agrees_with_numerical_second_derivatives() {
    let text = r#"groups = [["site", "block"], ["plot"]]
[estimation]
freedom = "satterthwaite"
"#;
    let season = Season::new(8, 75);
    let parameters = vec![
        Parameter::Group(vec!["site".to_owned(), "block".to_owned()]),
        Parameter::Group(vec!["plot".to_owned()]),
        Parameter::Residual(None),
    ];
    compare(&season, &model(text), parameters, variances);
}

#[test]
fn satterthwaite_with_autocorrelation_agrees_with_numerical_second_derivatives() {
    let text = r#"groups = [["site", "block"]]
[residual.serial]
order = "week"
within = ["plot"]
[estimation]
freedom = "satterthwaite"
"#;
    let season = Season::new(21, 90);
    let parameters = vec![Parameter::Group(vec!["site".to_owned(), "block".to_owned()]), Parameter::Residual(None), Parameter::Serial];
    compare(&season, &model(text), parameters, |fit| {
        let mut values = variances(fit);
        values.push(fit.serial.unwrap().correlation);
        values
    });
}
