//! Real input of another crop, with other factors and a harvest log alone: the barley trial of Immer, Hayes & Powers
//! (1934, J. Am. Soc. Agron. 26:403–419). Expected values: a general-purpose mixed-model library, named with its
//! version and calls in `fixtures/barley/expected.json`.
#![allow(clippy::unwrap_used)]

use crosshouse_logs::Silent;
use crosshouse_questions::answers::{Across, Answer, Space};
use serde_json::Value;
use std::path::{Path, PathBuf};

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap().to_path_buf()
}

fn answer() -> Answer {
    let worked = crosshouse::run::work(&root().join("pipelines/barley/season.toml"), &Silent).unwrap();
    assert!(worked.clean.files.iter().all(|f| f.balances()));
    worked.answers.questions.into_iter().next().unwrap()
}

fn across(answer: &Answer, space: Space) -> &Across {
    answer.across.iter().find(|a| a.space == space).unwrap()
}

fn expected(part: &str) -> Value {
    let text = std::fs::read_to_string(root().join("fixtures/barley/expected.json")).unwrap();
    serde_json::from_str::<Value>(&text).unwrap()[part].clone()
}

fn close(got: f64, want: &Value, relative: f64, what: &str) {
    let want = want.as_f64().unwrap();
    assert!((got - want).abs() <= relative * want.abs() + 1e-7, "{what}: {got} against {want}");
}

fn agrees(across: &Across, want: &Value) {
    let means = want["adjusted_means"].as_array().unwrap();
    assert_eq!(across.means.len(), means.len());
    for m in means {
        let variety = m["of"]["variety"].as_str().unwrap();
        let ours = across.means.iter().find(|o| o.of["variety"] == variety).unwrap();
        close(ours.estimate, &m["estimate"], 1e-6, variety);
        close(ours.se, &m["se"], 1e-5, variety);
        close(ours.df.unwrap(), &m["df"], 1e-4, variety);
    }
    let differences = want["differences"].as_array().unwrap();
    assert_eq!(across.differences.len(), differences.len());
    for d in differences {
        let (of, minus) = (d["of"]["variety"].as_str().unwrap(), d["minus"]["variety"].as_str().unwrap());
        let what = format!("{of} minus {minus}");
        let ours =
            across.differences.iter().find(|o| o.of["variety"] == of && o.minus["variety"] == minus).unwrap_or_else(|| panic!("{what}"));
        close(ours.estimate, &d["estimate"], 1e-6, &what);
        close(ours.se, &d["se"], 1e-5, &what);
        close(ours.df.unwrap(), &d["df"], 1e-4, &what);
        close(ours.p_adjusted.unwrap(), &d["p_adjusted"], 5e-4, &what);
        close(ours.low_adjusted.unwrap(), &d["low_adjusted"], 1e-4, &what);
    }
}

#[test]
fn variety_means_and_all_45_differences_at_these_six_sites_agree_with_the_reference_library() {
    agrees(across(&answer(), Space::TheseSites), &expected("these_sites"));
}

#[test]
fn variety_means_and_all_45_differences_at_sites_like_these_agree_with_the_reference_library() {
    agrees(across(&answer(), Space::SitesLikeThese), &expected("sites_like_these"));
}

#[test]
fn a_season_of_other_factors_is_told_without_a_word_of_media_or_containers() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("out");
    let outcome = crosshouse::run::run(&root().join("pipelines/barley/season.toml"), &out, &Silent);
    assert_eq!(outcome.status, 0, "{}", outcome.err);
    let page = std::fs::read_to_string(out.join("report.html")).unwrap().to_lowercase();
    for word in ["perlite", "medium:", "bucket", "growing medium"] {
        assert!(!page.contains(word), "the report of a barley trial speaks of {word}");
    }
}
