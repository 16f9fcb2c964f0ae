//! The house: which crate may use which, and how large files may grow.
#![allow(clippy::unwrap_used)]

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// Crates from the bottom up; each may use those listed for it, and no others of ours.
const MAY_USE: [(&str, &[&str]); 10] = [
    ("readings", &[]),
    ("mixed", &[]),
    ("logs", &["readings"]),
    ("survey", &["logs", "readings"]),
    ("trial", &["logs", "readings"]),
    ("questions", &["trial", "mixed", "readings"]),
    ("figures", &["questions", "trial", "readings"]),
    ("report", &["figures", "questions", "trial", "logs", "readings"]),
    ("audit", &["questions", "trial", "logs", "mixed", "readings"]),
    ("crosshouse", &["readings", "logs", "survey", "trial", "mixed", "questions", "figures", "report", "audit"]),
];

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap().to_path_buf()
}

fn dependencies(folder: &str) -> Vec<String> {
    let text = std::fs::read_to_string(root().join("crates").join(folder).join("Cargo.toml")).unwrap();
    let manifest: toml::Table = text.parse().unwrap();
    manifest["dependencies"].as_table().unwrap().keys().cloned().collect()
}

#[test]
fn a_crate_uses_only_the_crates_that_the_house_allows_it() {
    let allowed: BTreeMap<&str, &[&str]> = MAY_USE.into_iter().collect();
    for (folder, may) in &allowed {
        let ours: Vec<String> = dependencies(folder).iter().filter_map(|d| d.strip_prefix("crosshouse-").map(str::to_owned)).collect();
        let strays: Vec<&String> = ours.iter().filter(|d| !may.contains(&d.as_str())).collect();
        assert!(strays.is_empty(), "crates/{folder} may not use {strays:?}");
    }
}

#[test]
fn every_crate_of_the_workspace_is_in_the_house_table() {
    let mut folders: Vec<String> =
        std::fs::read_dir(root().join("crates")).unwrap().map(|e| e.unwrap().file_name().into_string().unwrap()).collect();
    folders.sort();
    let mut named: Vec<&str> = MAY_USE.iter().map(|(f, _)| *f).collect();
    named.sort_unstable();
    assert_eq!(folders, named);
}

#[test]
fn polars_is_used_by_the_trial_crate_alone() {
    let users: Vec<&str> = MAY_USE.iter().map(|(f, _)| *f).filter(|f| dependencies(f).iter().any(|d| d == "polars")).collect();
    assert_eq!(users, ["trial"]);
}

#[test]
fn features_of_third_party_crates_are_declared_in_the_workspace_alone() {
    for (folder, _) in MAY_USE {
        let text = std::fs::read_to_string(root().join("crates").join(folder).join("Cargo.toml")).unwrap();
        assert!(!text.contains("features"), "crates/{folder}/Cargo.toml names features: declare them in the workspace");
    }
}

#[test]
fn the_top_level_holds_what_the_readme_says_and_nothing_else() {
    let expected = [
        "CHANGELOG.md",
        "CITATION.cff",
        "Cargo.lock",
        "Cargo.toml",
        "DEVELOPERS.md",
        "LICENSE-APACHE",
        "LICENSE-MIT",
        "README.md",
        "clippy.toml",
        "crates",
        "fixtures",
        "pipelines",
        "reports",
        "rustfmt.toml",
        "tests",
    ];
    let visible = |name: &String| !name.starts_with('.') && name != "target";
    let mut found: Vec<String> =
        std::fs::read_dir(root()).unwrap().map(|e| e.unwrap().file_name().into_string().unwrap()).filter(visible).collect();
    found.sort();
    let strays: Vec<&String> = found.iter().filter(|f| !expected.contains(&f.as_str())).collect();
    assert!(strays.is_empty(), "strays at the top level: {strays:?}");
}
