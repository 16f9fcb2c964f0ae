//! Bad input at two small stations: each fault has its sentence with place, found, expected and mend, all faults come
//! in one run, rows read are rows kept and rows set aside, and a run that fails leaves the former results alone.
#![allow(clippy::unwrap_used)]

use crosshouse::Outcome;
use crosshouse_logs::Silent;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

const SEASON: &str = r#"
[season]
title = "Two soils at two stations"
crop = "snack pepper"
year = "2031"
seed = 7
logs = "logs"
sites = ["north.toml", "south.toml"]
[factors.soil]
levels = ["loam", "grit"]
unit_of_assignment = "unit"
[[question]]
id = "loam-against-grit"
ask = "Does loam bear more than grit?"
response = "marketable-yield-per-plant"
compare = ["soil"]
pairs = "all"
adjust = "tukey"
sites = "these"
"#;

/// `{site}` stands for the station; the `[harvest.columns]` begin on line 24.
const SITE: &str = r#"[site]
name = "{site}"
transplanted = 2031-03-24
ended = 2031-09-30
[[house]]
id = "glass-1"
kind = "glasshouse"
[plan]
file = "{site}/plan.csv"
[plan.columns]
"Bucket" = { is = "unit" }
"Block" = { is = "block" }
"Soil" = { is = "factor", factor = "soil" }
"Plants" = { is = "plants" }
[[harvest]]
files = ["{site}/picks.csv"]
delimiter = ","
decimal = "."
date_style = "year-month-day"
unlisted = "zero"
same_day = "add"
[harvest.grades]
"1" = "marketable"
[harvest.columns]
"Date" = { is = "date" }
"Bucket" = { is = "unit" }
"kg" = { is = "mass", unit = "kg" }
"Grade" = { is = "grade" }
"#;

const PLAN: &str = "Bucket,Block,Soil,Plants\nB1,1,loam,2\nB2,1,grit,2\nB3,2,loam,2\nB4,2,grit,2\nB5,3,loam,2\nB6,3,grit,2\n";
const PICKS: &str = "Date,Bucket,kg,Grade\n2031-06-02,B1,1.31,1\n2031-06-02,B2,1.12,1\n2031-06-02,B3,1.27,1\n2031-06-02,B4,0.98,1\n2031-06-02,B5,1.44,1\n2031-06-02,B6,1.05,1\n2031-06-09,B1,0.81,1\n2031-06-09,B2,0.77,1\n";

/// A season in a temporary folder, to be spoilt.
struct Season {
    folder: tempfile::TempDir,
}

impl Season {
    fn new() -> Self {
        let season = Season { folder: tempfile::tempdir().unwrap() };
        let season = season.put("season.toml", SEASON);
        ["north", "south"].into_iter().fold(season, |season, site| {
            season
                .put(&format!("{site}.toml"), SITE.replace("{site}", site))
                .put(&format!("logs/{site}/plan.csv"), PLAN)
                .put(&format!("logs/{site}/picks.csv"), PICKS)
        })
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    #[allow(clippy::disallowed_methods)] // inputs of the tests
    fn put(self, name: &str, bytes: impl AsRef<[u8]>) -> Self {
        std::fs::create_dir_all(self.path(name).parent().unwrap()).unwrap();
        std::fs::write(self.path(name), bytes).unwrap();
        self
    }

    fn edit(self, name: &str, from: &str, to: &str) -> Self {
        let text = std::fs::read_to_string(self.path(name)).unwrap();
        assert!(text.contains(from), "{name} does not hold {from}");
        self.put(name, text.replacen(from, to, 1))
    }

    fn without(self, name: &str) -> Self {
        std::fs::remove_file(self.path(name)).unwrap();
        self
    }

    /// The north station's picks in a workbook of the sheets "Picks" and "Notes".
    fn workbook(self, bytes: &[u8]) -> Self {
        self.put("logs/north/picks.xlsx", bytes).edit("north.toml", "north/picks.csv\"]", "north/picks.xlsx\"]\nsheet = \"Picks\"")
    }

    fn run(&self) -> Outcome {
        crosshouse::run::run(&self.path("season.toml"), &self.path("out"), &Silent)
    }

    /// Rows read, kept and set aside of the north station's picks; every file of the season balances.
    fn rows(&self) -> (u64, u64, u64) {
        let season = crosshouse_logs::read_declarations(&self.path("season.toml")).unwrap();
        let tables = crosshouse_logs::read_season(&season, &Silent);
        assert!(tables.files.iter().all(|f| f.balances()), "{:?}", tables.files);
        let picks = tables.files.iter().find(|f| f.file.starts_with("north/picks")).unwrap();
        (picks.read, picks.kept, picks.set_aside)
    }
}

/// One fault of the messages: its first line, and the texts of found, expected and mend.
fn fault(outcome: &Outcome, code: &str) -> (String, BTreeMap<String, String>) {
    let mut lines = outcome.err.lines().skip_while(|l| !l.ends_with(&format!("[{code}]")));
    let head = lines.next().unwrap_or_else(|| panic!("no [{code}] in:\n{}", outcome.err));
    let mut parts: BTreeMap<String, String> = BTreeMap::new();
    let mut label = String::new();
    for line in lines.take_while(|l| l.starts_with("  ")) {
        let (mark, text) = line.split_at(13);
        if !mark.trim().is_empty() {
            label = mark.trim().to_owned();
        }
        let part = parts.entry(label.clone()).or_default();
        *part = format!("{part} {text}").trim().to_owned();
    }
    (head.split("  ").next().unwrap().to_owned(), parts)
}

/// The fault of this code says all of this.
fn says(outcome: &Outcome, code: &str, head: &str, found: &str, expected: &str, mend: &str) {
    let (told, parts) = fault(outcome, code);
    assert_eq!(told, head);
    for (label, wanted) in [("found", found), ("expected", expected), ("mend", mend)] {
        assert!(parts[label].contains(wanted), "{label}: {}", parts[label]);
    }
}

/// A season that cannot be used ends with 2, and the results of the run before it stay as they were.
fn fails_and_leaves_the_former_results(spoil: impl Fn(Season) -> Season) -> Outcome {
    let season = Season::new();
    assert_eq!(season.run().status, 0);
    let before = contents(&season.path("out"));
    let season = spoil(season);
    let outcome = season.run();
    assert_eq!((outcome.status, outcome.out.as_str()), (2, ""), "{}", outcome.err);
    assert_eq!(contents(&season.path("out")), before);
    assert!(std::fs::read_dir(season.folder.path()).unwrap().all(|e| !e.unwrap().file_name().to_string_lossy().starts_with('.')));
    outcome
}

/// A season of which only rows, cells or a column cannot be used ends with 0.
fn goes_on(season: &Season, rows: (u64, u64, u64)) -> Outcome {
    let outcome = season.run();
    assert_eq!(outcome.status, 0, "{}", outcome.err);
    assert_eq!(season.rows(), rows);
    outcome
}

fn contents(folder: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let mut files = BTreeMap::new();
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            files.extend(contents(&path));
        } else {
            files.insert(path.clone(), std::fs::read(&path).unwrap());
        }
    }
    files
}

#[test]
fn a_season_without_a_fault_says_nothing_on_standard_error() {
    let outcome = goes_on(&Season::new(), (8, 8, 0));
    assert_eq!(outcome.err, "");
}

#[test]
fn a_missing_column_is_told_with_the_headers_there_are_and_the_nearest() {
    let outcome = fails_and_leaves_the_former_results(|s| s.edit("logs/north/picks.csv", "Bucket", "Buckte"));
    let head = "north/picks.csv, row 1, column \"Bucket\": a declared column is not in the file";
    says(&outcome, "column-missing", head, "\"Date\", \"Buckte\", \"kg\"", "(north.toml, line 26)", "did you mean \"Buckte\"?");
}

#[test]
fn an_unknown_unit_is_told_with_those_there_are() {
    let outcome = fails_and_leaves_the_former_results(|s| s.edit("north.toml", "unit = \"kg\"", "unit = \"stones\""));
    let head = "north.toml, line 27, key \"kg\": not a unit of this quantity: column not read";
    says(&outcome, "unit-unknown", head, "\"stones\"", "kg, g, mg, t, lb, oz", "write one of these");
}

#[test]
fn unreadable_and_impossible_dates_set_their_rows_aside() {
    let season = Season::new();
    let season =
        season.edit("logs/north/picks.csv", "2031-06-02,B1", "2 June,B1").edit("logs/north/picks.csv", "2031-06-02,B2", "2031-02-30,B2");
    let season = season.edit("logs/north/picks.csv", "2031-06-02,B3", "2013-06-02,B3");
    let outcome = goes_on(&season, (8, 5, 3));
    let place = |row: u32, what: &str| format!("north/picks.csv, row {row}, column \"Date\": {what}");
    says(&outcome, "date-unreadable", &place(2, "not a date"), "2 June", "such as 2031-07-24", "correct the cell");
    says(&outcome, "date-impossible", &place(3, "a day that does not exist"), "2031-02-30", "a day of the calendar", "correct the cell");
    says(
        &outcome,
        "date-outside-season",
        &place(4, "a day far outside the season"),
        "2013-06-02",
        "400 days before 2031-03-24",
        "the year",
    );
    let aside = std::fs::read_to_string(season.path("out/set-aside.csv")).unwrap();
    assert_eq!(aside.lines().count(), 4);
    assert!(aside.contains("north/picks.csv,2,Date,2 June,"));
}

#[test]
fn a_duplicate_row_of_undeclared_meaning_is_set_aside_with_the_other_and_asked_about() {
    let season = Season::new().edit("north.toml", "same_day = \"add\"\n", "");
    let season = season.edit("logs/north/picks.csv", "2031-06-02,B2,1.12,1\n", "2031-06-02,B2,1.12,1\n2031-06-02,B2,1.12,1\n");
    let outcome = goes_on(&season, (9, 7, 2));
    let head = "north/picks.csv, row 3: several rows of one unit, day and grade";
    says(
        &outcome,
        "same-day-undeclared",
        head,
        "2031-06-02 | B2 | 1.12 | 1",
        "one row a unit, day and grade",
        "add to the first, replace it",
    );
    assert_eq!(fault(&outcome, "same-day-undeclared").1["also"], "1 row like it: 4");
}

#[test]
fn a_row_repeated_where_rows_add_up_is_kept_flagged_and_asked_about() {
    let twice = "2031-06-02,B2,1.12,1\n2031-06-02,B2,1.12,1\n";
    let outcome = goes_on(&Season::new().edit("logs/north/picks.csv", "2031-06-02,B2,1.12,1\n", twice), (9, 9, 0));
    let head = "north/picks.csv, row 4: a row that repeats another word for word: kept and flagged";
    says(&outcome, "row-repeated", head, "as in row 3", "differs from the first", "take the row out if it is a copy");
}

#[test]
fn a_unit_that_the_plan_does_not_know_sets_its_rows_aside_with_the_nearest() {
    let season = Season::new().edit("logs/north/picks.csv", "2031-06-02,B2", "2031-06-02,B2x");
    let outcome = goes_on(&season, (8, 7, 1));
    let head = "north/picks.csv, row 3, column \"Bucket\": a unit that the plan does not have";
    says(&outcome, "unit-unknown", head, "B2x", "a unit of the plan", "did you mean \"B2\"?");
}

fn workbook(sheet: &str) -> Vec<u8> {
    let mut book = rust_xlsxwriter::Workbook::new();
    let picks = book.add_worksheet().set_name(sheet).unwrap();
    for (row, line) in PICKS.lines().enumerate() {
        picks.write_row(row as u32, 0, line.split(',')).unwrap();
    }
    book.add_worksheet().set_name("Notes").unwrap();
    book.save_to_buffer().unwrap()
}

#[test]
fn a_workbook_without_the_sheet_lists_those_it_has() {
    goes_on(&Season::new().workbook(&workbook("Picks")), (8, 8, 0));
    let outcome = fails_and_leaves_the_former_results(|s| s.workbook(&workbook("Pickings")));
    let head = "north/picks.xlsx: a sheet that the workbook does not have";
    says(&outcome, "sheet-missing", head, "its sheets are \"Pickings\", \"Notes\"", "a sheet of this workbook", "sheet = \"Pickings\"?");
}

#[test]
fn an_empty_file_and_a_folder_for_a_file_have_a_sentence_each() {
    let outcome = fails_and_leaves_the_former_results(|s| {
        s.put("logs/north/picks.csv", "").without("logs/south/picks.csv").put("logs/south/picks.csv/july.csv", PICKS)
    });
    says(&outcome, "file-empty", "north/picks.csv: an empty file", "0 bytes", "a header and rows", "export the log again");
    says(&outcome, "file-is-folder", "south/picks.csv: a folder where a file is meant", "a folder", "a file", "FOLDER/*.csv");
}

#[test]
fn bytes_that_are_not_text_are_named_by_their_place() {
    let latin: Vec<u8> = PICKS.replace("B2,0.77", "B2#,0.77").bytes().map(|b| if b == b'#' { 0xFF } else { b }).collect();
    let declared = fails_and_leaves_the_former_results(|s| {
        s.put("logs/north/picks.csv", &latin).edit("north.toml", "decimal = \".\"", "decimal = \".\"\nencoding = \"utf-8\"")
    });
    let head = "north/picks.csv, row 9: bytes that are not text in the file's encoding";
    says(&declared, "bytes-undecodable", head, "byte 0xFF at offset", "text in one encoding", "export the log as UTF-8");
    let asked = goes_on(&Season::new().put("logs/north/picks.csv", &latin), (8, 7, 1));
    let head = "north/picks.csv, row 9: not UTF-8, and no encoding is declared";
    says(&asked, "encoding-undeclared", head, "byte 0xFF", "the encoding declared", "declare encoding = \"windows-1252\"");
}

#[test]
fn all_faults_of_all_files_come_in_one_run() {
    let outcome = fails_and_leaves_the_former_results(|s| {
        s.edit("logs/north/plan.csv", "B1,1,loam", "B1,1,laom")
            .edit("logs/north/plan.csv", "B2,1,grit,2", "B2,1,grit,two")
            .edit("logs/north/picks.csv", "2031-06-02,B3,1.27", "2031-06-02,B3,1;27")
            .edit("logs/north/picks.csv", "2031-06-02,B4", "02.06.2031,B4")
            .edit("logs/south/picks.csv", "kg", "Kilos")
            .edit("south.toml", "south/plan.csv", "south/plans.csv")
    });
    let codes = "level-unknown plants-unreadable plants-missing mass-unreadable date-unreadable column-missing file-missing";
    codes.split(' ').for_each(|code| drop(fault(&outcome, code)));
    let head = "north/plan.csv, row 2, column \"Soil\": not a level of soil";
    says(&outcome, "level-unknown", head, "laom", "loam, grit", "did you mean \"loam\"?");
}

#[test]
fn faults_of_the_season_file_and_of_both_site_files_come_in_one_run() {
    let outcome = fails_and_leaves_the_former_results(|s| {
        s.edit("season.toml", "seed = 7", "sede = 7").edit("north.toml", "is = \"mass\"", "is = \"mas\"").edit(
            "south.toml",
            "transplanted = 2031-03-24",
            "transplanted = \"soon\"",
        )
    });
    let key = "season.toml, line 6, key \"sede\": a key that [season] does not know";
    says(&outcome, "key-unknown", key, "sede", "seed", "did you mean \"seed\"?");
    let word = "north.toml, line 27, key \"is\": not a word that this key knows";
    says(&outcome, "key-unknown-word", word, "mas", "mass", "did you mean \"mass\"?");
    let day = "south.toml, line 3, key \"transplanted\": not what this key holds";
    says(&outcome, "key-wrong-kind", day, "a text", "a date such as 2031-03-24", "write transplanted");
}

/// A workbook whose directory claims 4 GB for one of its parts.
fn boastful_workbook() -> Vec<u8> {
    let mut bytes = workbook("Picks");
    let entry = bytes.windows(4).position(|w| w == b"PK\x01\x02").unwrap();
    bytes[entry + 24..entry + 28].copy_from_slice(&0xFFFF_FFF0_u32.to_le_bytes());
    bytes
}

/// A workbook of two cells, in the first and the last corner of the sheet.
fn wide_workbook() -> Vec<u8> {
    let mut book = rust_xlsxwriter::Workbook::new();
    let sheet = book.add_worksheet().set_name("Picks").unwrap();
    sheet.write(0, 0, "Date").unwrap();
    sheet.write(1_048_575, 16_383, 1).unwrap();
    book.save_to_buffer().unwrap()
}

#[test]
fn hostile_files_are_refused_with_a_sentence_and_harm_nothing() {
    let long = format!("{PICKS}2031-06-16,B1,{},1\n", "9".repeat(2 << 20));
    let wide = PICKS.replacen("Grade", &format!("Grade{}", ",".repeat(20_000)), 1);
    let cases: [(&str, Season); 6] = [
        ("workbook-too-large", Season::new().workbook(&boastful_workbook())),
        ("workbook-too-large", Season::new().workbook(&wide_workbook())),
        ("workbook-unreadable", Season::new().workbook(&workbook("Picks")[..2000])),
        ("line-too-long", Season::new().put("logs/north/picks.csv", long)),
        ("row-too-wide", Season::new().put("logs/north/picks.csv", wide)),
        ("path-leaves-folder", Season::new().edit("north.toml", "north/picks.csv", "../../secret.csv")),
    ];
    for (code, season) in cases {
        let outcome = season.run();
        assert_eq!(outcome.status, 2, "{code}");
        assert!(!fault(&outcome, code).1["mend"].is_empty());
        assert!(!season.path("out").exists());
    }
}

#[cfg(unix)]
#[test]
fn a_pipe_and_a_link_out_of_the_folder_are_never_opened() {
    let secret = tempfile::tempdir().unwrap();
    let linked = Season::new().without("logs/north/picks.csv");
    std::os::unix::fs::symlink(secret.path(), linked.path("logs/north/picks.csv")).unwrap();
    assert!(fault(&linked.run(), "path-leaves-folder").1["found"].contains("a link to a place outside"));
    let piped = Season::new().without("logs/north/picks.csv");
    let made = std::process::Command::new("mkfifo").arg(piped.path("logs/north/picks.csv")).status();
    if made.is_ok_and(|status| status.success()) {
        assert_eq!(fault(&piped.run(), "file-unreadable").1["found"], "a pipe, socket or device");
    }
}

#[test]
fn text_of_a_log_neither_steers_the_terminal_nor_becomes_markup() {
    let hostile = "<script>alert(1)</script>";
    let season = Season::new().edit("north.toml", "name = \"north\"", &format!("name = \"{hostile}\""));
    let season = season.edit("logs/north/picks.csv", "2031-06-02,B2", &format!("2031-06-02,\u{1b}[31m\u{202e}=1+1{hostile}"));
    let season = season.edit("logs/north/picks.csv", "2031-06-09,B2", &format!("2031-06-09,{}", "B".repeat(900_000)));
    let outcome = goes_on(&season, (8, 6, 2));
    assert!(outcome.err.len() < 5_000, "{} bytes", outcome.err.len());
    let steering = |c: char| c != '\n' && (c.is_control() || c == '\u{202e}');
    assert!(!outcome.err.contains(steering) && !outcome.out.contains(steering));
    assert!(!std::fs::read_to_string(season.path("out/report.html")).unwrap().contains(hostile));
    let aside = std::fs::read_to_string(season.path("out/set-aside.csv")).unwrap();
    assert!(!aside.lines().any(|l| l.split(',').any(|cell| cell.trim_start_matches('"').starts_with(['=', '+', '@']))));
}

#[cfg(unix)]
#[test]
#[allow(clippy::disallowed_methods)] // inputs of the tests
fn hostile_files_end_the_run_with_a_sentence_and_status_2() {
    let outside = tempfile::tempdir().unwrap();
    std::fs::write(outside.path().join("picks.csv"), PICKS).unwrap();
    let linked = fails_and_leaves_the_former_results(|s| {
        let season = s.without("logs/north/picks.csv");
        std::os::unix::fs::symlink(outside.path().join("picks.csv"), season.path("logs/north/picks.csv")).unwrap();
        season
    });
    let head = "north/picks.csv: a path that leaves the folder of logs";
    says(&linked, "path-leaves-folder", head, "a link to a place outside", "links resolved", "copy the file");
    let pipe = fails_and_leaves_the_former_results(|s| {
        let season = s.without("logs/north/picks.csv");
        let made = std::process::Command::new("mkfifo").arg(season.path("logs/north/picks.csv")).status().unwrap();
        assert!(made.success());
        season
    });
    let head = "north/picks.csv: not a file that can be read";
    says(&pipe, "file-unreadable", head, "a pipe, socket or device", "a regular file", "put the file there");
    let wide = fails_and_leaves_the_former_results(|s| s.put("logs/north/picks.csv", ",".repeat(1_000_000)));
    let head = "north/picks.csv, row 1: a row too wide to be one";
    says(&wide, "row-too-wide", head, "more than 10,000 cells", "the columns of a log", "check the delimiter");
    let long = fails_and_leaves_the_former_results(|s| {
        let season = s.put("logs/north/picks.csv", PICKS);
        std::fs::OpenOptions::new().write(true).open(season.path("logs/north/picks.csv")).unwrap().set_len(1 << 30).unwrap();
        season
    });
    let head = "north/picks.csv, row 10: a line too long to be a row";
    says(&long, "line-too-long", head, "more than 4 MB in row 10", "rows of a log", "export the log again");
    let no_workbook = fails_and_leaves_the_former_results(|s| s.workbook(PICKS.as_bytes()));
    let head = "north/picks.xlsx: not a workbook that can be read";
    says(&no_workbook, "workbook-unreadable", head, "no ZIP directory", "saved as .xlsx or .ods", "save it again");
}
