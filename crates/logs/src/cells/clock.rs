//! A logger's clock to UTC: the transitions of a zone are asked of the time-zone data once, so
//! that each record costs a comparison.
use crate::declare::ClockCheck;
use jiff::Timestamp;
use jiff::tz::TimeZone;

/// What a civil second is on a clock.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Local {
    /// One instant.
    Once(i64),
    /// The clock shows it twice.
    Twice { earlier: i64, later: i64 },
    /// The clock never shows it: it was put forward over it.
    Never,
}

#[derive(Debug, Clone, Copy)]
struct Transition {
    instant: i64,
    before: i64,
    after: i64,
}

/// The offsets of a clock over time.
#[derive(Debug, Clone)]
pub(crate) struct Timeline {
    first_offset: i64,
    transitions: Vec<Transition>,
    near: usize,
    /// Civil seconds between which the clock keeps one offset, and the offset: of the last one asked for.
    even: (std::ops::Range<i64>, i64),
    checks: Vec<ClockCheck>,
}

/// Years 1990 to 2100: a season of trials lies inside.
const FROM: i64 = 631_152_000;
const TO: i64 = 4_102_444_800;

impl Timeline {
    pub fn fixed(offset: i32) -> Self {
        Timeline { first_offset: i64::from(offset), transitions: Vec::new(), near: 0, even: (0..0, 0), checks: Vec::new() }
    }

    pub fn of(zone: &TimeZone) -> Self {
        let Ok(start) = Timestamp::from_second(FROM) else { return Timeline::fixed(0) };
        let mut before = i64::from(zone.to_offset(start).seconds());
        let first_offset = before;
        let mut transitions = Vec::new();
        for t in zone.following(start) {
            let (instant, after) = (t.timestamp().as_second(), i64::from(t.offset().seconds()));
            if instant > TO {
                break;
            }
            if after != before {
                transitions.push(Transition { instant, before, after });
            }
            before = after;
        }
        Timeline { first_offset, transitions, near: 0, even: (0..0, 0), checks: Vec::new() }
    }

    /// The same clock, put right by what it said at stated true times.
    pub fn checked(self, checks: &[ClockCheck]) -> Self {
        Timeline { checks: checks.to_vec(), ..self }
    }

    /// The true civil second when the logger said `local`: a straight line between two checks, the
    /// nearest check's difference before the first and after the last.
    pub fn true_time(&self, local: i64) -> i64 {
        let next = self.checks.partition_point(|c| c.logger <= local);
        match (next.checked_sub(1).and_then(|i| self.checks.get(i)), self.checks.get(next)) {
            (Some(a), Some(b)) => {
                let share = (local - a.logger) as f64 / (b.logger - a.logger).max(1) as f64;
                a.truly + (share * (b.truly - a.truly) as f64).round() as i64
            }
            (Some(only), None) | (None, Some(only)) => local + only.truly - only.logger,
            (None, None) => local,
        }
    }

    /// What the civil second `local` is on this clock.
    #[inline]
    pub fn resolve(&mut self, local: i64) -> Local {
        if self.even.0.contains(&local) { Local::Once(local - self.even.1) } else { self.resolve_apart(local) }
    }

    fn resolve_apart(&mut self, local: i64) -> Local {
        let starts = |t: &Transition| t.instant + t.before.min(t.after);
        self.near = self.transitions.partition_point(|t| starts(t) <= local);
        let until = self.transitions.get(self.near).map_or(i64::MAX, starts);
        let Some(t) = self.near.checked_sub(1).and_then(|i| self.transitions.get(i)) else {
            self.even = (i64::MIN..until, self.first_offset);
            return Local::Once(local - self.first_offset);
        };
        let settled = t.instant + t.before.max(t.after);
        if local >= settled {
            self.even = (settled..until, t.after);
            Local::Once(local - t.after)
        } else if t.after > t.before {
            Local::Never
        } else {
            Local::Twice { earlier: local - t.before, later: local - t.after }
        }
    }

    /// Length of the doubled hour that `instant` lies in or beside, s.
    pub fn fold_length(&self, instant: i64) -> i64 {
        let near = self.transitions.iter().filter(|t| t.after < t.before).min_by_key(|t| (t.instant - instant).abs());
        near.map_or(0, |t| t.before - t.after)
    }
}

/// Offset of the zone's standard time in the year from `instant`, s: the least of its four quarters.
pub(crate) fn standard_offset(zone: &TimeZone, instant: i64) -> i32 {
    const QUARTER: i64 = 7_889_400;
    (0..4).filter_map(|n| Timestamp::from_second(instant + n * QUARTER).ok()).map(|t| zone.to_offset(t).seconds()).min().unwrap_or(0)
}

/// An offset as a site file writes it: `-06:00`.
pub(crate) fn offset_seconds(text: &str) -> Option<i32> {
    super::times::offset(text)
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    fn local(y: i16, m: i8, d: i8, hour: i64, minute: i64) -> i64 {
        super::super::days_of(date(y, m, d)) * 86_400 + hour * 3600 + minute * 60
    }

    #[test]
    fn the_hour_that_never_was_and_the_hour_that_was_twice() {
        let mut line = Timeline::of(&TimeZone::get("CST6CDT").unwrap());
        // United States rule since 2007: second Sunday of March and first Sunday of November, at 02:00.
        assert_eq!(line.resolve(local(2031, 3, 9, 2, 30)), Local::Never);
        assert_eq!(line.resolve(local(2031, 3, 9, 1, 59)), Local::Once(local(2031, 3, 9, 7, 59)));
        assert_eq!(line.resolve(local(2031, 3, 9, 3, 0)), Local::Once(local(2031, 3, 9, 8, 0)));
        let twice = local(2031, 11, 2, 1, 30);
        assert_eq!(line.resolve(twice), Local::Twice { earlier: twice + 5 * 3600, later: twice + 6 * 3600 });
        assert_eq!(line.fold_length(twice + 5 * 3600), 3600);
    }

    #[test]
    fn a_clock_of_fixed_offset_has_no_doubled_hour() {
        let stamp = local(2031, 11, 2, 1, 30);
        assert_eq!(Timeline::fixed(-21_600).resolve(stamp), Local::Once(stamp + 21_600));
    }

    #[test]
    fn a_drift_between_two_checks_is_put_right_along_a_straight_line() {
        let check = |logger, truly| ClockCheck { logger, truly };
        let line = Timeline::fixed(0).checked(&[check(1000, 1000), check(11_000, 10_900)]);
        assert_eq!([0, 1000, 6000, 11_000, 12_000].map(|s| line.true_time(s)), [0, 1000, 5950, 10_900, 11_900]);
        let step = Timeline::fixed(0).checked(&[check(500, 800)]);
        assert_eq!([0, 500, 900].map(|s| step.true_time(s)), [300, 800, 1200]);
        assert_eq!(Timeline::fixed(0).true_time(7), 7);
    }

    #[test]
    fn standard_time_is_the_winter_offset() {
        let zone = TimeZone::get("CST6CDT").unwrap();
        for month in 1..=12 {
            assert_eq!(standard_offset(&zone, local(2031, month, 24, 0, 0)), -21_600);
        }
    }

    proptest::proptest! {
        /// Reference: jiff's own lookup, record by record.
        #[test]
        fn the_timeline_agrees_with_the_time_zone_library(
            day in 0i64..20_000,
            minutes in proptest::collection::vec(-300_000i64..300_000, 1..20),
            zone in proptest::sample::select(vec!["CST6CDT", "Europe/Berlin", "Australia/Lord_Howe", "Asia/Kathmandu"]),
        ) {
            let tz = TimeZone::get(zone).unwrap();
            // One clock for all: what it knows of the last stamp must not mislead it about the next.
            let mut line = Timeline::of(&tz);
            for minute in minutes {
            let stamp = local(2000, 1, 1, 0, 0) + day * 86_400 + minute * 60;
            let civil = jiff::tz::Offset::UTC.to_datetime(Timestamp::from_second(stamp).unwrap());
            let theirs = tz.to_ambiguous_timestamp(civil);
            let ours = line.resolve(stamp);
            match ours {
                Local::Once(i) => proptest::prop_assert_eq!(i, theirs.unambiguous().unwrap().as_second()),
                Local::Twice { earlier, later } => {
                    proptest::prop_assert_eq!(earlier, theirs.earlier().unwrap().as_second());
                    proptest::prop_assert_eq!(later, theirs.later().unwrap().as_second());
                }
                Local::Never => proptest::prop_assert!(theirs.unambiguous().is_err()),
            }
            }
        }
    }
}
