//! Whatever the files hold, the draft is TOML whose only faults are its open questions.
#![allow(clippy::unwrap_used, clippy::disallowed_methods)]

use crosshouse_readings::declared::Declared;
use crosshouse_survey::{Request, survey};
use proptest::prelude::*;

fn cell() -> impl Strategy<Value = String> {
    let words = [
        "Date",
        "Tag",
        "kg",
        "Temp",
        "Time",
        "Grade",
        "Medium",
        "Plants",
        "Feed",
        "pH",
        "EC",
        "2031-06-13",
        "05/06/2031",
        "W24",
        "KW 24",
        "2031-W25",
        "1.250",
        "1,5",
        "12",
        "-999",
        "n/a",
        "2 lb 3 oz",
        "°F",
        "6:30 PM",
        "Total",
        "# x",
        "?",
        "",
        "",
        "x\" y",
        "a = 1",
        "]",
        "B2-07",
        "\u{202e}z",
        "Note",
    ];
    prop_oneof![8 => proptest::sample::select(words.to_vec()).prop_map(str::to_owned), 1 => "[^\\x00]{0,6}"]
}

fn drafts(text: &[u8], name: &str) -> Vec<String> {
    drafts_of(&[(name, text)])
}

fn drafts_of(files: &[(&str, &[u8])]) -> Vec<String> {
    let folder = tempfile::tempdir().unwrap();
    let write = |(name, text): &(&str, &[u8])| {
        let path = folder.path().join(name);
        std::fs::write(&path, text).unwrap();
        path
    };
    let paths: Vec<_> = files.iter().map(write).collect();
    let request = Request { files: &paths, logs: None, factors: None, season: Some((folder.path(), "a.toml")) };
    survey(&request).map(|s| [Some(s.site), s.season].into_iter().flatten().collect()).unwrap_or_default()
}

fn only_questions(draft: &str) -> Result<(), TestCaseError> {
    let file = Declared::new("a.toml", draft);
    file.root();
    let others: Vec<_> = file.into_faults().into_iter().filter(|f| f.code != "question-open").collect();
    prop_assert!(others.is_empty(), "{others:#?}\n{draft}");
    Ok(())
}

/// Seeds of the fuzz target: a byte for the ending, then files parted by the byte 0x1E.
#[test]
fn every_seed_of_the_fuzz_target_is_drafted_as_toml() {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/fuzz/seeds/survey");
    let mut drafted = 0;
    for entry in std::fs::read_dir(folder).unwrap() {
        let seed = std::fs::read(entry.unwrap().path()).unwrap();
        let names = if seed[0] == 1 { ["a.txt", "b.txt", "c.txt"] } else { ["a.csv", "b.csv", "c.csv"] };
        let files: Vec<(&str, &[u8])> = names.into_iter().zip(seed[1..].splitn(3, |b| *b == 0x1E)).collect();
        let drafts = drafts_of(&files);
        drafts.iter().for_each(|draft| only_questions(draft).unwrap());
        drafted += drafts.len();
    }
    assert!(drafted > 10, "{drafted} drafts");
}

#[test]
fn a_second_plan_makes_no_second_factor_of_the_season_file() {
    let first = b"No,Block,Bench,Place,Medium,Container,Plants\nW01,1,1,1,perlite,pot,2\nW02,1,1,2,blend,pot,2\n";
    let second = b"Unit,Block,Container,Plants\nW03,2,pot,2\nW04,2,bucket,2\n";
    let drafts = drafts_of(&[("a.csv", first), ("b.csv", second)]);
    assert!(drafts[0].contains("b.csv: a second plan, not declared"), "{}", drafts[0]);
    assert_eq!(drafts[1].matches("[factors.container]").count(), 1, "{}", drafts[1]);
    only_questions(&drafts[1]).unwrap();
}

#[test]
fn records_a_year_apart_make_no_interval_of_a_logger() {
    let climate = |second| format!("Time,T,rH\n2031-06-23 01:00,18.4,68\n{second},19.3,70\n");
    let minutes = drafts(climate("2031-06-23 01:10").as_bytes(), "a.csv");
    let year = drafts(climate("2032-06-23 01:10").as_bytes(), "a.csv");
    assert!(minutes[0].contains("interval_minutes = 10"), "{}", minutes[0]);
    assert!(!year[0].contains("interval_minutes"), "{}", year[0]);
}

#[test]
fn a_season_of_the_year_nought_is_drafted_with_a_seed() {
    let drafts = drafts(b"Date,Unit,kg\n0000-01-05,W01,1.5\n0000-01-12,W01,0.5\n", "a.csv");
    assert!(drafts[1].contains("seed = 101 "), "{}", drafts[1]);
    only_questions(&drafts[1]).unwrap();
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn a_table_of_any_cells_is_drafted_as_toml(
        mark in proptest::sample::select(vec![",", ";", "\t"]),
        rows in proptest::collection::vec(proptest::collection::vec(cell(), 1..6), 1..9),
    ) {
        let text: String = rows.iter().map(|r| r.join(mark) + "\n").collect();
        for draft in drafts(text.as_bytes(), "a.csv") {
            only_questions(&draft)?;
        }
    }

    #[test]
    fn any_bytes_are_drafted_or_refused(bytes in proptest::collection::vec(any::<u8>(), 0..200), workbook: bool) {
        for draft in drafts(&bytes, if workbook { "a.xlsx" } else { "a.csv" }) {
            only_questions(&draft)?;
        }
    }
}
