//! Files that mean harm, and the account of every kind of log.
use crate::trial_folder::{CLIMATE, HARVEST, TrialFolder, fault};
use std::io::{Cursor, Write};

#[test]
fn a_workbook_made_to_fill_the_memory_is_refused_before_it_is_unpacked() {
    let mut bomb = zip::ZipWriter::new(Cursor::new(Vec::new()));
    bomb.start_file("xl/workbook.xml", zip::write::SimpleFileOptions::default().compression_level(Some(1))).unwrap();
    let piece = vec![b' '; 1 << 20];
    for _ in 0..600 {
        bomb.write_all(&piece).unwrap();
    }
    let bytes = bomb.finish().unwrap().into_inner();
    assert!(bytes.len() < 8 << 20);
    let trial = TrialFolder::new(HARVEST).edit("picks*.csv", "picks.xlsx").log("picks.xlsx", bytes);
    let told = trial.read();
    assert_eq!(fault(&told, "workbook-too-large").found, "more than 512 MB when unpacked");
}

#[test]
fn a_million_columns_and_a_line_of_megabytes_end_the_reading_with_a_sentence() {
    let wide = TrialFolder::new(HARVEST).log("picks.csv", ",".repeat(1_000_000)).read();
    assert_eq!(fault(&wide, "row-too-wide").found, "more than 10,000 cells in row 1");
    let long = TrialFolder::new(HARVEST).log("picks.csv", format!("Date\n{}", "x".repeat(5 << 20))).read();
    assert_eq!(fault(&long, "line-too-long").found, "more than 4 MB in row 2");
    assert!(fault(&long, "line-too-long").fatal);
}

const OTHERS: &str = r#"
[[root_zone]]
files = ["drain.csv"]
house = "glass-1"
date_style = "year-month-day"
[root_zone.columns]
"Date" = { is = "date" }
"Feed" = { is = "feed-volume", unit = "L" }
[[diary]]
files = ["diary.csv"]
date_style = "year-month-day"
[diary.columns]
"Date" = { is = "date" }
"What" = { is = "event" }
"#;

/// Rows of every kind that go wrong in every way their kind knows.
#[test]
fn every_kind_of_log_keeps_or_sets_aside_every_row() {
    let tables = TrialFolder::new(&format!("{HARVEST}{CLIMATE}{OTHERS}"))
        .log("plan.csv", "Bucket,Line,Medium,Plants\nB1-01,1,blend,2\nB1-01,1,blend,2\nB1-02,1,Per,two\n,1,Per,2\nB1-03,2,loam,2\n")
        .log("picks.csv", "Date,Bucket,kg,Fruit,Grade\nx,B1-01,1,30,1\n2031-06-02,B9,1,30,1\n2031-06-02,B1-03,,,1\n,,,,\n2031-06-02,B1-03,1,30,9\n2031-06-02,B1-03,1,30,1,5\n")
        .log("climate.csv", "Time,T,RH\n2031-07-04 06:00,21,80\n2031-07-04 06:00,21,80\n2031-07-04 06:30,22,80\n2031-07-04 06:30,23,80\n2031-03-09 02:30,1,1\nnoon,1,1\n2031-07-04 07:00,x,y\n")
        .log("drain.csv", "Date,Feed\n2031-06-01,24\n2031-06-01,24\n2031-06-01,x\n2031-06-31,24\n")
        .log("diary.csv", "Date,What\n2031-06-01,note\n2031-06-01,hail\nsoon,note\n")
        .read();
    let rows: Vec<_> = tables.files.iter().map(|f| (f.log.as_str(), f.read, f.kept, f.set_aside)).collect();
    assert_eq!(rows, [("plan", 5, 0, 5), ("diary", 3, 1, 2), ("harvest", 5, 0, 5), ("climate", 7, 1, 6), ("root zone", 4, 1, 3)]);
    assert!(tables.files.iter().all(|f| f.balances()));
    let whole_rows = tables.set_aside.iter().filter(|s| s.whole_row).count() as u64;
    assert_eq!(whole_rows, tables.files.iter().map(|f| f.set_aside).sum::<u64>());
}
