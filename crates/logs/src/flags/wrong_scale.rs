//! Per cent that look like fractions: every value between 0 and 1 in a column declared in per cent.
//! Proposed as a doubt, never converted.
use super::batch::Batch;
use super::climate::{ClimateDoubt, Column, Logger, Reading, Rule};
use super::marks::Marks;
use super::{Doubt, Setting};
use crate::tables::RootZone;

fn told(what: &str) -> String {
    format!("every {what} lies between 0 and 1 %: the log may write fractions; declare the unit of the column accordingly")
}

#[derive(Default)]
pub(super) struct HumidityFraction {
    /// A value outside 0 to 1 was seen: no fractions.
    settled: bool,
    above_zero: bool,
    records: u32,
    found: Marks,
}

impl Rule for HumidityFraction {
    #[inline]
    fn see(&mut self, row: &Reading) {
        let x = row.humidity;
        if self.settled || x.is_nan() {
            return;
        }
        if (0.0..=1.0).contains(&x) {
            self.above_zero |= x > 0.0;
            self.records += 1;
            self.found.add(&row.spot);
        } else {
            self.settled = true;
            self.found.clear();
        }
    }

    fn see_all(&mut self, batch: &Batch<'_>) {
        if !self.settled {
            batch.readings(0..batch.len()).for_each(|row| self.see(&row));
        }
    }

    fn finish(&mut self, logger: &Logger<'_>) -> Vec<ClimateDoubt> {
        let enough = f64::from(self.records) >= logger.setting.value("humidity-fraction", "records");
        if self.settled || !enough || !self.above_zero {
            return Vec::new();
        }
        vec![ClimateDoubt::new("humidity-fraction", told("humidity"), std::mem::take(&mut self.found), Some(Column::Humidity))]
    }
}

pub(super) fn of_root_zone(rows: &[RootZone], setting: &Setting<'_>) -> Vec<Doubt> {
    let values: Vec<(usize, f64)> = rows.iter().enumerate().filter_map(|(i, r)| Some((i, r.moisture?))).collect();
    let fractions = values.iter().all(|(_, x)| (0.0..=1.0).contains(x)) && values.iter().any(|(_, x)| *x > 0.0);
    if values.len() as f64 >= setting.value("moisture-fraction", "records") && fractions {
        return vec![Doubt::new("moisture-fraction", told("moisture"), values.into_iter().map(|(i, _)| i).collect())];
    }
    Vec::new()
}

#[cfg(test)]
mod tests {
    use super::super::sample::{Log, doubt};

    #[test]
    fn humidity_between_0_and_1_is_doubted_and_left_as_it_is() {
        let mut log = Log::of(300, &[20.0; 12]);
        log.humidity = (0..12).map(|i| 0.7 + 0.01 * f64::from(i)).collect();
        assert_eq!(doubt(&log.doubts(), "humidity-fraction").unwrap().marks.files[0].rows, 12);
        log.humidity[3] = 72.0;
        assert!(doubt(&log.doubts(), "humidity-fraction").is_none());
    }
}
