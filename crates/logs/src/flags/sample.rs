//! Small logs and picks for the tests of the rules.
use super::Picks;
use super::batch::Rows;
use super::climate::{ClimateDoubt, Logger, Watch};
use super::sun::{day_number, solar_day};
use super::trace::Trace;
use crate::loggers::Records;
use crate::tables::{DiaryEntry, GradeKind, Pick, Unit};
use crosshouse_readings::{FileId, Source};
use jiff::civil::{Date, date};

pub fn pick(unit: usize, day: Date, mass: f64, count: f64) -> Pick {
    Pick {
        unit,
        day,
        grade: None,
        kind: GradeKind::Marketable,
        mass: Some(mass),
        count: Some(count),
        measures: vec![],
        source: Source { file: FileId(0), row: 2 },
        flags: vec![],
    }
}

pub fn unit(plants: u32) -> Unit {
    Unit {
        id: "A1".into(),
        house: "h".into(),
        block: None,
        line: None,
        bench: None,
        levels: Default::default(),
        plants,
        area_m2: None,
        row: None,
        position: None,
        guard: false,
        source: Source { file: FileId(0), row: 2 },
    }
}

pub fn facts<'p>(units: &'p [Unit], diary: &'p [DiaryEntry], picks: &'p [Pick]) -> Picks<'p> {
    Picks { seeded: None, transplanted: Some(date(2031, 3, 24)), ended: Some(date(2031, 8, 3)), units, diary, picks }
}

/// A logger's records from 1970-01-01 on; humidity moves round 72, no light, no CO₂.
#[derive(Clone)]
pub struct Log {
    pub interval_s: u32,
    pub instant: Vec<i64>,
    pub temperature: Vec<f64>,
    pub humidity: Vec<f64>,
    pub light: Vec<f64>,
    pub co2: Vec<f64>,
}

/// A temperature that never stands still and never jumps.
pub fn moving(n: usize) -> Vec<f64> {
    (0..n).map(|i| 20.0 + (i % 7) as f64 / 2.0).collect()
}

impl Log {
    pub fn of(step: u32, temperature: &[f64]) -> Self {
        let n = temperature.len();
        Log {
            interval_s: step,
            instant: (0..n as i64).map(|i| i * i64::from(step)).collect(),
            temperature: temperature.to_vec(),
            humidity: (0..n).map(|i| 70.0 + (i % 5) as f64).collect(),
            light: Vec::new(),
            co2: Vec::new(),
        }
    }

    pub fn logger(&self) -> Logger<'static> {
        Logger { interval_s: self.interval_s.into(), ..Logger::default() }
    }

    fn source(&self, i: usize) -> Source {
        Source { file: FileId((i / 2000) as u32), row: i as u32 + 2 }
    }

    /// Hands the records to a watch, `batch` at a time.
    pub fn hand(&self, watch: &mut Watch<'_>, batch: usize, one_by_one: bool) {
        let all = 0..self.instant.len();
        let (open, above_100) = (Vec::new(), Vec::new());
        let columns = [&self.temperature, &self.humidity, &self.light, &self.co2];
        let of = |list: &Vec<f64>| all.clone().map(|i| list.get(i).copied().unwrap_or(f64::NAN)).collect::<Vec<f64>>();
        let [temperature, humidity, light, co2] = columns.map(of);
        let source: Vec<Source> = all.clone().map(|i| self.source(i)).collect();
        for first in all.step_by(batch) {
            let here = first..(first + batch).min(self.instant.len());
            let records = Records {
                instant: &self.instant[here.clone()],
                temperature: &temperature[here.clone()],
                humidity: &humidity[here.clone()],
                light: &light[here.clone()],
                co2: &co2[here.clone()],
                source: &source[here],
            };
            let rows = Rows { first, records, open: &open, above_100: &above_100 };
            if one_by_one { watch.see_one_by_one(rows) } else { watch.see(rows) }
        }
    }

    /// What the records come to, in batches and one by one, which must not matter.
    pub fn told(&self, logger: Logger<'_>) -> (Vec<ClimateDoubt>, Trace) {
        let mut all = [(1, true), (usize::MAX >> 1, false), (97, false), (1, false)].map(|(batch, one_by_one)| {
            let mut watch = Watch::new(logger);
            self.hand(&mut watch, batch, one_by_one);
            watch.finish()
        });
        let [(doubts, trace), others @ ..] = &mut all;
        for (found, days) in others {
            assert_eq!(found, doubts, "the doubts depend on how the records are handed on");
            assert_eq!(format!("{:?}", days.days), format!("{:?}", trace.days));
        }
        (std::mem::take(doubts), std::mem::take(trace))
    }

    pub fn doubts_by(&self, logger: Logger<'_>) -> Vec<ClimateDoubt> {
        self.told(logger).0
    }

    pub fn doubts(&self) -> Vec<ClimateDoubt> {
        self.doubts_by(self.logger())
    }
}

pub fn doubt<'d>(doubts: &'d [ClimateDoubt], code: &str) -> Option<&'d ClimateDoubt> {
    doubts.iter().find(|d| d.code == code)
}

/// Clear days of ten-minute records at a place: light by the sun's height, warmth two hours behind it.
pub fn sunny(days: usize, place: (f64, f64)) -> Log {
    let mut log = Log::of(600, &vec![20.0; days * 144]);
    let shine = |t: i64| {
        let sun = solar_day(day_number(t, place.1), place, 0.0);
        let from_noon = (t - sun.noon) as f64;
        if from_noon.abs() >= sun.half as f64 { 0.0 } else { (from_noon / sun.half as f64 * std::f64::consts::FRAC_PI_2).cos() }
    };
    log.light = log.instant.iter().map(|t| 900.0 * shine(*t)).collect();
    log.temperature = log.instant.iter().enumerate().map(|(i, t)| 17.0 + 8.0 * shine(t - 7200) + 0.1 * (i % 3) as f64).collect();
    log
}
