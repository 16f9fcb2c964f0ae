//! Each house's days from its climate loggers.
//!
//! Days are the site's standard time, all season. Every value is an integral over time: records are
//! joined by straight lines, gaps longer than allowed are left open, and each stretch is cut at
//! midnight. A group sum over records would weigh an uneven record wrongly, so this is a plain pass over
//! the columns and not a table query.
mod daylight;
mod lit;
mod loggers;
mod running;
mod stretch;
mod temperature;

use crate::Settings;
use crate::tables::HouseDay;
use crosshouse_logs::loggers::{Ending, Flagged, LoggerFacts, Pass, Records};
use crosshouse_logs::tables::{Climate, Site};

pub use loggers::together;
pub use running::RunningDays;

/// Least share of a day on record for its degree days, which are then the mean rate over the record.
const DEGREE_DAY_COVERAGE: f64 = 0.80;

/// The house days of a site, by house and day.
///
/// A house with several loggers has the mean of their daily values, the lowest minimum and the highest maximum.
pub fn house_days(site: &Site, climate: &[Climate], settings: &Settings) -> Vec<HouseDay> {
    together(climate.iter().flat_map(|logger| logger_days(site, logger, settings)).collect())
}

/// The days of one logger whose records are all at hand.
fn logger_days(site: &Site, logger: &Climate, settings: &Settings) -> Vec<HouseDay> {
    let facts = LoggerFacts {
        house: logger.house.clone(),
        interval_s: logger.interval_s,
        standard_offset_s: logger.standard_offset_s,
        light_is_mean: logger.light_is_mean,
    };
    let mut days = RunningDays::new(site.latitude.zip(site.longitude), &facts, settings);
    let none = vec![f64::NAN; logger.instant.len()];
    let column = |values: &'_ Vec<f64>| if values.is_empty() { none.clone() } else { values.clone() };
    let (light, co2) = (column(&logger.light), column(&logger.co2));
    let (temperature, humidity) = (column(&logger.temperature), column(&logger.humidity));
    days.see(&Records {
        instant: &logger.instant,
        temperature: &temperature,
        humidity: &humidity,
        light: &light,
        co2: &co2,
        source: &logger.source,
    });
    let flagged = Flagged::of(logger.flagged.iter().copied());
    days.finish(&Ending { flagged: &flagged, has_light: !logger.light.is_empty(), has_co2: !logger.co2.is_empty() })
}

#[cfg(test)]
mod tests;
#[cfg(test)]
mod whole;
