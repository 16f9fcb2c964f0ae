//! A logger's days, for comparing clocks: when its light comes and goes, and its daily curve of temperature.
use super::batch::Batch;
use super::climate::{ClimateDoubt, Column, Logger, Reading, Rule};
use super::marks::Marks;
use std::ops::Range;

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

    /// Takes records of the piece that is open.
    fn piece(&mut self, batch: &Batch<'_>, records: Range<usize>) {
        let Some(today) = self.days.last_mut() else { return };
        batch.mark(records.clone(), &mut today.marks);
        let of = |column| batch.values(column).get(records.clone()).unwrap_or_default();
        let light = of(Column::Light);
        let instant = |place: usize| batch.instants().get(records.start + place).copied();
        if let Some(last) = light.iter().rposition(|x| *x > self.above).and_then(instant) {
            let first = light.iter().position(|x| *x > self.above).and_then(instant);
            today.light = today.light.map_or(first.map(|first| (first, last)), |l| Some((l.0, last)));
        }
        if let Some(piece) = today.curve.get_mut(self.piece) {
            for x in of(Column::Temperature).iter().filter(|x| !x.is_nan()) {
                piece.0 += x;
                piece.1 += 1;
            }
        }
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

    fn see_all(&mut self, batch: &Batch<'_>) {
        let mut from = 0;
        while let Some(instant) = batch.instants().get(from) {
            if *instant >= self.piece_end {
                self.turn(*instant);
            }
            let until = batch.until(from, self.piece_end);
            self.piece(batch, from..until);
            from = until;
        }
    }

    /// Days alone raise no doubt; see `super::clocks`.
    fn finish(&mut self, _logger: &Logger<'_>) -> Vec<ClimateDoubt> {
        Vec::new()
    }
}
