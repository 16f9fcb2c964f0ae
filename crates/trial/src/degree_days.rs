//! Growing degree days: from daily extremes by three methods, and straight from a logger's curve.
//! The methods differ on the same day; tables of this crate use the logger's curve.

/// Simple average with a floor a day: max(0, (Tmax + Tmin)/2 − base).
pub fn simple_average(max: f64, min: f64, base: f64) -> f64 {
    ((max + min) / 2.0 - base).max(0.0)
}

/// Both extremes cut to `base`..`ceiling` before averaging.
pub fn cut_off_average(max: f64, min: f64, base: f64, ceiling: f64) -> f64 {
    (max.clamp(base, ceiling) + min.clamp(base, ceiling)) / 2.0 - base
}

/// One sine a day through the extremes, with a horizontal cut-off at `ceiling`.
///
/// # Source
/// Baskerville & Emin (1969), Ecology 50:514–517.
pub fn single_sine(max: f64, min: f64, base: f64, ceiling: Option<f64>) -> f64 {
    sine_above(max, min, base) - ceiling.map_or(0.0, |ceiling| sine_above(max, min, ceiling))
}

/// Degree days of the day's sine above `threshold`.
fn sine_above(max: f64, min: f64, threshold: f64) -> f64 {
    let (middle, width) = ((max + min) / 2.0, (max - min) / 2.0);
    if min >= threshold {
        middle - threshold
    } else if max <= threshold {
        0.0
    } else {
        let theta = ((threshold - middle) / width).asin();
        ((middle - threshold) * (std::f64::consts::FRAC_PI_2 - theta) + width * theta.cos()) / std::f64::consts::PI
    }
}

/// Mean of max(0, T − `threshold`) over a stretch on which T runs straight from `from` to `to`.
pub fn mean_above(from: f64, to: f64, threshold: f64) -> f64 {
    let (low, high) = (from.min(to) - threshold, from.max(to) - threshold);
    if low >= 0.0 {
        (low + high) / 2.0
    } else if high <= 0.0 {
        0.0
    } else {
        high * high / (2.0 * (high - low))
    }
}

/// Mean of clip(T, base, ceiling) − base over such a stretch.
pub fn mean_between(from: f64, to: f64, base: f64, ceiling: f64) -> f64 {
    mean_above(from, to, base) - mean_above(from, to, ceiling)
}

/// Share of such a stretch above `threshold`.
pub fn share_above(from: f64, to: f64, threshold: f64) -> f64 {
    let (low, high) = (from.min(to) - threshold, from.max(to) - threshold);
    if low >= 0.0 && high > 0.0 {
        1.0
    } else if high <= 0.0 {
        0.0
    } else {
        high / (high - low)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // Iowa State University, Agronomy 541 lesson: 27.5, 9.0, 2.5, 10.0 °F d; the others by definition.
    #[test]
    fn the_simple_average_agrees_with_published_lessons() {
        for (max, min, expected) in
            [(90.0, 65.0, 27.5), (72.0, 46.0, 9.0), (63.0, 42.0, 2.5), (70.0, 50.0, 10.0), (83.0, 61.0, 22.0), (48.0, 30.0, 0.0)]
        {
            assert_eq!(simple_average(max, min, 50.0), expected);
        }
    }

    // Ohio Agronomy Guide (2023) column for 87/63 °F: 24.5; a three-day example of 2018 sums to 43.0.
    #[test]
    fn the_86_50_method_agrees_with_published_columns() {
        for (max, min, expected) in [(90.0, 65.0, 25.5), (72.0, 46.0, 11.0), (63.0, 42.0, 6.5), (87.0, 63.0, 24.5), (90.0, 48.0, 18.0)] {
            assert_eq!(cut_off_average(max, min, 50.0, 86.0), expected);
        }
    }

    // Expected values by numerical integration of the clipped sine, four decimals.
    const SINES: [(f64, f64, f64); 7] = [
        (25.0, 15.0, 10.0),
        (28.0, 8.0, 8.2712),
        (34.0, 12.0, 12.2621),
        (36.0, 4.0, 10.0),
        (32.0, 20.0, 15.6474),
        (9.0, 2.0, 0.0),
        (40.0, 32.0, 20.0),
    ];

    #[test]
    fn the_single_sine_is_the_integral_of_the_clipped_sine() {
        for (max, min, expected) in SINES {
            assert!((single_sine(max, min, 10.0, Some(30.0)) - expected).abs() < 0.0005, "{max} {min}");
        }
        assert!((single_sine(20.0, 5.0, 10.0, None) - 3.7712).abs() < 0.0005);
        assert!((single_sine(80.0, 40.0, 50.0, None) - 12.18).abs() < 0.0005);
        assert!((single_sine(95.0, 60.0, 50.0, Some(86.0)) - 25.5086).abs() < 0.0005);
    }

    #[test]
    fn a_logger_that_followed_the_sine_gives_the_same_degree_days() {
        let steps = 288;
        for (max, min, expected) in SINES {
            let at = |i: i32| (max + min) / 2.0 + (max - min) / 2.0 * (std::f64::consts::TAU * f64::from(i) / f64::from(steps)).sin();
            let sum: f64 = (0..steps).map(|i| mean_between(at(i), at(i + 1), 10.0, 30.0)).sum();
            assert!((sum / f64::from(steps) - expected).abs() < 0.001, "{max} {min}");
        }
    }

    #[test]
    fn a_straight_stretch_is_cut_where_it_crosses() {
        assert_eq!(mean_above(8.0, 12.0, 10.0), 0.5);
        assert_eq!(mean_between(5.0, 35.0, 10.0, 30.0), 10.0);
        assert_eq!((share_above(8.0, 12.0, 10.0), share_above(10.0, 10.0, 10.0), share_above(11.0, 12.0, 10.0)), (0.5, 0.0, 1.0));
    }
}
