//! Several loggers of one house: one row a day.
use crate::tables::HouseDay;

/// Rows by house and day; rows of one house and day are joined.
pub fn together(mut rows: Vec<HouseDay>) -> Vec<HouseDay> {
    let same = |a: &HouseDay, b: &HouseDay| a.house == b.house && a.day == b.day;
    rows.sort_by(|a, b| (&a.house, a.day).cmp(&(&b.house, b.day)));
    if rows.windows(2).any(|pair| matches!(pair, [a, b] if same(a, b))) {
        rows = rows.chunk_by(same).filter_map(joined).collect();
    }
    rows.shrink_to_fit();
    rows
}

fn joined(rows: &[HouseDay]) -> Option<HouseDay> {
    let first = rows.first()?;
    if rows.len() == 1 {
        return Some(first.clone());
    }
    let mean = |of: fn(&HouseDay) -> Option<f64>| crate::drain::mean(rows.iter().filter_map(of));
    let extreme = |of: fn(&HouseDay) -> Option<f64>, pick: fn(f64, f64) -> f64| rows.iter().filter_map(of).reduce(pick);
    Some(HouseDay {
        house: first.house.clone(),
        day: first.day,
        records: rows.iter().map(|r| r.records).sum(),
        completeness: rows.iter().map(|r| r.completeness).fold(0.0, f64::max),
        mean: mean(|r| r.mean),
        minimum: extreme(|r| r.minimum, f64::min),
        maximum: extreme(|r| r.maximum, f64::max),
        day_mean: mean(|r| r.day_mean),
        night_mean: mean(|r| r.night_mean),
        humidity: mean(|r| r.humidity),
        vpd: mean(|r| r.vpd),
        dli: mean(|r| r.dli),
        dli_is_estimate: rows.iter().any(|r| r.dli_is_estimate),
        degree_days: mean(|r| r.degree_days),
        hours_outside_band: mean(|r| r.hours_outside_band),
        flagged: rows.iter().map(|r| r.flagged).sum(),
    })
}
