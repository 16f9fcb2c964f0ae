//! The slow twin of [`RunningDays`](super::RunningDays): each quantity by a pass of its own over whole
//! columns, as the values are defined. For tests.
mod daylight;
mod light_days;
mod stretch;
mod temperature;

use crate::Settings;
use crate::air::vapour_pressure_deficit;
use crate::calendar::from_day_number;
use crate::light::LightDay;
use crate::tables::HouseDay;
use crosshouse_logs::tables::{Climate, Site};
use stretch::{DayMeans, Days};

/// Least share of a day on record for its degree days, which are then the mean rate over the record.
const DEGREE_DAY_COVERAGE: f64 = 0.80;

pub(super) fn logger_days(site: &Site, logger: &Climate, settings: &Settings) -> Vec<HouseDay> {
    let days = Days::of(logger);
    let gap = settings.max_gap_s.max(2 * i64::from(logger.interval_s));
    let temperature = temperature::days(&days, logger, settings, gap);
    let humidity = days.means(&logger.humidity, gap);
    let vpd = days.means(&deficits(logger), gap);
    let light = light_days::days(site, &days, logger, gap);
    let mut rows = days.counted(logger);
    for (i, row) in rows.iter_mut().enumerate() {
        let humid = humidity.get(i).copied().unwrap_or_default();
        let lit = light.get(i).copied().unwrap_or_default();
        if let Some(day) = temperature.get(i) {
            day.write(row);
        }
        row.humidity = humid.mean();
        row.vpd = vpd.get(i).and_then(DayMeans::mean);
        row.completeness = row.completeness.max(humid.share()).max(lit.on_record);
        write_light(row, &lit.light);
    }
    rows
}

fn write_light(row: &mut HouseDay, light: &LightDay) {
    if let Some((dli, estimate)) = light.integral() {
        row.dli = Some(dli);
        row.dli_is_estimate = estimate;
    }
}

/// VPD of each record: the mean of deficits is wanted, not the deficit of means.
fn deficits(logger: &Climate) -> Vec<f64> {
    logger.temperature.iter().zip(&logger.humidity).map(|(t, rh)| vapour_pressure_deficit(*t, *rh)).collect()
}

impl Days {
    /// One row a day with its number of records and of flagged ones.
    fn counted(&self, logger: &Climate) -> Vec<HouseDay> {
        let mut rows: Vec<HouseDay> = self
            .numbers
            .iter()
            .map(|n| HouseDay { house: logger.house.clone(), day: i32::try_from(*n).ok().map(from_day_number), ..HouseDay::default() })
            .collect();
        for (i, &at) in self.local.iter().enumerate() {
            let Some(row) = self.index(at.div_euclid(stretch::DAY)).and_then(|k| rows.get_mut(k)) else { continue };
            row.records += 1;
            row.flagged += u32::from(logger.flagged.get(i).copied().unwrap_or(false));
        }
        rows
    }
}
