//! The same climate logs read by crosshouse and by the lazy CSV scan of polars: see `benches/climate.rs`.
//! Here: an invented season of logs in four habits, written to a folder, with its declarations.
use std::fmt::Write;
use std::io;
use std::path::Path;

/// How a station keeps its log.
#[derive(Debug, Clone, Copy)]
pub struct Habit {
    pub delimiter: char,
    pub decimal: char,
    pub fahrenheit: bool,
    /// The word of the site file, and what comes between day and clock.
    pub dates: &'static str,
    pub mark: char,
    pub missing: &'static str,
    pub preamble: &'static [&'static str],
}

pub const HABITS: [Habit; 4] = [
    Habit {
        delimiter: ',',
        decimal: '.',
        fahrenheit: true,
        dates: "month/day/year",
        mark: ' ',
        missing: "",
        preamble: &["box 7", "read out by hand"],
    },
    Habit { delimiter: ';', decimal: ',', fahrenheit: false, dates: "day.month.year", mark: ' ', missing: "-", preamble: &[] },
    Habit { delimiter: ',', decimal: '.', fahrenheit: false, dates: "year-month-day", mark: 'T', missing: "NA", preamble: &[] },
    Habit { delimiter: ',', decimal: '.', fahrenheit: true, dates: "year-month-day", mark: ' ', missing: "-999", preamble: &["unit 3"] },
];

/// Days of the season that the logs hold, from 1 May on.
const MONTHS: [(u32, usize); 4] = [(5, 31), (6, 30), (7, 31), (8, 28)];

/// Name of a site's log.
pub fn log_name(site: usize) -> String {
    format!("climate-{site:03}.csv")
}

/// Writes a season of `sites` sites, 120 days of a record a minute each; rows written.
///
/// # Errors
/// Where a file cannot be written.
pub fn write_season(folder: &Path, sites: usize) -> io::Result<u64> {
    let mut rows = 0;
    let mut names = Vec::new();
    for site in 0..sites {
        let habit = &HABITS[site % HABITS.len()];
        let (text, n) = log(site, habit);
        rows += n;
        std::fs::write(folder.join(log_name(site)), text)?;
        std::fs::write(folder.join(format!("plan-{site:03}.csv")), "Unit,House,Plants\nu1,H1,2\nu2,H1,2\n")?;
        std::fs::write(folder.join(format!("site-{site:03}.toml")), declared(site, habit))?;
        names.push(format!("\"site-{site:03}.toml\""));
    }
    let season = format!(
        "[season]\ntitle = \"A season to be timed\"\ncrop = \"snack pepper\"\nyear = \"2031\"\nseed = 1\nlogs = \".\"\nsites = [{}]\n",
        names.join(", ")
    );
    std::fs::write(folder.join("season.toml"), season)?;
    Ok(rows)
}

fn log(site: usize, habit: &Habit) -> (String, u64) {
    let d = habit.delimiter;
    let mut text = String::new();
    habit.preamble.iter().for_each(|line| text += &format!("{line}\n"));
    let _ = writeln!(text, "stamp{d}house{d}air{d}moist{d}bright");
    let mut noise = 0x9E37_79B9_u64.wrapping_mul(site as u64 + 1);
    let mut next = move || {
        noise = noise.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (noise >> 40) as f64 / (1_u64 << 24) as f64 - 0.5
    };
    let mut rows = 0;
    for (month, days) in MONTHS {
        for day in 1..=days {
            for minute in 0..1440 {
                let shine =
                    (((minute as f64 - 360.0) / 840.0) * std::f64::consts::PI).sin().max(0.0) * f64::from((330..1230).contains(&minute));
                let celsius = 18.0 + 9.0 * shine + next();
                let air = if habit.fahrenheit { celsius * 1.8 + 32.0 } else { celsius };
                let (moist, bright) = (82.0 - 25.0 * shine + 4.0 * next(), (900.0 * shine * (1.0 + 0.4 * next())).max(0.0));
                let air =
                    if next() > 0.499 { habit.missing.to_owned() } else { format!("{air:.1}").replace('.', &habit.decimal.to_string()) };
                let value = |x: f64| format!("{x:.1}").replace('.', &habit.decimal.to_string());
                let date = match habit.dates {
                    "month/day/year" => format!("{month:02}/{day:02}/2031"),
                    "day.month.year" => format!("{day:02}.{month:02}.2031"),
                    _ => format!("2031-{month:02}-{day:02}"),
                };
                let _ = writeln!(
                    text,
                    "{date}{}{:02}:{:02}{d}H1{d}{air}{d}{}{d}{}",
                    habit.mark,
                    minute / 60,
                    minute % 60,
                    value(moist),
                    value(bright)
                );
                rows += 1;
            }
        }
    }
    (text, rows)
}

fn declared(site: usize, habit: &Habit) -> String {
    let unit = if habit.fahrenheit { "°F" } else { "°C" };
    format!(
        r#"[site]
id = "site-{site:03}"
name = "Station {site}"
time_zone = "CST6CDT"
latitude = 46.9
longitude = -95.1
transplanted = 2031-05-01
ended = 2031-08-28

[[house]]
id = "H1"
kind = "glasshouse"

[plan]
file = "plan-{site:03}.csv"
[plan.columns]
"Unit" = {{ is = "unit" }}
"House" = {{ is = "house" }}
"Plants" = {{ is = "plants" }}

[[climate]]
files = ["{}"]
clock = "standard"
interval_minutes = 1
light_is = "instant"
delimiter = "{}"
decimal = "{}"
encoding = "utf-8"
skip_lines = {}
missing = ["", "{}"]
date_style = "{}"
[climate.columns]
"stamp" = {{ is = "date-time" }}
"house" = {{ is = "house" }}
"air" = {{ is = "temperature", unit = "{unit}" }}
"moist" = {{ is = "humidity", unit = "%" }}
"bright" = {{ is = "light", unit = "umol/m2/s" }}
"#,
        log_name(site),
        habit.delimiter,
        habit.decimal,
        habit.preamble.len(),
        if habit.missing.is_empty() { "NA" } else { habit.missing },
        habit.dates,
    )
}
