//! Photosynthetic light from lux or from 400–700 nm irradiance: only with a named lamp, because
//! the constant is the lamp's spectrum.
use super::{Quantity, UnitFault, plain};

/// Constants of one light source. Source: Thimijan & Heins (1983), HortScience 18(6):818–822.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lamp {
    pub name: &'static str,
    /// lx per µmol m⁻² s⁻¹
    pub lux_per_umol: f64,
    /// µmol per J of 400–700 nm radiation
    pub umol_per_joule: f64,
}

/// The lamps with a published constant. LED arrays have none: their spectrum decides.
#[rustfmt::skip]
pub static LAMPS: &[Lamp] = &[
    Lamp { name: "sun and sky", lux_per_umol: 54.0, umol_per_joule: 4.57 },
    Lamp { name: "blue sky only", lux_per_umol: 52.0, umol_per_joule: 4.24 },
    Lamp { name: "high-pressure sodium", lux_per_umol: 82.0, umol_per_joule: 4.98 },
    Lamp { name: "metal halide", lux_per_umol: 71.0, umol_per_joule: 4.59 },
    Lamp { name: "cool-white fluorescent", lux_per_umol: 74.0, umol_per_joule: 4.59 },
    Lamp { name: "incandescent", lux_per_umol: 50.0, umol_per_joule: 5.00 },
];

/// The lamp that a site file names.
///
/// # Errors
/// [`UnitFault`] listing the lamps, with the question to answer for an LED array.
pub fn find_lamp(text: &str) -> Result<&'static Lamp, UnitFault> {
    let wanted = plain(text).to_lowercase();
    LAMPS.iter().find(|lamp| lamp.name == wanted).ok_or_else(|| UnitFault {
        found: text.trim().to_owned(),
        quantity: Quantity::Light,
        accepted: LAMPS.iter().map(|lamp| lamp.name.to_owned()).collect(),
        question: wanted.contains("led").then(|| "no single constant holds for LED arrays: log µmol/m2/s from a quantum sensor".to_owned()),
    })
}

/// PPFD in µmol m⁻² s⁻¹ of an illuminance in lx under `lamp`.
pub fn ppfd_from_lux(lux: f64, lamp: &Lamp) -> f64 {
    lux / lamp.lux_per_umol
}

/// PPFD in µmol m⁻² s⁻¹ of 400–700 nm irradiance in W m⁻² under `lamp`.
pub fn ppfd_from_par_irradiance(watts: f64, lamp: &Lamp) -> f64 {
    watts * lamp.umol_per_joule
}
