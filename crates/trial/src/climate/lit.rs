//! A day's light: its integral, and how much of the daylight is on record.
use super::stretch::{DayMeans, Stretch};
use crate::light::{DAYLIGHT, LightDay, PLAIN_COVERAGE, light_sum};

/// The light of one day while it is read. When it was light ([`super::daylight`]) may be known only
/// some days later: stretches wait for it.
#[derive(Debug, Clone, Default)]
pub(super) struct Lit {
    /// On record, gaps longer than allowed left open.
    pub on_record: DayMeans,
    window: Option<(f64, f64)>,
    waiting: Vec<(Stretch, bool)>,
    light: LightDay,
    /// First and last record in the light, seconds of the day.
    seen: Option<(f64, f64)>,
}

impl Lit {
    #[inline]
    pub fn meet(&mut self, second: f64, light: f64) {
        if light > DAYLIGHT {
            self.seen = Some((self.seen.map_or(second, |s| s.0), second));
        }
    }

    /// `strict`: between records no further apart than the gap allowed.
    #[inline]
    pub fn add(&mut self, stretch: &Stretch, strict: bool) {
        match self.window {
            Some(window) => sum(&mut self.light, window, stretch, strict),
            None => self.waiting.push((*stretch, strict)),
        }
    }

    /// Start and end of daylight, where this day shows them by itself.
    pub fn shows(&self) -> Option<(f64, f64)> {
        self.seen.filter(|(first, last)| first < last && self.on_record.share() >= PLAIN_COVERAGE)
    }

    pub fn is_open(&self) -> bool {
        self.window.is_none()
    }

    pub fn settle(&mut self, window: (f64, f64)) {
        self.window = Some(window);
        self.light.daylight = window.1 - window.0;
        for (stretch, strict) in std::mem::take(&mut self.waiting) {
            sum(&mut self.light, window, &stretch, strict);
        }
    }

    pub fn integral(&self) -> Option<(f64, bool)> {
        self.light.integral()
    }
}

#[inline]
fn sum(light: &mut LightDay, window: (f64, f64), stretch: &Stretch, strict: bool) {
    let lit = stretch.seconds_within(window.0, window.1);
    light.sum += light_sum(stretch.from, stretch.to, stretch.seconds());
    light.bridged += lit;
    light.covered += if strict { lit } else { 0.0 };
}
