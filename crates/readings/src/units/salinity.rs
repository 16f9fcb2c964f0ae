//! EC shown as "ppm": not a concentration but EC times a scale that differs between meters.
//! Source of the scales: meter practice (500 NaCl, 640 irrigation water, 700 the 442 mix).

/// The scales in use, ppm shown per dS/m.
pub const PPM_SCALES: [u32; 3] = [500, 640, 700];

/// A scale that no meter uses.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("expected scale = 500, 640 or 700 (ppm shown per dS/m), found {found}")]
pub struct PpmScaleUnknown {
    pub found: u32,
}

/// EC in dS/m of a reading in ppm on a declared scale.
///
/// # Errors
/// [`PpmScaleUnknown`] for any scale but 500, 640 and 700.
pub fn ec_from_ppm(ppm: f64, scale: u32) -> Result<f64, PpmScaleUnknown> {
    if PPM_SCALES.contains(&scale) { Ok(ppm / f64::from(scale)) } else { Err(PpmScaleUnknown { found: scale }) }
}

/// What a ppm reading means on each scale, dS/m: for the question to the site.
pub fn ec_ppm_readings(ppm: f64) -> [(u32, f64); 3] {
    PPM_SCALES.map(|scale| (scale, ppm / f64::from(scale)))
}
