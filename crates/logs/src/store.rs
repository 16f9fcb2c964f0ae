//! Clean tables as Arrow record batches, units in the field metadata, and as Parquet. No clock, no
//! machine: the same tables give the same bytes.
use crate::tables::{CleanTables, Climate, Event, GradeKind, SiteTables};
use arrow::array::{ArrayRef, BooleanArray, Date32Array, Float64Array, RecordBatch, StringArray, TimestampSecondArray, UInt32Array};
use arrow::error::ArrowError;
use crosshouse_readings::canonical::{Table, factor_field, measure_field, schema_with};
use crosshouse_readings::said::FileAccount;
use crosshouse_readings::{FileId, Source};
use jiff::civil::Date;
use parquet::arrow::ArrowWriter;
use parquet::arrow::arrow_reader::ParquetRecordBatchReaderBuilder;
use parquet::basic::Compression;
use parquet::file::properties::{WriterProperties, WriterPropertiesBuilder};
use std::collections::BTreeSet;
use std::sync::Arc;

/// A table that could not be built or written.
#[derive(Debug, thiserror::Error)]
pub enum StoreFault {
    #[error("the clean table cannot be built: {0}")]
    Arrow(#[from] ArrowError),
    #[error("the clean table cannot be written: {0}")]
    Parquet(#[from] parquet::errors::ParquetError),
}

/// All sites of one table, in the order of the season file.
pub fn batch(tables: &CleanTables, table: Table) -> Result<RecordBatch, StoreFault> {
    let rows = Rows { tables };
    let (columns, further) = match table {
        Table::Units => rows.units(),
        Table::Harvest => rows.harvest(),
        Table::Climate => rows.climate(),
        Table::RootZone => rows.root_zone(),
        Table::Diary => rows.diary(),
    };
    Ok(RecordBatch::try_new(Arc::new(schema_with(table, further)), columns)?)
}

/// The Parquet bytes of one table.
pub fn parquet(tables: &CleanTables, table: Table) -> Result<Vec<u8>, StoreFault> {
    written(&batch(tables, table)?)
}

/// The Parquet bytes of the climate records of one site. `site`: its id. `loggers`: each with the place of
/// its log's first file among `files`.
pub fn climate_records(site: &str, loggers: &[(u32, &Climate)], files: &[FileAccount]) -> Result<Vec<u8>, StoreFault> {
    let name = |file: FileId| files.get(file.0 as usize).map_or("", |f| f.file.as_str());
    let each: Vec<(&str, u32, &Climate)> = loggers.iter().map(|(moved, c)| (site, *moved, *c)).collect();
    written(&RecordBatch::try_new(Arc::new(schema_with(Table::Climate, Vec::new())), climate_columns(&each, name))?)
}

/// The Parquet bytes of a batch.
pub fn written(batch: &RecordBatch) -> Result<Vec<u8>, StoreFault> {
    let mut bytes = Vec::new();
    let mut writer = ArrowWriter::try_new(&mut bytes, batch.schema(), Some(properties().build()))?;
    writer.write(batch)?;
    writer.close()?;
    Ok(bytes)
}

/// How all Parquet files are written.
pub(crate) fn properties() -> WriterPropertiesBuilder {
    WriterProperties::builder().set_compression(Compression::SNAPPY).set_created_by("crosshouse".to_owned())
}

/// The batches of a Parquet file.
pub fn read(file: std::fs::File) -> Result<Vec<RecordBatch>, StoreFault> {
    let batches: Result<Vec<RecordBatch>, ArrowError> = ParquetRecordBatchReaderBuilder::try_new(file)?.build()?.collect();
    Ok(batches?)
}

/// File name and Parquet bytes of every table but that of the climate records, which are written log by
/// log ([`climate_records`]).
pub fn all(tables: &CleanTables) -> Result<Vec<(String, Vec<u8>)>, StoreFault> {
    Table::ALL
        .into_iter()
        .filter(|t| *t != Table::Climate)
        .map(|t| Ok((format!("{}.parquet", t.file_stem()), parquet(tables, t)?)))
        .collect()
}

type Columns = (Vec<ArrayRef>, Vec<arrow::datatypes::Field>);

struct Rows<'t> {
    tables: &'t CleanTables,
}

fn text<T: AsRef<str>>(values: impl Iterator<Item = Option<T>>) -> ArrayRef {
    Arc::new(values.collect::<StringArray>())
}

fn number(values: impl Iterator<Item = Option<f64>>) -> ArrayRef {
    Arc::new(values.map(|x| x.filter(|x| !x.is_nan())).collect::<Float64Array>())
}

fn whole(values: impl Iterator<Item = Option<u32>>) -> ArrayRef {
    Arc::new(values.collect::<UInt32Array>())
}

fn day(values: impl Iterator<Item = Date>) -> ArrayRef {
    Arc::new(values.map(|d| i32::try_from(crate::cells::days_of(d)).ok()).collect::<Date32Array>())
}

fn yes(values: impl Iterator<Item = bool>) -> ArrayRef {
    Arc::new(values.map(Some).collect::<BooleanArray>())
}

fn event_word(event: Event) -> &'static str {
    match event {
        Event::PlantDeath => "plant-death",
        Event::MissedIrrigation => "missed-irrigation",
        Event::MissedPick => "missed-pick",
        Event::LostPick => "lost-pick",
        Event::SensorChange => "sensor-change",
        Event::Note => "note",
    }
}

impl Rows<'_> {
    /// Every row of one kind with its site.
    fn each<'s, T: 's>(&'s self, of: impl Fn(&'s SiteTables) -> &'s [T] + 's) -> Vec<(&'s SiteTables, &'s T)> {
        self.tables.sites.iter().flat_map(|s| of(s).iter().map(move |row| (s, row))).collect()
    }

    fn source(&self, sources: &[Source]) -> [ArrayRef; 2] {
        let name = |s: &Source| self.tables.files.get(s.file.0 as usize).map_or("", |f| f.file.as_str());
        [text(sources.iter().map(|s| Some(name(s)))), whole(sources.iter().map(|s| Some(s.row)))]
    }

    fn unit_name(site: &SiteTables, unit: Option<usize>) -> Option<&str> {
        unit.and_then(|u| site.units.get(u)).map(|u| u.id.as_str())
    }

    fn units(&self) -> Columns {
        let rows = self.each(|s| &s.units);
        let factors: BTreeSet<&String> = rows.iter().flat_map(|(_, u)| u.levels.keys()).collect();
        let sources: Vec<Source> = rows.iter().map(|(_, u)| u.source).collect();
        let [file, row] = self.source(&sources);
        let mut columns = vec![
            text(rows.iter().map(|(s, _)| Some(&s.site.id))),
            text(rows.iter().map(|(_, u)| Some(&u.id))),
            text(rows.iter().map(|(_, u)| Some(&u.house))),
            text(rows.iter().map(|(_, u)| u.block.as_ref())),
            text(rows.iter().map(|(_, u)| u.line.as_ref())),
            text(rows.iter().map(|(_, u)| u.bench.as_ref())),
            whole(rows.iter().map(|(_, u)| Some(u.plants))),
            number(rows.iter().map(|(_, u)| u.area_m2)),
            whole(rows.iter().map(|(_, u)| u.row)),
            whole(rows.iter().map(|(_, u)| u.position)),
            yes(rows.iter().map(|(_, u)| u.guard)),
            file,
            row,
        ];
        columns.extend(factors.iter().map(|f| text(rows.iter().map(|(_, u)| u.levels.get(*f)))));
        (columns, factors.into_iter().map(|f| factor_field(f)).collect())
    }

    fn harvest(&self) -> Columns {
        let rows = self.each(|s| &s.picks);
        let sources: Vec<Source> = rows.iter().map(|(_, p)| p.source).collect();
        let [file, row] = self.source(&sources);
        let kind = |k: GradeKind| if k == GradeKind::Cull { "cull" } else { "marketable" };
        let mut columns = vec![
            text(rows.iter().map(|(s, _)| Some(&s.site.id))),
            text(rows.iter().map(|(s, p)| Self::unit_name(s, Some(p.unit)).or(Some("")))),
            day(rows.iter().map(|(_, p)| p.day)),
            text(rows.iter().map(|(_, p)| p.grade.as_ref())),
            text(rows.iter().map(|(_, p)| Some(kind(p.kind)))),
            number(rows.iter().map(|(_, p)| p.mass)),
            number(rows.iter().map(|(_, p)| p.count)),
            text(rows.iter().map(|(_, p)| Some(p.flags.join(" ")))),
            file,
            row,
        ];
        let measures: BTreeSet<(&String, &String)> =
            self.tables.sites.iter().flat_map(|s| &s.measures).map(|m| (&m.name, &m.unit)).collect();
        for (name, unit) in &measures {
            columns.push(number(rows.iter().map(|(s, p)| {
                let place = s.measures.iter().position(|m| m.name == **name && m.unit == **unit)?;
                p.measures.get(place).copied().flatten()
            })));
        }
        (columns, measures.into_iter().map(|(name, unit)| measure_field(name, unit)).collect())
    }

    fn climate(&self) -> Columns {
        let name = |file: FileId| self.tables.files.get(file.0 as usize).map_or("", |f| f.file.as_str());
        let loggers: Vec<(&str, u32, &Climate)> = self.each(|s| &s.climate).into_iter().map(|(s, c)| (s.site.id.as_str(), 0, c)).collect();
        (climate_columns(&loggers, name), Vec::new())
    }

    fn root_zone(&self) -> Columns {
        let rows = self.each(|s| &s.root_zone);
        let sources: Vec<Source> = rows.iter().map(|(_, r)| r.source).collect();
        let [file, row] = self.source(&sources);
        let columns = vec![
            text(rows.iter().map(|(s, _)| Some(&s.site.id))),
            text(rows.iter().map(|(_, r)| Some(&r.zone))),
            text(rows.iter().map(|(_, r)| Some(&r.house))),
            day(rows.iter().map(|(_, r)| r.day)),
            number(rows.iter().map(|(_, r)| r.feed_volume)),
            number(rows.iter().map(|(_, r)| r.drain_volume)),
            number(rows.iter().map(|(_, r)| r.feed_ec)),
            number(rows.iter().map(|(_, r)| r.drain_ec)),
            number(rows.iter().map(|(_, r)| r.feed_ph)),
            number(rows.iter().map(|(_, r)| r.drain_ph)),
            number(rows.iter().map(|(_, r)| r.moisture)),
            number(rows.iter().map(|(_, r)| r.plants)),
            text(rows.iter().map(|(_, r)| Some(r.flags.join(" ")))),
            file,
            row,
        ];
        (columns, Vec::new())
    }

    fn diary(&self) -> Columns {
        let rows = self.each(|s| &s.diary);
        let sources: Vec<Source> = rows.iter().map(|(_, d)| d.source).collect();
        let [file, row] = self.source(&sources);
        let columns = vec![
            text(rows.iter().map(|(s, _)| Some(&s.site.id))),
            day(rows.iter().map(|(_, d)| d.day)),
            day(rows.iter().map(|(_, d)| d.until)),
            text(rows.iter().map(|(_, d)| Some(event_word(d.event)))),
            text(rows.iter().map(|(s, d)| Self::unit_name(s, d.unit))),
            text(rows.iter().map(|(_, d)| d.house.as_ref())),
            whole(rows.iter().map(|(_, d)| d.plants)),
            text(rows.iter().map(|(_, d)| Some(&d.note))),
            file,
            row,
        ];
        (columns, Vec::new())
    }
}

/// The columns of some loggers' records, each with its site.
fn climate_columns<'f>(loggers: &[(&str, u32, &Climate)], file: impl Fn(FileId) -> &'f str) -> Vec<ArrayRef> {
    let rows: Vec<(&str, &Climate, usize)> = loggers.iter().flat_map(|(s, _, c)| (0..c.instant.len()).map(move |i| (*s, *c, i))).collect();
    let moved: Vec<u32> = loggers.iter().flat_map(|(_, moved, c)| std::iter::repeat_n(*moved, c.instant.len())).collect();
    let at = |values: &[f64], i: usize| values.get(i).copied();
    let instant = |c: &Climate, i: usize| c.instant.get(i).copied().unwrap_or(0);
    let standard_day = |c: &Climate, i: usize| i32::try_from((instant(c, i) + i64::from(c.standard_offset_s)).div_euclid(86_400)).ok();
    let source = |c: &Climate, i: usize| c.source.get(i).copied();
    vec![
        text(rows.iter().map(|(s, _, _)| Some(*s))),
        text(rows.iter().map(|(_, c, _)| Some(&c.house))),
        Arc::new(rows.iter().map(|(_, c, i)| Some(instant(c, *i))).collect::<TimestampSecondArray>().with_timezone("UTC")),
        Arc::new(rows.iter().map(|(_, c, i)| standard_day(c, *i)).collect::<Date32Array>()),
        number(rows.iter().map(|(_, c, i)| at(&c.temperature, *i))),
        number(rows.iter().map(|(_, c, i)| at(&c.humidity, *i))),
        number(rows.iter().map(|(_, c, i)| at(&c.light, *i))),
        number(rows.iter().map(|(_, c, i)| at(&c.co2, *i))),
        yes(rows.iter().map(|(_, c, i)| c.flagged.get(*i).copied().unwrap_or(false))),
        text(rows.iter().zip(&moved).map(|((_, c, i), moved)| source(c, *i).map(|s| file(FileId(s.file.0 + moved))))),
        whole(rows.iter().map(|(_, c, i)| source(c, *i).map(|s| s.row))),
    ]
}

#[cfg(test)]
mod tests;
