//! When it was light, to judge a gap in a light record: from the sun where the site states its
//! place, else from the nearest whole day of the same logger, else the whole day counts.
use super::stretch::{DAY, DayMeans, Days};
use crate::calendar::from_day_number;
use crate::light::{DAYLIGHT, PLAIN_COVERAGE};
use crate::sun;
use crosshouse_logs::tables::{Climate, Site};

/// How far away a whole day may lie to stand for this one.
const NEAR_DAYS: i64 = 10;

/// Start and end of daylight, seconds of the standard day, one a day of `days`.
pub(super) fn windows(site: &Site, days: &Days, logger: &Climate, on_record: &[DayMeans]) -> Vec<(f64, f64)> {
    let whole_day = (0.0, DAY as f64);
    if let (Some(latitude), Some(longitude)) = (site.latitude, site.longitude) {
        let sun = |n: &i64| sun::daylight(day_of_year(*n), latitude, longitude, logger.standard_offset_s).unwrap_or(whole_day);
        return days.numbers.iter().map(sun).collect();
    }
    let seen = whole_days(days, logger, on_record);
    days.numbers.iter().map(|n| nearest(*n, &seen).unwrap_or(whole_day)).collect()
}

fn day_of_year(number: i64) -> f64 {
    i32::try_from(number).map_or(1.0, |n| f64::from(from_day_number(n).day_of_year()))
}

/// First and last light of each day that is whole on record, by day number.
fn whole_days(days: &Days, logger: &Climate, on_record: &[DayMeans]) -> Vec<(i64, (f64, f64))> {
    let mut seen: Vec<(i64, (f64, f64))> = Vec::new();
    for (&at, &light) in days.local.iter().zip(&logger.light) {
        let number = at.div_euclid(DAY);
        let second = at.rem_euclid(DAY) as f64;
        let whole = days.index(number).and_then(|k| on_record.get(k)).is_some_and(|d| d.share() >= PLAIN_COVERAGE);
        if !whole || light.is_nan() || light <= DAYLIGHT {
            continue;
        }
        match seen.last_mut().filter(|last| last.0 == number) {
            Some((_, window)) => window.1 = second,
            None => seen.push((number, (second, second))),
        }
    }
    seen.retain(|(_, (first, last))| first < last);
    seen
}

fn nearest(number: i64, seen: &[(i64, (f64, f64))]) -> Option<(f64, f64)> {
    let at = seen.partition_point(|(n, _)| *n < number);
    let around = [at.checked_sub(1), Some(at)].into_iter().flatten().filter_map(|i| seen.get(i));
    let close = around.filter(|(n, _)| (n - number).abs() <= NEAR_DAYS).min_by_key(|(n, _)| (n - number).abs())?;
    Some(close.1)
}
