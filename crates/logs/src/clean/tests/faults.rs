use crate::trial_folder::{HARVEST, TrialFolder, fault, told};

const HEADER: &str = "Date,Bucket,kg,Fruit,Grade\n";

#[test]
fn a_missing_column_lists_the_headers_found_and_the_nearest() {
    let trial = TrialFolder::new(HARVEST).log("picks.csv", "Date,Bucket,Kg,Fruit,Grade\n2031-06-02,B1-01,1,30,1\n");
    let tables = trial.read();
    assert_eq!(
        told(fault(&tables, "column-missing")),
        "picks.csv, row 1, column \"kg\": a declared column is not in the file\nfound the headers \"Date\", \"Bucket\", \"Kg\", \"Fruit\", \"Grade\"\nexpected the header \"kg\" (tarn-hollow.toml, line 32)\nmend did you mean \"Kg\"?"
    );
    assert_eq!((tables.files[1].read, tables.files[1].set_aside), (1, 1));
}

#[test]
fn a_header_below_the_first_line_is_pointed_at() {
    let trial = TrialFolder::new(HARVEST).log("picks.csv", format!("Tarn Hollow\n\n{HEADER}2031-06-02,B1-01,1,30,1\n"));
    assert_eq!(fault(&trial.read(), "column-missing").mend, "the declared headers stand in row 3: declare skip_lines = 2");
}

#[test]
fn all_faults_of_all_files_come_in_one_run() {
    let trial = TrialFolder::new(HARVEST)
        .edit(
            "files = [\"picks*.csv\"]",
            "files = [\"a.csv\", \"b.csv\", \"c.csv\", \"d.csv\", \"none-*.csv\", \"../x.csv\", \"e.csv\", \"f.xlsx\", \"missing.csv\"]",
        )
        .log("a.csv", "")
        .log("b.csv", b"Date,Bucket,kg,Fruit,Grade\n2031-06-02,B1-01,1,30,1\n\x00\x00\n")
        .log("d.csv", format!("{HEADER}2031-06-02,B1-01,1,30,1,7,8\n2031-06-03,B1-01,1,30,1\n"))
        .log("e.csv", HEADER)
        .log("f.xlsx", "no workbook");
    std::fs::create_dir(trial.path().join("logs/c.csv")).unwrap();
    let tables = trial.read();
    for code in [
        "file-empty",
        "file-not-text",
        "file-is-folder",
        "row-ragged",
        "pattern-matches-nothing",
        "path-leaves-folder",
        "no-rows",
        "workbook-unreadable",
        "file-missing",
    ] {
        fault(&tables, code);
    }
    assert_eq!(tables.sites[0].picks.len(), 1);
    assert_eq!(fault(&tables, "row-ragged").found, "7 cells under a header of 5");
}

#[cfg(unix)]
#[test]
fn a_pipe_is_refused_and_not_waited_for() {
    let trial = TrialFolder::new(HARVEST);
    let made = std::process::Command::new("mkfifo").arg(trial.path().join("logs/picks.csv")).status();
    if made.is_ok_and(|s| s.success()) {
        assert_eq!(fault(&trial.read(), "file-unreadable").found, "a pipe, socket or device");
    }
}

#[test]
fn bytes_that_are_not_the_declared_encoding_are_named_by_their_offset() {
    let trial = TrialFolder::new(HARVEST)
        .edit(
            "delimiter = \",\"\ndecimal = \".\"\ndate_style = \"year-month-day\"\nunlisted",
            "encoding = \"utf-8\"\ndate_style = \"year-month-day\"\nunlisted",
        )
        .log("picks.csv", b"Date,Bucket,kg,Fruit,Grade\n2031-06-02,B\xff,1,30,1\n");
    assert_eq!(fault(&trial.read(), "bytes-undecodable").found, "byte 0xFF at offset 39 (row 2) is not UTF-8");
}

#[test]
fn declarations_tell_all_their_faults_with_lines_and_nearest_words() {
    let trial = TrialFolder::new(HARVEST)
        .edit("time_zone = \"CST6CDT\"", "time_zone = \"Europe/Berlln\"")
        .edit("unlisted = \"zero\"", "unlistd = \"zero\"")
        .edit("same_day = \"add\"", "same_day = \"ad\"")
        .edit("\"Fruit\" = { is = \"count\" }", "\"Fruit\" = { is = \"cuont\" }")
        .edit("date_style = \"year-month-day\"", "date_style = \"yyyy-mm-dd\"")
        .edit("factor = \"medium\"", "factor = \"medum\"");
    let faults = trial.declarations().unwrap_err();
    let told: Vec<_> = faults.iter().map(|f| (f.code.as_str(), f.place.row.unwrap_or(0), f.mend.as_str())).collect();
    for expected in [
        ("time-zone-unknown", 4, "did you mean \"Europe/Berlin\"?"),
        ("factor-unknown", 17, "did you mean \"medium\"?"),
        ("date-style-unreadable", 26, "\"yyyy-mm-dd\" does not begin with year, month, month-name or day"),
        ("key-unknown", 27, "did you mean \"unlisted\"?"),
        ("key-unknown-word", 28, "did you mean \"add\"?"),
        ("key-unknown-word", 33, "did you mean \"count\"?"),
    ] {
        assert!(told.contains(&expected), "{expected:?} not in {told:#?}");
    }
    assert_eq!(told.len(), 6, "{told:#?}");
}

#[test]
fn an_empty_name_among_the_site_files_is_told_where_it_stands() {
    let trial = TrialFolder::new("");
    let text = std::fs::read_to_string(trial.path().join("season.toml")).unwrap();
    let trial = trial.write("season.toml", &text.replace("[\"tarn-hollow.toml\"]", "[\"tarn-hollow.toml\", \"\"]"));
    let faults = trial.declarations().unwrap_err();
    assert_eq!(faults.iter().map(|f| f.code.as_str()).collect::<Vec<_>>(), ["site-file-unnamed"]);
    assert_eq!(faults[0].place.to_string(), "season.toml, column \"sites\"");
}

#[test]
fn a_log_of_a_house_at_a_site_without_any_is_told_that_there_is_none() {
    let trial = TrialFolder::new(crate::trial_folder::CLIMATE).edit("[[house]]\nid = \"glass-1\"\nkind = \"glasshouse\"\n", "");
    let faults = trial.declarations().unwrap_err();
    let house = faults.iter().find(|f| f.code == "house-unknown").unwrap();
    assert_eq!(house.expected, "a house of the site file, which declares none");
}

#[test]
fn a_factor_without_a_name_is_refused() {
    let faults = TrialFolder::new("").season_also("[factors.\"\"]\nunit_of_assignment = \"unit\"\n").declarations().unwrap_err();
    assert_eq!(faults.iter().map(|f| f.code.as_str()).collect::<Vec<_>>(), ["factor-unnamed"]);
    assert_eq!(faults[0].place.row, Some(12));
}
