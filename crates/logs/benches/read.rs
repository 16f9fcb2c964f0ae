//! How fast a logger is read: 190,000 rows of one minute, and 130 days of five minutes.
#![allow(clippy::unwrap_used, clippy::disallowed_methods)]
use crosshouse_logs::{Silent, read_declarations, read_season};
use std::fmt::Write;
use std::path::Path;

fn main() {
    divan::main();
}

const SEASON: &str = "[season]\ntitle = \"bench\"\nseed = 1\nlogs = \"logs\"\nsites = [\"site.toml\"]\n";
const SITE: &str = r#"
[site]
time_zone = "CST6CDT"
[[house]]
id = "h"
[plan]
file = "plan.csv"
[plan.columns]
"Unit" = { is = "unit" }
"Plants" = { is = "plants" }
[[climate]]
files = ["climate.csv"]
house = "h"
clock = "site"
date_style = "month/day/year"
[climate.columns]
"Time" = { is = "date-time" }
"T" = { is = "temperature", unit = "°F" }
"RH" = { is = "humidity", unit = "%" }
"PAR" = { is = "light", unit = "umol/m2/s" }
"CO2" = { is = "co2", unit = "ppm" }
"#;

fn season(folder: &Path, rows: usize, minutes: usize) {
    std::fs::create_dir_all(folder.join("logs")).unwrap();
    std::fs::write(folder.join("season.toml"), SEASON).unwrap();
    std::fs::write(folder.join("site.toml"), SITE).unwrap();
    std::fs::write(folder.join("logs/plan.csv"), "Unit,Plants\nA,1\n").unwrap();
    let mut text = String::from("Time,T,RH,PAR,CO2\n");
    let start: jiff::Timestamp = "2031-03-24T06:00:00Z".parse().unwrap();
    let zone = jiff::tz::TimeZone::get("CST6CDT").unwrap();
    for i in 0..rows {
        let t = zone.to_datetime(start + jiff::SignedDuration::from_mins((i * minutes) as i64));
        let (month, day, hour, minute) = (t.month(), t.day(), t.hour(), t.minute());
        writeln!(
            text,
            "{month:02}/{day:02}/2031 {hour:02}:{minute:02},{}.{},{}.{},{},{}",
            60 + i % 30,
            i % 10,
            50 + i % 45,
            i % 7,
            i % 1800,
            400 + i % 300
        )
        .unwrap();
    }
    std::fs::write(folder.join("logs/climate.csv"), text).unwrap();
}

#[divan::bench(args = [(190_000, 1), (37_440, 5)], sample_count = 5)]
fn one_logger(bencher: divan::Bencher<'_, '_>, (rows, minutes): (usize, usize)) {
    let folder = tempfile::tempdir().unwrap();
    season(folder.path(), rows, minutes);
    let season = read_declarations(&folder.path().join("season.toml")).unwrap();
    bencher.bench_local(|| read_season(&season, &Silent));
}
