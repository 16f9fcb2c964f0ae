//! Small hostile tables and models thrown at the engine: a fit whose every number is finite or null, or a sentence
//! with a code and an exit status; never a panic.
#![allow(clippy::unwrap_used)]

use crosshouse_mixed::{
    Adjust, CannotFit, Columns, Compare, Criterion, Estimation, Fit, Freedom, Model, Pairs, Prepared, Residual, Serial, Varying, Weights,
    fit, variance_intervals,
};
use proptest::prelude::*;
use proptest::sample::select;
use proptest::test_runner::RngSeed;
use serde_json::Value;

/// A cell of a numeric column.
fn number() -> impl Strategy<Value = f64> {
    prop_oneof![
        8 => -3.0..3.0_f64,
        4 => select(vec![0.0, 1.0, 1.0, 2.0, -1.0]),
        1 => select(vec![1e9, -1e9, 1e-9, 1e150, 1e300, 5e-324]),
    ]
}

fn column(rows: usize) -> impl Strategy<Value = Vec<f64>> {
    let cell = prop_oneof![30 => number(), 1 => Just(f64::NAN), 1 => select(vec![f64::INFINITY, f64::NEG_INFINITY])];
    prop_oneof![
        6 => prop::collection::vec(number(), rows),
        3 => prop::collection::vec(-2.0..2.0_f64, rows),
        2 => prop::collection::vec(cell, rows),
        1 => number().prop_map(move |value| vec![value; rows]),
        1 => Just((0..rows).map(|row| row as f64).collect()),
    ]
}

fn labels(rows: usize) -> impl Strategy<Value = Vec<String>> {
    let text = |levels: usize| (0..levels).prop_map(|level| format!("l{level}"));
    prop_oneof![
        6 => (1..5_usize).prop_flat_map(move |levels| prop::collection::vec(text(levels), rows)),
        1 => Just((0..rows).map(|row| format!("r{row}")).collect()),
        1 => prop::collection::vec(prop_oneof![9 => text(3), 1 => Just(String::new())], rows),
    ]
}

fn table() -> impl Strategy<Value = Columns> {
    (1..26_usize).prop_flat_map(|rows| {
        let numbers = (column(rows), column(rows), column(rows), prop::collection::vec(0..9_i32, rows));
        (Just(rows), labels(rows), labels(rows), labels(rows), numbers).prop_map(|(rows, a, b, unit, (x, z, y, week))| {
            let mut table = Columns::new(rows);
            for (name, texts) in [("a", a), ("b", b), ("unit", unit)] {
                table.category(name, &texts).unwrap();
            }
            for (name, values) in [("x", x), ("z", z), ("y", y), ("week", week.into_iter().map(f64::from).collect())] {
                table.number(name, values).unwrap();
            }
            table
        })
    })
}

fn names(list: &[&str]) -> Vec<String> {
    list.iter().map(|name| (*name).to_owned()).collect()
}

fn effects() -> impl Strategy<Value = Vec<Vec<String>>> {
    let lists: Vec<&[&[&str]]> = vec![
        &[],
        &[&["a"]],
        &[&["a"], &["b"], &["a", "b"]],
        &[&["a"], &["x"], &["a", "x"]],
        &[&["x"], &["z"], &["x", "z"]],
        &[&["a"], &["unit"]],
    ];
    select(lists).prop_map(|lists| lists.iter().map(|list| names(list)).collect())
}

fn groups() -> impl Strategy<Value = Vec<Vec<String>>> {
    let lists: Vec<&[&[&str]]> = vec![&[], &[&["unit"]], &[&["b"]], &[&["b"], &["b", "unit"]], &[&["b"], &["unit"]], &[&["a", "b"]]];
    select(lists).prop_map(|lists| lists.iter().map(|list| names(list)).collect())
}

fn varying() -> impl Strategy<Value = Vec<Varying>> {
    let one = (any::<bool>(), any::<bool>(), select(vec![vec!["x"], vec!["x", "z"]]), select(vec!["unit", "b"])).prop_map(
        |(correlated, base, effects, over)| Varying {
            over: names(&[over]),
            effects: effects.into_iter().map(|effect| names(&[effect])).collect(),
            correlated,
            base,
        },
    );
    prop::collection::vec(one, 0..2)
}

fn residual() -> impl Strategy<Value = Residual> {
    let by = select(vec![vec![], vec![], names(&["a"]), names(&["a", "b"])]);
    let serial = select(vec![None, None, Some(names(&["unit"])), Some(names(&["a", "unit"]))]);
    (by, serial).prop_map(|(variance_by, within)| Residual {
        variance_by,
        serial: within.map(|within| Serial { order: "week".to_owned(), within }),
    })
}

fn estimation() -> impl Strategy<Value = Estimation> {
    let freedom = select(vec![None, Some(Freedom::KenwardRoger), Some(Freedom::Satterthwaite), Some(Freedom::LargeSample)]);
    (select(vec![None, Some(Criterion::Ml)]), freedom, select(vec![0.95, 0.5, 0.999])).prop_map(|(criterion, freedom, level)| Estimation {
        criterion,
        freedom,
        level,
        nodes: None,
    })
}

fn model() -> impl Strategy<Value = Model> {
    let pairs = select(vec![Pairs::All, Pairs::None, Pairs::AgainstAverage, Pairs::Against("l0".to_owned())]);
    let adjust = select(vec![Adjust::None, Adjust::Tukey, Adjust::Holm, Adjust::Joint]);
    let compare = (pairs, adjust, any::<bool>(), any::<bool>());
    (effects(), groups(), varying(), residual(), estimation(), compare).prop_map(
        |(effects, groups, varying, residual, estimation, (pairs, adjust, observed, letters))| {
            let mut model = Model {
                response: "y".to_owned(),
                categories: names(&["a", "b", "unit"]),
                effects,
                groups,
                varying,
                residual,
                estimation,
                ..Model::default()
            };
            let weights = if observed { Weights::Observed } else { Weights::Equal };
            for name in ["a", "b"] {
                if model.effects.contains(&names(&[name])) {
                    model.compare.push(Compare { pairs: pairs.clone(), adjust, weights, letters, ..Compare::means_of([name]) });
                }
            }
            model
        },
    )
}

/// The places of a null that the result does not foresee.
fn unforeseen_nulls(place: &str, value: &Value, found: &mut Vec<String>) {
    match value {
        Value::Null if !["df", "df_den", "value", "high"].contains(&place) => found.push(place.to_owned()),
        Value::Array(items) => items.iter().for_each(|item| unforeseen_nulls(place, item, found)),
        Value::Object(map) => map.iter().for_each(|(key, item)| unforeseen_nulls(key, item, found)),
        _ => {}
    }
}

/// JSON has no NaN and no infinity: they are written as null.
fn is_sound(fit: &Fit) -> Result<(), TestCaseError> {
    let text = serde_json::to_string(fit).unwrap();
    let mut nulls = Vec::new();
    unforeseen_nulls("", &serde_json::from_str(&text).unwrap(), &mut nulls);
    prop_assert!(nulls.is_empty(), "null at {:?} in {}", nulls, text);
    prop_assert!(serde_json::from_str::<Fit>(&text).is_ok());
    Ok(())
}

fn is_told(why: &CannotFit) -> Result<(), TestCaseError> {
    prop_assert!([2, 3].contains(&why.exit_status()) && !why.to_string().is_empty() && !why.mend().is_empty() && !why.code().is_empty());
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 1000, rng_seed: RngSeed::Fixed(2031), max_shrink_iters: 2000, ..ProptestConfig::default() })]

    #[test]
    fn any_small_table_and_model_get_a_sound_fit_or_a_sentence(table in table(), model in model()) {
        match fit(&table, &model) {
            Ok(fit) => is_sound(&fit)?,
            Err(why) => is_told(&why)?,
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 100, rng_seed: RngSeed::Fixed(2031), max_shrink_iters: 500, ..ProptestConfig::default() })]

    #[test]
    fn intervals_of_variances_are_sound_too(table in table(), model in model()) {
        let Ok(mut prepared) = Prepared::new(&table, &model) else { return Ok(()) };
        let Ok((mut fit, _)) = prepared.fit() else { return Ok(()) };
        match variance_intervals(&mut prepared, &mut fit) {
            Ok(()) => is_sound(&fit)?,
            Err(why) => is_told(&why)?,
        }
        for one in &fit.variance_components {
            if let Some(interval) = one.interval {
                prop_assert!(interval.low <= one.variance * (1.0 + 1e-9) && interval.high.is_none_or(|high| high >= one.variance * (1.0 - 1e-9)), "{:?}", one);
            }
        }
    }
}
