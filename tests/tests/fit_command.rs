//! `crosshouse fit` as the statistician runs it.
#![allow(clippy::unwrap_used)]

use crosshouse::fit::{Draws, Request, fit};
use serde_json::Value;
use std::path::{Path, PathBuf};

fn case(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../fixtures/reference").join(name)
}

fn result(name: &str, simulate: Option<Draws>) -> Value {
    let (table, model) = (case(name).join("data.csv"), case(name).join("model.toml"));
    let outcome = fit(&Request { simulate, ..Request::of(&table, &model) });
    assert_eq!(outcome.status, 0, "{}", outcome.err);
    serde_json::from_str(&outcome.out).unwrap()
}

#[test]
fn simulating_adds_its_own_key_and_changes_no_number_of_the_fit() {
    let plain = result("split-plot", None);
    let mut simulated = result("split-plot", Some(Draws { count: 10, seed: 2031 }));
    assert!(simulated.as_object_mut().unwrap().remove("simulated").is_some());
    assert_eq!(simulated, plain);
}

#[test]
fn seasons_drawn_from_a_fit_are_the_same_for_the_same_seed_and_others_for_another() {
    let draw = |seed| result("split-plot", Some(Draws { count: 10, seed }))["simulated"]["differences"].clone();
    assert_eq!(draw(2031), draw(2031));
    assert_ne!(draw(2031), draw(2032));
}

#[test]
fn the_spread_of_refitted_differences_is_their_standard_error_and_their_intervals_hold_what_they_say() {
    let simulated = result("split-plot", Some(Draws { count: 600, seed: 1 }))["simulated"].clone();
    assert_eq!(simulated["failed"], 0);
    for d in simulated["differences"].as_array().unwrap() {
        let number = |key: &str| d[key].as_f64().unwrap();
        // A spread of 600 draws is known to 2.9 %; 95 % of 600 to 0.9 points: four of these are allowed.
        assert!((number("spread") / number("mean_se") - 1.0).abs() < 0.12, "{d}");
        assert!((number("covered") - 0.95).abs() < 0.036, "{d}");
    }
}
