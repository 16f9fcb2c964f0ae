//! Encodings, marks, and the lines round the rows.
use crate::tables::CleanTables;
use crate::trial_folder::{CLIMATE, HARVEST, TrialFolder, fault};

pub(super) const MARKS: &str = "delimiter = \",\"\ndecimal = \".\"\ndate_style = \"year-month-day\"\nunlisted";
const LINES: [&str; 3] = ["Date,Bucket,kg,Fruit,Grade", "2031-06-02,B1-01,1.5,30,1", "2031-06-02,B1-02,\"0.5\",9,C"];

pub(super) fn masses(tables: &CleanTables) -> Vec<Option<f64>> {
    tables.sites[0].picks.iter().map(|p| p.mass).collect()
}

fn encoded(text: &str, encoding: &str) -> Vec<u8> {
    let wide = |little: bool, mark: bool| {
        let units = mark.then_some(0xFEFF).into_iter().chain(text.encode_utf16());
        units.flat_map(|u| if little { u.to_le_bytes() } else { u.to_be_bytes() }).collect()
    };
    match encoding {
        "utf-8 with a mark" => [b"\xEF\xBB\xBF", text.as_bytes()].concat(),
        "utf-16le with a mark" => wide(true, true),
        "utf-16le" => wide(true, false),
        "utf-16be with a mark" => wide(false, true),
        "utf-16be" => wide(false, false),
        "windows-1252" => text.chars().map(|c| c as u8).collect(),
        _ => text.as_bytes().to_vec(),
    }
}

#[test]
fn the_same_log_in_every_encoding_mark_and_line_end_is_the_same() {
    for encoding in ["utf-8", "utf-8 with a mark", "utf-16le with a mark", "utf-16le", "utf-16be with a mark", "utf-16be", "windows-1252"] {
        for (mark, end) in [(',', "\n"), (';', "\r\n"), ('\t', "\r"), ('|', "\n"), (';', "\r")] {
            let text: String = LINES.iter().map(|l| l.replace(',', &mark.to_string()).replace("kg", "Gemüse kg") + end).collect();
            let declared = if encoding == "windows-1252" { "encoding = \"windows-1252\"\n" } else { "" };
            let trial = TrialFolder::new(HARVEST)
                .edit(MARKS, &format!("{declared}decimal = \".\"\ndate_style = \"year-month-day\"\nunlisted"))
                .edit("\"kg\" =", "\"Gemüse kg\" =")
                .log("picks.csv", encoded(&text, encoding));
            let tables = trial.read();
            assert_eq!(masses(&tables), [Some(1.5), Some(0.5)], "{encoding} {mark:?} {end:?}");
            assert!(tables.faults.is_empty(), "{encoding} {mark:?} {end:?}: {:#?}", tables.faults);
        }
    }
}

#[test]
fn a_trailer_is_no_row() {
    let text = "Date,Bucket,kg,Fruit,Grade\n2031-06-02,B1-01,1.5,30,1\n\nEnd of log\nprinted by hand\n";
    for declared in ["trailer_lines = 2", "ends_at = \"End of\""] {
        let trial =
            TrialFolder::new(HARVEST).edit("unlisted = \"zero\"", &format!("unlisted = \"zero\"\n{declared}")).log("picks.csv", text);
        let tables = trial.read();
        assert_eq!(masses(&tables), [Some(1.5)], "{declared}");
        assert_eq!((tables.files[1].read, tables.files[1].set_aside), (1, 0), "{declared}");
        assert!(tables.files[1].other_lines.contains(&("trailer".to_owned(), 2)), "{:?}", tables.files[1].other_lines);
    }
    let undeclared = TrialFolder::new(HARVEST).log("picks.csv", text).read();
    assert_eq!(undeclared.files[1].set_aside, 2);
}

#[test]
fn two_header_lines_are_joined_and_repeat_as_lines_that_are_no_rows() {
    let header = ",,Weight,Weight,\nDate,Bucket,lb,oz,Grade\n";
    let trial = TrialFolder::new(HARVEST)
        .edit("unlisted = \"zero\"", "unlisted = \"zero\"\nheader_lines = 2")
        .edit(
            "\"kg\" = { is = \"mass\", unit = \"kg\" }\n\"Fruit\" = { is = \"count\" }",
            "\"Weight / lb\" = { is = \"mass\" }\n\"Weight / oz\" = { is = \"mass\" }",
        )
        .log("picks.csv", format!("{header}2031-06-02,B1-01,2,3,1\n{header}2031-06-05,B1-02,1,0,1\n,,,,\n"));
    let tables = trial.read();
    assert_eq!(masses(&tables), [Some(0.992_233_309_375), Some(0.453_592_37)]);
    assert_eq!(tables.files[1].read, 2);
    for kind in [("header", 2), ("repeated header", 2), ("blank", 1)] {
        assert!(tables.files[1].other_lines.contains(&(kind.0.to_owned(), kind.1)), "{:?}", tables.files[1].other_lines);
    }
    assert!(tables.faults.is_empty(), "{:#?}", tables.faults);
}

#[test]
fn a_unit_in_the_header_is_taken_where_none_is_declared_and_told() {
    let trial = TrialFolder::new(CLIMATE)
        .edit("\"T\" = { is = \"temperature\", unit = \"°C\" }", "\"Temp (°F)\" = { is = \"temperature\" }")
        .edit("\"RH\" = { is = \"humidity\", unit = \"%\" }", "\"RH, %\" = { is = \"humidity\" }")
        .log("climate.csv", "Time,Temp (°F),\"RH, %\"\n2031-07-04 06:00,86,80\n");
    let tables = trial.read();
    let climate = &tables.sites[0].climate[0];
    assert_eq!((climate.temperature[0], climate.humidity[0]), (30.0, 80.0));
    let told = tables.inferences.iter().find(|i| i.what == "unit of column \"Temp (°F)\"").unwrap();
    assert_eq!((told.as_read.as_str(), told.because.as_str()), ("°F", "the site file declares none, and its header writes it"));
    assert!(tables.faults.is_empty(), "{:#?}", tables.faults);
}

#[test]
fn a_unit_of_the_unit_row_is_taken_where_none_is_declared() {
    let trial = TrialFolder::new(HARVEST)
        .edit("unlisted = \"zero\"", "unlisted = \"zero\"\nunit_row = true")
        .edit("\"kg\" = { is = \"mass\", unit = \"kg\" }", "\"Weight\" = { is = \"mass\" }")
        .log("picks.csv", "Date,Bucket,Weight,Fruit,Grade\n,,(g),,\n2031-06-02,B1-01,1500,30,1\n");
    let tables = trial.read();
    assert_eq!(masses(&tables), [Some(1.5)]);
    assert!(tables.inferences.iter().any(|i| i.what == "unit of column \"Weight\"" && i.because.ends_with("the unit row writes it")));
}

#[test]
fn a_word_in_the_header_that_hides_an_assumption_is_still_a_question() {
    let trial = TrialFolder::new(HARVEST)
        .edit("\"kg\" = { is = \"mass\", unit = \"kg\" }", "\"Picked (boxes)\" = { is = \"mass\" }")
        .log("picks.csv", "Date,Bucket,Picked (boxes),Fruit,Grade\n2031-06-02,B1-01,3,30,1\n");
    let tables = trial.read();
    assert_eq!(masses(&tables), [None]);
    assert!(fault(&tables, "unit-undeclared").mend.contains("what does one hold"));
}

#[test]
fn a_declared_unit_that_the_header_contradicts_is_asked_about() {
    let trial = TrialFolder::new(CLIMATE)
        .edit("\"T\" = { is", "\"Temp (°F)\" = { is")
        .log("climate.csv", "Time,Temp (°F),RH\n2031-07-04 06:00,21,80\n");
    let tables = trial.read();
    let asked = fault(&tables, "unit-contradicts-header");
    assert_eq!((asked.found.as_str(), asked.fatal), ("unit = \"°C\", and the header writes \"°F\"", false));
    assert_eq!(tables.sites[0].climate[0].temperature, [21.0]);
}

#[test]
fn totals_are_known_by_their_word_or_pattern() {
    let trial = TrialFolder::new(HARVEST)
        .edit("unlisted = \"zero\"", "unlisted = \"zero\"\ntotals = [\"Total*\", \"Sum\"]")
        .log("picks.csv", "Date,Bucket,kg,Fruit,Grade\n2031-06-02,B1-01,1,30,1\nTOTAL of week 23,,1,30,\nsum:,,1,30,\n");
    let tables = trial.read();
    assert_eq!(tables.files[1].read, 1);
    assert!(tables.files[1].other_lines.contains(&("totals".to_owned(), 2)));
}
