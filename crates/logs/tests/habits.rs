//! The table of habits in DEVELOPERS.md names tests that exist.
#![allow(clippy::unwrap_used)]

use std::path::{Path, PathBuf};

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap().parent().unwrap().to_path_buf()
}

fn sources(folder: &Path, into: &mut String) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            sources(&path, into);
        } else if path.extension().is_some_and(|e| e == "rs") {
            into.push_str(&std::fs::read_to_string(path).unwrap());
        }
    }
}

/// Rows of the table: habit, how it is declared, tests.
fn rows() -> Vec<[String; 3]> {
    let text = std::fs::read_to_string(root().join("DEVELOPERS.md")).unwrap();
    let section = text.split("\n## Habits of keeping logs\n").nth(1).unwrap().split("\n## ").next().unwrap().to_owned();
    let cells = |line: &str| line.trim_matches('|').split(" | ").map(|c| c.trim().to_owned()).collect::<Vec<_>>();
    section
        .lines()
        .filter(|l| l.starts_with("| "))
        .skip(1)
        .map(|l| cells(l).try_into().unwrap_or_else(|c| panic!("not three cells: {c:?}")))
        .collect()
}

#[test]
fn every_habit_of_the_table_has_a_test_that_exists() {
    let mut text = String::new();
    for folder in ["crates/readings/src", "crates/logs/src", "crates/trial/src", "tests/tests"] {
        sources(&root().join(folder), &mut text);
    }
    let rows = rows();
    assert!(rows.len() > 30, "{}", rows.len());
    for [habit, _, tests] in rows {
        let names: Vec<&str> = tests.split('`').skip(1).step_by(2).collect();
        assert!(!names.is_empty(), "no test is named for: {habit}");
        for name in names {
            assert!(text.contains(&format!("fn {name}(")), "{habit}: no test {name}");
        }
    }
}
