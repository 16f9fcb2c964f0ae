//! A day's temperatures: means, extremes, degree days, hours outside the band.
use super::DEGREE_DAY_COVERAGE;
use super::stretch::{DAY, DayMeans, Days, Stretch};
use crate::degree_days::{mean_between, share_above};
use crate::light::DAYLIGHT;
use crate::tables::HouseDay;
use crate::{DayStarts, Settings};
use crosshouse_logs::tables::Climate;

#[derive(Debug, Clone, Copy, Default)]
pub(super) struct TemperatureDay {
    all: DayMeans,
    day: DayMeans,
    night: DayMeans,
    degree_days: DayMeans,
    outside_s: f64,
    extremes: Option<(f64, f64)>,
}

/// One a day of `days`.
pub(super) fn days(days: &Days, logger: &Climate, settings: &Settings, gap: i64) -> Vec<TemperatureDay> {
    let mut out = vec![TemperatureDay::default(); days.numbers.len()];
    for (&at, &t) in days.local.iter().zip(&logger.temperature) {
        if let Some(day) = days.index(at.div_euclid(DAY)).and_then(|k| out.get_mut(k)).filter(|_| t.is_finite()) {
            day.extremes = Some(day.extremes.map_or((t, t), |(low, high)| (low.min(t), high.max(t))));
        }
    }
    days.stretches(&logger.temperature, gap, |stretch| {
        if let Some(day) = out.get_mut(stretch.day) {
            day.add(stretch, settings);
            day.part(stretch, logger, settings);
        }
    });
    out
}

impl TemperatureDay {
    fn add(&mut self, stretch: &Stretch, settings: &Settings) {
        let (from, to, seconds) = (stretch.from, stretch.to, stretch.seconds());
        let (low, high) = settings.temperature_band;
        self.all.add(seconds, stretch.mean());
        self.degree_days.add(seconds, mean_between(from, to, settings.degree_day_base, settings.degree_day_ceiling));
        self.outside_s += seconds * (share_above(from, to, high) + share_above(-from, -to, -low));
    }

    /// Adds the stretch to day or night. By light, a stretch belongs where the mean of its two readings
    /// puts it; without light it belongs to neither.
    fn part(&mut self, stretch: &Stretch, logger: &Climate, settings: &Settings) {
        match settings.day_starts {
            DayStarts::Clock { from, to } => {
                let day = stretch.within(from, to).map_or(DayMeans::default(), |inside| DayMeans {
                    seconds: inside.seconds(),
                    integral: inside.seconds() * inside.mean(),
                });
                self.day.seconds += day.seconds;
                self.day.integral += day.integral;
                self.night.seconds += stretch.seconds() - day.seconds;
                self.night.integral += stretch.seconds() * stretch.mean() - day.integral;
            }
            DayStarts::Light => {
                let (Some(left), Some(right)) = (logger.light.get(stretch.left), logger.light.get(stretch.right)) else { return };
                let light = (left + right) / 2.0;
                if light > DAYLIGHT {
                    self.day.add(stretch.seconds(), stretch.mean());
                } else if light.is_finite() {
                    self.night.add(stretch.seconds(), stretch.mean());
                }
            }
        }
    }

    pub fn write(&self, row: &mut HouseDay) {
        row.completeness = self.all.share();
        row.mean = self.all.mean();
        row.minimum = self.extremes.map(|e| e.0);
        row.maximum = self.extremes.map(|e| e.1);
        row.day_mean = self.day.mean();
        row.night_mean = self.night.mean();
        row.degree_days = self.degree_days.mean().filter(|_| self.all.share() >= DEGREE_DAY_COVERAGE);
        row.hours_outside_band = (self.all.seconds > 0.0).then_some(self.outside_s / 3600.0);
    }
}
