//! A logger's days, for comparing clocks: when its light comes and goes, and its daily curve of temperature.
use super::climate::{ClimateDoubt, Logger, Reading, Rule};
use super::marks::Marks;

const DAY: i64 = 86_400;
/// Length of a piece of the daily curve, s.
pub(super) const PIECE: i64 = 1800;
pub(super) const PIECES: usize = 48;

/// One day of a logger in the site's standard time.
#[derive(Debug, Clone)]
pub(crate) struct TraceDay {
    /// Days since 1970 in standard time.
    pub day: i64,
    /// First and last instant with light, s UTC.
    pub light: Option<(i64, i64)>,
    /// Sum and number of temperatures by half-hour.
    pub curve: Box<[(f64, u32); PIECES]>,
    pub marks: Marks,
}

#[derive(Debug, Clone, Default)]
pub(crate) struct Trace {
    pub days: Vec<TraceDay>,
    above: f64,
    standard_offset_s: i64,
    day_end: i64,
    piece: usize,
    piece_end: i64,
}

impl Trace {
    pub fn new(logger: &Logger<'_>) -> Self {
        Trace {
            above: logger.setting.value("light-at-night", "above"),
            standard_offset_s: logger.standard_offset_s,
            day_end: i64::MIN,
            piece_end: i64::MIN,
            ..Trace::default()
        }
    }

    fn turn(&mut self, instant: i64) {
        let local = instant + self.standard_offset_s;
        if instant >= self.day_end {
            let day = local.div_euclid(DAY);
            self.day_end = (day + 1) * DAY - self.standard_offset_s;
            self.days.push(TraceDay { day, light: None, curve: Box::new([(0.0, 0); PIECES]), marks: Marks::default() });
        }
        self.piece = (local.rem_euclid(DAY) / PIECE) as usize;
        self.piece_end = local.div_euclid(PIECE) * PIECE + PIECE - self.standard_offset_s;
    }
}

impl Rule for Trace {
    #[inline]
    fn see(&mut self, row: &Reading) {
        let instant = row.spot.instant;
        if instant >= self.piece_end {
            self.turn(instant);
        }
        let Some(today) = self.days.last_mut() else { return };
        today.marks.add(&row.spot);
        if row.light > self.above {
            today.light = Some((today.light.map_or(instant, |l| l.0), instant));
        }
        if !row.temperature.is_nan()
            && let Some(piece) = today.curve.get_mut(self.piece)
        {
            piece.0 += row.temperature;
            piece.1 += 1;
        }
    }

    /// Days alone raise no doubt; see `super::clocks`.
    fn finish(&mut self, _logger: &Logger<'_>) -> Vec<ClimateDoubt> {
        Vec::new()
    }
}
