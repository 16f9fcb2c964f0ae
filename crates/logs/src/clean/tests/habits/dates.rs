//! Weeks, dates without a year, clocks that drift.
use crate::tables::CleanTables;
use crate::trial_folder::{CLIMATE, HARVEST, TrialFolder, aside};
use proptest::prelude::*;

fn days(tables: &CleanTables) -> Vec<String> {
    tables.sites[0].picks.iter().map(|p| p.day.to_string()).collect()
}

fn dated(style: &str, dates: &[&str]) -> TrialFolder {
    let rows: String = dates.iter().map(|d| format!("{d},B1-01,1,30,1\n")).collect();
    TrialFolder::new(HARVEST)
        .edit("date_style = \"year-month-day\"\nunlisted", &format!("{style}\nunlisted"))
        .log("picks.csv", format!("Date,Bucket,kg,Fruit,Grade\n{rows}"))
}

#[test]
fn a_row_of_a_week_is_of_the_declared_day_of_that_week() {
    // ISO 8601: week 1 of 2031 holds Thursday 2 January, so that week 23 begins on Monday 2 June.
    let monday = dated("date_style = \"year-week\"\nweek_day = \"monday\"", &["2031-W23", "2031-W24"]);
    assert_eq!(days(&monday.read()), ["2031-06-02", "2031-06-09"]);
    let friday = dated("date_style = \"week\"\nyear = 2031\nweek_day = \"friday\"", &["week 23", "24"]);
    assert_eq!(days(&friday.read()), ["2031-06-06", "2031-06-13"]);
    let written = dated("date_style = \"year-week-weekday\"", &["2031-W23-2"]);
    assert_eq!(days(&written.read()), ["2031-06-03"]);
}

#[test]
fn a_week_without_its_day_or_year_is_a_question() {
    for (style, asked) in [
        ("date_style = \"year-week\"", "which day does a week stand for?"),
        ("date_style = \"week\"\nweek_day = \"monday\"", "the weeks of which year?"),
        ("date_style = \"month/day\"", "name year, month and day once each"),
    ] {
        let faults = dated(style, &["2031-W23"]).declarations().unwrap_err();
        assert!(faults[0].mend.starts_with(asked), "{}", faults[0].mend);
    }
}

#[test]
fn dates_without_a_year_are_of_the_declared_year() {
    assert_eq!(days(&dated("date_style = \"month/day\"\nyear = 2031", &["6/2", "6/12"]).read()), ["2031-06-02", "2031-06-12"]);
}

#[test]
fn day_first_month_first_and_two_digit_years_are_read_as_declared() {
    for (style, text) in [
        ("day.month.year", "2.6.2031"),
        ("day/month/year", "02/06/31"),
        ("month/day/year", "6/2/31"),
        ("day-month-name-year", "2-Jun-2031"),
        ("month-name day year", "June 2 2031"),
    ] {
        let tables = dated(&format!("date_style = \"{style}\""), &[text]).read();
        assert_eq!(days(&tables), ["2031-06-02"], "{style}");
        let short = tables.inferences.iter().any(|i| i.what.starts_with("years of column"));
        assert_eq!(short, text.ends_with("/31"), "{style}");
    }
}

fn instants(tables: &CleanTables) -> Vec<i64> {
    tables.sites[0].climate[0].instant.clone()
}

/// Records each half hour from 06:00 of 4 July, by a clock that gains two minutes a day.
const DRIFTED: &str = "Time,T,RH\n2031-07-04 06:00,21,80\n2031-07-04 18:01,22,79\n2031-07-05 06:02,23,78\n2031-07-05 18:03,24,77\n";

#[test]
fn a_clock_that_drifted_is_put_right_along_a_straight_line_and_told() {
    let checks = "[[climate.clock_checks]]\nlogger = \"2031-07-04 06:00\"\ntrue = \"2031-07-04 06:00\"\n[[climate.clock_checks]]\nlogger = \"2031-07-05 06:02\"\ntrue = \"2031-07-05 06:00\"\n";
    let tables = TrialFolder::new(&format!("{CLIMATE}{checks}")).log("climate.csv", DRIFTED).read();
    let read = instants(&tables);
    let steps: Vec<i64> = read.windows(2).map(|w| w[1] - w[0]).collect();
    // After the last check the clock is taken to be as wrong as at that check.
    assert_eq!(steps, [43_200, 43_200, 43_260]);
    let told = tables.inferences.iter().find(|i| i.what == "times of the logger").unwrap();
    assert_eq!(told.as_read, "put right by +0 s, -120 s, along a straight line between the checks");
    let unchecked = instants(&TrialFolder::new(CLIMATE).log("climate.csv", DRIFTED).read());
    assert_eq!(unchecked[2] - read[2], 120);
}

#[test]
fn a_clock_known_to_be_wrong_by_one_check_is_moved_as_a_whole() {
    let checks = "[[climate.clock_checks]]\nlogger = \"2031-07-05 06:02\"\ntrue = \"2031-07-05 07:02:30\"\n";
    let moved = instants(&TrialFolder::new(&format!("{CLIMATE}{checks}")).log("climate.csv", DRIFTED).read());
    let plain = instants(&TrialFolder::new(CLIMATE).log("climate.csv", DRIFTED).read());
    assert!(moved.iter().zip(&plain).all(|(m, p)| m - p == 3630));
}

#[test]
fn checks_that_contradict_each_other_are_refused() {
    let check = |logger: &str, truly: &str| format!("[[climate.clock_checks]]\nlogger = \"{logger}\"\ntrue = \"{truly}\"\n");
    let backward = check("2031-07-04 06:00", "2031-07-04 06:00") + &check("2031-07-04 06:07", "2031-07-04 06:00");
    let faults = TrialFolder::new(&format!("{CLIMATE}{backward}")).declarations().unwrap_err();
    assert_eq!(faults[0].code, "clock-checks-disorder");
    let words = TrialFolder::new(&format!("{CLIMATE}{}", check("noon", "2031-07-04 12:00"))).declarations().unwrap_err();
    assert_eq!(words[0].found, "\"noon\"");
}

#[test]
fn loggers_left_on_standard_time_are_read_by_their_own_clock() {
    let trial = |clock: &str| {
        let trial = TrialFolder::new(CLIMATE).edit("clock = \"site\"", &format!("clock = \"{clock}\""));
        instants(&trial.log("climate.csv", "Time,T,RH\n2031-07-04 06:00,21,80\n").read())[0]
    };
    // Central standard time is 6 hours, daylight time 5 hours behind UTC.
    assert_eq!(trial("standard") - trial("site"), 3600);
    assert_eq!(trial("standard"), trial("-06:00"));
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]

    /// The same instants, written by the site's clock, by standard time, by UTC, by a fixed offset, with
    /// their offset, and as serial days: the same records.
    #[test]
    fn the_notation_of_the_time_zone_changes_no_instant(first in 0i64..400, steps in prop::collection::vec(1i64..6, 1..20)) {
        let zone = jiff::tz::TimeZone::get("CST6CDT").unwrap();
        let start: jiff::Timestamp = "2031-03-25T00:00:00Z".parse().unwrap();
        let mut at = start.as_second() + first * 1800;
        let instants: Vec<i64> = steps.iter().map(|s| { at += s * 1800; at }).collect();
        let written = |shown: &dyn Fn(jiff::Timestamp) -> String| -> String {
            let line = |i: &i64| format!("{},21,80\n", shown(jiff::Timestamp::from_second(*i).unwrap()));
            std::iter::once("Time,T,RH\n".to_owned()).chain(instants.iter().map(line)).collect()
        };
        let civil = |t: jiff::Timestamp| zone.to_datetime(t);
        let fixed = |hours: i8| jiff::tz::TimeZone::fixed(jiff::tz::offset(hours));
        for (clock, text) in [
            ("site", written(&|t| civil(t).strftime("%Y-%m-%d %H:%M").to_string())),
            ("standard", written(&|t| fixed(-6).to_datetime(t).strftime("%Y-%m-%d %H:%M").to_string())),
            ("utc", written(&|t| fixed(0).to_datetime(t).strftime("%Y-%m-%dT%H:%M:%SZ").to_string())),
            ("+05:00", written(&|t| fixed(5).to_datetime(t).strftime("%Y-%m-%d %H:%M").to_string())),
            ("site", written(&|t| fixed(-3).to_datetime(t).strftime("%Y-%m-%dT%H:%M:%S-03:00").to_string())),
        ] {
            let tables = TrialFolder::new(CLIMATE).edit("clock = \"site\"", &format!("clock = \"{clock}\"")).log("climate.csv", &text).read();
            prop_assert!(aside(&tables, "date-unreadable").is_empty());
            prop_assert_eq!(&tables.sites[0].climate[0].instant, &instants, "{}", clock);
        }
    }
}
