//! When the sun stands above a given height: FAO-56 (Allen, Pereira, Raes and Smith 1998), eq. 24 for the
//! declination, eq. 25 for the sunset hour angle (solved here for any height), eq. 31 to 33 for solar time.
use std::f64::consts::{PI, TAU};

const DAY: i64 = 86_400;

/// One solar day at a place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct SolarDay {
    /// Instant of solar noon, s UTC.
    pub noon: i64,
    /// Half the time that the sun stands above the height asked for, s: 0 = never, 43,200 = always.
    pub half: i64,
}

/// Number of the solar day of an instant: days since 1970 of mean solar time.
pub(super) fn day_number(instant: i64, longitude: f64) -> i64 {
    (instant + (longitude * 240.0) as i64).div_euclid(DAY)
}

/// Day of the year of a day since 1970, from 1.
fn day_of_year(day: i64) -> f64 {
    jiff::Timestamp::from_second(day * DAY).map_or(1.0, |t| f64::from(jiff::tz::Offset::UTC.to_datetime(t).date().day_of_year()))
}

/// Solar declination, rad (FAO-56 eq. 24).
fn declination(day_of_year: f64) -> f64 {
    0.409 * (TAU * day_of_year / 365.0 - 1.39).sin()
}

/// Seasonal correction for solar time, h (FAO-56 eq. 32 and 33).
fn seasonal_correction(day_of_year: f64) -> f64 {
    let b = TAU * (day_of_year - 81.0) / 364.0;
    0.1645 * (2.0 * b).sin() - 0.1255 * b.cos() - 0.025 * b.sin()
}

/// Hour angle, rad, at which the sun passes a height (°): FAO-56 eq. 25 with that height in place of the horizon.
fn hour_angle(latitude: f64, declination: f64, height: f64) -> f64 {
    let phi = latitude.to_radians();
    let cosine = (height.to_radians().sin() - phi.sin() * declination.sin()) / (phi.cos() * declination.cos());
    cosine.clamp(-1.0, 1.0).acos()
}

/// Solar noon of a solar day, and half the time that the sun stands above `height`, °.
pub(super) fn solar_day(day: i64, (latitude, longitude): (f64, f64), height: f64) -> SolarDay {
    let of_year = day_of_year(day);
    let shift = longitude * 240.0 + seasonal_correction(of_year) * 3600.0;
    let angle = hour_angle(latitude, declination(of_year), height);
    SolarDay { noon: day * DAY + DAY / 2 - shift.round() as i64, half: (angle / PI * (DAY / 2) as f64).round() as i64 }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// FAO-56, examples 8 and 9: 3 September (day 246) at 20° south: declination 0.120 rad, sunset hour angle
    /// 1.527 rad, 11.7 h of daylight.
    #[test]
    fn the_worked_example_of_fao_56_is_met() {
        let declination = declination(246.0);
        assert!((declination - 0.120).abs() < 0.001);
        let angle = hour_angle(-20.0, declination, 0.0);
        assert!((angle - 1.527).abs() < 0.001);
        assert!((24.0 / PI * angle - 11.7).abs() < 0.05);
    }

    /// Almanac, from memory: the sun is 14.2 min slow on 11 February and 16.4 min fast on 3 November.
    #[test]
    fn the_sun_is_late_in_february_and_early_in_november() {
        assert!((seasonal_correction(42.0) * 60.0 + 14.2).abs() < 1.0);
        assert!((seasonal_correction(307.0) * 60.0 - 16.4).abs() < 1.0);
    }

    #[test]
    fn the_polar_night_has_no_sun_and_the_polar_day_no_night() {
        let january = solar_day(22_280, (75.0, 0.0), 0.0);
        let june = solar_day(22_280 + 160, (75.0, 0.0), 0.0);
        assert_eq!((january.half, june.half), (0, DAY / 2));
    }
}
