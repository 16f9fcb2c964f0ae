//! Doubts in whole small seasons: other limits, rows left out, and what must not change a doubt.
use crate::trial_folder::{CLIMATE, HARVEST, TrialFolder, aside, fault, flag, told};
use crate::{CleanTables, Silent};
use proptest::prelude::*;
use proptest::test_runner::Config;
use std::fmt::Write;

const PICKS: &str = "Date,Bucket,kg,Fruit,Grade\n2031-06-02,B1-01,1.8,2,1\n2031-06-02,B1-02,1,30,1\n2031-06-05,B1-01,0.5,14,1\n";

fn codes(tables: &CleanTables) -> Vec<&str> {
    tables.flags.iter().map(|f| f.code.as_str()).collect()
}

#[test]
fn a_season_raises_a_limit_or_takes_a_rule_out_and_the_doubt_is_gone() {
    let picks = |season: &str| TrialFolder::new(HARVEST).season_also(season).log("picks.csv", PICKS).read();
    assert_eq!(codes(&picks("")), ["heavier-than-count"]);
    let limit = "[[doubts]]\nrule = \"heavier-than-count\"\nlimit = \"fruit\"\nvalue = 950\nunit = \"g\"\nreason = \"a giant\"\n";
    assert!(codes(&picks(limit)).is_empty());
    assert!(codes(&picks("[[doubts]]\nrule = \"heavier-than-count\"\noff = true\nreason = \"counts are trays\"\n")).is_empty());
    let lower = limit.replace("950", "30");
    let tables = picks(&lower);
    assert_eq!(flag(&tables, "heavier-than-count").rows, 3);
    assert!(
        flag(&tables, "heavier-than-count")
            .text
            .ends_with("above 30 g (the usual upper limit of this crop: the season's own limit: a giant)")
    );
}

#[test]
fn a_limit_without_a_reason_of_an_unknown_rule_in_another_unit_is_a_fault_each() {
    let season = "[[doubts]]\nrule = \"heavier-than-count\"\nlimit = \"fruit\"\nvalue = 950\n\
                  [[doubts]]\nrule = \"hevier-than-count\"\nvalue = 9\nreason = \"x\"\n\
                  [[doubts]]\nrule = \"temperature-unusual\"\nlimit = \"above\"\nvalue = 122\nunit = \"°F\"\nreason = \"x\"\n\
                  [[doubts]]\nrule = \"temperature-unusual\"\nvalue = 50\nreason = \"x\"\n\
                  [[leave_out]]\ndoubt = \"gap\"\nreason = \"x\"\n\
                  [[leave_out]]\ndoubt = \"heavy-pick\"\n\
                  [[leave_out]]\ndoubt = \"heavy-pick\"\nsite = \"tarn-holow\"\nreason = \"x\"\n";
    let faults = TrialFolder::new("").season_also(season).declarations().unwrap_err();
    let found: Vec<_> = faults.iter().map(|f| f.code.as_str()).collect();
    let all = ["reason-missing", "doubt-unknown", "limit-unit", "limit-unknown", "doubt-of-no-row", "reason-missing", "site-unknown"];
    assert_eq!(found, all);
    assert!(told(&faults[1]).ends_with("mend did you mean \"heavier-than-count\"?"), "{}", told(&faults[1]));
    assert!(told(&faults[2]).contains("found \"°F\"\nexpected \"°C\""), "{}", told(&faults[2]));
    assert_eq!(faults[3].expected, "above · below");
}

#[test]
fn picks_of_a_doubt_that_the_season_leaves_out_are_set_aside_with_its_reason_and_are_no_zero() {
    let season = "[[leave_out]]\ndoubt = \"heavier-than-count\"\nreason = \"the scale was broken\"\n";
    let tables = TrialFolder::new(HARVEST).season_also(season).log("picks.csv", PICKS).read();
    let out = aside(&tables, "left-out");
    assert_eq!((out.len(), out[0].place.row), (1, Some(2)));
    assert_eq!(out[0].why, "the season leaves out rows with the doubt \"heavier-than-count\": the scale was broken");
    assert_eq!((tables.sites[0].picks.len(), tables.sites[0].unread.len()), (2, 1));
    assert!(flag(&tables, "heavier-than-count").text.ends_with("; left out, as the season file says"));
    assert_eq!((tables.files[1].kept, tables.files[1].set_aside, tables.files[1].flagged), (2, 1, 0));
    let elsewhere = "[[leave_out]]\ndoubt = \"heavier-than-count\"\nsite = \"tarn-hollow\"\nreason = \"x\"\n[[leave_out]]\ndoubt = \"heavy-pick\"\nreason = \"y\"\n";
    assert_eq!(aside(&TrialFolder::new(HARVEST).season_also(elsewhere).log("picks.csv", PICKS).read(), "left-out").len(), 1);
}

#[test]
fn a_doubted_temperature_that_the_season_leaves_out_takes_no_humidity_with_it() {
    let season = "[[leave_out]]\ndoubt = \"temperature-unusual\"\nreason = \"sensor in the sun\"\n";
    let log = "Time,T,RH\n2031-07-04 06:00,50,80\n2031-07-04 06:30,22,79\n2031-07-04 07:00,51,\n";
    let tables = TrialFolder::new(CLIMATE).season_also(season).log("climate.csv", log).read();
    let climate = &tables.sites[0].climate[0];
    assert!(climate.temperature[0].is_nan());
    assert_eq!((climate.humidity.as_slice(), climate.flagged.as_slice()), ([80.0, 79.0].as_slice(), [false, false].as_slice()));
    let out = aside(&tables, "left-out");
    assert_eq!(out.iter().filter(|s| s.whole_row).count(), 1);
    assert_eq!((tables.files[1].kept, tables.files[1].set_aside), (2, 1));
}

#[test]
fn a_value_set_aside_that_is_everyday_in_another_unit_is_told_with_that_unit() {
    let tables = TrialFolder::new(CLIMATE).log("climate.csv", "Time,T,RH\n2031-07-04 06:00,77,80\n").read();
    assert_eq!(fault(&tables, "temperature-impossible").mend, "77 °F would be 25 °C: is that the unit of this cell?");
    let of_code = TrialFolder::new(CLIMATE).log("climate.csv", "Time,T,RH\n2031-07-04 06:00,-127,80\n").read();
    assert!(fault(&of_code, "temperature-impossible").mend.starts_with("correct the cell"));
}

/// Half-hours with odd values strewn in: index, then temperature in tenths °F.
type Odd = (usize, i32);

fn half_hours(odd: &[Odd], stuck: (usize, usize), missing: &[usize]) -> Vec<(usize, i32)> {
    (0..400)
        .filter(|i| !missing.contains(i))
        .map(|i| {
            let plain = 680 + (i % 7) as i32 * 9;
            let stands = (stuck.0..stuck.0 + stuck.1).contains(&i);
            let value = odd.iter().find(|o| o.0 == i).map_or(plain, |o| o.1);
            (i, if stands { 700 } else { value })
        })
        .collect()
}

fn row(&(i, tenths): &(usize, i32), celsius: bool) -> String {
    let fahrenheit = f64::from(tenths) / 10.0;
    let value = if celsius { (fahrenheit - 32.0) * 5.0 / 9.0 } else { fahrenheit };
    format!("2031-07-{:02} {:02}:{:02},{value},{}\n", 1 + i / 48, i / 2 % 24, i % 2 * 30, 60 + i % 7)
}

/// Instants that carry a doubt, and every doubt's code with its number of rows over all files.
fn doubts(files: &[String], celsius: bool) -> (Vec<i64>, Vec<(String, u32)>) {
    let trial = TrialFolder::new(CLIMATE);
    let trial = if celsius { trial } else { trial.edit("unit = \"°C\"", "unit = \"°F\"") };
    let trial = files.iter().enumerate().fold(trial, |t, (i, text)| t.log(&format!("climate-{i}.csv"), text));
    let tables = crate::read_season(&trial.declarations().unwrap(), &Silent);
    let climate = &tables.sites[0].climate[0];
    let instants = climate.instant.iter().zip(&climate.flagged).filter(|(_, f)| **f).map(|(t, _)| *t).collect();
    let mut by_code = std::collections::BTreeMap::new();
    for f in &tables.flags {
        *by_code.entry(f.code.clone()).or_insert(0) += f.rows;
    }
    (instants, by_code.into_iter().collect())
}

fn file<'r>(rows: impl Iterator<Item = &'r (usize, i32)>, celsius: bool) -> String {
    rows.fold("Time,T,RH\n".to_owned(), |mut text, r| {
        let _ = write!(text, "{}", row(r, celsius));
        text
    })
}

proptest! {
    #![proptest_config(Config { cases: 12, ..Config::default() })]

    #[test]
    fn row_order_files_and_the_unit_of_entry_change_no_doubt_of_a_logger(
        odd in prop::collection::vec((0usize..400, 300i32..1400), 0..12),
        stuck in (0usize..380, 0usize..40),
        missing in prop::collection::vec(0usize..400, 0..6),
        cut in 0usize..400,
    ) {
        let rows = half_hours(&odd, stuck, &missing);
        let whole = doubts(&[file(rows.iter(), true)], true);
        prop_assert_eq!(&whole, &doubts(&[file(rows.iter().rev(), true)], true));
        let cut = cut.min(rows.len());
        prop_assert_eq!(&whole, &doubts(&[file(rows[..cut].iter(), true), file(rows[cut..].iter(), true)], true));
        let (even, other): (Vec<_>, Vec<_>) = rows.iter().partition(|r| r.0 % 3 == 0);
        prop_assert_eq!(&whole, &doubts(&[file(even.into_iter(), true), file(other.into_iter(), true)], true));
        prop_assert_eq!(&whole, &doubts(&[file(rows.iter(), false)], false));
    }

    #[test]
    fn row_order_files_and_the_unit_of_entry_change_no_doubt_of_a_pick(
        odd in prop::collection::vec((0usize..60, 1u32..900_000), 0..5),
        cut in 0usize..60,
    ) {
        let grams = |i: usize| odd.iter().find(|o| o.0 == i).map_or(400 + (i as u32 * 37) % 500, |o| o.1);
        let line = |i: usize, kg: bool| {
            let mass = if kg { format!("{}", f64::from(grams(i)) / 1000.0) } else { grams(i).to_string() };
            format!("2031-06-{:02},B1-{:02},{mass},{},1\n", 1 + i / 3, 1 + i % 3, 10 + i % 20)
        };
        let file = |rows: &[usize], kg: bool| rows.iter().fold("Date,Bucket,kg,Fruit,Grade\n".to_owned(), |t, i| t + &line(*i, kg));
        let doubts = |files: &[String], kg: bool| {
            let trial = TrialFolder::new(HARVEST);
            let trial = if kg { trial } else { trial.edit("unit = \"kg\"", "unit = \"g\"") };
            let trial = files.iter().enumerate().fold(trial, |t, (i, text)| t.log(&format!("picks-{i}.csv"), text));
            let mut found: Vec<_> = trial.read().sites[0].picks.iter().map(|p| (p.day, p.unit, p.flags.join(" "))).collect();
            found.sort();
            found
        };
        let all: Vec<usize> = (0..60).collect();
        let back: Vec<usize> = all.iter().rev().copied().collect();
        let whole = doubts(&[file(&all, true)], true);
        prop_assert_eq!(&whole, &doubts(&[file(&back, true)], true));
        prop_assert_eq!(&whole, &doubts(&[file(&all[cut..], true), file(&all[..cut], true)], true));
        prop_assert_eq!(&whole, &doubts(&[file(&all, false)], false));
    }
}
