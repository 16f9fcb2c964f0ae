//! From tables as written to clean tables: one file a kind of log.
mod climate;
mod day_order;
mod days;
mod diary;
mod duplicates;
mod harvest;
mod harvest_days;
mod left_out;
mod logger_doubts;
mod numbers;
mod places;
mod plan;
mod records;
mod root_zone;
mod season;
mod site;
#[cfg(test)]
mod tests;
mod undated;

pub use season::{Progress, Silent, climate_bytes, read_season, read_season_through};
