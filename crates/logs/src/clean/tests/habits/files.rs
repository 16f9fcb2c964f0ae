//! Files that mean harm, and the account of every kind of log.
use crate::trial_folder::{CLIMATE, HARVEST, TrialFolder, fault};

/// A deflate stream of 600 million blanks in 4 MB (RFC 1951, fixed codes): one blank, then copies of the 258
/// bytes before.
fn blanks() -> Vec<u8> {
    let copy = "1100010100000";
    let bits = ["110", "01010000"].into_iter().chain(std::iter::repeat_n(copy, 600_000_000 / 258)).chain(["0000000"]);
    let (mut bytes, mut byte, mut held) = (Vec::new(), 0u8, 0);
    for bit in bits.flat_map(str::bytes) {
        byte |= (bit - b'0') << held;
        held += 1;
        if held == 8 {
            bytes.push(byte);
            (byte, held) = (0, 0);
        }
    }
    bytes.push(byte);
    bytes
}

/// A ZIP file of one deflated part (PKWARE APPNOTE 6.3, 4.3.7, 4.3.12, 4.3.16) that claims to unpack to 10 bytes.
fn archive(part: &[u8]) -> Vec<u8> {
    let name = b"xl/workbook.xml";
    let sizes = [(part.len() as u32).to_le_bytes(), 10u32.to_le_bytes()].concat();
    let about = [&[20, 0, 0, 0, 8, 0, 0, 0, 0, 0, 0, 0, 0, 0][..], &sizes, &[name.len() as u8, 0, 0, 0]].concat();
    let local = [b"PK\x03\x04", &about[..], name, part].concat();
    let entry = [b"PK\x01\x02\x14\x00", &about[..], &[0; 14], name].concat();
    let end =
        [b"PK\x05\x06", &[0, 0, 0, 0, 1, 0, 1, 0][..], &(entry.len() as u32).to_le_bytes(), &(local.len() as u32).to_le_bytes(), &[0, 0]];
    [&local[..], &entry, &end.concat()].concat()
}

#[test]
fn a_workbook_made_to_fill_the_memory_is_refused_before_it_is_unpacked() {
    let bytes = archive(&blanks());
    assert!(bytes.len() < 4 << 20);
    let told = TrialFolder::new(HARVEST).edit("picks*.csv", "picks.xlsx").log("picks.xlsx", bytes).read();
    assert_eq!(fault(&told, "workbook-too-large").found, "more than 512 MB when unpacked");
    // The same container of an honest part is told as what it is: no workbook.
    let honest = TrialFolder::new(HARVEST).edit("picks*.csv", "picks.xlsx").log("picks.xlsx", archive(&[0x03, 0x00])).read();
    fault(&honest, "workbook-unreadable");
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
