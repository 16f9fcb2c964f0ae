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
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join(name);
    std::fs::write(&path, text).unwrap();
    let request = Request { files: &[path], logs: None, factors: None, season: Some((folder.path(), "a.toml")) };
    survey(&request).map(|s| [Some(s.site), s.season].into_iter().flatten().collect()).unwrap_or_default()
}

fn only_questions(draft: &str) -> Result<(), TestCaseError> {
    let file = Declared::new("a.toml", draft);
    file.root();
    let others: Vec<_> = file.into_faults().into_iter().filter(|f| f.code != "question-open").collect();
    prop_assert!(others.is_empty(), "{others:#?}\n{draft}");
    Ok(())
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
