//! A light sensor that sees no day: its highest value stays low for days on end.
use super::batch::Batch;
use super::climate::{ClimateDoubt, Column, Logger, Reading, Rule};
use super::marks::Marks;

const DAY: i64 = 86_400;
/// Share of a day's records that must be there, so that a day without its noon is not judged.
const WHOLE: f64 = 0.8;

pub(super) struct LightLost {
    below: f64,
    days: u32,
    /// Records of a day that is whole enough.
    enough: f64,
    standard_offset_s: i64,
    day_end: i64,
    seen_day: bool,
    records: u32,
    today: Marks,
    run: Marks,
    run_days: u32,
    found: Marks,
    longest: u32,
}

impl LightLost {
    pub fn new(logger: &Logger<'_>) -> Self {
        let limit = |name| logger.setting.value("light-lost", name);
        LightLost {
            below: limit("below"),
            days: limit("days").clamp(1.0, 1e6) as u32,
            enough: WHOLE * DAY as f64 / logger.interval_s.max(1) as f64,
            standard_offset_s: logger.standard_offset_s,
            day_end: i64::MIN,
            seen_day: false,
            records: 0,
            today: Marks::default(),
            run: Marks::default(),
            run_days: 0,
            found: Marks::default(),
            longest: 0,
        }
    }

    fn end_day(&mut self) {
        let whole = f64::from(self.records) >= self.enough;
        if !self.seen_day && whole {
            self.run.join(&self.today);
            self.run_days += 1;
        } else {
            self.end_run();
        }
        self.today.clear();
        self.records = 0;
        self.seen_day = false;
    }

    fn end_run(&mut self) {
        if self.run_days >= self.days {
            self.found.join(&self.run);
            self.longest = self.longest.max(self.run_days);
        }
        self.run.clear();
        self.run_days = 0;
    }
}

impl Rule for LightLost {
    #[inline]
    fn see(&mut self, row: &Reading) {
        if row.light.is_nan() {
            return;
        }
        if row.spot.instant >= self.day_end {
            if self.day_end != i64::MIN {
                self.end_day();
            }
            let local = row.spot.instant + self.standard_offset_s;
            if local - local.rem_euclid(DAY) - self.standard_offset_s > self.day_end {
                self.end_run();
            }
            self.day_end = local - local.rem_euclid(DAY) + DAY - self.standard_offset_s;
        }
        self.records += 1;
        if self.seen_day {
            return;
        }
        if row.light >= self.below {
            self.seen_day = true;
            self.today.clear();
        } else {
            self.today.add(&row.spot);
        }
    }

    fn see_all(&mut self, batch: &Batch<'_>) {
        let extent = batch.extent(Column::Light);
        if extent.is_empty() {
            return;
        }
        let mut from = 0;
        while from < batch.len() {
            // The rest of a day that has been seen is only counted.
            let until = if self.seen_day && !extent.gaps { batch.until(from, self.day_end) } else { from };
            self.records += (until - from) as u32;
            batch.readings(until..(until + 1).min(batch.len())).for_each(|row| self.see(&row));
            from = until + 1;
        }
    }

    fn finish(&mut self, logger: &Logger<'_>) -> Vec<ClimateDoubt> {
        self.end_day();
        self.end_run();
        let limit = logger.setting.limit("light-lost", "below");
        let text = format!(
            "{{n}} of days whose light never reaches {} µmol m⁻² s⁻¹, {} days on end at the longest ({})",
            limit.value, self.longest, limit.source
        );
        vec![ClimateDoubt::new("light-lost", text, std::mem::take(&mut self.found), Some(Column::Light))]
    }
}

#[cfg(test)]
mod tests {
    use super::super::sample::{doubt, sunny};

    #[test]
    fn a_light_sensor_that_sees_no_day_for_three_days_is_doubted_and_two_dull_days_are_not() {
        let mut log = sunny(20, (45.0, 0.0));
        log.light[3 * 144..5 * 144].iter_mut().for_each(|x| *x *= 0.01);
        assert!(doubt(&log.doubts(), "light-lost").is_none());
        log.light[10 * 144..14 * 144].fill(0.0);
        let found = log.doubts();
        let lost = doubt(&found, "light-lost").unwrap();
        assert_eq!(lost.marks.runs, std::slice::from_ref(&(10 * 144..14 * 144)));
        assert!(lost.text.contains("4 days on end"), "{}", lost.text);
    }
}
