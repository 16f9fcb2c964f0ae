//! Small logs and picks for the tests of the rules.
use super::climate::{ClimateDoubt, Logger, Reading, Watch};
use super::sun::{day_number, solar_day};
use super::{Picks, Spot};
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

    pub fn reading(&self, i: usize) -> Reading {
        let of = |list: &[f64]| list.get(i).copied().unwrap_or(f64::NAN);
        Reading {
            spot: Spot { record: i, instant: self.instant[i], source: Source { file: FileId(0), row: i as u32 + 2 } },
            temperature: of(&self.temperature),
            humidity: of(&self.humidity),
            light: of(&self.light),
            co2: of(&self.co2),
            hour_open: false,
            above_100: false,
            step: 0,
            joined: false,
        }
    }

    pub fn watch<'s>(&self, mut watch: Watch<'s>) -> Watch<'s> {
        (0..self.instant.len()).for_each(|i| watch.see(self.reading(i)));
        watch
    }

    pub fn doubts_by(&self, logger: Logger<'_>) -> Vec<ClimateDoubt> {
        self.watch(Watch::new(logger)).finish().0
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
