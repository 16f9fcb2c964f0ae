//! Words that hide an assumption, with the question to answer. None has a default.
use super::Quantity::{self, *};

struct Assumed {
    quantities: &'static [Quantity],
    words: &'static [&'static str],
    question: &'static str,
}

#[rustfmt::skip]
static ASSUMED: &[Assumed] = &[
    Assumed {
        quantities: &[Volume, Flow],
        words: &["gal", "gals", "gallon", "gallons", "gph", "gpm", "gal/h", "gal/min"],
        question: "which gallon? \"US gal\" is 3.785411784 L, \"imperial gal\" is 4.54609 L",
    },
    Assumed {
        quantities: &[Volume],
        words: &["qt", "qts", "quart", "quarts", "pt", "pts", "pint", "pints"],
        question: "whose quart or pint? write \"US qt\", \"US pt\" or \"imperial qt\"",
    },
    Assumed {
        quantities: &[Volume],
        words: &["oz", "ounce", "ounces", "fl oz", "fluid ounce", "fluid ounces", "floz"],
        question: "which fluid ounce? \"US fl oz\" is 29.5735 mL, \"imperial fl oz\" is 28.4131 mL",
    },
    Assumed {
        quantities: &[Volume],
        words: &["trade gal", "trade gallon", "trade gallons", "#1", "#2", "#3", "#5", "#7", "#10", "#15", "pot", "pots", "bucket", "buckets", "bag", "bags"],
        question: "how many litres? a container's trade label is a name, not a volume: measure to the fill line and write L",
    },
    Assumed {
        quantities: &[Mass, Volume, Count],
        words: &["box", "boxes", "carton", "cartons", "case", "cases", "crate", "crates", "flat", "flats", "tray", "trays", "tote", "totes", "bushel", "bushels", "bu", "punnet", "punnets", "clamshell", "clamshells"],
        question: "what does one hold, net, and since when? a box is not a unit: log kg, lb or fruit",
    },
    Assumed {
        quantities: &[Mass],
        words: &["ton", "tons"],
        question: "which ton? \"short ton\" is 907.18474 kg, \"tonne\" is 1000 kg",
    },
    Assumed {
        quantities: &[YieldPerArea],
        words: &["ton/acre", "tons/acre", "ton/ha", "tons/ha"],
        question: "which ton? write \"short ton/acre\" or \"t/ha\"",
    },
    Assumed {
        quantities: &[YieldPerArea],
        words: &["kg/plant", "lb/plant", "lbs/plant", "g/plant"],
        question: "how many plants a square metre, and of which area? a yield per plant is no yield per area",
    },
    Assumed {
        quantities: &[Conductivity],
        words: &["ppm", "ppm tds", "tds", "mg/l"],
        question: "which scale does the meter use? scale = 500, 640 or 700 (ppm shown per dS/m)",
    },
    Assumed {
        quantities: &[Light],
        words: &["lux", "lx", "klx", "klux", "fc", "foot-candle", "foot-candles", "foot candle", "foot candles", "footcandle", "footcandles", "ftc"],
        question: "light of which lamp? declare lamp = \"sun and sky\", \"high-pressure sodium\" or another source listed in the manual; an LED array needs its own constant",
    },
    Assumed {
        quantities: &[Light],
        words: &["w/m2", "w m-2", "watt/m2", "watts/m2"],
        question: "which irradiance? 400\u{2013}700 nm under a named lamp, or global solar with its share of photosynthetic light; it is not read as PPFD until declared",
    },
    Assumed {
        quantities: &[Temperature],
        words: &["°", "deg", "degree", "degrees"],
        question: "which scale? write \"°C\" or \"°F\"",
    },
    Assumed {
        quantities: &[MoistureFraction],
        words: &["% w/w", "%w/w", "g/g", "kg/kg"],
        question: "what is the bulk density? moisture by mass is no moisture by volume without it",
    },
    Assumed {
        quantities: &[MoistureFraction],
        words: &["% of capacity", "% container capacity", "% cc"],
        question: "what volume of water is full? per cent of container capacity is another quantity than per cent by volume",
    },
    Assumed {
        quantities: &[Conductivity],
        words: &["ec"],
        question: "in which unit? \"mS/cm\" (readings near 2) or \"uS/cm\" (readings near 2000)",
    },
];

/// The question behind `text` (already in plain spelling) in a column of `quantity`, if it hides one.
pub(super) fn question(text: &str, quantity: Quantity) -> Option<String> {
    let word = text.to_lowercase();
    let asked = ASSUMED.iter().find(|a| a.quantities.contains(&quantity) && a.words.contains(&word.as_str()))?;
    Some(asked.question.to_owned())
}
