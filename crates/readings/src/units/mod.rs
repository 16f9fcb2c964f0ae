//! Units: a closed table of exact factors, spelled in UCUM, found by the spellings that logs use.
//!
//! A unit is looked up *for a quantity*: "oz" in a mass column is the avoirdupois ounce, in a volume
//! column it is a question. A word that stands for an undeclared assumption (a bare gallon, EC in
//! ppm, lux for plant light, a box) is never converted: [`find`] returns the question to answer.
mod assumed;
mod light;
mod salinity;
mod table;

pub use light::{LAMPS, Lamp, find_lamp, ppfd_from_lux, ppfd_from_par_irradiance};
pub use salinity::{PPM_SCALES, PpmScaleUnknown, ec_from_ppm, ec_ppm_readings};
pub use table::UNITS;

use serde::{Deserialize, Serialize};
use std::fmt;

/// What a column measures. Each quantity has one canonical unit, which the clean tables hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Quantity {
    /// kg
    Mass,
    /// L
    Volume,
    /// m
    Length,
    /// m²
    Area,
    /// °C, a point on the scale; a difference converts without the shift.
    Temperature,
    /// relative humidity, %
    Humidity,
    /// photosynthetic photon flux density, µmol m⁻² s⁻¹
    Light,
    /// daily light integral, mol m⁻² d⁻¹
    DailyLight,
    /// lx
    Illuminance,
    /// W m⁻²
    Irradiance,
    /// electrical conductivity at 25 °C, dS/m
    Conductivity,
    /// pH
    Acidity,
    /// water content by volume, %
    MoistureFraction,
    /// a number of things
    Count,
    /// µmol/mol
    Co2,
    /// vapour pressure, kPa
    VapourPressure,
    /// L/h
    Flow,
    /// kg/m²
    YieldPerArea,
    /// d
    Duration,
}

impl Quantity {
    /// In words, for messages: "a mass".
    pub fn words(self) -> &'static str {
        match self {
            Quantity::Mass => "a mass",
            Quantity::Volume => "a volume",
            Quantity::Length => "a length",
            Quantity::Area => "an area",
            Quantity::Temperature => "a temperature",
            Quantity::Humidity => "relative humidity",
            Quantity::Light => "photosynthetic light (PPFD)",
            Quantity::DailyLight => "a daily light integral",
            Quantity::Illuminance => "illuminance",
            Quantity::Irradiance => "irradiance",
            Quantity::Conductivity => "electrical conductivity",
            Quantity::Acidity => "pH",
            Quantity::MoistureFraction => "moisture by volume",
            Quantity::Count => "a count",
            Quantity::Co2 => "carbon dioxide",
            Quantity::VapourPressure => "vapour pressure",
            Quantity::Flow => "a flow",
            Quantity::YieldPerArea => "yield per area",
            Quantity::Duration => "a duration",
        }
    }

    /// UCUM code of the canonical unit.
    pub fn canonical(self) -> &'static str {
        match self {
            Quantity::Mass => "kg",
            Quantity::Volume => "L",
            Quantity::Length => "m",
            Quantity::Area => "m2",
            Quantity::Temperature => "Cel",
            Quantity::Humidity | Quantity::MoistureFraction => "%",
            Quantity::Light => "umol/m2/s",
            Quantity::DailyLight => "mol/m2/d",
            Quantity::Illuminance => "lx",
            Quantity::Irradiance => "W/m2",
            Quantity::Conductivity => "dS/m",
            Quantity::Acidity => "[pH]",
            Quantity::Count => "1",
            Quantity::Co2 => "umol/mol",
            Quantity::VapourPressure => "kPa",
            Quantity::Flow => "L/h",
            Quantity::YieldPerArea => "kg/m2",
            Quantity::Duration => "d",
        }
    }
}

/// A unit of the closed table: canonical = (x − `shift`) · `times` / `over`.
///
/// `times` and `over` are whole numbers wherever the definition allows, so that an exact factor stays exact.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Unit {
    pub quantity: Quantity,
    pub ucum: &'static str,
    /// Accepted spellings, the first for display.
    pub names: &'static [&'static str],
    pub shift: f64,
    pub times: f64,
    pub over: f64,
}

impl Unit {
    /// Value in the quantity's canonical unit.
    pub fn to_canonical(&self, x: f64) -> f64 {
        (x - self.shift) * self.times / self.over
    }

    /// Value in this unit of a canonical value.
    pub fn from_canonical(&self, x: f64) -> f64 {
        x * self.over / self.times + self.shift
    }

    /// A difference (a dead-band, day minus night) in the canonical unit: no shift.
    pub fn span_to_canonical(&self, x: f64) -> f64 {
        x * self.times / self.over
    }

    /// The spelling for display.
    pub fn name(&self) -> &'static str {
        self.names.first().copied().unwrap_or(self.ucum)
    }
}

/// A unit text that cannot be taken as it stands.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct UnitFault {
    pub found: String,
    pub quantity: Quantity,
    /// Display spelling of every unit accepted here.
    pub accepted: Vec<String>,
    /// Where the text stands for an undeclared assumption: the question to answer.
    pub question: Option<String>,
}

impl UnitFault {
    /// Stable code: `unit-undeclared` where a question must be answered, else `unit-unknown`.
    pub fn code(&self) -> &'static str {
        if self.question.is_some() { "unit-undeclared" } else { "unit-unknown" }
    }

    /// Wording for a fault's `expected`.
    pub fn expected(&self) -> String {
        format!("a unit of {}: {}", self.quantity.words(), self.accepted.join(", "))
    }

    /// Wording for a fault's `mend`.
    pub fn mend(&self) -> String {
        match &self.question {
            Some(question) => format!("answer in the site file: {question}"),
            None => "write one of these spellings as the column's `unit`".to_owned(),
        }
    }
}

impl fmt::Display for UnitFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "\"{}\": expected {}", self.found, self.expected())?;
        if let Some(question) = &self.question {
            write!(f, "; {question}")?;
        }
        Ok(())
    }
}

impl std::error::Error for UnitFault {}

/// The unit that `text` names in a column of `quantity`.
///
/// Micro signs, superscripts, spaces round "/" and one pair of brackets make no difference; letter
/// case makes none where one unit alone fits.
///
/// # Errors
/// [`UnitFault`] with the accepted spellings, and the question where the text hides an assumption.
pub fn find(text: &str, quantity: Quantity) -> Result<&'static Unit, UnitFault> {
    let wanted = plain(text);
    spelled(&wanted, quantity).or_else(|| spelled(unbracketed(&wanted), quantity)).ok_or_else(|| UnitFault {
        found: text.trim().to_owned(),
        quantity,
        accepted: accepted(quantity),
        question: assumed::question(unbracketed(&wanted), quantity),
    })
}

/// Canonical unit of a quantity.
pub fn canonical_unit(quantity: Quantity) -> Option<&'static Unit> {
    UNITS.iter().find(|u| u.quantity == quantity && u.ucum == quantity.canonical())
}

/// Pounds of a mass in kg, for readers in pounds.
pub fn pounds(kg: f64) -> f64 {
    kg * 1e8 / 45_359_237.0
}

/// Pounds per square foot of a yield in kg/m².
pub fn pounds_per_square_foot(kg_per_m2: f64) -> f64 {
    pounds(kg_per_m2) * 0.092_903_04
}

fn accepted(quantity: Quantity) -> Vec<String> {
    UNITS.iter().filter(|u| u.quantity == quantity).map(|u| u.name().to_owned()).collect()
}

fn spelled(wanted: &str, quantity: Quantity) -> Option<&'static Unit> {
    let of_quantity = || UNITS.iter().filter(|u| u.quantity == quantity);
    let exact = of_quantity().find(|u| plain(u.ucum) == wanted || u.names.iter().any(|n| plain(n) == wanted));
    exact.or_else(|| {
        let lower = wanted.to_lowercase();
        let mut loose = of_quantity().filter(|u| u.names.iter().any(|n| plain(n).to_lowercase() == lower));
        let only = loose.next()?;
        loose.next().is_none().then_some(only)
    })
}

/// One way of writing for comparison: see [`find`].
fn plain(text: &str) -> String {
    let mapped: String = text.chars().map(plain_char).collect();
    let spaced = mapped.split_whitespace().collect::<Vec<_>>().join(" ");
    spaced.replace(" /", "/").replace("/ ", "/").trim_end_matches('.').to_owned()
}

fn plain_char(c: char) -> char {
    match c {
        'µ' | 'μ' => 'u',
        'º' | '˚' => '°',
        '⁰' => '0',
        '¹' => '1',
        '²' => '2',
        '³' => '3',
        '⁻' | '−' | '–' => '-',
        '·' | '⋅' | '•' | '\u{a0}' | '\u{202f}' => ' ',
        other => other,
    }
}

fn unbracketed(text: &str) -> &str {
    let inside = |open, close| text.strip_prefix(open).and_then(|t: &str| t.strip_suffix(close));
    inside('(', ')').or_else(|| inside('[', ']')).map_or(text, str::trim)
}

#[cfg(test)]
mod tests;
