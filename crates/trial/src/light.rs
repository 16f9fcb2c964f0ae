//! Daily light integral, and when a day's record bears one.

/// Least share of daylight on record for a plain integral, and for an estimate. Common practice, no source.
pub const PLAIN_COVERAGE: f64 = 0.95;
pub const ESTIMATE_COVERAGE: f64 = 0.80;

/// Photon flux that counts as day, µmol m⁻² s⁻¹: sensors read up to 5 at night.
pub const DAYLIGHT: f64 = 5.0;

/// Light on `seconds` of a stretch on which PPFD runs straight from `from` to `to` µmol m⁻² s⁻¹, in
/// mol m⁻²: the trapezoid; a period mean is a stretch with equal ends.
pub fn light_sum(from: f64, to: f64, seconds: f64) -> f64 {
    (from + to) / 2.0 * seconds / 1e6
}

/// What one day's light record holds.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct LightDay {
    /// mol m⁻² over the record, longer gaps within the day bridged by one straight line
    pub sum: f64,
    /// s of daylight, how many of them lie between records no longer apart than the gap allowed, and how
    /// many lie on the record or on a bridge
    pub daylight: f64,
    pub covered: f64,
    pub bridged: f64,
}

impl LightDay {
    /// The integral, mol m⁻² d⁻¹, and whether it is an estimate; `None` below 80 % coverage, or where daylight
    /// is missing that no bridge spans. A missing noon is never counted as dark.
    pub fn integral(&self) -> Option<(f64, bool)> {
        if self.daylight <= 0.0 {
            return None;
        }
        let share = self.covered / self.daylight;
        let told = share >= ESTIMATE_COVERAGE && self.bridged / self.daylight >= PLAIN_COVERAGE;
        told.then_some((self.sum, share < PLAIN_COVERAGE))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // DLI = PPFD · hours · 0.0036 for constant light, exact by definition.
    #[test]
    fn five_hundred_for_twelve_hours_is_21_6_mol() {
        assert!((light_sum(500.0, 500.0, 12.0 * 3600.0) - 21.6).abs() < 1e-9);
    }

    #[test]
    fn trapezoids_over_two_hour_readings_sum_to_20_88_mol() {
        let readings = [0.0, 300.0, 700.0, 900.0, 700.0, 300.0, 0.0];
        let sum: f64 = readings.windows(2).map(|pair| light_sum(pair[0], pair[1], 7200.0)).sum();
        assert!((sum - 20.88).abs() < 1e-9);
    }

    #[test]
    fn coverage_decides_between_integral_estimate_and_blank() {
        let day = |covered: f64, bridged: f64| LightDay { sum: 20.0, daylight: 100.0, covered, bridged }.integral();
        assert_eq!(day(97.0, 97.0), Some((20.0, false)));
        assert_eq!(day(85.0, 100.0), Some((20.0, true)));
        assert_eq!(day(85.0, 85.0), None);
        assert_eq!(day(79.0, 100.0), None);
        assert_eq!(LightDay::default().integral(), None);
    }
}
