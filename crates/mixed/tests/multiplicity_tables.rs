//! The adjustments against tables and whole families computed elsewhere: files and their
//! sources stand in `fixtures/reference`.
#![allow(clippy::unwrap_used)]

use std::path::PathBuf;

use crosshouse_mixed::multiplicity::{
    Adjust, Compared, adjust, letters, max_abs_t_quantile, max_abs_t_upper, studentized_range_quantile, studentized_range_upper,
};
use serde_json::Value;

fn fixture(path: &str) -> String {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../fixtures/reference");
    std::fs::read_to_string(folder.join(path)).unwrap()
}

/// Rows of a table without its header; the fields used hold no comma.
fn table(name: &str) -> Vec<Vec<String>> {
    let row = |line: &str| line.split(',').map(|field| field.trim_matches('"').to_string()).collect();
    fixture(&format!("tables/{name}")).lines().skip(1).map(row).collect()
}

fn number(text: &str) -> f64 {
    text.parse().unwrap()
}

fn freedom(text: &str) -> Option<f64> {
    (text != "inf").then(|| number(text))
}

/// Half a unit of the last digit written.
fn half_a_digit(text: &str) -> f64 {
    let (digits, exponent) = text.split_once('e').unwrap_or((text, "0"));
    let decimals = digits.split_once('.').map_or(0, |(_, decimals)| decimals.len());
    0.5 * 10_f64.powi(exponent.parse::<i32>().unwrap() - decimals as i32)
}

struct Range {
    kind: String,
    groups: usize,
    df: Option<f64>,
    q: String,
    upper: String,
}

fn studentized_range(kind: &str) -> Vec<Range> {
    let row = |row: Vec<String>| Range {
        kind: row[0].clone(),
        groups: row[1].parse().unwrap(),
        df: freedom(&row[2]),
        q: row[3].clone(),
        upper: row[4].clone(),
    };
    let rows: Vec<Range> = table("studentized-range.csv").into_iter().map(row).collect();
    rows.into_iter().filter(|row| row.kind == kind).collect()
}

#[test]
fn studentized_range_quantiles_agree_to_the_digits_given() {
    let rows = studentized_range("quantile");
    assert!(rows.len() > 400);
    for row in rows {
        let q = studentized_range_quantile(1.0 - number(&row.upper), row.groups, row.df);
        let off = (q - number(&row.q)).abs();
        assert!(off < half_a_digit(&row.q) + 1e-9 * q, "{} {:?} {}: {q}", row.groups, row.df, row.upper);
    }
}

#[test]
fn studentized_range_tails_agree_to_the_digits_given() {
    let rows = studentized_range("tail");
    assert!(rows.len() > 200);
    for row in rows {
        let p = studentized_range_upper(number(&row.q), row.groups, row.df);
        let off = (p - number(&row.upper)).abs();
        // One less a sum in double precision, where the source says so: absolute 1e-14.
        assert!(off < half_a_digit(&row.upper) + 1e-9 * p + 1e-14, "{} {:?} {}: {p}", row.groups, row.df, row.q);
    }
}

#[test]
fn printed_studentized_ranges_agree_to_their_last_figure() {
    for row in studentized_range("printed") {
        let q = studentized_range_quantile(1.0 - number(&row.upper), row.groups, row.df);
        assert!((q - number(&row.q)).abs() < half_a_digit(&row.q), "{} {:?}: {q}", row.groups, row.df);
    }
}

fn equal_correlation(rho: f64, count: usize) -> Vec<f64> {
    (0..count * count).map(|at| if at % (count + 1) == 0 { 1.0 } else { rho }).collect()
}

/// With a known scale the table holds eight decimals. Its values with degrees of freedom
/// do not: for one comparison and 3 degrees of freedom it has 3.18244176, and Student's t
/// is 3.18244631. The chance of passing them is right to 1e-6.
#[test]
fn two_sided_critical_values_against_a_control_agree_to_the_digits_the_table_bears() {
    let rows: Vec<_> = table("dunnett.csv").into_iter().filter(|row| row[0] == "two").collect();
    assert!(rows.len() > 300);
    for row in rows {
        let (level, critical, df) = (number(&row[1]), number(&row[5]), freedom(&row[3]));
        let correlation = equal_correlation(number(&row[4]), row[2].parse().unwrap());
        let found = max_abs_t_quantile(level, &correlation, df);
        let p = max_abs_t_upper(critical, &correlation, df).value;
        let (bears, of_p) = if df.is_none() { (6e-9, 1e-9) } else { (1e-4, 1e-6) };
        assert!((found - critical).abs() < bears, "{row:?}: {found}");
        assert!((p - (1.0 - level)).abs() < of_p, "{row:?}: {p}");
    }
}

#[test]
fn tails_against_a_control_agree_with_multiprecision_sums_to_ten_digits() {
    // The double integral of Dunnett (1955) summed with mpmath 1.3.0, 16 digits.
    let expected: [(f64, f64, usize, f64, f64); 4] = [
        (3.86650945, 0.5, 2, 3.0, 0.0500000149826),
        (3.7, 0.25, 4, 6.0, 0.0334418597965),
        (2.9, 0.5, 9, 20.0, 0.05498794760136),
        (4.5, 0.5, 5, 8.0, 0.007648634802375),
    ];
    for (t, rho, count, df, upper) in expected {
        let p = max_abs_t_upper(t, &equal_correlation(rho, count), Some(df)).value;
        assert!((p / upper - 1.0).abs() < 1e-10, "{t} {rho} {count} {df}: {p}");
    }
}

/// The differences of one family of a reference case.
struct Family {
    adjust: Adjust,
    rows: Vec<Value>,
}

fn expected(case: &str) -> Value {
    serde_json::from_str(&fixture(&format!("{case}/expected.json"))).unwrap()
}

/// Differences gathered by what they are of, where, and how they are adjusted.
fn families(expected: &Value) -> Vec<Family> {
    let mut found: Vec<(String, Family)> = Vec::new();
    for row in expected["differences"].as_array().unwrap() {
        let names: Vec<&String> = row["of"].as_object().unwrap().keys().collect();
        let key = format!("{names:?} {} {}", row["within"], row["adjust"]);
        match found.last_mut() {
            Some((last, family)) if *last == key => family.rows.push(row.clone()),
            _ => {
                let adjust = serde_json::from_value(row["adjust"].clone()).unwrap();
                found.push((key, Family { adjust, rows: vec![row.clone()] }));
            }
        }
    }
    found.into_iter().map(|(_, family)| family).collect()
}

fn levels(rows: &[Value]) -> Vec<Value> {
    let mut levels: Vec<Value> = Vec::new();
    for row in rows {
        for side in [&row["of"], &row["minus"]] {
            if !levels.contains(side) {
                levels.push(side.clone());
            }
        }
    }
    levels
}

/// Means of the family that cannot be estimated: they count among its means all the same.
fn means_not_estimable(case: &Value, row: &Value) -> usize {
    let names = |of: &Value| of.as_object().map(|of| of.keys().cloned().collect::<Vec<_>>());
    let Some(missing) = case["not_estimable"].as_array() else { return 0 };
    let of_family =
        |entry: &&Value| entry["what"] == "mean" && entry["within"] == row["within"] && names(&entry["of"]) == names(&row["of"]);
    missing.iter().filter(of_family).count()
}

fn compared(row: &Value) -> Compared {
    Compared { t: row["t"].as_f64().unwrap(), df: row["df"].as_f64(), p: row["p"].as_f64().unwrap() }
}

/// Correlation of the differences from the standard errors of all pairs at the same place:
/// cov(a − b, c − d) = ½ (V_ad + V_bc − V_ac − V_bd). `None` where a pair was not reported.
fn correlation(case: &Value, rows: &[Value]) -> Option<Vec<f64>> {
    let all = case["differences"].as_array().unwrap();
    let variance = |one: &Value, other: &Value| {
        if one == other {
            return Some(0.0);
        }
        let is_pair = |row: &&Value| {
            row["within"] == rows[0]["within"]
                && ((row["of"] == *one && row["minus"] == *other) || (row["of"] == *other && row["minus"] == *one))
        };
        all.iter().find(is_pair).map(|row| row["se"].as_f64().unwrap().powi(2))
    };
    let mut matrix = Vec::new();
    for one in rows {
        for other in rows {
            let (a, b, c, d) = (&one["of"], &one["minus"], &other["of"], &other["minus"]);
            let covariance = 0.5 * (variance(a, d)? + variance(b, c)? - variance(a, c)? - variance(b, d)?);
            matrix.push(covariance / (variance(a, b)? * variance(c, d)?).sqrt());
        }
    }
    Some(matrix)
}

fn within(found: f64, expected: f64, tolerance: &Value) -> bool {
    let (rel, abs) = (tolerance["rel"].as_f64().unwrap(), tolerance["abs"].as_f64().unwrap());
    (found - expected).abs() <= abs + rel * expected.abs()
}

/// Compares a family with what is expected of it; false where its correlation is not known.
fn agrees(name: &str, case: &Value, family: &Family) -> bool {
    let joint = matches!(family.adjust, Adjust::Joint | Adjust::Dunnett);
    let matrix = if joint { correlation(case, &family.rows) } else { Some(Vec::new()) };
    let Some(matrix) = matrix else { return false };
    let means = levels(&family.rows).len() + means_not_estimable(case, &family.rows[0]);
    let alone: Vec<Compared> = family.rows.iter().map(compared).collect();
    let adjusted = adjust(&alone, family.adjust, 0.95, means, &matrix);
    for (row, found) in family.rows.iter().zip(adjusted) {
        let of = |key: &str| row[key].as_f64();
        let p = of("p_adjusted").unwrap();
        let tolerance = &case["tolerance"];
        assert!(within(found.p, p, &tolerance["p_adjusted"]), "{name} {row}: {found:?}");
        // Where no sampling is behind the expected value, nine digits are to be had.
        if !joint && of("df").is_some() {
            assert!((found.p - p).abs() < 1e-7 * p + 1e-11, "{name} {row}: {found:?}");
        }
        match (found.multiplier, of("low_adjusted"), of("high_adjusted")) {
            (Some(multiplier), Some(low), Some(high)) => {
                let half = multiplier * of("se").unwrap();
                let estimate = of("estimate").unwrap();
                assert!(within(estimate - half, low, &tolerance["low_adjusted"]), "{name} {row}");
                assert!(within(estimate + half, high, &tolerance["high_adjusted"]), "{name} {row}");
            }
            (multiplier, low, high) => assert_eq!((multiplier, low, high), (None, None, None)),
        }
    }
    true
}

#[test]
fn adjusted_families_of_the_reference_cases_agree() {
    let cases = [
        ("complete-blocks", 4),
        ("against-control", 3),
        ("adjusted-for-covariates", 2),
        ("split-plot", 8),
        ("multi-site-kenward-roger", 2),
        ("negative-binomial", 1),
        ("poisson-offset-plain", 1),
        ("log-scale", 1),
        ("empty-cells", 3),
    ];
    for (name, at_least) in cases {
        let case = expected(name);
        let adjusted = families(&case).into_iter().filter(|family| family.adjust != Adjust::None);
        let compared = adjusted.filter(|family| agrees(name, &case, family)).count();
        assert!(compared >= at_least, "{name}: only {compared} families compared");
    }
}

/// The five means of this case are equally precise and their differences normal, so that
/// the joint distribution is the range of five. The expected file has that only to 1.5e-4
/// (0.0209145 where a multiprecision integral of the range, mpmath 1.3.0, gives 0.0210567).
#[test]
fn the_joint_family_of_five_equally_precise_means_is_their_range() {
    let case = expected("variance-by-site");
    let family = families(&case).into_iter().find(|family| family.adjust == Adjust::Joint).unwrap();
    let matrix = correlation(&case, &family.rows).unwrap();
    let alone: Vec<Compared> = family.rows.iter().map(compared).collect();
    let joint = adjust(&alone, Adjust::Joint, 0.95, 5, &matrix);
    let range = adjust(&alone, Adjust::Tukey, 0.95, 5, &[]);
    for ((row, one), other) in family.rows.iter().zip(joint).zip(range) {
        assert!((one.p - other.p).abs() < 5e-6, "{row}: {one:?} {other:?}");
        assert!((one.p - row["p_adjusted"].as_f64().unwrap()).abs() < 1.5e-4, "{row}: {one:?}");
        assert!((one.multiplier.unwrap() - other.multiplier.unwrap()).abs() < 1e-5);
    }
    // p of Peatland − Svansota, t = 3.02381614452506.
    let found = joint_p(&family, &alone, &matrix, 3.02381614452506);
    assert!((found - 0.02105673498).abs() < 1e-6, "{found}");
}

fn joint_p(family: &Family, alone: &[Compared], matrix: &[f64], t: f64) -> f64 {
    let adjusted = adjust(alone, family.adjust, 0.95, 5, matrix);
    alone.iter().zip(adjusted).find(|(one, _)| (one.t - t).abs() < 1e-9).unwrap().1.p
}

fn estimate_of(case: &Value, of: &Value, within: &Value) -> f64 {
    let means = case["adjusted_means"].as_array().unwrap();
    let own = means.iter().find(|mean| mean["of"] == *of && mean["within"] == *within);
    own.unwrap()["estimate"].as_f64().unwrap()
}

/// Letters of a family by level name.
fn lettered(case: &Value, family: &Family, level: f64) -> Vec<(String, String)> {
    let names = levels(&family.rows);
    let within = &family.rows[0]["within"];
    let estimates: Vec<f64> = names.iter().map(|of| estimate_of(case, of, within)).collect();
    let p = |i: usize, j: usize| {
        let is_pair =
            |row: &&Value| [&row["of"], &row["minus"]] == [&names[i], &names[j]] || [&row["of"], &row["minus"]] == [&names[j], &names[i]];
        family.rows.iter().find(is_pair)?["p_adjusted"].as_f64()
    };
    let found = letters(&estimates, p, level).unwrap();
    let name = |of: &Value| of.as_object().unwrap().values().next().unwrap().as_str().unwrap().to_string();
    names.iter().map(name).zip(found).collect()
}

fn share(one: &str, other: &str) -> bool {
    one.chars().any(|letter| other.contains(letter))
}

fn is_of(family: &Family, means_of: &str, place: &str, adjust: &str) -> bool {
    let row = &family.rows[0];
    let within: Vec<String> = row["within"].as_object().unwrap().iter().map(|(k, v)| format!("{k}={}", v.as_str().unwrap())).collect();
    row["of"].get(means_of).is_some() && within.join(";") == place && row["adjust"] == adjust
}

#[test]
fn levels_share_letters_as_in_the_table() {
    let rows = table("letters.csv");
    let mut compared = 0;
    for group in rows.chunk_by(|one, next| one[..5] == next[..5]) {
        let [name, means_of, place, method, alpha] = &group[0][..5] else { unreachable!() };
        let case = expected(name);
        let found = families(&case);
        let family = found.iter().find(|family| is_of(family, means_of, place, method)).unwrap();
        let own = lettered(&case, family, 1.0 - number(alpha));
        let own_of = |level: &str| &own.iter().find(|(name, _)| name == level).unwrap().1;
        for one in group {
            for other in group {
                let expected = share(&one[6], &other[6]);
                assert_eq!(share(own_of(&one[5]), own_of(&other[5])), expected, "{one:?} {other:?}");
                compared += 1;
            }
        }
    }
    assert!(compared > 300);
}
