//! Vapour in the air: saturation pressure, deficit, dew point.

/// Saturation vapour pressure over liquid water, kPa, at `t` °C; meant for 0 to 50 °C.
///
/// e°(T) = 0.6108 exp[17.27 T / (T + 237.3)]
///
/// # Source
/// Allen, Pereira, Raes & Smith (1998), FAO Irrigation and Drainage Paper 56, eq. 11.
pub fn saturation_pressure(t: f64) -> f64 {
    0.6108 * (17.27 * t / (t + 237.3)).exp()
}

/// Vapour pressure deficit of the air, kPa, at `t` °C and `humidity` %: e°(T)(1 − RH/100).
///
/// For a mean over time, average the deficits of the records, never the records: the deficit of
/// mean temperature and mean humidity is too low.
pub fn vapour_pressure_deficit(t: f64, humidity: f64) -> f64 {
    saturation_pressure(t) * (1.0 - humidity / 100.0)
}

/// [`vapour_pressure_deficit`] of many records: a logger writes few different temperatures, so that their
/// saturation pressures are kept. The digits are those of the function.
pub(crate) struct Saturation {
    kept: Vec<(u64, f64)>,
}

impl Default for Saturation {
    fn default() -> Self {
        Saturation { kept: vec![(f64::NAN.to_bits(), f64::NAN); 1 << 10] }
    }
}

impl Saturation {
    #[inline]
    pub fn deficit(&mut self, t: f64, humidity: f64) -> f64 {
        let bits = t.to_bits();
        let place = (bits.wrapping_mul(0x9E37_79B9_7F4A_7C15) >> 54) as usize;
        let Some(kept) = self.kept.get_mut(place) else { return vapour_pressure_deficit(t, humidity) };
        if kept.0 != bits {
            *kept = (bits, saturation_pressure(t));
        }
        kept.1 * (1.0 - humidity / 100.0)
    }
}

/// Dew point, °C: the inverse of [`saturation_pressure`] at the actual vapour pressure, so that 100 %
/// returns the air temperature. `None` without vapour.
pub fn dew_point(t: f64, humidity: f64) -> Option<f64> {
    let actual = saturation_pressure(t) * humidity / 100.0;
    if actual.is_nan() || actual <= 0.0 {
        return None;
    }
    let x = (actual / 0.6108).ln();
    Some(237.3 * x / (17.27 - x))
}

#[cfg(test)]
mod tests {
    use super::*;

    // FAO-56 example 3 (15.0 and 24.5 °C, 1.705 and 3.075 kPa) and table 2.3, three decimals given.
    #[test]
    fn saturation_pressure_agrees_with_fao_56_example_3_and_table_2_3() {
        let table = [
            (15.0, 1.705),
            (24.5, 3.075),
            (1.0, 0.657),
            (10.0, 1.228),
            (20.0, 2.338),
            (25.0, 3.168),
            (30.0, 4.243),
            (35.0, 5.623),
            (40.0, 7.376),
        ];
        for (t, kpa) in table {
            assert!((saturation_pressure(t) - kpa).abs() < 0.001, "{t}");
        }
        assert!(((saturation_pressure(15.0) + saturation_pressure(24.5)) / 2.0 - 2.390).abs() < 0.001);
    }

    // Worked from the definition with FAO-56 eq. 11.
    #[test]
    fn the_deficit_is_what_saturation_leaves() {
        for (t, humidity, kpa) in [
            (20.0, 70.0, 0.7015),
            (25.0, 60.0, 1.2671),
            (25.0, 70.0, 0.9503),
            (30.0, 50.0, 2.1215),
            (22.0, 85.0, 0.3966),
            (18.0, 95.0, 0.1032),
        ] {
            assert!((vapour_pressure_deficit(t, humidity) - kpa).abs() < 0.0005, "{t} {humidity}");
        }
    }

    #[test]
    fn the_mean_of_the_deficits_is_not_the_deficit_of_the_means() {
        let mean = (vapour_pressure_deficit(15.0, 90.0) + vapour_pressure_deficit(35.0, 40.0)) / 2.0;
        assert!((mean - 1.7721).abs() < 0.0005);
        assert!((vapour_pressure_deficit(25.0, 65.0) - 1.1087).abs() < 0.0005);
    }

    // Worked from the inverse of FAO-56 eq. 11.
    #[test]
    fn the_dew_point_inverts_the_saturation_formula() {
        for (t, humidity, dew) in [
            (20.0, 50.0, 9.270),
            (20.0, 70.0, 14.364),
            (25.0, 60.0, 16.696),
            (30.0, 80.0, 26.165),
            (15.0, 95.0, 14.206),
            (28.0, 35.0, 11.117),
        ] {
            assert!((dew_point(t, humidity).unwrap() - dew).abs() < 0.005, "{t} {humidity}");
        }
        for t in [0.0, 12.5, 40.0] {
            assert!((dew_point(t, 100.0).unwrap() - t).abs() < 1e-9);
        }
        assert_eq!(dew_point(20.0, 0.0), None);
    }
}
