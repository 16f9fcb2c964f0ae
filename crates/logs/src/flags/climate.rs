//! Doubts about a logger's records, one record after the other: the rules, and the loop that drives them.
use super::batch::{Batch, Rows};
use super::gaps::Gaps;
use super::humidity::Humidity;
use super::light_at_night::LightAtNight;
use super::light_lost::LightLost;
use super::marks::{Marks, Spot};
use super::other_scale::OtherScale;
use super::rules::Setting;
use super::spike::Spike;
use super::step::Step;
use super::stuck_sensor::Stuck;
use super::told_by_reading::ToldByReading;
use super::trace::Trace;
use super::unusual_climate::Unusual;
use super::wrong_scale::HumidityFraction;
use super::{many, stamp};

/// The four columns of a logger.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Column {
    Temperature,
    Humidity,
    Light,
    Co2,
}

/// One clean record. `NaN` = no value.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Reading {
    pub spot: Spot,
    /// °C
    pub temperature: f64,
    /// %, at most 100
    pub humidity: f64,
    /// µmol m⁻² s⁻¹
    pub light: f64,
    /// ppm
    pub co2: f64,
    /// The doubled hour was not settled by the order of the file.
    pub hour_open: bool,
    /// The humidity as written was above 100.
    pub above_100: bool,
    /// Seconds since the record before, 0 at the first; told by the batch.
    pub step: i64,
    /// Whether the record follows the one before without a gap; told by the batch.
    pub joined: bool,
}

impl Reading {
    #[inline]
    pub fn value(&self, column: Column) -> f64 {
        match column {
            Column::Temperature => self.temperature,
            Column::Humidity => self.humidity,
            Column::Light => self.light,
            Column::Co2 => self.co2,
        }
    }
}

/// What is known of a logger before its first record.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Logger<'s> {
    pub setting: Setting<'s>,
    /// Interval, declared or the median step, s.
    pub interval_s: i64,
    pub standard_offset_s: i64,
    /// Latitude and longitude, degrees.
    pub place: Option<(f64, f64)>,
    pub light_is_mean: bool,
}

impl Logger<'_> {
    /// Longest step between records that still hang together: one and a half intervals, at least half an hour.
    pub fn longest_step(&self) -> i64 {
        (self.interval_s * 3 / 2).max(1800)
    }

    /// An instant in the site's standard time.
    pub fn stamp(&self, instant: i64) -> String {
        stamp(instant + self.standard_offset_s)
    }
}

/// A doubt about records of one logger.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct ClimateDoubt {
    pub code: &'static str,
    /// `{n}` stands for how many records it is, in each file.
    pub text: String,
    pub marks: Marks,
    /// The column that is doubted; `None`: the record as a whole.
    pub of: Option<Column>,
}

impl ClimateDoubt {
    pub fn new(code: &'static str, text: String, marks: Marks, of: Option<Column>) -> Self {
        ClimateDoubt { code, text, marks, of }
    }

    /// The sentence for `rows` records of one file.
    pub fn told(&self, rows: u32) -> String {
        self.text.replace("{n}", &many(rows as usize, "record"))
    }
}

/// One rule about a logger's records. It sees them in time order, keeps a small state, and does next to
/// nothing for a record that raises no doubt. What it found is told when the records end.
pub(crate) trait Rule {
    fn see(&mut self, row: &Reading);

    /// Sees the records of a batch. A rule that can tell from the batch as a whole that nothing in it
    /// concerns it may pass over them; what it finds must be what [`see`](Self::see) finds one by one.
    fn see_all(&mut self, batch: &Batch<'_>) {
        batch.readings(0..batch.len()).for_each(|row| self.see(&row));
    }

    fn finish(&mut self, logger: &Logger<'_>) -> Vec<ClimateDoubt>;
}

/// Does the same with every rule of a watch, each called by its own type.
macro_rules! each {
    ($watch:expr, $rule:ident => $does:expr) => {{
        $watch.unusual.iter_mut().for_each(|$rule| $does);
        $watch.stuck.iter_mut().for_each(|$rule| $does);
        $watch.spikes.iter_mut().for_each(|$rule| $does);
        $watch.scales.iter_mut().for_each(|$rule| $does);
        each!(@one $watch, $rule, $does, humidity, step, fraction, night, lost, gaps, told, trace);
    }};
    (@one $watch:expr, $rule:ident, $does:expr, $($field:ident),*) => {
        $({
            let $rule = &mut $watch.$field;
            $does;
        })*
    };
}

/// All the rules about one logger.
pub(crate) struct Watch<'s> {
    logger: Logger<'s>,
    longest_step: i64,
    last: Option<i64>,
    unusual: [Unusual; 3],
    humidity: Humidity,
    stuck: [Stuck; 4],
    spikes: [Spike; 2],
    step: Step,
    scales: [OtherScale; 2],
    fraction: HumidityFraction,
    night: LightAtNight,
    lost: LightLost,
    gaps: Gaps,
    told: ToldByReading,
    trace: Trace,
}

impl<'s> Watch<'s> {
    pub fn new(logger: Logger<'s>) -> Self {
        let l = &logger;
        Watch {
            longest_step: logger.longest_step(),
            last: None,
            unusual: [Unusual::temperature(l), Unusual::light(l), Unusual::co2(l)],
            humidity: Humidity::new(l),
            stuck: Stuck::all(l),
            spikes: [Spike::temperature(l), Spike::humidity(l)],
            step: Step::new(l),
            scales: [OtherScale::fahrenheit(l), OtherScale::celsius(l)],
            fraction: HumidityFraction::default(),
            night: LightAtNight::new(l),
            lost: LightLost::new(l),
            gaps: Gaps::new(l),
            told: ToldByReading::default(),
            trace: Trace::new(l),
            logger,
        }
    }

    /// Sees the next records, which may be any number.
    pub fn see(&mut self, rows: Rows<'_>) {
        let batch = Batch::new(rows, self.last, self.longest_step);
        self.last = batch.instants().last().copied().or(self.last);
        each!(self, rule => rule.see_all(&batch));
    }

    /// Sees the next records one by one: what [`see`](Self::see) must come to.
    #[cfg(test)]
    pub fn see_one_by_one(&mut self, rows: Rows<'_>) {
        let batch = Batch::new(rows, self.last, self.longest_step);
        self.last = batch.instants().last().copied().or(self.last);
        for row in batch.readings(0..batch.len()) {
            each!(self, rule => rule.see(&row));
        }
    }

    /// The doubts found, in the order of the rules; and the days of the logger, for comparing clocks.
    pub fn finish(mut self) -> (Vec<ClimateDoubt>, Trace) {
        let mut doubts = Vec::new();
        let logger = self.logger;
        each!(self, rule => doubts.extend(rule.finish(&logger)));
        doubts.retain(|d| !d.marks.is_empty() && !logger.setting.is_off(d.code));
        (doubts, self.trace)
    }
}
