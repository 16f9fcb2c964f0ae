//! Designs that a question can and cannot be asked of, from plan and harvest sheets to the answer.
#![allow(clippy::unwrap_used)]

use crosshouse::run::Worked;
use crosshouse_logs::Silent;
use crosshouse_questions::answers::{Answer, Space};
use std::fmt::Write;
use std::path::Path;

/// One unit of a made-up trial: site, block, line, levels of the two factors, kilograms over the season.
struct Made(&'static str, u32, &'static str, &'static str, &'static str, f64);

#[allow(clippy::disallowed_methods)] // inputs of the test
fn put(path: &Path, text: &str) {
    std::fs::create_dir_all(path.parent().unwrap()).unwrap();
    std::fs::write(path, text).unwrap();
}

const SITE: &str = r#"
[site]
name = "NAME"
[[house]]
id = "h"
kind = "tunnel"
[plan]
file = "ID/plan.csv"
[plan.columns]
"unit" = { is = "unit" }
"block" = { is = "block" }
"line" = { is = "line" }
"rind" = { is = "factor", factor = "rind" }
"twine" = { is = "factor", factor = "twine" }
"plants" = { is = "plants" }
[[harvest]]
files = ["ID/picks.csv"]
delimiter = ","
encoding = "utf-8"
decimal = "."
date_style = "year-month-day"
unlisted = "zero"
same_day = "add"
[harvest.columns]
"day" = { is = "date" }
"unit" = { is = "unit" }
"kg" = { is = "mass", unit = "kg" }
"#;

/// Writes, reads and answers: factors "rind" (given to `carrier`) and "twine" (given to the unit).
fn answered(units: &[Made], carrier: &str, question: &str) -> (Worked, Answer) {
    let folder = tempfile::tempdir().unwrap();
    let mut sites: Vec<&str> = units.iter().map(|u| u.0).collect();
    sites.sort_unstable();
    sites.dedup();
    for site in &sites {
        let mut plan = "unit,block,line,rind,twine,plants\n".to_owned();
        let mut picks = "day,unit,kg\n".to_owned();
        for (i, u) in units.iter().enumerate().filter(|(_, u)| u.0 == *site) {
            writeln!(plan, "u{i},{},{},{},{},1", u.1, u.2, u.3, u.4).unwrap();
            writeln!(picks, "2031-05-0{},u{i},{}", 1 + i % 2, u.5).unwrap();
        }
        put(&folder.path().join(format!("logs/{site}/plan.csv")), &plan);
        put(&folder.path().join(format!("logs/{site}/picks.csv")), &picks);
        put(&folder.path().join(format!("season/{site}.toml")), &SITE.replace("NAME", site).replace("ID", site));
    }
    let list: Vec<String> = sites.iter().map(|s| format!("\"{s}.toml\"")).collect();
    let season = format!(
        "[season]\ntitle = \"t\"\ncrop = \"c\"\nyear = \"2031\"\nseed = 1\nlogs = \"../logs\"\nsites = [{}]\n\
         [factors.rind]\nunit_of_assignment = \"{carrier}\"\n[factors.twine]\nunit_of_assignment = \"unit\"\n\
         [[question]]\nid = \"q\"\nask = \"Which?\"\nresponse = \"total-yield-per-plant\"\n{question}",
        list.join(", ")
    );
    put(&folder.path().join("season/season.toml"), &season);
    let worked = crosshouse::run::work(&folder.path().join("season/season.toml"), &Silent).unwrap_or_else(|e| panic!("{e}"));
    let answer = worked.answers.questions[0].clone();
    (worked, answer)
}

/// A full factorial of two rinds and two twines in three blocks at a site, with some noise that sums to nothing obvious.
fn factorial(site: &'static str, shift: f64) -> Vec<Made> {
    let mut units = Vec::new();
    for (b, base) in [(1, 0.00), (2, 0.13), (3, -0.09)] {
        for (r, rind) in ["green", "pale"].into_iter().enumerate() {
            for (t, twine) in ["long", "short"].into_iter().enumerate() {
                let noise = f64::from((b * 7 + r as u32 * 5 + t as u32 * 3) % 4) * 0.05;
                units.push(Made(site, b, "l", rind, twine, 4.0 + shift + base + noise + 0.5 * r as f64 + 0.2 * t as f64));
            }
        }
    }
    units
}

const RIND: &str = "compare = [\"rind\"]\n";

fn codes(worked: &Worked) -> Vec<&str> {
    worked.trial.design.findings.iter().map(|f| f.code.as_str()).collect()
}

#[test]
fn a_factor_that_changes_with_the_site_is_not_estimated_anywhere() {
    let mut units = factorial("ayre", 0.0);
    units.extend(factorial("brough", 0.3));
    units.retain(|u| (u.0 == "ayre") == (u.3 == "green"));
    let (worked, answer) = answered(&units, "unit", RIND);
    assert!(codes(&worked).contains(&"confounded-with-site"), "{:?}", codes(&worked));
    assert!(answer.across.iter().all(|a| a.differences.is_empty()));
    assert!(answer.by_site.iter().all(|s| s.differences.is_empty()));
    assert!(answer.headline.starts_with("No answer"), "{}", answer.headline);
    assert!(answer.cannot_tell.iter().any(|c| c.sites.len() == 2 && c.why.contains("no site grew both")));
}

#[test]
fn two_factors_that_change_together_are_told_as_one_bundle() {
    let mut units = factorial("ayre", 0.0);
    units.extend(factorial("brough", 0.3));
    units.retain(|u| (u.3 == "green") == (u.4 == "long"));
    let (worked, answer) = answered(&units, "unit", RIND);
    assert!(codes(&worked).contains(&"confounded-with-factor"), "{:?}", codes(&worked));
    assert!(answer.across.iter().all(|a| a.differences.is_empty()), "a bundle is no medium");
    assert!(!answer.cannot_tell.is_empty());
}

#[test]
fn an_empty_cell_silences_the_site_that_lacks_it_and_no_other() {
    let mut units = factorial("ayre", 0.0);
    units.extend(factorial("brough", 0.3));
    units.extend(factorial("corrie", -0.2));
    units.retain(|u| !(u.0 == "corrie" && u.3 == "pale" && u.4 == "short"));
    let (_, answer) = answered(&units, "unit", RIND);
    let here = answer.across.iter().find(|a| a.space == Space::TheseSites).unwrap();
    assert_eq!(here.sites, ["ayre", "brough"]);
    assert_eq!(here.differences.len(), 1);
    let silent = answer.by_site.iter().find(|s| s.site == "corrie").unwrap();
    assert!(silent.differences.is_empty() && silent.cannot_tell[0].why.contains("did not grow pale"));
}

/// By hand: of the balanced site every block holds each twine once, so that the mean is the plain one.
#[test]
fn at_a_site_of_one_level_its_mean_is_told_and_no_difference() {
    let mut units = factorial("ayre", 0.0);
    units.extend(factorial("brough", 0.3).into_iter().filter(|u| u.3 == "pale"));
    let plain = units.iter().filter(|u| u.0 == "brough").map(|u| u.5).sum::<f64>() / 6.0;
    let (_, answer) = answered(&units, "unit", RIND);
    let here = answer.by_site.iter().find(|s| s.site == "brough").unwrap();
    assert!(here.differences.is_empty());
    assert_eq!(here.means.len(), 1);
    assert_eq!((here.means[0].of["rind"].as_str(), here.cells.len()), ("pale", 2));
    assert!((here.means[0].estimate - plain).abs() < 1e-9, "{} {plain}", here.means[0].estimate);
}

#[test]
fn within_a_level_that_a_site_grew_whole_it_can_tell_after_all() {
    let mut units = factorial("ayre", 0.0);
    units.extend(factorial("brough", 0.3));
    units.retain(|u| !(u.0 == "brough" && u.3 == "pale" && u.4 == "short"));
    let (_, answer) = answered(&units, "unit", "compare = [\"rind\"]\nwithin = [\"twine\"]\n");
    let told = answer.by_site.iter().find(|s| s.site == "brough").unwrap();
    assert_eq!(told.differences.len(), 1);
    assert_eq!(told.differences[0].within["twine"], "long");
}

#[test]
fn one_line_for_each_level_in_a_house_gives_no_test_there() {
    let lines = |site: &'static str, shift: f64| {
        factorial(site, shift).into_iter().map(|mut u| {
            u.2 = if u.3 == "green" { "line-1" } else { "line-2" };
            u
        })
    };
    let units: Vec<Made> = lines("ayre", 0.0).collect();
    let (worked, answer) = answered(&units, "line", RIND);
    assert!(codes(&worked).contains(&"unreplicated-assignment"), "{:?}", codes(&worked));
    assert!(answer.across.iter().all(|a| a.differences.is_empty()) && answer.by_site.iter().all(|s| s.differences.is_empty()));
    assert!(answer.cannot_tell.iter().any(|c| c.why.contains("subsamples")));
}

#[test]
fn over_four_houses_of_one_line_a_level_the_house_is_the_replicate() {
    let mut units = Vec::new();
    for (site, shift) in [("ayre", 0.0), ("brough", 0.3), ("corrie", -0.2), ("dunt", 0.1)] {
        units.extend(factorial(site, shift).into_iter().map(|mut u| {
            u.2 = if u.3 == "green" { "line-1" } else { "line-2" };
            u.5 += if u.3 == "green" { shift * 0.7 } else { 0.0 };
            u
        }));
    }
    let (_, answer) = answered(&units, "line", RIND);
    assert!(answer.across.iter().all(|a| a.space == Space::SitesLikeThese), "no test at these sites");
    let d = &answer.across[0].differences[0];
    assert!((d.df.unwrap() - 3.0).abs() < 0.5, "freedom is houses − 1, not the number of units: {:?}", d.df);
}

#[test]
fn two_sites_are_too_few_to_speak_of_sites_like_these() {
    let mut units = factorial("ayre", 0.0);
    units.extend(factorial("brough", 0.3));
    let (_, answer) = answered(&units, "unit", RIND);
    let like = answer.across.iter().find(|a| a.space == Space::SitesLikeThese).unwrap();
    assert!(like.fit.is_none() && like.no_fit.as_ref().unwrap().contains("at least three"));
    assert!(answer.across.iter().any(|a| a.space == Space::TheseSites && a.fit.is_some()));
}

#[test]
fn one_site_alone_is_answered_for_itself() {
    let (_, answer) = answered(&factorial("ayre", 0.0), "unit", RIND);
    assert_eq!(answer.across.len(), 1);
    assert_eq!(answer.across[0].differences[0].estimate, answer.by_site[0].differences[0].estimate);
}

#[test]
fn media_grown_at_separate_sets_of_sites_are_told_as_disconnected() {
    let mut units = factorial("ayre", 0.0);
    units.extend(factorial("brough", 0.3).into_iter().map(|mut u| {
        u.3 = if u.3 == "green" { "brown" } else { "red" };
        u
    }));
    let (worked, answer) = answered(&units, "unit", RIND);
    assert!(codes(&worked).contains(&"disconnected"), "{:?}", codes(&worked));
    let told: Vec<_> = answer.by_site.iter().map(|s| s.differences.len()).collect();
    assert_eq!(told, [1, 1], "each site tells its own pair");
    assert!(answer.across.iter().all(|a| a.differences.is_empty()));
}

#[test]
fn a_control_that_nobody_grew_is_told_with_the_levels_that_were() {
    let (_, answer) = answered(&factorial("ayre", 0.0), "unit", "compare = [\"rind\"]\npairs = \"against purple\"\n");
    assert!(answer.headline.contains("the control \"purple\" is no level of rind; grown were green and pale"), "{}", answer.headline);
}
