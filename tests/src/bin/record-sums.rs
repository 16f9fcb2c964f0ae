//! Sums over the days of a season, each record of the same weight, to be laid beside those of a table
//! engine that groups the same logs by house and day: days, records, and the sums over the days of mean
//! temperature, mean VPD, daily light (mean × 0.0864) and highest temperature.
#![allow(clippy::print_stdout, clippy::print_stderr)]

use crosshouse_logs::declare::SiteDeclaration;
use crosshouse_logs::loggers::{Ending, LoggerFacts, Loggers, Pass, Records};
use crosshouse_logs::{Silent, read_declarations, read_season_through};
use crosshouse_trial::air::vapour_pressure_deficit;
use std::collections::BTreeMap;
use std::process::ExitCode;

/// Sum and number of the finite values.
#[derive(Default, Clone, Copy)]
struct Mean(f64, u64);

impl Mean {
    fn add(&mut self, x: f64) {
        if x.is_finite() {
            self.0 += x;
            self.1 += 1;
        }
    }

    fn value(self) -> f64 {
        self.0 / self.1 as f64
    }

    fn join(self, other: Mean) -> Mean {
        Mean(self.0 + other.0, self.1 + other.1)
    }
}

#[derive(Clone, Copy)]
struct Day {
    temperature: Mean,
    deficit: Mean,
    light: Mean,
    highest: f64,
}

const NONE: Day = Day { temperature: Mean(0.0, 0), deficit: Mean(0.0, 0), light: Mean(0.0, 0), highest: f64::NEG_INFINITY };

struct Sums;

struct Days {
    offset: i64,
    days: BTreeMap<i64, Day>,
}

impl Loggers for Sums {
    type Out = BTreeMap<i64, Day>;
    type Pass = Days;

    fn begin(&self, _site: &SiteDeclaration, facts: &LoggerFacts) -> Days {
        Days { offset: i64::from(facts.standard_offset_s), days: BTreeMap::new() }
    }
}

impl Pass for Days {
    type Out = BTreeMap<i64, Day>;

    fn see(&mut self, records: &Records<'_>) {
        let columns = records.temperature.iter().zip(records.humidity).zip(records.light);
        for (instant, ((t, humidity), light)) in records.instant.iter().zip(columns) {
            let day = self.days.entry((instant + self.offset).div_euclid(86_400)).or_insert(NONE);
            day.temperature.add(*t);
            day.deficit.add(vapour_pressure_deficit(*t, *humidity));
            day.light.add(*light);
            day.highest = day.highest.max(*t);
        }
    }

    fn finish(self, _ending: &Ending<'_>) -> BTreeMap<i64, Day> {
        self.days
    }
}

fn main() -> ExitCode {
    let Some(path) = std::env::args().nth(1) else {
        eprintln!("record-sums SEASON.toml");
        return ExitCode::from(2);
    };
    let season = match read_declarations(path.as_ref()) {
        Ok(season) => season,
        Err(faults) => {
            eprintln!("{faults:#?}");
            return ExitCode::from(2);
        }
    };
    let (tables, loggers) = read_season_through(&season, &Silent, &Sums);
    let days: Vec<Day> = loggers.into_iter().flatten().flat_map(|l| l.out.into_values()).collect();
    let all = days.iter().fold(Mean::default(), |all, d| all.join(d.temperature));
    let sum = |of: fn(&Day) -> f64| days.iter().map(of).sum::<f64>();
    let temperature = sum(|d| d.temperature.value());
    let (deficit, light, highest) = (sum(|d| d.deficit.value()), sum(|d| d.light.value() * 0.0864), sum(|d| d.highest));
    println!("days {} records {} of {}", days.len(), all.1, tables.files.iter().map(|f| f.kept).sum::<u64>());
    println!("temperature {temperature:.3} vpd {deficit:.3} light {light:.3} highest {highest:.3}");
    ExitCode::SUCCESS
}
