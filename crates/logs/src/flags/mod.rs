//! Doubts about values that are kept: one rule a file, each with its limit and its source. A rule
//! never changes a value.
mod after_death;
mod climate_spells;
mod drain;
mod fruit_mass;
mod gaps;
mod heavy_pick;
pub(crate) mod limits;
mod out_of_season;
mod picked_when_missed;
mod stuck_sensor;
mod unusual_climate;
mod unusual_root_zone;
mod wrong_scale;

use crate::tables::{Climate, DiaryEntry, Pick, RootZone, Unit};
use jiff::civil::Date;

/// A doubt about some records: its code, one sentence, and which records.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Doubt {
    pub code: &'static str,
    /// `{n}` stands for how many records it is, in each file.
    pub text: String,
    /// Indices of the records.
    pub rows: Vec<usize>,
    /// Whether the records themselves are doubted; a gap doubts only what lies between.
    pub marks: bool,
}

impl Doubt {
    pub fn marking(code: &'static str, text: String, rows: Vec<usize>) -> Self {
        Doubt { code, text, rows, marks: true }
    }

    /// The sentence for `rows` records of one file.
    pub fn told(&self, rows: usize, one: &str) -> String {
        self.text.replace("{n}", &many(rows, one))
    }

    pub fn beside(code: &'static str, text: String, rows: Vec<usize>) -> Self {
        Doubt { code, text, rows, marks: false }
    }
}

/// What the rules about picks look at.
pub(crate) struct Picks<'p> {
    pub crop: &'p str,
    pub transplanted: Option<Date>,
    pub ended: Option<Date>,
    pub units: &'p [Unit],
    pub diary: &'p [DiaryEntry],
    pub picks: &'p [Pick],
}

impl Picks<'_> {
    /// Indices of the picks that fit.
    fn those(&self, wanted: impl Fn(&Pick) -> bool) -> Vec<usize> {
        self.picks.iter().enumerate().filter(|(_, p)| wanted(p)).map(|(i, _)| i).collect()
    }
}

/// Code that reading itself puts on a pick that stands word for word in two files.
pub(crate) const SAME_ROW_IN_TWO_FILES: &str = "same-row-in-two-files";
/// The same of a pick that stands word for word twice in one file.
pub(crate) const SAME_ROW_TWICE: &str = "same-row-twice";

pub(crate) fn of_picks(picks: &Picks<'_>) -> Vec<Doubt> {
    let copies = |code: &'static str, place: &str| {
        let copied = picks.those(|p| p.flags.iter().any(|f| f == code));
        Doubt::marking(code, format!("{{n}} word for word as {place}: added, as same_day = \"add\" says, though it may be a copy"), copied)
    };
    let all = [
        vec![copies(SAME_ROW_IN_TWO_FILES, "in an earlier file of the same log"), copies(SAME_ROW_TWICE, "in an earlier row of the file")],
        out_of_season::of(picks),
        after_death::of(picks),
        fruit_mass::of(picks),
        heavy_pick::of(picks),
        picked_when_missed::of(picks),
    ];
    all.into_iter().flatten().filter(|d| !d.rows.is_empty()).collect()
}

/// `median_step`: the median step between the records, s.
pub(crate) fn of_climate(climate: &Climate, median_step: i64) -> Vec<Doubt> {
    let all = [
        unusual_climate::of(climate),
        climate_spells::of(climate),
        stuck_sensor::of(climate),
        wrong_scale::of_climate(climate),
        gaps::of(climate, median_step),
    ];
    all.into_iter().flatten().filter(|d| !d.rows.is_empty()).collect()
}

pub(crate) fn of_root_zone(rows: &[RootZone]) -> Vec<Doubt> {
    let all = [drain::of(rows), unusual_root_zone::of(rows), wrong_scale::of_root_zone(rows)];
    all.into_iter().flatten().filter(|d| !d.rows.is_empty()).collect()
}

/// "1 pick", "3 picks".
pub(crate) fn many(n: usize, one: &str) -> String {
    if n == 1 { format!("1 {one}") } else { format!("{n} {one}s") }
}

/// "90 min", "5 h 20 min", "48 h".
pub(crate) fn spell(seconds: i64) -> String {
    let minutes = (seconds + 30) / 60;
    match (minutes / 60, minutes % 60) {
        (0, m) => format!("{m} min"),
        (h, 0) => format!("{h} h"),
        (h, m) => format!("{h} h {m} min"),
    }
}

/// A record's stamp in the site's standard time.
pub(crate) fn standard_stamp(climate: &Climate, record: usize) -> String {
    let instant = climate.instant.get(record).copied().unwrap_or(0) + i64::from(climate.standard_offset_s);
    jiff::Timestamp::from_second(instant).map_or_else(
        |_| instant.to_string(),
        |t| {
            let civil = jiff::tz::Offset::UTC.to_datetime(t);
            format!("{} {:02}:{:02}", civil.date(), civil.hour(), civil.minute())
        },
    )
}

#[cfg(test)]
pub(crate) mod sample {
    use super::*;
    use crate::tables::GradeKind;
    use crosshouse_readings::{FileId, Source};
    use jiff::civil::date;

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
        Picks { crop: "snack pepper", transplanted: Some(date(2031, 3, 24)), ended: Some(date(2031, 8, 3)), units, diary, picks }
    }

    /// A logger every `step` seconds with these temperatures; humidity 70 and no light.
    pub fn climate(step: u32, temperature: Vec<f64>) -> Climate {
        let n = temperature.len();
        Climate {
            house: "h".into(),
            interval_s: step,
            instant: (0..n as i64).map(|i| i * i64::from(step)).collect(),
            humidity: (0..n).map(|i| 70.0 + (i % 5) as f64).collect(),
            temperature,
            source: (0..n as u32).map(|i| Source { file: FileId(0), row: i + 2 }).collect(),
            flagged: vec![false; n],
            ..Climate::default()
        }
    }
}
