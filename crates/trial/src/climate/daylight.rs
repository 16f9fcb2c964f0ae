//! When it was light, to judge a gap in a light record: from the sun where the site states its
//! place, else from the nearest whole day of the same logger, else the whole day counts.
use super::stretch::DAY;
use crate::calendar::from_day_number;
use crate::sun;

/// How far away a whole day may lie to stand for this one.
pub(super) const NEAR_DAYS: i64 = 10;
pub(super) const WHOLE_DAY: (f64, f64) = (0.0, DAY as f64);

/// Start and end of daylight by the sun, seconds of the standard day `number` days after 1970-01-01.
pub(super) fn by_sun(number: i64, (latitude, longitude): (f64, f64), offset_s: i32) -> (f64, f64) {
    let day = i32::try_from(number).map_or(1.0, |n| f64::from(from_day_number(n).day_of_year()));
    sun::daylight(day, latitude, longitude, offset_s).unwrap_or(WHOLE_DAY)
}

/// The daylight of the whole day nearest to `number`, the earlier of two; `seen` by day number.
pub(super) fn nearest(number: i64, seen: &[(i64, (f64, f64))]) -> (f64, f64) {
    let at = seen.partition_point(|(n, _)| *n < number);
    let around = [at.checked_sub(1), Some(at)].into_iter().flatten().filter_map(|i| seen.get(i));
    let close = around.filter(|(n, _)| (n - number).abs() <= NEAR_DAYS).min_by_key(|(n, _)| (n - number).abs());
    close.map_or(WHOLE_DAY, |c| c.1)
}
