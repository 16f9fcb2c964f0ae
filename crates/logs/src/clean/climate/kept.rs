//! The rows of one file as they were read, packed as Parquet: put in the place of the file while others of
//! its log change. What rows come to beside those of other files (the doubled hour settled, records of one
//! instant compared, doubts) is not kept, for it hangs on all of them.
use super::file::{Done, Sink, Stop};
use crate::account::{Book, Said};
use crate::cells::Local;
use crate::clean::records::Values;
use crate::store::StoreFault;
use arrow::array::{Array, ArrayRef, AsArray, Float64Array, RecordBatch, StringArray, StringBuilder, TimestampSecondArray, UInt32Array};
use arrow::datatypes::{DataType, Field, Float64Type, Schema, TimeUnit, TimestampSecondType, UInt32Type};
use bytes::Bytes;
use crosshouse_readings::FileId;
use crosshouse_readings::canonical::{DESCRIPTION_KEY, UNIT_KEY};
use crosshouse_readings::said::FileAccount;
use parquet::arrow::ArrowWriter;
use parquet::arrow::arrow_reader::ParquetRecordBatchReaderBuilder;
use parquet::basic::Encoding;
use parquet::file::metadata::KeyValue;
use parquet::file::properties::{EnabledStatistics, WriterProperties};
use parquet::schema::types::ColumnPath;
use serde::{Deserialize, Serialize};
use std::collections::HashMap;
use std::sync::Arc;

/// Key of what is said of the file in the metadata of its rows.
const TOLD_KEY: &str = "told";
/// Rows packed at a time.
const BATCH: usize = 1 << 14;
/// A file of which more was set aside is not kept: its words would outgrow its rows.
const MOST_ASIDE: usize = 1 << 16;

/// A row that was read, with the place of its table among the file's.
#[derive(Debug, Clone, Copy)]
pub(super) struct Row<'h> {
    pub table: u32,
    pub house: &'h str,
    pub local: Local,
    pub values: Values,
    pub number: u32,
}

#[derive(Serialize)]
struct Telling<'t> {
    has: [bool; 4],
    said: crate::account::Saying<'t>,
}

#[derive(Deserialize)]
struct Told {
    has: [bool; 4],
    said: Said,
}

/// The rows of a file that was just read, to be kept.
pub(super) struct Packed {
    pub sha256: String,
    pub rows: Vec<u8>,
}

/// The kept rows of a file.
#[derive(Clone)]
pub(super) struct Kept {
    packed: Bytes,
}

impl Kept {
    pub fn of(packed: Vec<u8>) -> Kept {
        Kept { packed: Bytes::from(packed) }
    }

    /// What was said of the file, and which value columns it has.
    pub fn told(&self, site: &str) -> Option<Done> {
        let builder = ParquetRecordBatchReaderBuilder::try_new(self.packed.clone()).ok()?;
        let metadata = builder.metadata().file_metadata().key_value_metadata()?;
        let told = metadata.iter().find(|pair| pair.key == TOLD_KEY)?.value.as_ref()?;
        let told: Told = serde_json::from_str(told).ok()?;
        Some(Done { book: Book::of_said(site, told.said), has: told.has })
    }

    /// Hands on every row, in the order of the file.
    ///
    /// # Errors
    /// What `each` stops for; [`Stop::General`] where the rows are not as they are packed here.
    pub fn rows(&self, mut each: impl FnMut(Row<'_>) -> Result<(), Stop>) -> Result<(), Stop> {
        let builder = ParquetRecordBatchReaderBuilder::try_new(self.packed.clone()).map_err(|_| Stop::General)?;
        for batch in builder.with_batch_size(BATCH).build().map_err(|_| Stop::General)? {
            let batch = batch.map_err(|_| Stop::General)?;
            let columns = Unpacked::of(&batch).ok_or(Stop::General)?;
            (0..batch.num_rows()).try_for_each(|i| each(columns.row(i)))?;
        }
        Ok(())
    }

    /// Puts the rows in the place of file `file` of a log, as its only table.
    pub fn replay(&self, file: FileId, log: &Book, sink: &mut impl Sink) -> Result<Done, Stop> {
        let mut done = self.told(&log.site).ok_or(Stop::General)?;
        let [account] = done.book.files.as_slice() else { return Err(Stop::General) };
        if account.file != log.name(file) {
            return Err(Stop::General);
        }
        let mut accounts = log.beside().files;
        *accounts.get_mut(file.0 as usize).ok_or(Stop::General)? = account.clone();
        done.book.files = accounts;
        let mut last: Option<(String, usize)> = None;
        self.rows(|row| {
            let house = match &last {
                Some((name, house)) if name == row.house => *house,
                _ => last.insert((row.house.to_owned(), sink.house(row.house))).1,
            };
            sink.row(house, row.local, row.values, row.number)
        })?;
        Ok(done)
    }
}

/// The columns of a batch.
struct Unpacked<'b> {
    table: &'b UInt32Array,
    house: &'b StringArray,
    instant: &'b TimestampSecondArray,
    later: &'b TimestampSecondArray,
    values: [&'b Float64Array; 4],
    number: &'b UInt32Array,
}

impl<'b> Unpacked<'b> {
    fn of(batch: &'b RecordBatch) -> Option<Self> {
        let column = |name: &str| batch.column_by_name(name);
        let whole = |name: &str| column(name)?.as_primitive_opt::<UInt32Type>();
        let instant = |name: &str| column(name)?.as_primitive_opt::<TimestampSecondType>();
        let number = |name: &str| column(name)?.as_primitive_opt::<Float64Type>();
        Some(Unpacked {
            table: whole("table")?,
            house: column("house")?.as_string_opt()?,
            instant: instant("instant")?,
            later: instant("instant_or")?,
            values: [number("temperature")?, number("humidity")?, number("light")?, number("co2")?],
            number: whole("row")?,
        })
    }

    fn row(&self, i: usize) -> Row<'b> {
        let earlier = self.instant.value(i);
        Row {
            table: self.table.value(i),
            house: self.house.value(i),
            local: if self.later.is_null(i) { Local::Once(earlier) } else { Local::Twice { earlier, later: self.later.value(i) } },
            values: self.values.map(|column| if column.is_null(i) { f64::NAN } else { column.value(i) }),
            number: self.number.value(i),
        }
    }
}

/// Packs the rows of a file while they are read.
pub(super) struct Keeper {
    writer: ArrowWriter<Vec<u8>>,
    schema: Arc<Schema>,
    pending: Pending,
}

#[derive(Default)]
struct Pending {
    table: Vec<u32>,
    house: StringBuilder,
    instant: Vec<i64>,
    later: Vec<Option<i64>>,
    values: [Vec<Option<f64>>; 4],
    number: Vec<u32>,
}

impl Keeper {
    pub fn new() -> Option<Keeper> {
        let schema = Arc::new(schema());
        let writer = ArrowWriter::try_new(Vec::new(), Arc::clone(&schema), Some(properties())).ok()?;
        Some(Keeper { writer, schema, pending: Pending::default() })
    }

    /// # Errors
    /// Where the rows so far cannot be packed.
    pub fn see(&mut self, row: &Row<'_>) -> Result<(), StoreFault> {
        let (earlier, later) = match row.local {
            Local::Once(instant) => (instant, None),
            Local::Twice { earlier, later } => (earlier, Some(later)),
            // Such a row is no record.
            Local::Never => return Ok(()),
        };
        let pending = &mut self.pending;
        pending.table.push(row.table);
        pending.house.append_value(row.house);
        pending.instant.push(earlier);
        pending.later.push(later);
        pending.values.iter_mut().zip(row.values).for_each(|(column, x)| column.push((!x.is_nan()).then_some(x)));
        pending.number.push(row.number);
        if pending.table.len() >= BATCH { self.pack() } else { Ok(()) }
    }

    fn pack(&mut self) -> Result<(), StoreFault> {
        let Pending { table, mut house, instant, later, values, number } = std::mem::take(&mut self.pending);
        let [temperature, humidity, light, co2] = values.map(|column| Arc::new(Float64Array::from(column)) as ArrayRef);
        let columns: Vec<ArrayRef> = vec![
            Arc::new(UInt32Array::from(table)),
            Arc::new(house.finish()),
            Arc::new(TimestampSecondArray::from(instant).with_timezone("UTC")),
            Arc::new(TimestampSecondArray::from(later).with_timezone("UTC")),
            temperature,
            humidity,
            light,
            co2,
            Arc::new(UInt32Array::from(number)),
        ];
        self.writer.write(&RecordBatch::try_new(Arc::clone(&self.schema), columns)?)?;
        Ok(())
    }

    /// The packed rows, unless they cannot be packed, the file could not be read, or too much was said of it.
    /// `done`: what was said of the file alone. `accounts`: of its tables.
    pub fn finish(mut self, done: &Done, accounts: &[FileAccount]) -> Option<Packed> {
        let sha256 = accounts.first().map(|a| a.sha256.clone()).filter(|sha256| !sha256.is_empty())?;
        if done.book.set_aside.len() > MOST_ASIDE {
            return None;
        }
        self.pack().ok()?;
        let told = serde_json::to_string(&Telling { has: done.has, said: done.book.saying(accounts) }).ok()?;
        self.writer.append_key_value_metadata(KeyValue::new(TOLD_KEY.to_owned(), told));
        Some(Packed { sha256, rows: self.writer.into_inner().ok()? })
    }
}

/// Instants and row numbers rise by equal steps; the numbers of a logger repeat.
fn properties() -> WriterProperties {
    let rising = ["table", "instant", "instant_or", "row"];
    let properties = rising.into_iter().map(ColumnPath::from).fold(crate::store::properties(), |properties, column| {
        properties.set_column_dictionary_enabled(column.clone(), false).set_column_encoding(column, Encoding::DELTA_BINARY_PACKED)
    });
    properties.set_statistics_enabled(EnabledStatistics::None).set_max_row_group_row_count(Some(4 * BATCH)).build()
}

fn schema() -> Schema {
    let field = |name: &str, holds: DataType, optional: bool, unit: &str, description: &str| {
        let mut about = HashMap::from([(DESCRIPTION_KEY.to_owned(), description.to_owned())]);
        if !unit.is_empty() {
            about.insert(UNIT_KEY.to_owned(), unit.to_owned());
        }
        Field::new(name, holds, optional).with_metadata(about)
    };
    let instant = || DataType::Timestamp(TimeUnit::Second, Some("UTC".into()));
    Schema::new(vec![
        field("table", DataType::UInt32, false, "", "place of the table among those of the file, from 0"),
        field("house", DataType::Utf8, false, "", "house"),
        field("instant", instant(), false, "", "instant of the row's stamp; the earlier one where the clock shows it twice"),
        field("instant_or", instant(), true, "", "the later one where the clock shows it twice"),
        field("temperature", DataType::Float64, true, "Cel", "air temperature as read"),
        field("humidity", DataType::Float64, true, "%", "relative humidity as read"),
        field("light", DataType::Float64, true, "umol/m2/s", "photosynthetic photon flux density as read"),
        field("co2", DataType::Float64, true, "umol/mol", "carbon dioxide as read"),
        field("row", DataType::UInt32, false, "", "row of the file"),
    ])
}

/// Hands rows on and keeps them.
pub(super) struct Recording<'d, S> {
    sink: &'d mut S,
    keeper: Option<Keeper>,
    houses: Vec<String>,
}

impl<'d, S: Sink> Recording<'d, S> {
    pub fn new(sink: &'d mut S) -> Self {
        Recording { sink, keeper: Keeper::new(), houses: Vec::new() }
    }

    pub fn finish(self, done: &Done, accounts: &[FileAccount]) -> Option<Packed> {
        self.keeper?.finish(done, accounts)
    }
}

impl<S: Sink> Sink for Recording<'_, S> {
    fn house(&mut self, name: &str) -> usize {
        let house = self.sink.house(name);
        if self.houses.len() <= house {
            self.houses.resize(house + 1, String::new());
        }
        if let Some(slot) = self.houses.get_mut(house) {
            name.clone_into(slot);
        }
        house
    }

    fn row(&mut self, house: usize, local: Local, values: Values, row: u32) -> Result<(), Stop> {
        if let (Some(keeper), Some(name)) = (&mut self.keeper, self.houses.get(house)) {
            let row = Row { table: 0, house: name, local, values, number: row };
            if keeper.see(&row).is_err() {
                self.keeper = None;
            }
        }
        self.sink.row(house, local, values, row)
    }
}
