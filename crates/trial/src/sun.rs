//! Sunrise and sunset, to know how much daylight a gap in a light record hides.
use std::f64::consts::{PI, TAU};

/// Sunrise and sunset in seconds of the standard day, for day `day_of_year` at a place in degrees (east
/// and north positive), the standard time being `offset_s` ahead of UTC. `None` in polar night; the whole
/// day under a midnight sun.
///
/// # Source
/// FAO-56 eq. 24 (declination), 25 (sunset hour angle), 31–33 (solar time).
pub(crate) fn daylight(day_of_year: f64, latitude: f64, longitude: f64, offset_s: i32) -> Option<(f64, f64)> {
    let half_day = sunset_angle(latitude.to_radians(), declination(day_of_year))? * 12.0 / PI;
    let meridian = f64::from(offset_s) / 240.0;
    let noon = 12.0 - (longitude - meridian) / 15.0 - seasonal_correction(day_of_year);
    let seconds = |hour: f64| (hour * 3600.0).clamp(0.0, 86_400.0);
    Some((seconds(noon - half_day), seconds(noon + half_day)))
}

fn declination(day_of_year: f64) -> f64 {
    0.409 * (TAU / 365.0 * day_of_year - 1.39).sin()
}

/// Radians from solar noon to sunset.
fn sunset_angle(latitude: f64, declination: f64) -> Option<f64> {
    let x = -latitude.tan() * declination.tan();
    (x < 1.0).then(|| x.max(-1.0).acos())
}

/// Hours by which the sun runs ahead of the clock.
fn seasonal_correction(day_of_year: f64) -> f64 {
    let b = TAU * (day_of_year - 81.0) / 364.0;
    0.1645 * (2.0 * b).sin() - 0.1255 * b.cos() - 0.025 * b.sin()
}

#[cfg(test)]
mod tests {
    use super::*;

    // FAO-56 examples 8 and 9: 20° S, 3 September (day 246): declination 0.120 rad, sunset angle 1.527 rad, 11.7 h.
    #[test]
    fn daylight_agrees_with_fao_56_examples_8_and_9() {
        assert!((declination(246.0) - 0.120).abs() < 0.001);
        assert!((sunset_angle(-20f64.to_radians(), 0.120).unwrap() - 1.527).abs() < 0.001);
        let (rise, set) = daylight(246.0, -20.0, 0.0, 0).unwrap();
        assert!(((set - rise) / 3600.0 - 11.7).abs() < 0.05);
    }

    #[test]
    fn a_place_west_of_its_meridian_has_a_late_noon() {
        let noon = |longitude: f64| daylight(81.0, 45.0, longitude, -6 * 3600).map(|(rise, set)| (rise + set) / 2.0).unwrap();
        assert!((noon(-95.0) - noon(-90.0) - 1200.0).abs() < 1e-6);
    }

    #[test]
    fn polar_night_has_no_daylight() {
        assert_eq!(daylight(355.0, 80.0, 0.0, 0), None);
    }
}
