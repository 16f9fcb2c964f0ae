use super::*;
use crate::trial_folder::{CLIMATE, HARVEST, TrialFolder};
use parquet::arrow::arrow_reader::ParquetRecordBatchReaderBuilder;

fn tables() -> CleanTables {
    TrialFolder::new(&format!("{HARVEST}{CLIMATE}"))
        .log("picks.csv", "Date,Bucket,kg,Fruit,Grade\n2031-06-02,B1-01,1.25,30,1\n2031-06-02,B1-02,,12,1\n")
        .log("climate.csv", "Time,T,RH\n2031-07-04 00:30,21,80\n2031-07-04 06:30,22,\n")
        .read()
}

fn back(bytes: Vec<u8>) -> RecordBatch {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("t.parquet");
    std::fs::write(&path, bytes).unwrap();
    ParquetRecordBatchReaderBuilder::try_new(std::fs::File::open(path).unwrap()).unwrap().build().unwrap().next().unwrap().unwrap()
}

#[test]
fn units_travel_in_the_field_metadata_of_the_parquet_file() {
    let read = back(parquet(&tables(), Table::Harvest).unwrap());
    let schema = read.schema();
    let mass = schema.field_with_name("mass").unwrap();
    assert_eq!(mass.metadata()["unit"], "kg");
    let values = read.column_by_name("mass").unwrap().as_any().downcast_ref::<Float64Array>().unwrap().clone();
    assert_eq!(values.iter().collect::<Vec<_>>(), [Some(1.25), None]);
}

#[test]
fn climate_days_are_of_standard_time() {
    let batch = batch(&tables(), Table::Climate).unwrap();
    let days = batch.column_by_name("day").unwrap().as_any().downcast_ref::<Date32Array>().unwrap().clone();
    // 00:30 of daylight saving is 23:30 of standard time, the day before.
    let day = |d: i32| jiff::civil::date(1970, 1, 1).checked_add(jiff::SignedDuration::from_hours(i64::from(d) * 24)).unwrap().to_string();
    assert_eq!(days.iter().map(|d| day(d.unwrap())).collect::<Vec<_>>(), ["2031-07-03", "2031-07-04"]);
}

#[test]
fn every_table_is_written_and_twice_the_same() {
    let (a, b) = (all(&tables()).unwrap(), all(&tables()).unwrap());
    assert_eq!(
        a.iter().map(|(n, _)| n.as_str()).collect::<Vec<_>>(),
        ["units.parquet", "harvest.parquet", "root-zone.parquet", "diary.parquet"]
    );
    assert_eq!(a, b);
}

#[test]
fn the_records_of_a_log_by_themselves_are_those_of_the_whole_table() {
    let tables = tables();
    let loggers: Vec<(u32, &Climate)> = tables.sites[0].climate.iter().map(|c| (0, c)).collect();
    assert_eq!(climate_records("tarn-hollow", &loggers, &tables.files).unwrap(), parquet(&tables, Table::Climate).unwrap());
}
