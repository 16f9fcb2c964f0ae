//! What the cells of each column are, whatever its header says.
use crate::body::Body;
use crate::codes::{self, is_code};
use crate::dates::{self, DayColumn};
use crate::numbers::{is_number, is_pounds_ounces};
use crosshouse_logs::raw::{Days, RawKind};
use std::collections::BTreeMap;

/// One column of a body.
#[derive(Debug, Clone)]
pub(crate) struct Column {
    pub index: usize,
    pub header: String,
    pub unit_below: String,
    pub filled: usize,
    pub numbers: usize,
    pub pounds_ounces: usize,
    /// Times of day in a column of their own.
    pub times: usize,
    pub twelve_hour_times: bool,
    pub day: Option<DayColumn>,
    /// Missing-value codes among numbers or days, with how often.
    pub codes: BTreeMap<String, usize>,
    /// Distinct texts, with how often; up to [`MOST_WORDS`].
    pub words: BTreeMap<String, usize>,
}

/// More distinct texts than any list of units, grades or entries has.
const MOST_WORDS: usize = 3000;

impl Column {
    fn mostly(&self, n: usize) -> bool {
        let coded: usize = self.codes.values().sum();
        n > 0 && n * 5 >= self.filled.saturating_sub(coded) * 3
    }

    pub fn is_numeric(&self) -> bool {
        self.day.is_none() && self.mostly(self.numbers)
    }

    pub fn is_pounds_ounces(&self) -> bool {
        self.mostly(self.pounds_ounces)
    }

    pub fn is_time(&self) -> bool {
        self.day.is_none() && self.mostly(self.times)
    }

    pub fn is_timed_day(&self) -> bool {
        self.day.as_ref().is_some_and(|d| d.timed * 2 > d.days)
    }

    pub fn is_text(&self) -> bool {
        self.filled > 0 && self.day.is_none() && !self.is_numeric() && !self.is_time() && !self.is_pounds_ounces()
    }
}

/// All columns with a header, left to right; the heads of a wide sheet are none.
pub(crate) fn of(body: &Body) -> Vec<Column> {
    let heads = body.heads();
    (0..body.headers().len()).filter(|c| !body.header(*c).is_empty() && !heads.contains(c)).map(|c| column(body, c)).collect()
}

fn column(body: &Body, index: usize) -> Column {
    let twelve = Days::of("year-month-day", true);
    let plain = Days::of("year-month-day", false);
    let mut found = Column {
        index,
        header: body.header(index).to_owned(),
        unit_below: body.unit_below(index).to_owned(),
        filled: 0,
        numbers: 0,
        pounds_ounces: 0,
        times: 0,
        twelve_hour_times: false,
        day: dates::judge(body, index),
        codes: BTreeMap::new(),
        words: BTreeMap::new(),
    };
    for spot in body.filled(index) {
        found.filled += 1;
        if found.words.len() < MOST_WORDS {
            *found.words.entry(spot.cell.text.to_owned()).or_default() += 1;
        }
        if found.day.is_some() || is_code(spot.cell.text) {
            continue;
        }
        if is_number(&spot) {
            found.numbers += 1;
        } else if is_pounds_ounces(spot.cell.text) {
            found.pounds_ounces += 1;
        }
        let clock = spot.cell.text.contains(':') || matches!(spot.cell.is, RawKind::Serial(_)) || dates::has_half(spot.cell.text);
        if clock && plain.as_ref().is_some_and(|d| d.time(spot.cell).is_some()) {
            found.times += 1;
        } else if clock && twelve.as_ref().is_some_and(|d| d.time(spot.cell).is_some()) {
            found.times += 1;
            found.twelve_hour_times = true;
        }
    }
    found.codes = codes::found(body, index, false);
    let numeric = found.is_numeric();
    if numeric {
        found.codes = codes::found(body, index, true);
    } else if !found.is_pounds_ounces() && found.day.is_none() && !found.is_time() {
        found.codes.clear();
    }
    found
}
