//! Questions of counts and shares, from plan, pick sheets and diary to the answer.
#![allow(clippy::unwrap_used)]

use crosshouse::run::Worked;
use crosshouse_logs::Silent;
use crosshouse_questions::answers::{Answer, Quantity, Space};
use std::fmt::Write;
use std::path::Path;

/// One unit: site, block, level of "rind", plants, and its picks as (fruit, culls): the texts that the sheet holds.
struct Made {
    site: &'static str,
    block: u32,
    rind: &'static str,
    plants: u32,
    picks: Vec<(String, String)>,
    lost: u32,
}

#[allow(clippy::disallowed_methods)] // inputs of the test
fn put(path: &Path, text: &str) {
    std::fs::create_dir_all(path.parent().unwrap()).unwrap();
    std::fs::write(path, text).unwrap();
}

const SITE: &str = r#"
[site]
name = "NAME"
transplanted = 2031-03-24
ended = 2031-09-30
[[house]]
id = "h"
kind = "tunnel"
[plan]
file = "ID/plan.csv"
[plan.columns]
"unit" = { is = "unit" }
"block" = { is = "block" }
"rind" = { is = "factor", factor = "rind" }
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
"grade" = { is = "grade" }
"kg" = { is = "mass", unit = "kg" }
"fruit" = { is = "count" }
[harvest.grades]
"1" = "marketable"
"C" = "cull"
[[diary]]
files = ["ID/diary.csv"]
delimiter = ","
encoding = "utf-8"
date_style = "year-month-day"
[diary.columns]
"day" = { is = "date" }
"unit" = { is = "unit" }
"what" = { is = "event" }
"plants" = { is = "plants" }
[diary.events]
"died" = "plant-death"
"seen" = "note"
"#;

/// Writes, reads and answers one question of a season.
fn answered(units: &[Made], question: &str) -> (Worked, Answer) {
    let folder = tempfile::tempdir().unwrap();
    let mut sites: Vec<&str> = units.iter().map(|u| u.site).collect();
    sites.sort_unstable();
    sites.dedup();
    for site in &sites {
        let mut plan = "unit,block,rind,plants\n".to_owned();
        let mut picks = "day,unit,grade,kg,fruit\n".to_owned();
        let mut diary = "day,unit,what,plants\n2031-04-01,,seen,\n".to_owned();
        for (i, u) in units.iter().enumerate().filter(|(_, u)| u.site == *site) {
            writeln!(plan, "u{i},{},{},{}", u.block, u.rind, u.plants).unwrap();
            for (n, (fruit, culls)) in u.picks.iter().enumerate() {
                // Each pick weighs a kilogram, culls a tenth of it.
                writeln!(picks, "2031-06-{:02},u{i},1,0.9,{fruit}", n + 1).unwrap();
                if culls != "0" {
                    writeln!(picks, "2031-06-{:02},u{i},C,0.1,{culls}", n + 1).unwrap();
                }
            }
            if u.lost > 0 {
                writeln!(diary, "2031-07-01,u{i},died,{}", u.lost).unwrap();
            }
        }
        put(&folder.path().join(format!("logs/{site}/plan.csv")), &plan);
        put(&folder.path().join(format!("logs/{site}/picks.csv")), &picks);
        put(&folder.path().join(format!("logs/{site}/diary.csv")), &diary);
        put(&folder.path().join(format!("season/{site}.toml")), &SITE.replace("NAME", site).replace("ID", site));
    }
    let list: Vec<String> = sites.iter().map(|s| format!("\"{s}.toml\"")).collect();
    let season = format!(
        "[season]\ntitle = \"t\"\ncrop = \"c\"\nyear = \"2031\"\nseed = 1\nlogs = \"../logs\"\nsites = [{}]\n\
         [factors.rind]\nunit_of_assignment = \"unit\"\n\
         [[question]]\nid = \"q\"\nask = \"Which?\"\ncompare = [\"rind\"]\nsites = \"these\"\n{question}",
        list.join(", ")
    );
    put(&folder.path().join("season/season.toml"), &season);
    let worked = crosshouse::run::work(&folder.path().join("season/season.toml"), &Silent).unwrap_or_else(|e| panic!("{e}"));
    let answer = worked.answers.questions[0].clone();
    (worked, answer)
}

/// Two rinds in six blocks at a site, three picks a unit, numbers that vary by more than chance.
fn site(site: &'static str) -> Vec<Made> {
    let mut units = Vec::new();
    for block in 1..=6u32 {
        for (r, rind) in ["green", "pale"].into_iter().enumerate() {
            let spread = [0, 9, 3, 14, 6, 1][(block as usize + 2 * r) % 6];
            let picks = (0..3u32).map(|n| ((16 + spread + 4 * n + 5 * r as u32).to_string(), (1 + (block + n) % 3).to_string()));
            units.push(Made {
                site,
                block,
                rind,
                plants: 4,
                picks: picks.collect(),
                lost: u32::from((block + r as u32).is_multiple_of(3)),
            });
        }
    }
    units
}

fn two_sites() -> Vec<Made> {
    site("ayre").into_iter().chain(site("brough")).collect()
}

const FRUIT: &str = "response = \"fruit-count-per-plant\"\n";
const CULLS: &str = "response = \"cull-share-by-number\"\n";
const LOST: &str = "response = \"plants-lost\"\n";

#[test]
fn a_count_is_answered_by_a_ratio_and_a_share_by_points_with_the_odds_ratio_beside() {
    let (_, fruit) = answered(&two_sites(), FRUIT);
    let d = &fruit.across[0].differences[0];
    assert_eq!(d.published().quantity, Quantity::Ratio);
    // A ratio is exp of the difference of logarithms, limits and all.
    assert!((d.published().low - d.low.exp()).abs() < 1e-12 && (d.published().high - d.high.exp()).abs() < 1e-12);
    assert!(fruit.headline.contains("times the fruit count of") && fruit.headline.contains("interval of the ratio"), "{}", fruit.headline);
    let (_, culls) = answered(&two_sites(), CULLS);
    let quantities: Vec<Quantity> = culls.across[0].differences[0].shown.iter().map(|s| s.quantity).collect();
    assert_eq!(quantities, [Quantity::DifferenceOfShares, Quantity::OddsRatio]);
    assert!(culls.headline.contains("percentage points lower than") || culls.headline.contains("percentage points higher than"));
}

#[test]
fn the_family_follows_from_the_response_and_can_be_overridden_and_the_other_is_fitted_beside_it() {
    for (response, default, other) in [(FRUIT, "negative-binomial", "poisson"), (CULLS, "beta-binomial", "binomial")] {
        for (stated, own, beside) in [("", default, other), (other, other, default)] {
            let key = if stated.is_empty() { String::new() } else { format!("family = \"{stated}\"\n") };
            let (_, answer) = answered(&two_sites(), &format!("{response}{key}"));
            let across = &answer.across[0];
            assert!(across.model_toml.contains(&format!("family = \"{own}\"")), "{}", across.model_toml);
            assert_eq!(across.beside[0].family, beside);
            let likelihood = answer.likelihood.as_ref().unwrap();
            assert_eq!(likelihood.family, own);
            assert!(likelihood.beside.iter().any(|b| b.contains("fitted in parallel")));
        }
    }
    let (_, normal) = answered(&two_sites(), &format!("{FRUIT}family = \"normal\"\n"));
    assert_eq!(normal.across[0].differences[0].published().quantity, Quantity::Difference);
    assert!(normal.likelihood.is_none());
}

/// By hand: 24 units, 4 cells of site and rind, 12 blocks of which 2 sites are cells already: 24 − 4 − 10 = 10 of the 12
/// that blocks leave.
#[test]
fn differences_have_the_freedom_of_their_stratum_and_a_standard_error_widened_to_it() {
    let (_, answer) = answered(&two_sites(), FRUIT);
    let across = &answer.across[0];
    let (told, engine) = (&across.differences[0], &across.fit.as_ref().unwrap().differences[0]);
    assert_eq!((told.df, engine.df), (Some(10.0), None));
    assert_eq!(told.estimate, engine.estimate);
    assert!((told.se / engine.se - (12.0_f64 / 10.0).sqrt()).abs() < 1e-12);
    // t of 10 degrees, two-sided 5 %: 2.228139 (any printed table).
    assert!(((told.high - told.estimate) / told.se - 2.228_139).abs() < 1e-6);
    assert!(across.why.iter().any(|w| w.contains("10 degrees of freedom by containment")), "{:?}", across.why);
}

#[test]
fn a_cell_of_which_nothing_was_counted_is_told_with_its_exact_interval_and_the_other_site_is_answered() {
    let mut units = two_sites();
    for u in units.iter_mut().filter(|u| u.site == "brough" && u.rind == "pale") {
        u.picks.iter_mut().for_each(|p| p.1 = "0".into());
    }
    let (_, answer) = answered(&units, CULLS);
    let silent: Vec<_> = answer.likelihood.as_ref().unwrap().as_counted.iter().filter(|c| c.left_out).collect();
    let [here] = silent.as_slice() else { panic!("one cell is silent, not {silent:?}") };
    assert_eq!((here.site.as_deref(), here.number, here.left_out), (Some("brough"), 0.0, true));
    assert!((here.high - (1.0 - 0.025_f64.powf(1.0 / here.out_of))).abs() < 1e-12, "Clopper–Pearson of none, by definition");
    let silent = answer.by_site.iter().find(|s| s.site == "brough").unwrap();
    assert!(silent.differences.is_empty() && silent.cannot_tell[0].why.contains("0 culls of"), "{:?}", silent.cannot_tell);
    let told = answer.by_site.iter().find(|s| s.site == "ayre").unwrap();
    assert_eq!(told.differences.len(), 1);
    assert!(told.differences[0].se < 2.0, "never an exploded standard error: {}", told.differences[0].se);
    assert!(answer.cautions.iter().any(|c| c.code == "nothing-or-everything-counted" && c.text.contains("exact 95 % interval")));
}

#[test]
fn where_every_cell_is_silent_the_treatments_are_told_as_counted() {
    let mut units = two_sites();
    units.iter_mut().for_each(|u| u.lost = if u.rind == "pale" { 4 } else { 0 });
    let (_, answer) = answered(&units, LOST);
    assert!(answer.across.iter().all(|a| a.differences.is_empty()));
    assert!(answer.headline.starts_with("No answer"), "{}", answer.headline);
    // 12 units of 4 plants: none and all.
    for said in ["green, 0 plants lost of 48 plants set (0.0 %", "pale, 48 plants lost of 48 plants set (100.0 %"] {
        assert!(answer.headline.contains(said), "{}", answer.headline);
    }
}

#[test]
fn a_unit_of_no_plants_has_no_count_a_plant_and_no_share_and_silences_nobody() {
    let mut units = two_sites();
    units[3].plants = 0;
    units[3].lost = 0;
    for (question, used) in [(FRUIT, 23), (LOST, 23), (CULLS, 24)] {
        let (_, answer) = answered(&units, question);
        let rows: usize = answer.across.iter().filter_map(|a| a.fit.as_ref()).map(|f| f.rows_used).sum();
        assert!(answer.across[0].fit.is_some(), "{:?}", answer.across[0].no_fit);
        assert_eq!(rows, used, "{question}");
    }
}

#[test]
fn a_pick_that_was_not_counted_lowers_the_exposure_by_its_share_of_the_mass() {
    let mut units = two_sites();
    // One pick of six in a unit of 4 plants: 1 kg of 6 is not counted.
    units[0].picks = (0..6).map(|n| (if n == 2 { String::new() } else { "20".to_owned() }, "2".to_owned())).collect();
    // Two picks of three: too little is counted.
    units[5].picks[0].0 = String::new();
    units[5].picks[1].0 = String::new();
    let (worked, answer) = answered(&units, FRUIT);
    let unit = |id: &str| worked.trial.sites[0].units.iter().find(|u| u.unit == id).unwrap().clone();
    let counted = unit("u0").counted["fruit-count-per-plant"];
    // The day's culls go with the day.
    assert_eq!(counted.number, 5.0 * 22.0);
    assert!((counted.of - 4.0 * 5.0 / 6.0).abs() < 1e-12, "{}", counted.of);
    assert!(!unit("u5").counted.contains_key("fruit-count-per-plant"));
    assert!(worked.trial.not_given.iter().any(|n| n.why.contains("no fruit count for u5 at ayre")), "{:?}", worked.trial.not_given);
    assert_eq!(answer.across[0].fit.as_ref().unwrap().rows_used, 23);
}

#[test]
fn a_count_that_is_no_whole_number_is_set_aside_and_its_pick_counts_as_not_counted() {
    let mut units = two_sites();
    units[0].picks = (0..6).map(|n| (if n == 2 { "20.5".to_owned() } else { "20".to_owned() }, "2".to_owned())).collect();
    let (worked, answer) = answered(&units, FRUIT);
    assert!(worked.clean.set_aside.iter().any(|s| s.found == "20.5"), "{:?}", worked.clean.set_aside);
    let counted = worked.trial.sites[0].units[0].counted["fruit-count-per-plant"];
    assert!(counted.number.fract() == 0.0 && counted.of < 4.0, "{counted:?}");
    assert_eq!(answer.across[0].fit.as_ref().unwrap().rows_used, 24);
}

#[test]
fn without_a_diary_nobody_says_that_plants_lived() {
    let folder = two_sites();
    let (worked, _) = answered(&folder, LOST);
    assert!(worked.trial.sites.iter().flat_map(|s| &s.units).all(|u| u.counted.contains_key("plants-lost")));
    let barley = Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap().join("pipelines/barley/season.toml");
    let barley = crosshouse::run::work(&barley, &Silent).unwrap();
    assert!(barley.trial.sites.iter().flat_map(|s| &s.units).all(|u| !u.counted.contains_key("plants-lost")));
}

#[test]
fn a_normal_response_on_the_log_scale_is_answered_by_a_ratio_of_geometric_means() {
    let (_, answer) = answered(&two_sites(), &format!("{FRUIT}family = \"normal\"\nresponse_scale = \"log\"\n"));
    let across = &answer.across[0];
    let (d, shown) = (&across.differences[0], across.differences[0].published());
    assert_eq!((across.space, shown.quantity), (Space::TheseSites, Quantity::Ratio));
    assert!((shown.estimate - d.estimate.exp()).abs() < 1e-12);
    let mean = across.means[0].published();
    assert_eq!(mean.quantity, Quantity::GeometricMean);
    assert!(mean.estimate > 1.0 && (mean.estimate.ln() - across.means[0].estimate).abs() < 1e-12);
}

#[test]
fn the_same_season_and_seed_give_the_same_quantile_residuals() {
    let residuals = || answered(&two_sites(), FRUIT).1.across[0].residuals.clone();
    let (one, two) = (residuals(), residuals());
    assert_eq!(one.len(), 24);
    assert_eq!(one, two);
    assert!(one.iter().all(|r| r.residual.abs() < 5.0 && r.fitted > 1.0));
}
