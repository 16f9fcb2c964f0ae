//! The demo season: an invented snack-pepper trial of 2031 at four invented stations, generated
//! from a seed and from stated true effects, so that a test can ask whether an interval covers the
//! truth. Every number is invented; ranges are those of the trade.
//!
//! The way of one number: [`truth::Effects`] give each cell of medium and container its mean at each
//! station → [`yields`] adds block and unit deviations → [`picking`] spreads a unit's season over the
//! visits in whole fruit and whole scale ticks, so that the recorded masses add up to it → [`logs`]
//! writes them as each station keeps its sheets.
//!
//! **The truth of the analysed response** (marketable kg per plant *set*): station mean + treatment +
//! block + unit deviation, normal. Two things could bend it and do not. A missed visit delays fruit
//! to the next visit, none is lost. A plant that dies leaves its light and root room to its mate in the
//! same container, which makes up for it in full: the unit's season is drawn before the deaths and
//! does not depend on them. So the expectation of the recorded response is the cell mean, to the
//! scale's rounding.
mod chance;
mod deaths;
pub mod logs;
pub mod picking;
mod season;
pub mod station;
pub mod truth;
pub mod units;
pub mod weather;
mod write;
pub mod yields;

#[cfg(test)]
mod facts;

pub use season::{Generated, Parts, SEED, StationSeason, season, season_of, unit_yields};
pub use write::{files, pipeline_files, put_all, write};
