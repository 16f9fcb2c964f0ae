use crate::trial_folder::{CLIMATE, TrialFolder, aside, fault, flag};

fn instants(tables: &crate::CleanTables) -> Vec<String> {
    tables.sites[0].climate[0].instant.iter().map(|s| jiff::Timestamp::from_second(*s).unwrap().to_string()).collect()
}

#[test]
fn civil_stamps_become_utc_with_daylight_saving() {
    let trial = TrialFolder::new(CLIMATE)
        .log("climate.csv", "Time,T,RH\n2031-07-04 06:00,21.5,80\n2031-07-04T06:30:00,22,79\n2031-07-04T07:00:00-06:00,23,78\n");
    let tables = trial.read();
    assert_eq!(instants(&tables), ["2031-07-04T11:00:00Z", "2031-07-04T11:30:00Z", "2031-07-04T13:00:00Z"]);
    let climate = &tables.sites[0].climate[0];
    assert_eq!((climate.standard_offset_s, climate.interval_s), (-21_600, 1800));
    assert_eq!(climate.temperature, [21.5, 22.0, 23.0]);
    assert!(climate.light.is_empty());
}

#[test]
fn the_doubled_hour_is_told_apart_by_the_order_of_the_file() {
    let trial = TrialFolder::new(CLIMATE).log("climate.csv", "Time,T,RH\n2031-11-02 00:30,10,80\n2031-11-02 01:00,11,80\n2031-11-02 01:30,12,80\n2031-11-02 01:00,13,80\n2031-11-02 01:30,14,80\n2031-11-02 02:00,15,80\n");
    let tables = trial.read();
    assert_eq!(
        instants(&tables),
        [
            "2031-11-02T05:30:00Z",
            "2031-11-02T06:00:00Z",
            "2031-11-02T06:30:00Z",
            "2031-11-02T07:00:00Z",
            "2031-11-02T07:30:00Z",
            "2031-11-02T08:00:00Z"
        ]
    );
    assert!(tables.sites[0].climate[0].flagged.iter().all(|f| !f));
    assert!(tables.set_aside.is_empty());
}

#[test]
fn a_doubled_hour_that_no_order_tells_apart_is_flagged() {
    let trial = TrialFolder::new(CLIMATE)
        .log("climate.csv", "Time,T,RH\n2031-11-02 00:30,10,80\n2031-11-02 01:00,11,80\n2031-11-02 01:30,12,80\n2031-11-02 02:00,15,80\n");
    let tables = trial.read();
    assert_eq!(flag(&tables, "hour-not-settled").rows, 2);
    assert_eq!(tables.files[1].flagged, 2);
}

#[test]
fn a_record_in_the_hour_that_never_was_betrays_a_wrong_clock() {
    let trial = TrialFolder::new(CLIMATE)
        .log("climate.csv", "Time,T,RH\n2031-03-09 01:30,10,80\n2031-03-09 02:00,11,80\n2031-03-09 02:30,12,80\n2031-03-09 03:00,13,80\n");
    let tables = trial.read();
    let never = fault(&tables, "hour-that-never-was");
    assert_eq!((never.place.row, never.also_rows.as_slice()), (Some(3), [4].as_slice()));
    assert_eq!(never.mend, "the logger did not follow daylight saving: declare clock = \"standard\", \"utc\" or its offset");
    assert_eq!(tables.files[1].set_aside, 2);
    let standard = TrialFolder::new(CLIMATE)
        .edit("clock = \"site\"", "clock = \"standard\"")
        .log("climate.csv", "Time,T,RH\n2031-03-09 02:30,12,80\n");
    assert_eq!(instants(&standard.read()), ["2031-03-09T08:30:00Z"]);
}

#[test]
fn identical_records_are_one_and_differing_ones_are_none() {
    let trial = TrialFolder::new(CLIMATE)
        .log("climate-1.csv", "Time,T,RH\n2031-07-04 06:00,21,80\n2031-07-04 06:30,22,79\n2031-07-04 07:00,23,78\n")
        .log("climate-2.csv", "Time,T,RH\n2031-07-04 06:30,22,79\n2031-07-04 07:00,25,78\n2031-07-04 07:30,24,77\n");
    let tables = trial.read();
    assert_eq!(tables.sites[0].climate[0].temperature, [21.0, 22.0, 24.0]);
    let identical = aside(&tables, "duplicate-identical");
    assert_eq!(
        (identical[0].place.to_string(), identical[0].why.as_str()),
        ("climate-2.csv, row 2".to_owned(), "identical to climate-1.csv, row 3, which is kept")
    );
    assert_eq!(aside(&tables, "duplicate-differing").len(), 2);
    assert_eq!(fault(&tables, "duplicate-differing").title, "records of one instant that differ");
}

#[test]
fn impossible_cells_are_emptied_and_humidity_up_to_103_is_kept_as_100() {
    let trial = TrialFolder::new(CLIMATE)
        .log("climate.csv", "Time,T,RH\n2031-07-04 06:00,21,104\n2031-07-04 06:30,22,101.5\n2031-07-04 07:00,-127,-1\n");
    let tables = trial.read();
    let climate = &tables.sites[0].climate[0];
    assert!(climate.humidity[0].is_nan());
    assert_eq!((climate.temperature.as_slice(), climate.humidity[1]), ([21.0, 22.0].as_slice(), 100.0));
    assert_eq!(climate.flagged, [false, false], "a capped humidity is told and doubts no record");
    assert_eq!(flag(&tables, "humidity-above-100").rows, 1);
    assert_eq!(fault(&tables, "humidity-impossible").also_rows, [4]);
    assert_eq!(fault(&tables, "temperature-impossible").expected, "-40 to 70 °C");
    assert_eq!(aside(&tables, "nothing-left")[0].place.row, Some(4));
}

#[test]
fn fahrenheit_twelve_hours_and_two_columns_of_date_and_time() {
    let trial = TrialFolder::new(CLIMATE)
        .edit("\"Time\" = { is = \"date-time\" }", "\"Day\" = { is = \"date\" }\n\"Time\" = { is = \"time\" }")
        .edit("date_style = \"year-month-day\"\n[climate", "date_style = \"month/day/year\"\ntime_style = \"12-hour\"\n[climate")
        .edit("unit = \"°C\"", "unit = \"°F\"")
        .log("climate.csv", "Day,Time,T,RH\n7/4/31,12:00 AM,50,80\n7/4/31,12:30 PM,86,80\n7/4/31,6:00,86,80\n");
    let tables = trial.read();
    assert_eq!(instants(&tables), ["2031-07-04T05:00:00Z", "2031-07-04T17:30:00Z"]);
    assert_eq!(tables.sites[0].climate[0].temperature, [10.0, 30.0]);
    assert_eq!(fault(&tables, "time-unreadable").title, "neither am nor pm");
    assert!(tables.inferences.iter().any(|i| i.what == "years of column \"Day\"" && i.because == "2 dates write two digits"));
}

#[test]
fn records_out_of_order_are_sorted_and_told() {
    let trial =
        TrialFolder::new(CLIMATE).log("climate.csv", "Time,T,RH\n2031-07-04 07:00,23,78\n2031-07-04 06:00,21,80\n2031-07-04 06:30,22,79\n");
    let tables = trial.read();
    assert_eq!(tables.sites[0].climate[0].temperature, [21.0, 22.0, 23.0]);
    assert!(tables.inferences.iter().any(|i| i.what.starts_with("order of the records")));
}

#[test]
fn an_unsettled_light_unit_leaves_light_unread() {
    let trial = TrialFolder::new(CLIMATE)
        .edit("\"RH\" =", "\"L\" = { is = \"light\", unit = \"lux\" }\n\"RH\" =")
        .log("climate.csv", "Time,T,RH,L\n2031-07-04 06:00,21,80,5400\n");
    let tables = trial.read();
    assert!(tables.sites[0].climate[0].light.is_empty());
    assert!(!fault(&tables, "unit-undeclared").fatal);
}

#[test]
fn records_of_a_clock_that_fell_back_to_2000_are_set_aside() {
    let trial =
        TrialFolder::new(CLIMATE).log("climate.csv", "Time,T,RH\n2031-07-04 06:00,21,80\n2000-01-01 00:00,22,79\n2000-01-01 00:30,23,78\n");
    let tables = trial.read();
    assert_eq!(tables.sites[0].climate[0].instant.len(), 1);
    assert_eq!((fault(&tables, "date-outside-season").place.row, tables.files[1].set_aside), (Some(3), 2));
}
