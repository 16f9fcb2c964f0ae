//! House days of a season's climate records, in memory and from a log as it is read.
#![allow(clippy::unwrap_used, clippy::disallowed_methods)]
use crosshouse_logs::declare::SiteDeclaration;
use crosshouse_logs::loggers::{LoggerFacts, Loggers};
use crosshouse_logs::tables::{Climate, Site, Unlisted};
use crosshouse_logs::{Silent, read_declarations, read_season_through};
use crosshouse_readings::{FileId, Source};
use crosshouse_trial::{RunningDays, Settings, house_days};
use std::fmt::Write;
use std::path::Path;

fn main() {
    divan::main();
}

fn site() -> Site {
    Site {
        id: "a".into(),
        name: "A".into(),
        time_zone: "UTC".into(),
        latitude: Some(45.0),
        longitude: Some(0.0),
        seeded: None,
        transplanted: None,
        ended: None,
        unlisted: Unlisted::Zero,
        pick_days: Vec::new(),
        house_pick_days: Default::default(),
        missed_days: Vec::new(),
        houses: Vec::new(),
        practices: Vec::new(),
    }
}

/// One-minute records of `records` minutes.
fn logger(records: usize) -> Climate {
    let hour = |i: usize| (i % 1440) as f64 / 60.0;
    let wave = |i: usize| (std::f64::consts::PI * (hour(i) - 6.0) / 12.0).sin();
    Climate {
        house: "house-1".into(),
        interval_s: 60,
        instant: (0..records as i64).map(|i| 1_932_000_000 + i * 60).collect(),
        temperature: (0..records).map(|i| 21.0 + 6.0 * wave(i)).collect(),
        humidity: (0..records).map(|i| 70.0 - 15.0 * wave(i)).collect(),
        light: (0..records).map(|i| (900.0 * wave(i)).max(0.0)).collect(),
        source: vec![Source { file: FileId(0), row: 1 }; records],
        flagged: vec![false; records],
        ..Climate::default()
    }
}

#[divan::bench(args = [50_000, 500_000], sample_count = 5)]
fn house_days_of_minute_records(bencher: divan::Bencher<'_, '_>, records: usize) {
    let (site, climate, settings) = (site(), [logger(records)], Settings::default());
    bencher.bench(|| house_days(&site, &climate, &settings));
}

struct Days(Settings);

impl Loggers for Days {
    type Out = Vec<crosshouse_trial::tables::HouseDay>;
    type Pass = RunningDays;

    fn begin(&self, site: &SiteDeclaration, facts: &LoggerFacts) -> RunningDays {
        RunningDays::new(site.latitude.zip(site.longitude), facts, &self.0)
    }
}

const SEASON: &str = "[season]\ntitle = \"bench\"\nseed = 1\nlogs = \"logs\"\nsites = [\"site.toml\"]\n";
const SITE: &str = r#"
[site]
time_zone = "CST6CDT"
latitude = 46.9
longitude = -95.1
[[house]]
id = "h"
[plan]
file = "plan.csv"
[plan.columns]
"Unit" = { is = "unit" }
"Plants" = { is = "plants" }
[[climate]]
files = ["climate-*.csv"]
house = "h"
clock = "standard"
interval_minutes = 1
delimiter = ","
decimal = "."
date_style = "year-month-day"
[climate.columns]
"Time" = { is = "date-time" }
"T" = { is = "temperature", unit = "°F" }
"RH" = { is = "humidity", unit = "%" }
"PAR" = { is = "light", unit = "umol/m2/s" }
"#;

/// One file of minutes a month.
fn season(folder: &Path, months: usize) {
    std::fs::create_dir_all(folder.join("logs")).unwrap();
    std::fs::write(folder.join("season.toml"), SEASON).unwrap();
    std::fs::write(folder.join("site.toml"), SITE).unwrap();
    std::fs::write(folder.join("logs/plan.csv"), "Unit,Plants\nA,1\n").unwrap();
    for month in 1..=months {
        let mut text = String::from("Time,T,RH,PAR\n");
        for i in 0..28 * 1440 {
            let (day, hour, minute) = (1 + i / 1440, i / 60 % 24, i % 60);
            let (t, rh, par) = (600 + i * 7 % 250, 400 + i * 11 % 500, if (6..20).contains(&hour) { i * 13 % 9000 } else { 0 });
            writeln!(
                text,
                "2031-{month:02}-{day:02} {hour:02}:{minute:02},{}.{},{}.{},{}.{}",
                t / 10,
                t % 10,
                rh / 10,
                rh % 10,
                par / 10,
                par % 10
            )
            .unwrap();
        }
        std::fs::write(folder.join(format!("logs/climate-{month:02}.csv")), text).unwrap();
    }
}

#[divan::bench(args = [1, 12], sample_count = 5)]
fn house_days_of_a_log_as_it_is_read(bencher: divan::Bencher<'_, '_>, months: usize) {
    let folder = tempfile::tempdir().unwrap();
    season(folder.path(), months);
    let season = read_declarations(&folder.path().join("season.toml")).unwrap();
    let days = Days(Settings::default());
    bencher.bench_local(|| read_season_through(&season, &Silent, &days).1);
}
