use crate::tables::{GradeKind, Unlisted};
use crate::trial_folder::{HARVEST, TrialFolder, aside, fault, flag, told};
use jiff::civil::date;

#[test]
fn a_plain_log_is_read_whole_and_accounted_for() {
    let trial = TrialFolder::new(HARVEST)
        .log("picks.csv", "Date,Bucket,kg,Fruit,Grade\n2031-06-02,B1-01,1.25,30,1\n2031-06-02,B1-01,0.1,4,C\n\n2031-06-05,B1-03,0,0,1\n");
    let tables = trial.read();
    let site = &tables.sites[0];
    assert_eq!(site.picks.len(), 3);
    assert_eq!(
        (site.picks[0].unit, site.picks[0].day, site.picks[0].mass, site.picks[0].count),
        (0, date(2031, 6, 2), Some(1.25), Some(30.0))
    );
    assert_eq!((site.picks[1].kind, site.picks[1].grade.as_deref()), (GradeKind::Cull, Some("C")));
    assert_eq!(site.site.pick_days, [date(2031, 6, 2), date(2031, 6, 5)]);
    assert_eq!(site.site.unlisted, Unlisted::Zero);
    let account = &tables.files[1];
    assert_eq!((account.read, account.kept, account.set_aside), (3, 3, 0));
    assert_eq!(account.other_lines, [("blank".to_owned(), 1), ("header".to_owned(), 1)]);
    assert_eq!(site.picks[2].source.row, 5);
    assert!(tables.faults.is_empty(), "{:#?}", tables.faults);
}

#[test]
fn an_unreadable_mass_sets_the_cell_aside_and_keeps_the_row() {
    let trial = TrialFolder::new(HARVEST)
        .edit("unit = \"kg\"", "unit = \"lb oz\"")
        .log("picks.csv", "Date,Bucket,kg,Fruit,Grade\n2031-06-02,B1-01,2 lb 3 oz,30,1\n2031-06-02,B1-02,2 lb 30z,28,1\n2031-06-02,B1-03,,,1\n2031-06-05,B1-03,two,,1\n");
    let tables = trial.read();
    let site = &tables.sites[0];
    assert_eq!(site.picks[0].mass, Some(0.992_233_309_375));
    assert_eq!((site.picks[1].mass, site.picks[1].count), (None, Some(28.0)));
    let mass = fault(&tables, "mass-unreadable");
    assert_eq!(
        told(mass),
        "picks.csv, row 3, column \"kg\": not a mass\nfound 2 lb 30z\nexpected pounds and ounces such as \"2 lb 3 oz\", with fewer than 16 ounces beside pounds\nmend correct the cell; or, if this text means \"not weighed\", add it to `missing`"
    );
    assert_eq!(mass.also_rows, [5]);
    assert_eq!(aside(&tables, "nothing-written")[0].place.row, Some(4));
    assert_eq!(aside(&tables, "nothing-left")[0].place.row, Some(5));
    let unread: Vec<_> = site.unread.iter().map(|u| (u.unit, u.day, u.code.as_str())).collect();
    assert_eq!(unread, [(2, date(2031, 6, 2), "nothing-written"), (2, date(2031, 6, 5), "nothing-left")]);
    assert_eq!(site.site.pick_days, [date(2031, 6, 2)]);
}

#[test]
fn pounds_and_ounces_in_two_columns_add_up_exactly() {
    let trial = TrialFolder::new(HARVEST)
        .edit(
            "\"kg\" = { is = \"mass\", unit = \"kg\" }",
            "\"lb\" = { is = \"mass\", unit = \"lb\" }\n\"oz\" = { is = \"mass\", unit = \"oz\" }",
        )
        .log(
            "picks.csv",
            "Date,Bucket,lb,oz,Fruit,Grade\n2031-06-02,B1-01,2,3,30,1\n2031-06-02,B1-02,,12,9,1\n2031-06-02,B1-03,1,x,28,1\n",
        );
    let site = trial.read().sites.remove(0);
    assert_eq!(site.picks[0].mass, Some(0.992_233_309_375));
    assert_eq!(site.picks[1].mass, Some(0.340_194_277_5)); // 12 oz
    assert_eq!(site.picks[2].mass, None); // half a mass is none
}

#[test]
fn impossible_values_leave_and_their_rows_stay() {
    let trial =
        TrialFolder::new(HARVEST).log("picks.csv", "Date,Bucket,kg,Fruit,Grade\n2031-06-02,B1-01,-1.25,30,1\n2031-06-02,B1-02,1.1,2.5,1\n");
    let tables = trial.read();
    let site = &tables.sites[0];
    assert_eq!((site.picks[0].mass, site.picks[0].count), (None, Some(30.0)));
    assert_eq!((site.picks[1].mass, site.picks[1].count), (Some(1.1), None));
    assert_eq!(fault(&tables, "mass-impossible").expected, "0 kg or more");
    assert_eq!(fault(&tables, "count-impossible").found, "2.5");
    assert!(tables.set_aside.iter().all(|s| !s.whole_row));
}

#[test]
fn rows_without_a_place_are_set_aside_with_the_nearest_one() {
    let trial = TrialFolder::new(HARVEST).log("picks.csv", "Date,Bucket,kg,Fruit,Grade\n2031-06-02,B1-1,1,30,1\n02.06.2031,B1-02,1,30,1\n2031-06-31,B1-02,1,30,1\n2031-06-02,B1-02,1,30,A\n2031-06-02,,1,30,1\n");
    let tables = trial.read();
    assert!(tables.sites[0].picks.is_empty());
    let unit = fault(&tables, "unit-unknown");
    assert_eq!(
        (unit.found.as_str(), unit.mend.as_str()),
        ("B1-1", "did you mean \"B1-01\"? If the two are one unit, add \"B1-1\" to [unit_ids.also]")
    );
    assert_eq!(aside(&tables, "unit-unknown")[0].why, "the plan has no unit \"B1-1\"; the nearest is \"B1-01\"");
    assert_eq!(fault(&tables, "date-unreadable").expected, "a date such as 2031-07-24 (date_style = \"year-month-day\")");
    assert_eq!(fault(&tables, "date-impossible").found, "2031-06-31");
    assert_eq!(
        fault(&tables, "grade-undeclared").mend,
        "did you mean \"1\"? If not, say in [harvest.grades] whether \"A\" is marketable or cull"
    );
    let account = &tables.files[1];
    assert_eq!((account.read, account.kept, account.set_aside), (5, 0, 5));
}

const TWICE: &str = "Date,Bucket,kg,Fruit,Grade\n2031-06-02,B1-01,1,30,1\n2031-06-02,B1-01,0.5,12,1\n2031-06-02,B1-01,0.1,4,C\n";

#[test]
fn a_second_row_adds_replaces_or_is_a_fault_as_declared() {
    let masses = |same: &str| {
        let tables = TrialFolder::new(HARVEST).edit("same_day = \"add\"", same).log("picks.csv", TWICE).read();
        let masses: Vec<_> = tables.sites[0].picks.iter().map(|p| p.mass.unwrap()).collect();
        (masses, tables)
    };
    assert_eq!(masses("same_day = \"add\"").0, [1.0, 0.5, 0.1]);
    let (replaced, tables) = masses("same_day = \"replace\"");
    assert_eq!(replaced, [0.5, 0.1]);
    assert_eq!(
        aside(&tables, "replaced")[0].why,
        "a later row of the same unit, day and grade replaces it (picks.csv, row 3), as same_day = \"replace\" says"
    );
    assert_eq!(masses("same_day = \"fault\"").0, [0.1]);
    let (undeclared, tables) = masses("");
    assert_eq!(undeclared, [0.1]);
    let asked = fault(&tables, "same-day-undeclared");
    assert_eq!(asked.also_rows, [3]);
    assert!(asked.mend.contains("add to the first, replace it, or is it a fault?"));
    assert_eq!(tables.sites[0].unread.len(), 2);
}

#[test]
fn the_same_row_in_two_files_is_added_and_flagged() {
    let trial = TrialFolder::new(HARVEST)
        .log("picks-1.csv", "Date,Bucket,kg,Fruit,Grade\n2031-06-02,B1-01,1,30,1\n")
        .log("picks-2.csv", "Date,Bucket,kg,Fruit,Grade\n2031-06-02,B1-01,1,30,1\n2031-06-03,B1-01,1,30,1\n");
    let tables = trial.read();
    assert_eq!(tables.sites[0].picks.len(), 3);
    assert_eq!(flag(&tables, "same-row-in-two-files").file, "picks-2.csv");
    assert_eq!(tables.files[2].flagged, 1);
}

#[test]
fn totals_comments_repeated_headers_and_a_unit_row_are_no_rows() {
    let trial = TrialFolder::new(HARVEST)
        .edit("unlisted = \"zero\"", "unlisted = \"zero\"\nskip_lines = 2\nunit_row = true\ncomment = \"#\"\ntotals = [\"Total\"]\nmissing = [\"n/a\"]")
        .log("picks.csv", "Tarn Hollow\n\nDate,Bucket,kg,Fruit,Grade\n,,kg,pcs,\n# June\n2031-06-02,B1-01,1,n/a,1\nTotal:,,1,30,\nDate,Bucket,kg,Fruit,Grade\n2031-06-05,B1-01,2,60,1\n");
    let tables = trial.read();
    let account = &tables.files[1];
    assert_eq!((account.read, account.kept), (2, 2));
    let lines: Vec<_> = account.other_lines.iter().map(|(k, n)| format!("{n} {k}")).collect();
    assert_eq!(lines, ["2 preamble", "1 comment", "1 header", "1 unit row", "1 repeated header", "1 totals"]);
    assert_eq!(tables.sites[0].picks[0].count, None);
    assert!(tables.set_aside.is_empty());
}

#[test]
fn semicolons_decimal_commas_and_an_old_encoding_are_found_and_told() {
    let text = "Datum;Behälter;Gewicht;Früchte;Güte\n2.6.2031;B1-01;1,25;30;1\n5.6.2031;B1-02;1.250,5;31;1\n";
    let bytes: Vec<u8> = text.chars().map(|c| c as u8).collect();
    let trial = TrialFolder::new(HARVEST)
        .edit(
            "files = [\"picks*.csv\"]\ndelimiter = \",\"\ndecimal = \".\"\ndate_style = \"year-month-day\"",
            "files = [\"picks*.csv\"]\ndecimal = \",\"\nthousands = \".\"",
        )
        .edit("\"Date\" =", "\"Datum\" =")
        .edit("\"Bucket\" = { is = \"unit\" }\n\"kg\"", "\"Behälter\" = { is = \"unit\" }\n\"Gewicht\"")
        .edit("\"Fruit\" =", "\"Früchte\" =")
        .edit("\"Grade\" =", "\"Güte\" =")
        .edit("unit = \"kg\"", "unit = \"g\"")
        .log("picks.csv", bytes);
    let tables = trial.read();
    assert_eq!(tables.sites[0].picks[0].mass, Some(0.00125));
    assert_eq!(tables.sites[0].picks[1].mass, Some(1.2505));
    let told: Vec<_> = tables.inferences.iter().filter(|i| i.file == "picks.csv").map(|i| (i.what.as_str(), i.as_read.as_str())).collect();
    assert_eq!(told, [("encoding", "windows-1252"), ("delimiter", ";"), ("date style of column \"Datum\"", "day.month.year")]);
}

#[test]
fn a_date_that_two_styles_read_differently_is_a_question() {
    let trial = TrialFolder::new(HARVEST)
        .edit("delimiter = \",\"\ndecimal = \".\"\ndate_style = \"year-month-day\"\nunlisted", "delimiter = \",\"\nunlisted")
        .log("picks.csv", "Date,Bucket,kg,Fruit,Grade\n6/2/2031,B1-01,1,30,1\n");
    let tables = trial.read();
    let asked = fault(&tables, "date-style-undeclared");
    assert_eq!(asked.found, "\"6/2/2031\", which \"day/month/year\" and \"month/day/year\" read differently");
    assert!(asked.fatal);
    assert_eq!(tables.files[1].set_aside, 1);
}

#[test]
fn undeclared_assumptions_leave_the_column_unread_and_the_run_going() {
    let trial = TrialFolder::new(HARVEST)
        .edit("unit = \"kg\"", "unit = \"box\"")
        .log("picks.csv", "Date,Bucket,kg,Fruit,Grade\n2031-06-02,B1-01,1,30,1\n");
    let tables = trial.read();
    let asked = fault(&tables, "unit-undeclared");
    assert!(!asked.fatal && asked.mend.contains("what does one hold"));
    assert_eq!(asked.place.to_string(), "tarn-hollow.toml, row 32, column \"kg\"");
    assert_eq!((tables.sites[0].picks[0].mass, tables.sites[0].picks[0].count), (None, Some(30.0)));
}

#[test]
fn doubtful_picks_are_kept_and_flagged() {
    let trial = TrialFolder::new(HARVEST)
        .log("picks.csv", "Date,Bucket,kg,Fruit,Grade\n2031-03-01,B1-01,1,30,1\n2031-06-02,B1-01,1.8,2,1\n2031-12-24,B1-01,1,30,1\n");
    let tables = trial.read();
    let flags: Vec<_> = tables.sites[0].picks.iter().map(|p| p.flags.join(" ")).collect();
    assert_eq!(flags, ["before-transplanting", "heavier-than-count", "after-the-end"]);
    assert_eq!(tables.files[1].flagged, 3);
    assert_eq!(
        flag(&tables, "heavier-than-count").text,
        "1 pick heavier than the count allows: a mean fruit above 120 g (the usual upper limit of this crop: from memory of trade sheets)"
    );
}

#[test]
fn an_undeclared_meaning_of_unlisted_units_is_asked() {
    let trial = TrialFolder::new(HARVEST)
        .edit("unlisted = \"zero\"\n", "")
        .log("picks.csv", "Date,Bucket,kg,Fruit,Grade\n2031-06-02,B1-01,1,30,1\n");
    let tables = trial.read();
    assert_eq!(tables.sites[0].site.unlisted, Unlisted::Undeclared);
    assert!(fault(&tables, "unlisted-undeclared").mend.starts_with("what does a unit without a row on a pick day mean here?"));
}

#[test]
fn a_pick_of_2013_in_a_season_of_2031_is_set_aside_and_one_of_the_year_before_is_flagged() {
    let trial =
        TrialFolder::new(HARVEST).log("picks.csv", "Date,Bucket,kg,Fruit,Grade\n2013-06-02,B1-01,1,30,1\n2030-06-02,B1-01,1,30,1\n");
    let tables = trial.read();
    let told = fault(&tables, "date-outside-season");
    assert_eq!((told.found.as_str(), told.place.row), ("2013-06-02", Some(2)));
    assert_eq!(told.expected, "a day of the season: this one lies more than 400 days before 2031-03-24, when the season began here");
    assert_eq!(aside(&tables, "date-outside-season").len(), 1);
    assert_eq!(tables.sites[0].picks[0].flags, ["before-transplanting"]);
}

const UNDECLARED: &str = "delimiter = \",\"\ndecimal = \".\"\ndate_style = \"year-month-day\"\nunlisted";

#[test]
fn a_point_that_may_part_thousands_is_a_question_where_no_decimal_mark_is_declared() {
    let trial = |text: &str| {
        let trial = TrialFolder::new(HARVEST).edit(UNDECLARED, "delimiter = \",\"\ndate_style = \"year-month-day\"\nunlisted");
        trial.edit("unit = \"kg\"", "unit = \"g\"").log("picks.csv", text).read()
    };
    let open = trial("Date,Bucket,kg,Fruit,Grade\n2031-06-02,B1-01,869,30,1\n2031-06-02,B1-02,1.107,31,1\n");
    let asked = fault(&open, "decimal-undeclared");
    assert_eq!((asked.place.row, asked.expected.as_str()), (Some(3), "a declared decimal mark: 1.107 is either 1.107 or 1107"));
    assert!(open.sites[0].picks.iter().all(|p| p.mass.is_none()));
    let shown = trial("Date,Bucket,kg,Fruit,Grade\n2031-06-02,B1-01,869.5,30,1\n2031-06-02,B1-02,1.107,31,1\n");
    assert_eq!(shown.sites[0].picks[1].mass, Some(0.001107));
    assert!(shown.faults.is_empty(), "{:#?}", shown.faults);
}

#[test]
fn a_zero_needs_no_unit_in_a_column_of_pounds_and_ounces() {
    let trial = TrialFolder::new(HARVEST)
        .edit("unit = \"kg\"", "unit = \"lb oz\"")
        .log("picks.csv", "Date,Bucket,kg,Fruit,Grade\n2031-06-02,B1-01,0,0,1\n2031-06-02,B1-02,2 lb,30,1\n2031-06-02,B1-03,2.5,30,1\n");
    let tables = trial.read();
    let masses: Vec<_> = tables.sites[0].picks.iter().map(|p| p.mass).collect();
    assert_eq!(masses, [Some(0.0), Some(0.907_184_74), None]);
    assert_eq!(fault(&tables, "mass-unreadable").found, "2.5");
}

#[test]
fn bytes_of_an_undeclared_encoding_are_asked_about_where_they_stand() {
    let trial = TrialFolder::new(HARVEST).log("picks.csv", b"Date,Bucket,kg,Fruit,Grade,Note\n2031-06-02,B1-01,1,30,1,sch\xf6n\n");
    let tables = trial.read();
    let asked = fault(&tables, "encoding-undeclared");
    assert_eq!((asked.place.row, asked.fatal), (Some(2), false));
    assert_eq!(asked.found, "byte 0xF6 at offset 59; 1 such byte read as windows-1252");
    assert!(asked.mend.starts_with("declare encoding = \"windows-1252\""));
}

#[test]
fn a_pick_whose_day_cannot_be_read_is_lost_on_its_day_and_no_zero() {
    let unread = |text: &str| {
        let tables = TrialFolder::new(HARVEST).log("picks.csv", format!("Date,Bucket,kg,Fruit,Grade\n{text}")).read();
        tables.sites[0].unread.iter().map(|u| (u.unit, u.day.to_string())).collect::<Vec<_>>()
    };
    let between = "2031-06-02,B1-01,1,30,1\nJune,B1-02,1,30,1\n2031-06-02,B1-03,1,30,1\n2031-06-09,B1-01,1,30,1\n";
    assert_eq!(unread(between), [(1, "2031-06-02".to_owned())]);
    let by_unit = "2031-06-02,B1-01,1,30,1\nJune,B1-01,1,30,1\n2031-06-16,B1-01,1,30,1\n2031-06-02,B1-02,1,30,1\n2031-06-09,B1-02,1,30,1\n2031-06-16,B1-02,1,30,1\n";
    assert_eq!(unread(by_unit), [(0, "2031-06-09".to_owned())]);
    let anywhere = "2031-06-02,B1-01,1,30,1\n2031-06-09,B1-01,1,30,1\nJune,B1-02,1,30,1\n2031-06-16,B1-01,1,30,1\n";
    assert!(unread(anywhere).is_empty());
}

#[test]
fn a_row_repeated_word_for_word_is_added_flagged_and_asked_about() {
    let text = "Date,Bucket,kg,Fruit,Grade\n2031-06-02,B1-01,1,30,1\n2031-06-02,B1-01,1,30,1\n2031-06-02,B1-01,0.9,30,1\n";
    let tables = TrialFolder::new(HARVEST).log("picks.csv", text).read();
    let flags: Vec<_> = tables.sites[0].picks.iter().map(|p| p.flags.join(" ")).collect();
    assert_eq!(flags, ["", "same-row-twice", ""]);
    assert_eq!(flag(&tables, "same-row-twice").rows, 1);
    let asked = fault(&tables, "row-repeated");
    assert_eq!((asked.place.row, asked.fatal, asked.found.as_str()), (Some(3), false, "2031-06-02 | B1-01 | 1 | 30 | 1, as in row 2"));
}

#[test]
fn a_declared_style_that_the_dates_contradict_is_a_fault_of_the_whole_file() {
    let trial = |days: [&str; 5]| {
        let rows: String = days.iter().map(|d| format!("{d},B1-01,1,30,1\n")).collect();
        let trial =
            TrialFolder::new(HARVEST).edit("date_style = \"year-month-day\"\nunlisted", "date_style = \"month/day/year\"\nunlisted");
        trial.log("picks.csv", format!("Date,Bucket,kg,Fruit,Grade\n{rows}")).read()
    };
    let wrong = trial(["02/06/2031", "09/06/2031", "16/06/2031", "23/06/2031", "30/06/2031"]);
    let told = fault(&wrong, "date-style-contradicted");
    assert_eq!((told.found.as_str(), told.also_rows.as_slice(), told.fatal), ("16/06/2031", [5, 6].as_slice(), true));
    assert_eq!(told.mend, "every date of the file is a day as \"day/month/year\": declare that style if it is the file's");
    assert_eq!(wrong.files[1].set_aside, 5);
    let typed = trial(["06/02/2031", "06/09/2031", "13/06/2031", "06/11/2031", "06/12/2031"]);
    assert_eq!(fault(&typed, "date-impossible").found, "13/06/2031");
    assert_eq!(typed.files[1].set_aside, 1);
}
