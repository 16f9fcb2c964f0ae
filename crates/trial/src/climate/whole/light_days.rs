//! A day's light: integral and coverage of daylight.
use super::daylight;
use super::stretch::{DAY, DayMeans, Days, Stretch};
use crate::light::{LightDay, light_sum};
use crosshouse_logs::tables::{Climate, Site};

/// Longest gap that one straight line may bridge for an estimate, s.
const LONGEST_BRIDGE: i64 = 6 * 3600;

#[derive(Debug, Clone, Copy, Default)]
pub(super) struct LightRecord {
    pub light: LightDay,
    /// Share of the 24 hours on record.
    pub on_record: f64,
}

/// One a day of `days`; empty where the logger has no light sensor.
pub(super) fn days(site: &Site, days: &Days, logger: &Climate, gap: i64) -> Vec<LightRecord> {
    if !logger.light.iter().any(|x| x.is_finite()) {
        return Vec::new();
    }
    let on_record = days.means(&logger.light, gap);
    let windows = daylight::windows(site, days, logger, &on_record);
    let mut out: Vec<LightRecord> = windows.iter().zip(&on_record).map(|(window, day)| record(*window, day)).collect();
    let mut add = |stretch: &Stretch, strict: bool| {
        let (Some(day), Some(window)) = (out.get_mut(stretch.day), windows.get(stretch.day)) else { return };
        let lit = stretch.within(window.0, window.1).map_or(0.0, |s| s.seconds());
        day.light.sum += light_sum(stretch.from, stretch.to, stretch.seconds());
        day.light.bridged += lit;
        day.light.covered += if strict { lit } else { 0.0 };
    };
    if logger.light_is_mean {
        period_means(days, logger, gap, &mut add);
    } else {
        days.stretches(&logger.light, gap.max(LONGEST_BRIDGE), |stretch| add(stretch, stretch.gap <= gap));
    }
    out
}

fn record(window: (f64, f64), on_record: &DayMeans) -> LightRecord {
    LightRecord { light: LightDay { daylight: window.1 - window.0, ..LightDay::default() }, on_record: on_record.share() }
}

/// Period means: each holds from its stamp for one interval (or to the next record, where the gap may be
/// bridged), the stamp being taken as the period's start. A stamp at the end moves the record by one interval,
/// which changes a daily sum only where it is light at midnight.
fn period_means(days: &Days, logger: &Climate, gap: i64, add: &mut impl FnMut(&Stretch, bool)) {
    let values: Vec<(usize, i64, f64)> =
        days.local.iter().zip(&logger.light).enumerate().filter(|(_, (_, x))| x.is_finite()).map(|(i, (at, x))| (i, *at, *x)).collect();
    let interval = i64::from(logger.interval_s).max(1);
    for (k, &(left, at, value)) in values.iter().enumerate() {
        let next = values.get(k + 1).copied();
        let step = next.map_or(i64::MAX, |n| n.1 - at);
        let held = if step <= gap { step } else { interval };
        level(days, (left, at, value), at.saturating_add(held), true, add);
        if let Some((_, until, after)) = next.filter(|_| step > gap && step <= LONGEST_BRIDGE) {
            level(days, (left, at + held, (value + after) / 2.0), until, false, add);
        }
    }
}

/// A level stretch from a record to `until`, cut at midnights.
fn level(days: &Days, (left, at, value): (usize, i64, f64), until: i64, strict: bool, add: &mut impl FnMut(&Stretch, bool)) {
    let mut start = at;
    while start < until {
        let number = start.div_euclid(DAY);
        let end = until.min((number + 1) * DAY);
        let second = |time: i64| (time - number * DAY) as f64;
        if let Some(day) = days.index(number) {
            let stretch =
                Stretch { day, start: second(start), end: second(end), from: value, to: value, left, right: left, gap: until - at };
            add(&stretch, strict);
        }
        start = end;
    }
}
