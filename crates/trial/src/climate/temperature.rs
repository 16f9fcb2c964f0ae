//! A day's temperatures: means, extremes, degree days, hours outside the band.
use super::DEGREE_DAY_COVERAGE;
use super::stretch::{DayMeans, Stretch};
use crate::degree_days::{mean_between, share_above};
use crate::light::DAYLIGHT;
use crate::tables::HouseDay;
use crate::{DayStarts, Settings};

#[derive(Debug, Clone, Copy, Default)]
pub(super) struct TemperatureDay {
    all: DayMeans,
    day: DayMeans,
    night: DayMeans,
    degree_days: DayMeans,
    outside_s: f64,
    extremes: Option<(f64, f64)>,
}

impl TemperatureDay {
    #[inline]
    pub fn meet(&mut self, t: f64) {
        self.extremes = Some(self.extremes.map_or((t, t), |(low, high)| (low.min(t), high.max(t))));
    }

    /// `light`: mean of the light at the stretch's two readings; `NaN` where it is not on record.
    #[inline(always)]
    pub fn add(&mut self, stretch: &Stretch, light: f64, settings: &Settings) {
        let (from, to, seconds) = (stretch.from, stretch.to, stretch.seconds());
        self.all.add(seconds, stretch.mean());
        let (low, high) = settings.temperature_band;
        let (least, most) = if from < to { (from, to) } else { (to, from) };
        if least >= low.max(settings.degree_day_base) && most <= high.min(settings.degree_day_ceiling) {
            // Nothing is cut off: the formulas below come to this, digit by digit.
            self.degree_days.add(seconds, ((least - settings.degree_day_base) + (most - settings.degree_day_base)) / 2.0);
        } else {
            self.degree_days.add(seconds, mean_between(from, to, settings.degree_day_base, settings.degree_day_ceiling));
            self.outside_s += seconds * (share_above(from, to, high) + share_above(-from, -to, -low));
        }
        self.part(stretch, light, settings);
    }

    /// Adds the stretch to day or night. By light, a stretch belongs where the mean of its two readings
    /// puts it; without light it belongs to neither.
    #[inline(always)]
    fn part(&mut self, stretch: &Stretch, light: f64, settings: &Settings) {
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
            DayStarts::Light if light > DAYLIGHT => self.day.add(stretch.seconds(), stretch.mean()),
            DayStarts::Light if light.is_finite() => self.night.add(stretch.seconds(), stretch.mean()),
            DayStarts::Light => {}
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
