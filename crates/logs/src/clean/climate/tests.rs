//! What must not matter: whether a log is read in a stream or by the general readers.
mod kept;

use super::stream::{LogReading, Task, read_generally, read_log, read_streaming};
use crate::declare::Season;
use crate::loggers::Whole;
use crate::source::{Found, expand};
use crate::tables::Climate;
use crate::trial_folder::TrialFolder;
use proptest::prelude::*;
use proptest::test_runner::Config;

const LOG: &str = r##"
[[climate]]
files = ["climate*.csv"]
clock = "site"
INTERVAL
light_is = "instant"
delimiter = ","
DECIMAL
comment = "#"
totals = ["Mean"]
missing = ["", "NA", "-999", "x"]
date_style = "DATES"
[climate.columns]
"Time" = { is = "date-time" }
"House" = { is = "house" }
"T" = { is = "temperature", unit = "°F" }
"RH" = { is = "humidity", unit = "%" }
"PAR" = { is = "light", unit = "umol/m2/s" }
"##;

const HEADER: &str = "Time,House,Note,T,RH,PAR\n";

/// Both readings of the only climate log.
fn both(season: &Season) -> (LogReading<Climate>, LogReading<Climate>) {
    let site = &season.sites[0];
    let log = &site.climate[0];
    let files: Vec<Found> = expand(&season.logs_folder, &log.log.files[0]).unwrap().0;
    let task = Task { season, site, log, number: 0, files: &files, alone: false };
    (read_log(&task, &Whole, &|_| ()), read_generally(&task, &Whole))
}

/// Why the log cannot be read in a stream.
fn stopped(season: &Season) -> Option<super::file::Stop> {
    let site = &season.sites[0];
    let log = &site.climate[0];
    let files: Vec<Found> = expand(&season.logs_folder, &log.log.files[0]).unwrap().0;
    read_streaming(&Task { season, site, log, number: 0, files: &files, alone: false }, &Whole).err()
}

fn same(season: &Season) {
    let (stream, mut general) = both(season);
    general.told.faults.iter_mut().for_each(|f| f.also_rows.sort_unstable());
    let mut told = stream.told.clone();
    told.faults.iter_mut().for_each(|f| f.also_rows.sort_unstable());
    assert_eq!(format!("{told:#?}"), format!("{:#?}", general.told));
    let loggers = |reading: &LogReading<Climate>| reading.loggers.iter().map(|(c, t)| format!("{c:?} {:?}", t.trace)).collect::<Vec<_>>();
    assert_eq!(loggers(&stream), loggers(&general));
}

fn trial(interval: &str, decimal: &str, dates: &str) -> TrialFolder {
    TrialFolder::new(&LOG.replace("INTERVAL", interval).replace("DECIMAL", decimal).replace("DATES", dates))
        .edit("[plan]\n", "[[house]]\nid = \"glass-2\"\n[plan]\n")
        .edit("is = \"line\"", "is = \"house\"")
}

/// Lines as loggers, people and accidents write them.
fn line() -> impl Strategy<Value = String> {
    let cell = |plain: &'static str| prop_oneof![12 => plain.prop_map(String::from), 1 => "(NA|x|-999||-|1e2|\"7[.]5\"|12[.]34567| 8|-0[.]0|104[.]5|1[.]250|é)".prop_map(String::from)];
    let stamp = (0i64..4000, prop_oneof![20 => Just(0u8), 1 => 1u8..9]).prop_map(|(minutes, how)| {
        // Around the night on which the clock of CST6CDT goes back.
        let (day, hour, minute) = (1 + minutes / 1440, minutes / 60 % 24, minutes % 60 / 5 * 5);
        match how {
            0 => format!("2031-11-0{day} {hour:02}:{minute:02}"),
            1 => format!("2031-11-0{day}T{hour:02}:{minute:02}:30"),
            2 => format!("2031-11-0{day} {hour}:{minute:02}"),
            3 => format!("31-11-0{day} {hour:02}:{minute:02}"),
            4 => "2031-02-30 10:00".to_owned(),
            5 => format!("2031-11-0{day} {hour:02}:{minute:02}-06:00"),
            6 => "2031-03-09 02:30".to_owned(),
            7 => "1999-01-01 00:00".to_owned(),
            _ => "never".to_owned(),
        }
    });
    let house = prop_oneof![10 => Just("glass-1"), 6 => Just("glass-2"), 1 => Just("GLASS-1"), 1 => Just("shed"), 1 => Just("")];
    let note = "(|ok|\"a, b\"|a\"b)";
    let plain = (stamp, house, note, cell("[0-9]{2}[.][0-9]"), cell("[0-9]{1,2}([.][0-9])?"), cell("-?[0-9]{1,3}"))
        .prop_map(|(stamp, house, note, t, rh, par)| format!("{stamp},{house},{note},{t},{rh},{par}"));
    let odd = "(|# said|Mean,,,1,2,3|Time,House,Note,T,RH,PAR|2031-11-01 10:00,glass-1|2031-11-01 10:00,glass-1,,70,50,1,9|,,,,,)"
        .prop_map(String::from);
    prop_oneof![24 => plain, 1 => odd]
}

fn file() -> impl Strategy<Value = String> {
    let sorted = prop_oneof![3 => Just(1u8), 1 => Just(0u8), 1 => Just(2u8)];
    (prop::collection::vec(line(), 0..60), sorted, prop_oneof![Just("\n"), Just("\r\n")], any::<bool>()).prop_map(
        |(mut lines, order, end, closed)| {
            match order {
                1 => lines.sort(),
                2 => lines.sort_by(|a, b| b.cmp(a)),
                _ => {}
            }
            let mut text = HEADER.replace('\n', end) + &lines.join(end);
            if closed {
                text.push_str(end);
            }
            text
        },
    )
}

proptest! {
    #![proptest_config(Config { cases: 400, ..Config::default() })]

    #[test]
    fn a_stream_reads_what_the_general_readers_read(
        files in prop::collection::vec(file(), 1..4),
        interval in prop_oneof![3 => Just("interval_minutes = 5"), 1 => Just("")],
        decimal in prop_oneof![3 => Just("decimal = \".\""), 1 => Just("")],
    ) {
        let trial = trial(interval, decimal, "year-month-day");
        let trial = files.iter().enumerate().fold(trial, |t, (i, text)| t.log(&format!("climate-{i}.csv"), text));
        same(&trial.declarations().unwrap());
    }

    #[test]
    fn any_marks_are_read_alike(text in "[0-9,;\"\n\r \t.:/#%éT-]{0,120}") {
        let trial = trial("", "", "year-month-day").log("climate.csv", format!("{HEADER}2031-07-04 06:00,glass-1,,1.5,2,3\n{text}"));
        same(&trial.declarations().unwrap());
    }
}

/// Rows of a house in order, for downloads that overlap, stand in any order, or run backwards.
fn rows(from: usize, to: usize) -> String {
    (from..to)
        .map(|i| {
            format!(
                "07/{:02}/2031 {:02}:{:02},glass-1,,{}.{},{},{}\n",
                1 + i / 288,
                i / 12 % 24,
                i % 12 * 5,
                60 + i % 31,
                i % 10,
                40 + i % 50,
                i % 900
            )
        })
        .collect()
}

#[test]
fn overlapping_backward_and_shuffled_files_are_read_alike() {
    let backwards: String = HEADER.to_owned() + &rows(100, 1900).lines().rev().map(|l| format!("{l}\n")).collect::<String>();
    for texts in [
        vec![rows(0, 2000), rows(1990, 4000), rows(3000, 3500)],
        vec![rows(2000, 4000), rows(0, 2010)],
        vec![rows(0, 1000), rows(999, 3000), rows(1000, 1001)],
    ] {
        let trial = trial("interval_minutes = 5", "decimal = \".\"", "month/day/year");
        let trial = texts.iter().enumerate().fold(trial, |t, (i, text)| t.log(&format!("climate-{i}.csv"), HEADER.to_owned() + text));
        let trial = trial.log("climate-9.csv", &backwards);
        let season = trial.declarations().unwrap();
        assert_eq!(stopped(&season), None);
        same(&season);
    }
}

#[test]
fn a_row_behind_a_header_that_ends_in_a_lone_carriage_return_is_not_lost() {
    let text = format!("{}\r{}", HEADER.trim_end(), rows(0, 6));
    let trial = trial("interval_minutes = 5", "decimal = \".\"", "month/day/year").log("climate.csv", text);
    let season = trial.declarations().unwrap();
    same(&season);
    let (stream, _) = both(&season);
    assert_eq!((stream.told.files[0].read, stream.told.files[0].kept), (6, 6));
}

#[test]
fn a_file_larger_than_the_buffer_is_read_alike_without_a_declared_interval() {
    let trial = trial("", "", "month/day/year").log("climate.csv", HEADER.to_owned() + &rows(0, 8000));
    let season = trial.declarations().unwrap();
    assert_eq!(stopped(&season), None);
    same(&season);
    assert_eq!(both(&season).0.loggers[0].0.instant.len(), 8000);
}

#[test]
fn an_older_encoding_and_a_column_without_its_unit_are_read_alike() {
    let windows: Vec<u8> =
        format!("Time,House,Note,T,RH,PAR\n{}", rows(0, 900).replace("glass-1,,", "glass-1,\u{b0},")).chars().map(|c| c as u8).collect();
    let old = trial("interval_minutes = 5", "decimal = \".\"\nencoding = \"windows-1252\"", "month/day/year").log("climate.csv", windows);
    let lux = trial("interval_minutes = 5", "decimal = \".\"", "month/day/year").edit("umol/m2/s", "lux");
    let lux = lux.log("climate-1.csv", HEADER.to_owned() + &rows(0, 300)).log("climate-2.csv", HEADER.to_owned() + &rows(290, 600));
    for trial in [old, lux] {
        let season = trial.declarations().unwrap();
        assert_eq!(stopped(&season), None);
        same(&season);
    }
}

#[test]
fn first_records_that_mislead_about_the_interval_are_read_again() {
    let early = rows(0, 1500);
    let hourly: String = rows(1500, 8640).lines().step_by(12).map(|l| format!("{l}\n")).collect();
    let stamp = |i: i32| format!("{:02}/{:02}/2031 {:02}:00,glass-1,,70.1,50,1\n", 8 + i / 24 / 28, 1 + i / 24 % 28, i % 24);
    let many = hourly + &(0..2000).map(stamp).collect::<String>();
    let trial = trial("", "decimal = \".\"", "month/day/year").log("climate.csv", HEADER.to_owned() + &early + &many);
    let season = trial.declarations().unwrap();
    assert_eq!(stopped(&season), None);
    same(&season);
    assert_eq!(both(&season).0.loggers[0].0.interval_s, 3600);
}
