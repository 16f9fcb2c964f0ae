//! Invented figures of a season as large as a real one, for tests, benches and the gallery.
use crosshouse_figures::Caption;
use crosshouse_figures::calendar::{CalendarFigure, CalendarRow, CellState};
use crosshouse_figures::climate::{ClimateDay, ClimateFigure, ClimateHouse};
use crosshouse_figures::cumulative::{CumulativeFigure, CumulativePanel, CumulativeSeries};
use crosshouse_figures::differences::{DifferenceGroup, DifferenceRow, DifferenceValue, DifferencesFigure, RowKind};
use crosshouse_figures::means::{FactorWords, MeanRow, MeanValue, MeansFigure, MeansPanel};
use crosshouse_figures::plan::{PlanFigure, PlanUnit};
use crosshouse_figures::residuals::{ResidualPoint, ResidualsFigure};
use crosshouse_figures::root_zone::{RootZone, RootZoneDay, RootZoneFigure, Targets};
use jiff::ToSpan;
use jiff::civil::{Date, date};

pub const SITES: [&str; 4] = ["Tarn Hollow", "Withy End", "Scarp Lane", "Mere Bank"];
pub const MEDIA: [&str; 3] = ["perlite", "coir–bark blend", "pine bark"];
pub const CONTAINERS: [&str; 2] = ["reservoir bucket", "drained pot"];

/// Reproducible noise of about unit spread.
pub struct Noise(u64);

impl Noise {
    pub fn new(seed: u64) -> Self {
        Noise(seed)
    }

    pub fn even(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }

    pub fn bell(&mut self) -> f64 {
        (0..12).map(|_| self.even()).sum::<f64>() - 6.0
    }
}

pub fn caption(name: &str, title: &str) -> Caption {
    Caption { name: name.into(), title: title.into(), finding: String::new(), table: format!("{name}.csv") }
}

fn words(label: &str, levels: &[&str]) -> FactorWords {
    FactorWords { label: label.into(), levels: levels.iter().map(|l| (*l).to_string()).collect() }
}

/// Medium × container × site; one site grew perlite alone.
pub fn means() -> MeansFigure {
    let mut noise = Noise::new(1);
    let panel = |(s, site): (usize, &&str), noise: &mut Noise| {
        let mut rows = Vec::new();
        for (m, medium) in MEDIA.iter().enumerate() {
            for (c, container) in CONTAINERS.iter().enumerate() {
                let estimate = 5.2 + 0.5 * m as f64 - 0.4 * c as f64 + 0.3 * s as f64 + 0.15 * noise.bell();
                let half = 0.35 + 0.1 * noise.even();
                let value = if s == 3 && m > 0 {
                    MeanValue::NotTold { why: "not grown".into() }
                } else {
                    let letters = Some(["b", "ab", "a", "ab", "c", "bc"][(m * 2 + c) % 6].to_string());
                    MeanValue::Told { estimate, low: estimate - half, high: estimate + half, letters }
                };
                rows.push(MeanRow { levels: vec![(*medium).into(), (*container).into()], value });
            }
        }
        MeansPanel { title: (*site).into(), rows }
    };
    MeansFigure {
        caption: caption("means-marketable", "Adjusted means of marketable yield"),
        response: "marketable yield".into(),
        unit: "kg per plant".into(),
        level: 95.0,
        factors: vec![words("medium", &MEDIA), words("container", &CONTAINERS)],
        panels: SITES.iter().enumerate().map(|s| panel(s, &mut noise)).collect(),
        ..MeansFigure::default()
    }
}

/// One factor of ten varieties at six sites.
pub fn means_of_ten_varieties() -> MeansFigure {
    let mut noise = Noise::new(2);
    let levels: Vec<String> =
        (1..=10).map(|i| format!("snack pepper line {i:02}{}", if i == 4 { " early, orange, grafted" } else { "" })).collect();
    let panel = |site: usize, noise: &mut Noise| {
        let row = |level: &String, noise: &mut Noise| {
            let estimate = 4.0 + 0.3 * noise.bell();
            MeanRow {
                levels: vec![level.clone()],
                value: MeanValue::Told { estimate, low: estimate - 0.5, high: estimate + 0.5, letters: None },
            }
        };
        MeansPanel { title: format!("Station {site}"), rows: levels.iter().map(|l| row(l, noise)).collect() }
    };
    MeansFigure {
        caption: caption("means-varieties", "Adjusted means of ten varieties"),
        response: "marketable yield".into(),
        unit: "kg per plant".into(),
        level: 95.0,
        factors: vec![FactorWords { label: "variety".into(), levels: levels.clone() }],
        panels: (1..=6).map(|s| panel(s, &mut noise)).collect(),
        ..MeansFigure::default()
    }
}

fn told(estimate: f64, half: f64) -> DifferenceValue {
    DifferenceValue::Told { estimate, low: estimate - half, high: estimate + half }
}

/// Blend − perlite in both containers, site by site and across.
pub fn differences() -> DifferencesFigure {
    let group = |title: &str, shift: f64| {
        let row = |(i, site): (usize, &&str)| DifferenceRow {
            label: (*site).into(),
            of: RowKind::Site,
            value: if i == 3 {
                DifferenceValue::CannotBeTold { why: "the coir–bark blend was not grown at Mere Bank".into() }
            } else {
                told(0.55 + shift + 0.2 * i as f64, 0.6 + 0.1 * i as f64)
            },
        };
        let mut rows: Vec<DifferenceRow> = SITES.iter().enumerate().map(row).collect();
        rows.push(DifferenceRow { label: "at these sites".into(), of: RowKind::TheseSites, value: told(0.80 + shift, 0.31) });
        rows.push(DifferenceRow { label: "at sites like these".into(), of: RowKind::SitesLikeThese, value: told(0.78 + shift, 0.92) });
        DifferenceGroup { title: title.into(), rows }
    };
    DifferencesFigure {
        caption: caption("differences-blend-perlite", "Blend against perlite"),
        response: "marketable yield".into(),
        unit: "kg per plant".into(),
        level: 95.0,
        margin: Some(0.30),
        below: "perlite more".into(),
        above: "coir–bark blend more".into(),
        groups: vec![
            group("coir–bark blend − perlite, in reservoir buckets", 0.0),
            group("coir–bark blend − perlite, in drained pots", -0.5),
        ],
        ..DifferencesFigure::default()
    }
}

/// All 45 pairs of ten varieties.
pub fn differences_of_45_pairs() -> DifferencesFigure {
    let mut noise = Noise::new(3);
    let mut rows = Vec::new();
    for a in 1..=10 {
        for b in a + 1..=10 {
            let value = told(0.6 * noise.bell(), if (a, b) == (2, 9) { 9.0 } else { 0.8 });
            rows.push(DifferenceRow { label: format!("snack pepper line {a:02} − snack pepper line {b:02}"), of: RowKind::Site, value });
        }
    }
    DifferencesFigure {
        caption: caption("differences-varieties", "All pairs of ten varieties"),
        response: "marketable yield".into(),
        unit: "kg per plant".into(),
        level: 95.0,
        adjusted: "adjusted for 45 pairs by the studentized range".into(),
        groups: vec![DifferenceGroup { title: String::new(), rows }],
        ..DifferencesFigure::default()
    }
}

/// Six treatments at four sites.
pub fn cumulative() -> CumulativeFigure {
    let mut noise = Noise::new(4);
    let mut series = |s: usize, m: usize, c: usize| {
        let mut sum = 0.0;
        let gain = 0.23 + 0.03 * m as f64 - 0.015 * c as f64 + 0.01 * s as f64;
        let points = (0..24).map(|k| {
            sum += if k == 9 && s == 1 { 0.0 } else { (gain + 0.05 * noise.bell()).max(0.0) };
            (62.0 + 4.0 * f64::from(k) + s as f64, sum)
        });
        CumulativeSeries { label: format!("{}, {}", MEDIA[m], CONTAINERS[c]), first: m, second: c, points: points.collect() }
    };
    let panels = SITES
        .iter()
        .enumerate()
        .map(|(s, site)| {
            let media = if s == 3 { 1 } else { 3 };
            let all = (0..media).flat_map(|m| [(m, 0), (m, 1)]).map(|(m, c)| series(s, m, c)).collect();
            CumulativePanel { title: (*site).into(), series: all }
        })
        .collect();
    CumulativeFigure {
        caption: caption("cumulative", "Cumulative marketable yield"),
        response: "cumulative marketable yield".into(),
        unit: "kg per plant set".into(),
        days: "days after transplanting".into(),
        panels,
        ..CumulativeFigure::default()
    }
}

fn day(n: i64) -> Date {
    date(2031, 3, 10).checked_add(n.days()).unwrap_or(date(2031, 3, 10))
}

/// Two houses of a season of 200 days; one logger stood still for nine days.
pub fn climate() -> ClimateFigure {
    let mut noise = Noise::new(5);
    let mut house = |title: &str, h: i64| {
        let days = (0..200).filter(|n| h == 0 || !(80..89).contains(n)).map(|n| {
            let season = (n as f64 / 200.0 * std::f64::consts::PI).sin();
            let mean = 19.0 + 5.0 * season + 0.9 * noise.bell();
            ClimateDay {
                day: day(n),
                minimum: Some(mean - 4.5 - noise.even()),
                mean: Some(mean),
                maximum: Some(mean + 6.0 + 3.0 * noise.even()),
                vpd: Some((0.7 + 0.5 * season + 0.12 * noise.bell()).max(0.1)),
                dli: (n % 41 != 7).then(|| (12.0 + 14.0 * season + 4.0 * noise.bell()).max(1.5)),
                dli_is_estimate: n % 23 == 5,
            }
        });
        ClimateHouse { title: title.into(), days: days.collect() }
    };
    ClimateFigure {
        caption: caption("climate-tarn-hollow", "Climate at Tarn Hollow"),
        houses: vec![house("Tarn Hollow, glasshouse 1", 0), house("Tarn Hollow, high tunnel", 1)],
        band: Some((16.0, 28.0)),
        ..ClimateFigure::default()
    }
}

/// Four lines, read on most days.
pub fn root_zone() -> RootZoneFigure {
    let mut noise = Noise::new(6);
    let mut zone = |title: &str, z: f64| {
        let days = (20..200).filter(|n| n % 7 != 6 && !(110..124).contains(n)).map(|n| {
            let drift = 0.004 * n as f64;
            RootZoneDay {
                day: day(n),
                drain_fraction: (n % 29 != 3).then(|| (0.24 + 0.02 * z + 0.05 * noise.bell()).clamp(0.0, 0.8)),
                feed_ec: Some(2.2 + 0.05 * noise.bell()),
                drain_ec: Some(2.9 + drift + 0.1 * z + 0.2 * noise.bell()),
                feed_ph: Some(5.7 + 0.06 * noise.bell()),
                drain_ph: Some(6.1 + 0.12 * noise.bell()),
            }
        });
        RootZone { title: title.into(), days: days.collect() }
    };
    RootZoneFigure {
        caption: caption("root-zone-tarn-hollow", "Root zone at Tarn Hollow"),
        zones: vec![zone("line 1, perlite", 0.0), zone("line 2, coir–bark blend", 1.0), zone("line 3, pine bark", 2.0)],
        targets: Targets { drain: Some((20.0, 35.0)), ec: Some((2.0, 2.6)), ph: Some((5.5, 6.5)) },
        ..RootZoneFigure::default()
    }
}

/// Units by pick days, all states.
pub fn calendar(units: usize, days: usize) -> CalendarFigure {
    let mut noise = Noise::new(7);
    let row = |u: usize, noise: &mut Noise| {
        let dead = (u % 31 == 17).then_some(days / 2);
        let state = |d: usize, noise: &mut Noise| match (u, d) {
            _ if dead.is_some_and(|from| d >= from) => Some(CellState::Dead),
            _ if d == days / 3 => Some(CellState::Missed),
            (_, 0) if u.is_multiple_of(5) => None,
            _ if noise.even() < 0.06 => Some(CellState::Zero),
            _ if noise.even() < 0.01 => Some(CellState::Lost),
            _ if noise.even() < 0.01 => Some(CellState::Unknown),
            _ => Some(CellState::Picked),
        };
        CalendarRow {
            label: format!("B{}-{:02}", u / 12 + 1, u % 12 + 1),
            group: format!("block {}", u / 12 + 1),
            states: (0..days).map(|d| state(d, noise)).collect(),
        }
    };
    CalendarFigure {
        caption: caption("completeness-tarn-hollow", "Completeness of the picks at Tarn Hollow"),
        rows_are: "units".into(),
        columns_are: "pick days".into(),
        rows: (0..units).map(|u| row(u, &mut noise)).collect(),
        days: (0..days).map(|d| day(62 + 4 * d as i64)).collect(),
        ..CalendarFigure::default()
    }
}

/// A house of six rows, twelve places in each; `placed` or known by block only.
pub fn plan(placed: bool) -> PlanFigure {
    let mut noise = Noise::new(8);
    let mut unit = |i: u32| PlanUnit {
        unit: format!("B{}-{:02}", i / 12 + 1, i % 12 + 1),
        block: format!("block {}", i / 12 + 1),
        levels: vec![MEDIA[(i as usize * 7 + i as usize / 12) % 3].into(), CONTAINERS[(i as usize / 3) % 2].into()],
        row: placed.then_some(i / 12 + 1),
        position: placed.then_some(i % 12 + 1),
        value: (i != 40).then(|| 5.6 + 0.5 * noise.bell()),
    };
    PlanFigure {
        caption: caption(if placed { "plan-glasshouse-1" } else { "plan-by-block" }, "Unit yields in glasshouse 1"),
        response: "marketable yield".into(),
        unit: "kg per plant".into(),
        units: (0..72).filter(|i| *i != 30).map(&mut unit).collect(),
        ..PlanFigure::default()
    }
}

/// Residuals of 216 units.
pub fn residuals(sites: usize) -> ResidualsFigure {
    let mut noise = Noise::new(9);
    let point = |i: usize| ResidualPoint {
        site: i % sites,
        fitted: 5.0 + 0.4 * (i % sites) as f64 + 0.3 * (i % 6) as f64,
        residual: 0.3 * noise.bell(),
    };
    let name = |i: usize| SITES.get(i).map_or_else(|| format!("Station {}", i + 1), |s| (*s).to_string());
    ResidualsFigure {
        caption: caption("residuals-marketable", "Residual checks"),
        response: "marketable yield".into(),
        unit: "kg per plant".into(),
        residual_unit: "kg per plant".into(),
        sites: (0..sites).map(name).collect(),
        points: (0..216).map(point).collect(),
        ..ResidualsFigure::default()
    }
}
