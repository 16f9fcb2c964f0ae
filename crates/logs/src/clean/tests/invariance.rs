//! What must not matter: the order of rows and columns, and how rows are spread over files.
use crate::trial_folder::{CLIMATE, HARVEST, TrialFolder};
use proptest::prelude::*;
use proptest::test_runner::Config;

type Row = (u32, u32, u32);

fn line(row: &Row) -> String {
    format!("2031-06-{:02},B1-{:02},{}.25,{},1\n", 1 + row.0, 1 + row.1, row.2, row.2 * 30)
}

/// Day, unit and mass of every pick, in the clean table's order of days and units.
fn picks(files: &[String]) -> Vec<(String, usize, Option<f64>)> {
    let trial = files.iter().enumerate().fold(TrialFolder::new(HARVEST), |t, (i, text)| t.log(&format!("picks-{i}.csv"), text));
    let mut picks: Vec<_> = trial.read().sites[0].picks.iter().map(|p| (p.day.to_string(), p.unit, p.mass)).collect();
    picks.sort_by(|a, b| a.partial_cmp(b).unwrap());
    picks
}

fn file(lines: impl Iterator<Item = String>) -> String {
    std::iter::once("Date,Bucket,kg,Fruit,Grade\n".to_owned()).chain(lines).collect()
}

proptest! {
    #![proptest_config(Config { cases: 24, ..Config::default() })]

    #[test]
    fn row_order_and_the_split_into_files_change_no_pick(rows in prop::collection::vec((0u32..28, 0u32..3, 0u32..9), 1..20), cut in 0usize..20) {
        let whole = picks(&[file(rows.iter().map(line))]);
        prop_assert_eq!(&whole, &picks(&[file(rows.iter().rev().map(line))]));
        let cut = cut.min(rows.len());
        prop_assert_eq!(&whole, &picks(&[file(rows[..cut].iter().map(line)), file(rows[cut..].iter().map(line))]));
    }

    #[test]
    fn column_order_changes_no_pick(rows in prop::collection::vec((0u32..28, 0u32..3, 0u32..9), 1..10)) {
        let turned = |text: &str| text.lines().map(|l| l.split(',').rev().collect::<Vec<_>>().join(",") + "\n").collect::<String>();
        let text = file(rows.iter().map(line));
        prop_assert_eq!(picks(std::slice::from_ref(&text)), picks(&[turned(&text)]));
    }

    #[test]
    fn overlapping_downloads_of_a_logger_give_the_same_records(n in 2usize..60, from in 0usize..60, to in 0usize..60) {
        let stamp = |i: usize| format!("2031-07-{:02} {:02}:{:02},{}.5,{}\n", 1 + i / 48, i / 2 % 24, i % 2 * 30, 15 + i % 9, 60 + i % 7);
        let header = "Time,T,RH\n".to_owned();
        let part = |a: usize, b: usize| header.clone() + &(a..b).map(stamp).collect::<String>();
        let (from, to) = (from.min(n), to.min(n));
        let (from, to) = (from.min(to), from.max(to));
        let read = |files: &[String]| {
            let trial = files.iter().enumerate().fold(TrialFolder::new(CLIMATE), |t, (i, text)| t.log(&format!("climate-{i}.csv"), text));
            let climate = trial.read().sites.remove(0).climate.remove(0);
            (climate.instant, climate.temperature, climate.humidity)
        };
        prop_assert_eq!(read(&[part(0, n)]), read(&[part(0, to), part(from, n)]));
    }
}

proptest! {
    #![proptest_config(Config { cases: 64, ..Config::default() })]

    /// Whatever bytes a log holds: no panic, and rows read are rows kept and rows set aside.
    #[test]
    fn any_bytes_are_accounted_for(noise in prop::collection::vec(any::<u8>(), 0..200), at in 0usize..120) {
        let mut bytes = b"Date,Bucket,kg,Fruit,Grade\n2031-06-02,B1-01,1.5,30,1\n2031-06-03,B1-02,\"0.5\",,C\n2031-06-04,B1-03,1e3,2,1\n".to_vec();
        let at = at.min(bytes.len());
        bytes.splice(at..at, noise);
        TrialFolder::new(HARVEST).log("picks.csv", &bytes).read();
    }

    /// The same of text made of the marks that parsers trip over.
    #[test]
    fn any_marks_are_accounted_for(text in "[0-9,;\"\n\r \t.:/#%éT-]{0,120}") {
        TrialFolder::new(HARVEST).log("picks.csv", format!("Date,Bucket,kg,Fruit,Grade\n{text}")).read();
        TrialFolder::new(CLIMATE).log("climate.csv", format!("Time,T,RH\n2031-07-04 06:00,1,2\n{text}")).read();
    }

    /// Whatever a site file holds: faults or a season, no panic.
    #[test]
    fn any_declaration_is_judged(text in "[a-z\\[\\]{}=\"',.# \n0-9-]{0,120}") {
        let _ = TrialFolder::new(&format!("\n{text}")).declarations();
    }
}
