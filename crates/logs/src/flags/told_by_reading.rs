//! Doubts that reading itself raised: the doubled hour that nothing settles, a humidity kept as 100.
use super::batch::Batch;
use super::climate::{ClimateDoubt, Column, Logger, Reading, Rule};
use super::marks::Marks;

#[derive(Default)]
pub(super) struct ToldByReading {
    open: Marks,
    capped: Marks,
}

impl Rule for ToldByReading {
    #[inline]
    fn see(&mut self, row: &Reading) {
        if row.hour_open {
            self.open.add(&row.spot);
        }
        if row.above_100 {
            self.capped.add(&row.spot);
        }
    }

    fn see_all(&mut self, batch: &Batch<'_>) {
        if !batch.rows.open.is_empty() || !batch.rows.above_100.is_empty() {
            batch.readings(0..batch.len()).for_each(|row| self.see(&row));
        }
    }

    fn finish(&mut self, logger: &Logger<'_>) -> Vec<ClimateDoubt> {
        let open = "{n} of the hour that the clock shows twice, whose order does not tell which showing they are of: read as of the first";
        let source = logger.setting.limit("humidity-above-100", "above").source;
        let capped = format!("{{n}} of a humidity above 100 and up to 103 %, kept as 100 ({source}); no record is marked for it");
        vec![
            ClimateDoubt::new("hour-not-settled", open.to_owned(), std::mem::take(&mut self.open), None),
            ClimateDoubt::new("humidity-above-100", capped, std::mem::take(&mut self.capped), Some(Column::Humidity)),
        ]
    }
}
