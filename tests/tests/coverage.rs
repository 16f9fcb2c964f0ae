//! Interval coverage over generated seasons: is the truth inside as often as the intervals say?
//!
//! Minutes of work, so ignored by default:
//! `cargo test -p crosshouse-tests --test coverage -- --ignored --nocapture`
#![allow(clippy::unwrap_used, clippy::print_stdout)]

use crosshouse_logs::Silent;
use crosshouse_questions::answers::{Across, Answer, Difference, Space};
use crosshouse_tests::demo::station::Station;
use crosshouse_tests::demo::truth::{EFFECTS, UnitTruth, traits};
use crosshouse_tests::demo::units::{Container, Medium};
use crosshouse_tests::demo::{Parts, season_of, write};
use crosshouse_trial::tables::TrialTables;
use std::collections::BTreeMap;

const SEASONS: u64 = 400;

/// Seed before the first: another set of seasons is had by another number.
const AFTER: u64 = 0;

/// How often a kind of interval held the truth.
#[derive(Default)]
struct Tally(BTreeMap<String, (u32, u32)>);

impl Tally {
    fn add(&mut self, kind: &str, inside: bool) {
        let entry = self.0.entry(kind.to_owned()).or_default();
        entry.0 += u32::from(inside);
        entry.1 += 1;
    }

    fn tell(&self) {
        for (kind, (inside, all)) in &self.0 {
            println!("{kind:<80} {inside:>5} of {all:>5}  {:.1} %", 100.0 * f64::from(*inside) / f64::from(*all));
        }
    }

    fn share(&self, kind: &str) -> f64 {
        self.0.get(kind).map_or(0.0, |(inside, all)| f64::from(*inside) / f64::from(*all))
    }
}

fn holds(d: &Difference, truth: f64) -> bool {
    d.low <= truth && truth <= d.high
}

/// The true value of a reported difference over these stations.
fn truth(d: &Difference, stations: &[Station]) -> f64 {
    let within = |factor: &str| d.within.get(factor).map(String::as_str);
    if d.of.contains_key("medium") {
        EFFECTS.blend_minus_perlite(stations, within("container").map(|c| if c == "bucket" { Container::Bucket } else { Container::Pot }))
    } else {
        EFFECTS.bucket_minus_pot(stations, within("medium").map(|m| if m == "blend" { Medium::Blend } else { Medium::Perlite }))
    }
}

fn stations(ids: &[String]) -> Vec<Station> {
    Station::ALL.into_iter().filter(|s| ids.iter().any(|id| id == s.id())).collect()
}

fn judge(answer: &Answer, tally: &mut Tally) {
    for across in &answer.across {
        let kind = if across.space == Space::TheseSites { "at these sites" } else { "at sites like these" };
        // "Sites like these" is about the common effect, not about the deviations of the four stations drawn.
        let truth_of = |d: &Difference| truth(d, &stations(&across.sites));
        for d in &across.differences {
            tally.add(kind, holds(d, truth_of(d)));
            tally.add(&format!("{kind}: {}", answer.id), holds(d, truth_of(d)));
        }
    }
    for site in &answer.by_site {
        for d in &site.differences {
            tally.add("one site", holds(d, truth(d, &stations(std::slice::from_ref(&site.site)))));
        }
    }
}

/// The reason without its digits.
fn cause(why: &str) -> &str {
    why.split(':').next().unwrap_or_default()
}

/// Ratios of fruit numbers and differences of cull shares; the truth of a site is that of its own numbers.
fn judge_counts(answer: &Answer, tally: &mut Tally) {
    let truth = |ids: &[String]| match answer.response.as_str() {
        "fruit-count-per-plant" => EFFECTS.fruit_ratio(&stations(ids), None),
        _ => EFFECTS.cull_share_difference(None),
    };
    let inside = |d: &Difference, truth: f64| {
        let shown = d.published();
        shown.low <= truth && truth <= shown.high
    };
    let refused =
        |why: &String| why.contains("freedom") || why.contains("search") || why.contains("likelihood") || why.contains("told apart");
    for why in answer.by_site.iter().flat_map(|s| &s.cannot_tell).map(|c| &c.why).filter(|w| refused(w)) {
        tally.add(&format!("{}, one site, no answer: {}", answer.response, cause(why)), false);
    }
    for across in &answer.across {
        let kind = if across.space == Space::TheseSites { "at these sites" } else { "at sites like these" };
        if let Some(why) = &across.no_fit {
            tally.add(&format!("{}, {kind}, no answer: {}", answer.response, cause(why)), false);
        }
        for d in &across.differences {
            tally.add(&format!("{}, {kind}", answer.response), inside(d, truth(&across.sites)));
            tally
                .add(&format!("{}, {kind}, large-sample quantiles unwidened", answer.response), large_sample(across, truth(&across.sites)));
        }
        for d in across.beside.iter().flat_map(|b| &b.differences) {
            tally.add(&format!("{}, {kind}, {}", answer.response, across.beside[0].family), inside(d, truth(&across.sites)));
        }
    }
    for site in &answer.by_site {
        for d in &site.differences {
            tally.add(&format!("{}, one site", answer.response), inside(d, truth(std::slice::from_ref(&site.site))));
        }
    }
}

/// Whether the engine's own interval of the fitted scale holds the truth, that of shares by its logits.
fn large_sample(across: &Across, truth: f64) -> bool {
    let Some(d) = across.fit.as_ref().and_then(|f| f.differences.first()) else { return false };
    let shares = |medium: Medium| {
        let logit = |c| {
            let p = traits(medium, c).culls_of_fruit;
            (p / (1.0 - p)).ln()
        };
        (logit(Container::Bucket) + logit(Container::Pot)) / 2.0
    };
    let on_link = if truth > 0.5 { truth.ln() } else { shares(Medium::Blend) - shares(Medium::Perlite) };
    d.low <= on_link && on_link <= d.high
}

/// Reading and cleaning lose no fruit: what each unit is analysed by is the season that it truly had, to the scale's rounding.
fn every_unit_has_its_true_season(seed: u64, truth: &[UnitTruth], trial: &TrialTables) {
    for t in truth {
        let site = trial.sites.iter().find(|s| s.site == t.site.id()).unwrap();
        let unit = site.units.iter().find(|u| u.unit == t.unit).unwrap();
        let analysed = unit.responses["marketable-yield-per-plant"];
        assert!((analysed - t.kg_per_plant).abs() < 0.01, "season {seed}, {} {}: {analysed} for {}", site.site, t.unit, t.kg_per_plant);
    }
}

fn one_season(seed: u64, tally: &mut Tally) {
    let folder = tempfile::tempdir().unwrap();
    let (logs, pipeline) = (folder.path().join("logs"), folder.path().join("season"));
    let season = season_of(seed, &EFFECTS, Parts::Harvest).unwrap();
    write(&season, &logs, &pipeline).unwrap();
    let worked = crosshouse::run::work(&pipeline.join("season.toml"), &Silent).unwrap();
    every_unit_has_its_true_season(seed, &season.truth.unit_season, &worked.trial);
    for answer in worked.answers.questions.iter().filter(|a| a.response == "marketable-yield-per-plant") {
        judge(answer, tally);
    }
    for answer in
        worked.answers.questions.iter().filter(|a| ["fruit-count-per-plant", "cull-share-by-number"].contains(&a.response.as_str()))
    {
        judge_counts(answer, tally);
    }
}

#[test]
#[ignore = "400 seasons: minutes of work"]
fn the_truth_lies_inside_at_least_93_in_100_intervals_over_400_seasons() {
    let mut tally = Tally::default();
    for seed in AFTER + 1..=AFTER + SEASONS {
        one_season(seed, &mut tally);
    }
    tally.tell();
    assert!(tally.share("at these sites") >= 0.93, "at these sites {:.3}", tally.share("at these sites"));
    assert!(tally.share("one site") >= 0.93, "one site {:.3}", tally.share("one site"));
    for kind in ["fruit-count-per-plant, at these sites", "fruit-count-per-plant, one site", "cull-share-by-number, at these sites"] {
        assert!((0.93..=0.975).contains(&tally.share(kind)), "{kind} {:.3}", tally.share(kind));
    }
}
