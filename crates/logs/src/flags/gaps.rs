//! Gaps between records, and an interval that is not the declared one.
use super::batch::Batch;
use super::climate::{ClimateDoubt, Logger, Reading, Rule};
use super::marks::{Marks, Spot};
use super::{many, spell};
use std::collections::BTreeMap;

/// Steps longer than this are kept by whole minutes, so that a jittering logger cannot fill the memory.
const FINE: i64 = 4096;

/// How often each step between records came, and after which records the longer ones.
#[derive(Default)]
pub(super) struct Gaps {
    interval_s: i64,
    /// Records after a step longer than the interval, by that step.
    longer: BTreeMap<i64, Marks>,
    counts: BTreeMap<i64, u64>,
    /// The step that came last, and how often in a row: most steps are the interval.
    same: (i64, u64),
    records: Marks,
    longest: Option<(i64, i64)>,
}

fn rounded(step: i64) -> i64 {
    if step <= FINE { step } else { step / 60 * 60 }
}

impl Gaps {
    pub fn new(logger: &Logger<'_>) -> Self {
        Gaps { interval_s: logger.interval_s, ..Gaps::default() }
    }

    fn turn(&mut self, step: i64) {
        if self.same.1 > 0 {
            *self.counts.entry(self.same.0).or_default() += self.same.1;
        }
        self.same = (step, 0);
    }

    /// Whether a step may turn out a gap, whatever the median will be.
    fn is_longer(&self, step: i64) -> bool {
        step * 4 > self.interval_s * 5
    }

    /// Counts the step to a record.
    fn take(&mut self, step: i64, spot: &Spot) {
        if step <= 0 {
            return;
        }
        if step != self.same.0 {
            self.turn(step);
        }
        self.same.1 += 1;
        if self.is_longer(step) {
            self.longer.entry(rounded(step)).or_default().add(spot);
            if self.longest.is_none_or(|(longest, _)| step > longest) {
                self.longest = Some((step, spot.instant));
            }
        }
    }

    /// The median of the steps, s; 0 where there is none.
    fn median(&self) -> i64 {
        let all: u64 = self.counts.values().sum();
        let mut seen = 0;
        self.counts
            .iter()
            .find(|(_, n)| {
                seen += **n;
                seen > all / 2
            })
            .map_or(0, |(step, _)| *step)
    }

    fn interval_differs(&self, logger: &Logger<'_>, median: i64) -> Option<ClimateDoubt> {
        let times = logger.setting.value("interval-differs", "intervals");
        let (median_s, interval) = (median as f64, logger.interval_s as f64);
        let differs = median > 0 && logger.interval_s > 0 && (median_s > times * interval || interval > times * median_s);
        let text = format!(
            "the site file declares an interval of {}, the median step between records is {}",
            spell(logger.interval_s),
            spell(median)
        );
        differs.then(|| ClimateDoubt::new("interval-differs", text, self.records.clone(), None))
    }

    fn gaps(&self, logger: &Logger<'_>, median: i64) -> Option<ClimateDoubt> {
        let limit = logger.setting.limit("gap", "intervals");
        let least = limit.value * logger.interval_s.max(median) as f64;
        let mut marks = Marks::default();
        let mut n = 0;
        for found in self.longer.iter().filter(|(step, _)| least > 0.0 && **step as f64 > least).map(|(_, m)| m) {
            marks.join(found);
            n += found.files.iter().map(|f| f.rows as usize).sum::<usize>();
        }
        let (longest, before) = self.longest?;
        let text = format!(
            "{} of more than {} intervals, the longest of {} before {} standard time",
            many(n, "gap"),
            limit.value,
            spell(longest),
            logger.stamp(before)
        );
        Some(ClimateDoubt::new("gap", text, marks, None))
    }
}

impl Rule for Gaps {
    #[inline]
    fn see(&mut self, row: &Reading) {
        self.records.add(&row.spot);
        self.take(row.step, &row.spot);
    }

    fn see_all(&mut self, batch: &Batch<'_>) {
        batch.mark(0..batch.len(), &mut self.records);
        for (i, step) in batch.each_step() {
            if step == self.same.0 && !self.is_longer(step) {
                self.same.1 += 1;
            } else if let Some(spot) = batch.spot(i) {
                self.take(step, &spot);
            }
        }
    }

    fn finish(&mut self, logger: &Logger<'_>) -> Vec<ClimateDoubt> {
        self.turn(0);
        let median = self.median();
        self.interval_differs(logger, median).into_iter().chain(self.gaps(logger, median)).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::super::Logger;
    use super::super::sample::{Log, doubt};

    #[test]
    fn a_gap_is_told_with_its_length() {
        let mut log = Log::of(300, &[20.0; 10]);
        log.instant.iter_mut().skip(5).for_each(|t| *t += 19_200);
        let found = log.doubts();
        let text = "1 gap of more than 1.5 intervals, the longest of 5 h 25 min before 1970-01-01 05:45 standard time";
        assert_eq!(doubt(&found, "gap").unwrap().text, text);
        assert_eq!(doubt(&found, "gap").unwrap().marks.runs, std::slice::from_ref(&(5..6)));
    }

    #[test]
    fn two_gaps_in_a_row_of_the_same_length_are_two() {
        let mut log = Log::of(300, &[20.0; 10]);
        log.instant.iter_mut().skip(5).for_each(|t| *t += 3600);
        log.instant.iter_mut().skip(6).for_each(|t| *t += 3600);
        assert!(doubt(&log.doubts(), "gap").unwrap().text.starts_with("2 gaps"));
    }

    #[test]
    fn a_record_a_minute_late_is_no_gap() {
        let mut log = Log::of(300, &[20.0; 10]);
        log.instant[5] += 60;
        assert!(doubt(&log.doubts(), "gap").is_none());
    }

    #[test]
    fn a_logger_at_another_interval_than_declared_is_told() {
        let log = Log::of(300, &[20.0; 10]);
        let found = log.doubts_by(Logger { interval_s: 600, ..log.logger() });
        let text = "the site file declares an interval of 10 min, the median step between records is 5 min";
        assert_eq!(doubt(&found, "interval-differs").unwrap().text, text);
    }
}
