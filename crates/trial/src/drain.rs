//! Drain: fraction of the water that entered, and bookkeeping of salt.

/// Drain fraction of summed volumes, L: drain over water entering the containers. `None` where nothing entered.
///
/// A day's value is the ratio of its sums, not the mean of its events' ratios.
///
/// # Source
/// Million & Yeager, University of Florida IFAS Extension ENH1268: water entering = retained + leached.
pub fn drain_fraction(drain: f64, feed: f64) -> Option<f64> {
    (feed > 0.0).then(|| drain / feed)
}

/// Mean EC, dS/m, of (volume, EC) pairs, weighted by volume: Σ V·EC / Σ V. EC adds up nearly, not strictly, on mixing.
pub fn mixed_ec(pairs: impl IntoIterator<Item = (f64, f64)>) -> Option<f64> {
    let (volume, load) = pairs.into_iter().fold((0.0, 0.0), |(v, load), (volume, ec)| (v + volume, load + volume * ec));
    (volume > 0.0).then(|| load / volume)
}

/// Mean EC of readings: weighted by volume where each reading has one, else plain.
pub fn mean_ec(readings: &[(Option<f64>, f64)]) -> Option<f64> {
    let weighted: Option<Vec<(f64, f64)>> = readings.iter().map(|&(volume, ec)| Some((volume?, ec))).collect();
    weighted.and_then(mixed_ec).or_else(|| mean(readings.iter().map(|r| r.1)))
}

/// Plain mean, as a descriptor of pH too: pH is a log scale and is never mixed.
pub fn mean(values: impl IntoIterator<Item = f64>) -> Option<f64> {
    let (n, sum) = values.into_iter().fold((0u32, 0.0), |(n, sum), x| (n + 1, sum + x));
    (n > 0).then(|| sum / f64::from(n))
}

#[cfg(test)]
mod tests {
    use super::*;

    // By the definition of ENH1268.
    #[test]
    fn half_a_litre_of_two_and_a_half_is_a_fraction_of_0_2() {
        assert_eq!(drain_fraction(0.5, 2.5), Some(0.2));
        assert_eq!(drain_fraction(0.0, 2.4), Some(0.0));
        assert_eq!(drain_fraction(0.05, 0.0), None);
    }

    #[test]
    fn a_days_fraction_is_the_ratio_of_its_sums() {
        let day = drain_fraction(0.3 + 0.2 + 0.5, 2.0 + 1.0 + 3.0).unwrap();
        assert!((day - 0.1667).abs() < 1e-4, "not the mean of the ratios, 0.1722");
    }

    #[test]
    fn ec_is_weighted_by_volume() {
        let feed = mixed_ec([(2.0, 2.4), (1.0, 2.8), (3.0, 2.2)]).unwrap();
        let drain = mixed_ec([(0.3, 3.1), (0.2, 3.6), (0.5, 2.9)]).unwrap();
        assert!((feed - 2.3667).abs() < 1e-4 && (drain - 3.1).abs() < 1e-4);
        assert!((drain - feed - 0.7333).abs() < 1e-4);
    }

    #[test]
    fn ec_readings_without_volumes_are_averaged_plainly() {
        assert_eq!(mean_ec(&[(None, 2.0), (Some(3.0), 3.0)]), Some(2.5));
        assert_eq!(mean_ec(&[(Some(1.0), 2.0), (Some(3.0), 3.0)]), Some(2.75));
        assert_eq!(mean_ec(&[]), None);
    }
}
