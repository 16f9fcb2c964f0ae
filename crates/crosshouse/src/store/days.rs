//! Daily tables as Arrow batches: a row a house and day, units as UCUM codes in the field metadata.
use arrow::array::{Array, ArrayRef, AsArray, BooleanArray, Date32Array, Float64Array, RecordBatch, StringArray, UInt32Array};
use arrow::datatypes::{DataType, Date32Type, Field, Float64Type, Schema, UInt32Type};
use arrow::error::ArrowError;
use crosshouse_readings::canonical::{DESCRIPTION_KEY, UNIT_KEY};
use crosshouse_trial::tables::HouseDay;
use jiff::civil::{Date, date};
use std::collections::HashMap;
use std::sync::Arc;

/// Name, unit, description and value of each number that a day may lack.
struct Number {
    name: &'static str,
    unit: &'static str,
    description: &'static str,
    of: fn(&HouseDay) -> Option<f64>,
    put: fn(&mut HouseDay, Option<f64>),
}

const fn number(
    name: &'static str,
    unit: &'static str,
    description: &'static str,
    of: fn(&HouseDay) -> Option<f64>,
    put: fn(&mut HouseDay, Option<f64>),
) -> Number {
    Number { name, unit, description, of, put }
}

const NUMBERS: [Number; 10] = [
    number("temperature_mean", "Cel", "mean air temperature over the time on record", |d| d.mean, |d, x| d.mean = x),
    number("temperature_minimum", "Cel", "lowest air temperature on record", |d| d.minimum, |d, x| d.minimum = x),
    number("temperature_maximum", "Cel", "highest air temperature on record", |d| d.maximum, |d, x| d.maximum = x),
    number("temperature_day", "Cel", "mean air temperature by day", |d| d.day_mean, |d, x| d.day_mean = x),
    number("temperature_night", "Cel", "mean air temperature by night", |d| d.night_mean, |d, x| d.night_mean = x),
    number("humidity", "%", "mean relative humidity over the time on record", |d| d.humidity, |d, x| d.humidity = x),
    number("vpd", "kPa", "mean vapour pressure deficit of the records over the time on record", |d| d.vpd, |d, x| d.vpd = x),
    number("dli", "mol/m2/d", "daily light integral, 400 to 700 nm", |d| d.dli, |d, x| d.dli = x),
    number("degree_days", "Cel.d", "growing degree days from the logger's curve", |d| d.degree_days, |d, x| d.degree_days = x),
    number(
        "hours_outside_band",
        "h",
        "time outside the season's temperature band",
        |d| d.hours_outside_band,
        |d, x| d.hours_outside_band = x,
    ),
];

fn field(name: &str, holds: DataType, optional: bool, unit: &str, description: &str) -> Field {
    let mut about = HashMap::from([(DESCRIPTION_KEY.to_owned(), description.to_owned())]);
    if !unit.is_empty() {
        about.insert(UNIT_KEY.to_owned(), unit.to_owned());
    }
    Field::new(name, holds, optional).with_metadata(about)
}

fn schema() -> Schema {
    let mut fields = vec![
        field("house", DataType::Utf8, false, "", "house"),
        field("logger", DataType::UInt32, false, "", "which of the table's loggers, from 1; 0 where they are joined"),
        field("day", DataType::Date32, true, "", "day of the site's standard time, all season"),
        field("records", DataType::UInt32, false, "{record}", "records kept"),
        field("flagged", DataType::UInt32, false, "{record}", "records that carry a doubt"),
        field("completeness", DataType::Float64, false, "1", "share of the day on record"),
        field("dli_is_estimate", DataType::Boolean, false, "", "true where the light record covers 80 to 95 % of the daylight"),
    ];
    fields.extend(NUMBERS.iter().map(|n| field(n.name, DataType::Float64, true, n.unit, n.description)));
    Schema::new(fields)
}

const EPOCH: Date = date(1970, 1, 1);

fn number_of(day: Date) -> Option<i32> {
    EPOCH.until((jiff::Unit::Day, day)).ok().map(|span| span.get_days())
}

/// Days with the number of their logger.
pub fn batch(days: &[(u32, &HouseDay)]) -> Result<RecordBatch, ArrowError> {
    let mut columns: Vec<ArrayRef> = vec![
        Arc::new(days.iter().map(|(_, d)| Some(d.house.as_str())).collect::<StringArray>()),
        Arc::new(days.iter().map(|(logger, _)| Some(*logger)).collect::<UInt32Array>()),
        Arc::new(days.iter().map(|(_, d)| d.day.and_then(number_of)).collect::<Date32Array>()),
        Arc::new(days.iter().map(|(_, d)| Some(d.records)).collect::<UInt32Array>()),
        Arc::new(days.iter().map(|(_, d)| Some(d.flagged)).collect::<UInt32Array>()),
        Arc::new(days.iter().map(|(_, d)| Some(d.completeness)).collect::<Float64Array>()),
        Arc::new(days.iter().map(|(_, d)| Some(d.dli_is_estimate)).collect::<BooleanArray>()),
    ];
    columns.extend(NUMBERS.iter().map(|n| Arc::new(days.iter().map(|(_, d)| (n.of)(d)).collect::<Float64Array>()) as ArrayRef));
    RecordBatch::try_new(Arc::new(schema()), columns)
}

/// The days of a batch, by logger; `None` where it is no such table.
pub fn days(batch: &RecordBatch) -> Option<Vec<(u32, HouseDay)>> {
    let column = |name: &str| batch.column_by_name(name);
    let whole = |name: &str| column(name)?.as_primitive_opt::<UInt32Type>();
    let (house, logger) = (column("house")?.as_string_opt::<i32>()?, whole("logger")?);
    let day = column("day")?.as_primitive_opt::<Date32Type>()?;
    let (records, flagged) = (whole("records")?, whole("flagged")?);
    let completeness = column("completeness")?.as_primitive_opt::<Float64Type>()?;
    let estimate = column("dli_is_estimate")?.as_boolean_opt()?;
    let numbers: Option<Vec<&Float64Array>> = NUMBERS.iter().map(|n| column(n.name)?.as_primitive_opt::<Float64Type>()).collect();
    let numbers = numbers?;
    let row = |i: usize| {
        let date = day.is_valid(i).then(|| EPOCH.saturating_add(jiff::Span::new().days(day.value(i))));
        let mut row = HouseDay {
            house: house.value(i).to_owned(),
            day: date,
            records: records.value(i),
            flagged: flagged.value(i),
            completeness: completeness.value(i),
            dli_is_estimate: estimate.value(i),
            ..HouseDay::default()
        };
        for (number, values) in NUMBERS.iter().zip(&numbers) {
            (number.put)(&mut row, values.is_valid(i).then(|| values.value(i)));
        }
        (logger.value(i), row)
    };
    Some((0..batch.num_rows()).map(row).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_read_back_as_they_were_written_with_their_units() {
        let full = HouseDay {
            house: "glass-1".into(),
            day: Some(date(2031, 7, 4)),
            records: 288,
            completeness: 1.0,
            mean: Some(64.0 / 3.0),
            dli: Some(30.25),
            dli_is_estimate: true,
            flagged: 3,
            ..HouseDay::default()
        };
        let blank = HouseDay { house: "glass-2".into(), day: Some(date(1969, 12, 31)), ..HouseDay::default() };
        let batch = batch(&[(1, &full), (2, &blank)]).unwrap();
        assert_eq!(days(&batch), Some(vec![(1, full), (2, blank)]));
        let schema = batch.schema();
        assert_eq!(schema.field_with_name("vpd").unwrap().metadata()[UNIT_KEY], "kPa");
    }
}
