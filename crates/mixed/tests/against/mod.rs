//! Reads a reference case and compares a fit with it: the matching and the tolerances of the
//! case's expected.json.
#![allow(dead_code, clippy::unwrap_used, clippy::panic)]

use std::collections::BTreeMap;
use std::path::PathBuf;

use crosshouse_mixed::{Columns, Model, fit};
use serde_json::{Map, Value};

/// For each list of the result: the keys that say which entry it is.
fn identity_keys(section: &str) -> Option<&'static [&'static str]> {
    Some(match section {
        "variance_components" => &["group", "effect", "level"],
        "correlations" => &["group", "between"],
        "effect_tests" => &["effect"],
        "adjusted_means" => &["of", "within"],
        "differences" => &["of", "minus", "within", "adjust"],
        "not_estimable" => &["what", "effect", "of", "minus", "within"],
        "notices" => &["code"],
        _ => return None,
    })
}

const UNORDERED: [&str; 3] = ["group", "effect", "between"];
const NOT_COMPARED: [&str; 11] =
    ["source", "reference", "tolerance", "published", "agreement", "partial", "exit", "mentions", "note", "text", "why"];
const OPEN: [&str; 2] = ["notices", "not_estimable"];

pub fn folder(case: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../fixtures/reference").join(case)
}

fn cells(line: &str) -> Vec<String> {
    let mut cells = vec![String::new()];
    let mut quoted = false;
    for c in line.chars() {
        match c {
            '"' => quoted = !quoted,
            ',' if !quoted => cells.push(String::new()),
            c => cells.last_mut().unwrap().push(c),
        }
    }
    cells
}

/// The case's table, its categories as the model says.
pub fn table(case: &str, model: &Model) -> Columns {
    let text = std::fs::read_to_string(folder(case).join("data.csv")).unwrap();
    columns(&text, model)
}

pub fn columns(text: &str, model: &Model) -> Columns {
    let mut lines = text.lines().filter(|line| !line.is_empty());
    let names = cells(lines.next().unwrap());
    let rows: Vec<Vec<String>> = lines.map(cells).collect();
    let mut table = Columns::new(rows.len());
    for (place, name) in names.iter().enumerate() {
        let texts: Vec<&str> = rows.iter().map(|row| row[place].as_str()).collect();
        if model.categories.contains(name) {
            table.category(name, &texts).unwrap();
        } else if let Ok(numbers) =
            texts.iter().map(|t| if t.is_empty() { Ok(f64::NAN) } else { t.parse() }).collect::<Result<Vec<f64>, _>>()
        {
            table.number(name, numbers).unwrap();
        }
    }
    table
}

pub fn model(case: &str) -> Model {
    let text = std::fs::read_to_string(folder(case).join("model.toml")).unwrap();
    Model::from_toml(&text).unwrap_or_else(|faults| panic!("{case}: {faults}"))
}

/// Every mismatch between the fit of a case and what is expected.
pub fn mismatches(case: &str) -> Vec<String> {
    let model = model(case);
    let fit = fit(&table(case, &model), &model).unwrap_or_else(|why| panic!("{case}: {why}"));
    let got: Value = serde_json::from_str(&serde_json::to_string(&fit).unwrap()).unwrap();
    let expected = std::fs::read_to_string(folder(case).join("expected.json")).unwrap();
    compare(&got, &serde_json::from_str(&expected).unwrap())
}

pub fn agrees(case: &str) {
    let mismatches = mismatches(case);
    assert!(mismatches.is_empty(), "{case}:\n{}", mismatches.join("\n"));
}

fn compare(got: &Value, want: &Value) -> Vec<String> {
    let tolerance = want.get("tolerance").and_then(Value::as_object).cloned().unwrap_or_default();
    let mut check = Check { tolerance, faults: Vec::new() };
    for (key, expected) in want.as_object().unwrap() {
        if NOT_COMPARED.contains(&key.as_str()) {
            continue;
        }
        match identity_keys(key) {
            Some(_) => check.list(key, got.get(key).unwrap_or(&Value::Array(Vec::new())), expected),
            None => check.value(key, key, key, got.get(key).unwrap_or(&Value::Null), expected),
        }
    }
    check.contradictions(got, want);
    check.faults
}

struct Check {
    tolerance: Map<String, Value>,
    faults: Vec<String>,
}

fn frozen(value: &Value, unordered: bool) -> String {
    match value {
        Value::Object(map) => {
            let sorted: BTreeMap<_, _> = map.iter().map(|(k, v)| (k, frozen(v, false))).collect();
            format!("{sorted:?}")
        }
        Value::Array(items) => {
            let mut items: Vec<String> = items.iter().map(|item| frozen(item, false)).collect();
            if unordered {
                items.sort();
            }
            format!("{items:?}")
        }
        other => other.to_string(),
    }
}

fn is_empty(value: &Value) -> bool {
    match value {
        Value::Null => true,
        Value::Array(items) => items.is_empty(),
        Value::Object(map) => map.is_empty(),
        _ => false,
    }
}

fn identity(keys: &[&str], entry: &Value) -> Vec<String> {
    let part = |key: &&str| match entry.get(*key) {
        Some(value) if !is_empty(value) => frozen(value, UNORDERED.contains(key)),
        _ => String::new(),
    };
    keys.iter().map(part).collect()
}

impl Check {
    fn allowed(&self, section: &str, key: &str) -> (f64, f64) {
        for name in [format!("{section}.{key}"), key.to_owned(), "default".to_owned()] {
            if let Some(t) = self.tolerance.get(&name) {
                let of = |which: &str| t.get(which).and_then(Value::as_f64).unwrap_or(0.0);
                return (of("rel"), of("abs"));
            }
        }
        (1e-6, 1e-9)
    }

    fn value(&mut self, place: &str, section: &str, key: &str, got: &Value, want: &Value) {
        match want {
            Value::Object(map) => {
                for (k, v) in map {
                    self.value(&format!("{place}.{k}"), section, k, got.get(k).unwrap_or(&Value::Null), v);
                }
            }
            Value::Number(number) if !["rows_used", "rows_left_out", "df_num"].contains(&key) => {
                let want = number.as_f64().unwrap();
                let (rel, abs) = self.allowed(section, key);
                let allowed = abs + rel * want.abs();
                match got.as_f64() {
                    Some(got) if (got - want).abs() <= allowed => {}
                    Some(got) => self.faults.push(format!(
                        "{place}: expected {want:?}, found {got:?} (off by {:.3e}, allowed {allowed:.3e})",
                        (got - want).abs()
                    )),
                    None => self.faults.push(format!("{place}: expected {want:?}, found {got}")),
                }
            }
            _ if got == want => {}
            _ => self.faults.push(format!("{place}: expected {want}, found {got}")),
        }
    }

    fn entry(&self, section: &str, keys: &[&str], got: &Value, want: &Value) -> Vec<String> {
        let mut own = Check { tolerance: self.tolerance.clone(), faults: Vec::new() };
        for (key, v) in want.as_object().unwrap() {
            if !keys.contains(&key.as_str()) && !NOT_COMPARED.contains(&key.as_str()) {
                let place = format!("{section}{:?} {key}", identity(keys, want));
                own.value(&place, section, key, got.get(key).unwrap_or(&Value::Null), v);
            }
        }
        own.faults
    }

    fn list(&mut self, section: &str, got: &Value, want: &Value) {
        let keys = identity_keys(section).unwrap();
        let mut have: BTreeMap<Vec<String>, Vec<&Value>> = BTreeMap::new();
        for entry in got.as_array().unwrap() {
            have.entry(identity(keys, entry)).or_default().push(entry);
        }
        let mut wanted = Vec::new();
        for entry in want.as_array().unwrap() {
            let key = identity(keys, entry);
            match have.get(&key) {
                None => self.faults.push(format!("{section}{key:?}: missing")),
                Some(candidates) => {
                    let nearest = candidates.iter().map(|got| self.entry(section, keys, got, entry)).min_by_key(Vec::len);
                    self.faults.extend(nearest.unwrap());
                }
            }
            wanted.push(key);
        }
        if !OPEN.contains(&section) {
            let extra = have.keys().filter(|key| !wanted.contains(key));
            self.faults.extend(extra.map(|key| format!("{section}{key:?}: not expected")));
        }
    }

    fn contradictions(&mut self, got: &Value, want: &Value) {
        let empty = Vec::new();
        for entry in want.get("not_estimable").and_then(Value::as_array).unwrap_or(&empty) {
            let (section, keys): (&str, &[&str]) = match entry["what"].as_str().unwrap() {
                "effect" => ("effect_tests", &["effect"]),
                "mean" => ("adjusted_means", &["of", "within"]),
                _ => ("differences", &["of", "minus", "within"]),
            };
            let listed = got.get(section).and_then(Value::as_array).unwrap_or(&empty);
            if listed.iter().any(|other| identity(keys, other) == identity(keys, entry)) {
                self.faults.push(format!("{section}{:?}: estimated, although the cells cannot tell", identity(keys, entry)));
            }
        }
    }
}
