//! The list of responses: key, wording, unit and kind. What a key means is computed in `yields`.

/// How a response is distributed, as far as a model must know.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    Continuous,
    /// A number of things, over plants: [`UnitSeason::counted`](crate::tables::UnitSeason::counted) holds the numbers.
    Count,
    /// A number of things out of a number of things, 0–1; its numbers are there too.
    Portion,
    /// Mass out of mass, 0–1: no number of trials stands behind it.
    Share,
}

/// One response of a unit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Response {
    pub key: &'static str,
    pub label: &'static str,
    /// In words: "kg per plant", "g", "1", "d".
    pub unit: &'static str,
    pub kind: Kind,
    /// What it is divided by; "" where it is not divided.
    pub per: &'static str,
}

const fn continuous(key: &'static str, label: &'static str, unit: &'static str, per: &'static str) -> Response {
    Response { key, label, unit, kind: Kind::Continuous, per }
}

pub(crate) mod key {
    pub const MARKETABLE_PER_PLANT: &str = "marketable-yield-per-plant";
    pub const TOTAL_PER_PLANT: &str = "total-yield-per-plant";
    pub const EARLY_PER_PLANT: &str = "early-yield-per-plant";
    pub const MARKETABLE_PER_UNIT: &str = "marketable-yield-per-unit";
    pub const TOTAL_PER_UNIT: &str = "total-yield-per-unit";
    pub const MARKETABLE_PER_M2: &str = "marketable-yield-per-m2";
    pub const TOTAL_PER_M2: &str = "total-yield-per-m2";
    pub const PLANT_DAY_SEASON: &str = "marketable-yield-per-plant-day-season";
    pub const FRUIT_PER_PLANT: &str = "fruit-count-per-plant";
    pub const FRUIT_PLANT_DAY_SEASON: &str = "fruit-count-per-plant-day-season";
    pub const FRUIT_MASS: &str = "mean-fruit-mass";
    pub const CULL_SHARE: &str = "cull-share";
    pub const CULL_SHARE_BY_NUMBER: &str = "cull-share-by-number";
    pub const PLANTS_LOST: &str = "plants-lost";
    pub const FIRST_PICK: &str = "days-to-first-pick";
    pub const PLANT_DAYS: &str = "plant-days";
}

#[rustfmt::skip]
static RESPONSES: &[Response] = &[
    continuous(key::MARKETABLE_PER_PLANT, "marketable yield", "kg per plant", "plant set"),
    continuous(key::TOTAL_PER_PLANT, "total yield", "kg per plant", "plant set"),
    continuous(key::EARLY_PER_PLANT, "early marketable yield", "kg per plant", "plant set"),
    continuous(key::MARKETABLE_PER_UNIT, "marketable yield", "kg per unit", "unit"),
    continuous(key::TOTAL_PER_UNIT, "total yield", "kg per unit", "unit"),
    continuous(key::MARKETABLE_PER_M2, "marketable yield", "kg per m²", "m²"),
    continuous(key::TOTAL_PER_M2, "total yield", "kg per m²", "m²"),
    continuous(key::PLANT_DAY_SEASON, "marketable yield of a full season by plant-days", "kg per plant", "plant-day, times the season's days"),
    Response { key: key::FRUIT_PER_PLANT, label: "fruit count", unit: "fruit per plant", kind: Kind::Count, per: "plant set" },
    Response { key: key::FRUIT_PLANT_DAY_SEASON, label: "fruit count of a full season by plant-days", unit: "fruit per plant", kind: Kind::Count, per: "plant-day, times the season's days" },
    continuous(key::FRUIT_MASS, "mean mass of a marketable fruit", "g", ""),
    Response { key: key::CULL_SHARE, label: "cull share by mass", unit: "1", kind: Kind::Share, per: "" },
    Response { key: key::CULL_SHARE_BY_NUMBER, label: "cull share by number", unit: "1", kind: Kind::Portion, per: "fruit counted" },
    Response { key: key::PLANTS_LOST, label: "share of plants lost", unit: "1", kind: Kind::Portion, per: "plant set" },
    continuous(key::FIRST_PICK, "days from transplanting to first pick", "d", ""),
    continuous(key::PLANT_DAYS, "plant-days", "d", ""),
];

/// Every response but the free measures, which are `measure:NAME`. The first is primary.
pub fn responses() -> &'static [Response] {
    RESPONSES
}
