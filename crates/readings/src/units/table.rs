//! The unit table, as data. Factors are exact by definition (international inch 2.54 cm, pound
//! 0.453 592 37 kg; NIST Handbook 44 appendix C, NIST SP 811 appendix B.8, UCUM essence table).
//!
//! To add a unit: one row, a check value with its source in `tests.rs`, nothing else.
use super::Quantity::{self, *};
use super::Unit;

/// A factor as a quotient of whole numbers: 35 oz is then 0.992 233 309 375 kg to the last bit.
type Quotient = (f64, f64);

const POUND: Quotient = (45_359_237.0, 1e8);
const OUNCE: Quotient = (45_359_237.0, 16e8);
const SHORT_TON: Quotient = (90_718_474.0, 1e5);
const US_GALLON: Quotient = (3_785_411_784.0, 1e9);
const IMPERIAL_GALLON: Quotient = (454_609.0, 1e5);
const SQUARE_FOOT: Quotient = (9_290_304.0, 1e8);
const ACRE: Quotient = (40_468_564_224.0, 1e7);

/// `a` divided by `b` times a whole number.
const fn part(a: Quotient, parts: f64) -> Quotient {
    (a.0, a.1 * parts)
}

/// Mass over area, both canonical.
const fn per(mass: Quotient, area: Quotient) -> Quotient {
    (mass.0 / mass.1, area.0 / area.1)
}

const fn unit(quantity: Quantity, ucum: &'static str, factor: Quotient, names: &'static [&'static str]) -> Unit {
    shifted(quantity, ucum, 0.0, factor, names)
}

const fn shifted(quantity: Quantity, ucum: &'static str, shift: f64, factor: Quotient, names: &'static [&'static str]) -> Unit {
    Unit { quantity, ucum, names, shift, times: factor.0, over: factor.1 }
}

/// Every unit that a log may use: quantity, UCUM code, factor, spellings.
#[rustfmt::skip]
pub static UNITS: &[Unit] = &[
    // mass → kg
    unit(Mass, "kg", (1.0, 1.0), &["kg", "kgs", "kilogram", "kilograms", "kilo", "kilos"]),
    unit(Mass, "g", (1.0, 1000.0), &["g", "gram", "grams", "gm", "gms"]),
    unit(Mass, "mg", (1.0, 1e6), &["mg", "milligram", "milligrams"]),
    unit(Mass, "t", (1000.0, 1.0), &["t", "tonne", "tonnes", "metric ton", "metric tons"]),
    unit(Mass, "[lb_av]", POUND, &["lb", "lbs", "pound", "pounds"]),
    unit(Mass, "[oz_av]", OUNCE, &["oz", "ozs", "ounce", "ounces"]),
    unit(Mass, "[ston_av]", SHORT_TON, &["short ton", "short tons", "US ton"]),

    // volume → L
    unit(Volume, "L", (1.0, 1.0), &["L", "l", "litre", "litres", "liter", "liters"]),
    unit(Volume, "mL", (1.0, 1000.0), &["mL", "ml", "millilitre", "millilitres", "milliliter", "milliliters", "cc", "cm3"]),
    unit(Volume, "m3", (1000.0, 1.0), &["m3", "cubic metre", "cubic metres", "cubic meter", "cubic meters"]),
    unit(Volume, "[gal_us]", US_GALLON, &["US gal", "US gallon", "US gallons", "gal US", "gal (US)"]),
    unit(Volume, "[qt_us]", part(US_GALLON, 4.0), &["US qt", "US quart", "US quarts"]),
    unit(Volume, "[pt_us]", part(US_GALLON, 8.0), &["US pt", "US pint", "US pints"]),
    unit(Volume, "[foz_us]", part(US_GALLON, 128.0), &["US fl oz", "US fluid ounce", "US fluid ounces"]),
    unit(Volume, "[gal_br]", IMPERIAL_GALLON, &["imperial gal", "imperial gallon", "imperial gallons", "imp gal", "gal (imperial)"]),
    unit(Volume, "[qt_br]", part(IMPERIAL_GALLON, 4.0), &["imperial qt", "imperial quart", "imperial quarts"]),
    unit(Volume, "[foz_br]", part(IMPERIAL_GALLON, 160.0), &["imperial fl oz", "imperial fluid ounce", "imperial fluid ounces"]),
    unit(Volume, "[cin_i]", (16_387_064.0, 1e9), &["in3", "cu in", "cubic inch", "cubic inches"]),
    unit(Volume, "[cft_i]", (28_316_846_592.0, 1e9), &["ft3", "cu ft", "cubic foot", "cubic feet"]),
    unit(Volume, "[cyd_i]", (764_554_857_984.0, 1e9), &["yd3", "cu yd", "cubic yard", "cubic yards"]),

    // length → m
    unit(Length, "m", (1.0, 1.0), &["m", "metre", "metres", "meter", "meters"]),
    unit(Length, "cm", (1.0, 100.0), &["cm", "centimetre", "centimetres", "centimeter", "centimeters"]),
    unit(Length, "mm", (1.0, 1000.0), &["mm", "millimetre", "millimetres", "millimeter", "millimeters"]),
    unit(Length, "[in_i]", (254.0, 1e4), &["in", "inch", "inches", "\""]),
    unit(Length, "[ft_i]", (3048.0, 1e4), &["ft", "foot", "feet", "'"]),
    unit(Length, "[yd_i]", (9144.0, 1e4), &["yd", "yard", "yards"]),

    // area → m²; the UCUM acre is the retired survey acre, so the international one is spelled in square feet
    unit(Area, "m2", (1.0, 1.0), &["m2", "sq m", "square metre", "square metres", "square meter", "square meters"]),
    unit(Area, "cm2", (1.0, 1e4), &["cm2", "sq cm"]),
    unit(Area, "[sft_i]", SQUARE_FOOT, &["ft2", "sq ft", "sqft", "square foot", "square feet"]),
    unit(Area, "[sin_i]", (64_516.0, 1e8), &["in2", "sq in", "square inch", "square inches"]),
    unit(Area, "har", (1e4, 1.0), &["ha", "hectare", "hectares"]),
    unit(Area, "43560.[sft_i]", ACRE, &["acre", "acres", "ac"]),

    // temperature → °C; 5/9 rather than 1/1.8, which has no finite binary form
    unit(Temperature, "Cel", (1.0, 1.0), &["°C", "C", "degC", "deg C", "℃", "celsius"]),
    shifted(Temperature, "[degF]", 32.0, (5.0, 9.0), &["°F", "F", "degF", "deg F", "℉", "fahrenheit"]),
    shifted(Temperature, "K", 273.15, (1.0, 1.0), &["K", "kelvin"]),

    // relative humidity → %
    unit(Humidity, "%", (1.0, 1.0), &["%", "percent", "% RH", "%RH"]),
    unit(Humidity, "1", (100.0, 1.0), &["fraction", "0-1"]),

    // light → µmol m⁻² s⁻¹; mol m⁻² d⁻¹; lx; W m⁻²
    unit(Light, "umol/m2/s", (1.0, 1.0), &["µmol/m2/s", "umol/m2/s", "umol m-2 s-1", "umol/(m2 s)", "umol/(m2*s)", "umol/m2s", "umol", "umol/sec/m2", "umol/s/m2"]),
    unit(DailyLight, "mol/m2/d", (1.0, 1.0), &["mol/m2/d", "mol m-2 d-1", "mol/m2/day", "mol/(m2 d)", "mol/d/m2"]),
    unit(Illuminance, "lx", (1.0, 1.0), &["lux", "lx"]),
    unit(Illuminance, "klx", (1000.0, 1.0), &["klx", "klux", "kilolux"]),
    unit(Illuminance, "lm/[sft_i]", (SQUARE_FOOT.1, SQUARE_FOOT.0), &["foot-candle", "fc", "foot-candles", "foot candle", "foot candles", "footcandle", "footcandles", "ftc"]),
    unit(Irradiance, "W/m2", (1.0, 1.0), &["W/m2", "W m-2", "watt/m2", "watts/m2"]),
    unit(Irradiance, "kW/m2", (1000.0, 1.0), &["kW/m2", "kW m-2"]),

    // conductivity at 25 °C → dS/m
    unit(Conductivity, "dS/m", (1.0, 1.0), &["dS/m", "dS m-1"]),
    unit(Conductivity, "mS/cm", (1.0, 1.0), &["mS/cm", "mS cm-1", "mS"]),
    unit(Conductivity, "mmho/cm", (1.0, 1.0), &["mmho/cm", "mmhos/cm", "mmho"]),
    unit(Conductivity, "uS/cm", (1.0, 1000.0), &["µS/cm", "uS/cm", "uS cm-1", "uS", "umho/cm", "umhos/cm"]),
    unit(Conductivity, "mS/m", (1.0, 100.0), &["mS/m", "mS m-1"]),
    unit(Conductivity, "S/m", (10.0, 1.0), &["S/m", "S m-1"]),
    unit(Conductivity, "10.mS/cm", (1.0, 10.0), &["CF"]),

    unit(Acidity, "[pH]", (1.0, 1.0), &["pH"]),

    // water content by volume → %
    unit(MoistureFraction, "%", (1.0, 1.0), &["%", "percent", "% v/v", "%v/v", "% vol", "vol %", "vol%", "% VWC"]),
    unit(MoistureFraction, "1", (100.0, 1.0), &["fraction", "0-1"]),
    unit(MoistureFraction, "m3/m3", (100.0, 1.0), &["m3/m3", "m3 m-3", "cm3/cm3", "cm3 cm-3", "L/L"]),

    unit(Count, "1", (1.0, 1.0), &["fruit", "1", "each", "ea", "count", "pieces", "pcs", "number", "no", "fruits"]),
    unit(Count, "{dozen}", (12.0, 1.0), &["dozen", "doz", "dz", "dozens"]),

    unit(Co2, "umol/mol", (1.0, 1.0), &["ppm", "µmol/mol", "umol/mol", "umol mol-1", "ppmv"]),

    // vapour pressure → kPa
    unit(VapourPressure, "kPa", (1.0, 1.0), &["kPa"]),
    unit(VapourPressure, "hPa", (1.0, 10.0), &["hPa"]),
    unit(VapourPressure, "mbar", (1.0, 10.0), &["mbar", "mb"]),
    unit(VapourPressure, "Pa", (1.0, 1000.0), &["Pa"]),

    // flow → L/h
    unit(Flow, "L/h", (1.0, 1.0), &["L/h", "L/hr", "L h-1", "lph"]),
    unit(Flow, "mL/min", (60.0, 1000.0), &["mL/min", "mL min-1"]),
    unit(Flow, "L/min", (60.0, 1.0), &["L/min", "lpm"]),
    unit(Flow, "[gal_us]/h", US_GALLON, &["US gal/h", "US gph"]),
    unit(Flow, "[gal_us]/min", (227_124_707_040.0, 1e9), &["US gal/min", "US gpm"]),

    // yield per area → kg/m²; area basis is declared elsewhere
    unit(YieldPerArea, "kg/m2", (1.0, 1.0), &["kg/m2", "kg m-2"]),
    unit(YieldPerArea, "g/m2", (1.0, 1000.0), &["g/m2", "g m-2"]),
    unit(YieldPerArea, "[lb_av]/[sft_i]", per(POUND, SQUARE_FOOT), &["lb/ft2", "lbs/ft2", "lb/sq ft"]),
    unit(YieldPerArea, "[oz_av]/[sft_i]", per(OUNCE, SQUARE_FOOT), &["oz/ft2", "oz/sq ft"]),
    unit(YieldPerArea, "t/har", (1.0, 10.0), &["t/ha", "t ha-1"]),
    unit(YieldPerArea, "kg/har", (1.0, 1e4), &["kg/ha", "kg ha-1"]),
    unit(YieldPerArea, "[lb_av]/(43560.[sft_i])", per(POUND, ACRE), &["lb/acre", "lbs/acre", "lb/ac"]),
    unit(YieldPerArea, "[ston_av]/(43560.[sft_i])", per(SHORT_TON, ACRE), &["short ton/acre", "short tons/acre"]),

    unit(Duration, "d", (1.0, 1.0), &["d", "day", "days"]),
    unit(Duration, "h", (1.0, 24.0), &["h", "hr", "hour", "hours"]),
    unit(Duration, "min", (1.0, 1440.0), &["min", "minute", "minutes"]),
    unit(Duration, "wk", (7.0, 1.0), &["wk", "week", "weeks"]),
];
