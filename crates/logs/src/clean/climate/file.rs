//! One climate file in a stream: a buffer of bytes, whole lines of it read plainly where they are
//! plain and by the general readers where not. Nothing of the file stays in memory but what is said
//! of it. A file whose reading needs all of its rows at once is given up ([`Stop::General`]).
use super::bytes::{Bytes, decoded, encoding};
use super::head::Head;
use super::plain::{Field, Plain, Reader};
use super::{Columns, columns, row_of, undeclared_clock};
use crate::account::Book;
use crate::cells::{DateFault, Dating, Local, StampFault, Timeline};
use crate::clean::days::{Days, told_short_years};
use crate::clean::places::House;
use crate::clean::records::Values;
use crate::declare::{ClimateLog, Column, Meaning, SiteDeclaration, Supply};
use crate::shape::{Line, Table, kind, no_rows, ragged, style};
use crate::source::{Found, Grid, is_workbook, split};
use crosshouse_readings::FileId;
use crosshouse_readings::quantity::number;
use encoding_rs::{Encoding, UTF_8};
use sha2::Digest;

/// Why a reading in a stream ended early.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Stop {
    /// The file needs the general readers, which see all of it at once.
    General,
    /// A record stands before an earlier one of its house: the files must be looked over first.
    Disorder,
    /// The steps between the records of this house are others than they seemed at first.
    Median(String, i64),
    /// All that was asked is known.
    Enough,
}

/// Takes the rows of a log's files.
pub(super) trait Sink {
    /// Index of a house of the site.
    fn house(&mut self, name: &str) -> usize;
    fn row(&mut self, house: usize, local: Local, values: Values, row: u32) -> Result<(), Stop>;
}

/// What a file is read with.
pub(super) struct Place<'r> {
    pub site: &'r SiteDeclaration,
    pub log: &'r ClimateLog,
    pub file: FileId,
    pub found: &'r Found,
    /// A book that names the files of the log.
    pub book: &'r Book,
    /// Whether to tell the file's hash.
    pub hashed: bool,
}

/// What is told of a file that was read to its end.
pub(super) struct Done {
    pub book: Book,
    /// Which of the value columns it has.
    pub has: [bool; 4],
}

pub(super) fn read(place: &Place<'_>, timeline: &mut Timeline, sink: &mut impl Sink) -> Result<Done, Stop> {
    if needs_all_rows(place.log) {
        return Err(Stop::General);
    }
    let regular = std::fs::metadata(&place.found.path).is_ok_and(|m| m.is_file() && m.len() > 0);
    if is_workbook(&place.found.name) || !regular {
        return Err(Stop::General);
    }
    let file = std::fs::File::open(&place.found.path).map_err(|_| Stop::General)?;
    let mut bytes = Bytes::of(file, encoding(&place.log.log)?, place.hashed);
    bytes.fill()?;
    let head = Head::of(place, &bytes)?;
    let mut rows = Rows::of(place, head)?;
    let mut at = rows.head.data;
    loop {
        let end = bytes.whole_lines(at)?;
        rows.lines(bytes.buffer.get(..end).unwrap_or_default(), at, bytes.encoding, timeline, sink)?;
        if bytes.ended {
            break;
        }
        bytes.keep_from(end);
        bytes.fill()?;
        at = 0;
    }
    Ok(rows.told(place, bytes))
}

/// Habits that only the general readers follow: lines that are known as no rows from the end of the file alone,
/// values below detection (counted over the file), units found in the file, clocks put right.
fn needs_all_rows(log: &ClimateLog) -> bool {
    let layout = &log.log.layout;
    let is_value = |c: &Column| matches!(c.meaning, Meaning::Temperature | Meaning::Humidity | Meaning::Light | Meaning::Co2);
    let found_unit = |c: &Column| layout.unit_row && c.unit.is_none() && is_value(c);
    let odd = |c: &Column| c.from != Supply::Header || c.below_detection.is_some() || !c.traces.is_empty() || found_unit(c);
    log.log.wide
        || layout.header_lines != 1
        || layout.trailer_lines > 0
        || layout.ends_at.is_some()
        || !log.clock_checks.is_empty()
        || log.log.columns.iter().any(odd)
}

/// The rows of one file while they are read.
struct Rows<'r> {
    place: &'r Place<'r>,
    head: Head,
    table: Table,
    days: Days,
    house: House,
    columns: Columns,
    reader: Reader,
    /// House index where the log is of one house.
    only: Option<usize>,
    time: Option<usize>,
    swapped: Option<Dating>,
    /// Every date so far is one with day and month exchanged.
    swapped_fits: bool,
    line: u32,
    read: u64,
    short_years: u64,
    short_rows: usize,
    unit_row_due: bool,
    /// What is said of rows by their form, and by their cells.
    forms: Book,
    cells: Book,
}

impl<'r> Rows<'r> {
    fn of(place: &'r Place<'r>, mut head: Head) -> Result<Rows<'r>, Stop> {
        let log = &place.log.log;
        let positions = head.header.positions.clone();
        let grid = std::mem::take(&mut head.grid);
        let table = Table {
            file: place.file,
            name: place.found.name.clone(),
            grid,
            positions,
            fixed: Vec::new(),
            unit_row: None,
            rows: Vec::new(),
            style: style(log),
        };
        let mut cells = place.book.beside();
        undeclared_clock(place.log, &table, &mut cells);
        if log.layout.date_style.is_none() {
            return Err(Stop::General);
        }
        let days = Days::of(log, &table, &mut cells).map(|d| d.in_season(place.site)).ok_or(Stop::General)?;
        let house = House::of(place.log.house.as_ref(), log, Some(&table), place.site).ok_or(Stop::General)?;
        let columns = columns(log, &table, &mut cells);
        let again = self::columns(log, &table, &mut place.book.beside());
        if days.dating.style.is_serial() || (log.layout.decimal.is_none() && !cells.faults.is_empty()) {
            return Err(Stop::General);
        }
        let time = table.index(log, &Meaning::Time).filter(|_| table.index(log, &Meaning::DateTime).is_none());
        let fields = fields(&table, &days, &house, &columns, time, head.width);
        let reader = Reader::new(log, fields, u8::try_from(head.delimiter).unwrap_or(0), again, &days, None);
        let swapped = days.dating.style.swapped().map(|style| Dating { style, ..days.dating.clone() });
        Ok(Rows {
            place,
            table,
            days,
            house,
            columns,
            reader,
            only: None,
            time,
            swapped,
            swapped_fits: true,
            line: head.line,
            read: 0,
            short_years: 0,
            short_rows: 0,
            unit_row_due: log.layout.unit_row,
            forms: place.book.beside(),
            cells,
            head,
        })
    }

    /// Reads whole lines, from `at` on.
    fn lines(
        &mut self,
        bytes: &[u8],
        mut at: usize,
        encoding: &'static Encoding,
        timeline: &mut Timeline,
        sink: &mut impl Sink,
    ) -> Result<(), Stop> {
        while at < bytes.len() {
            let plain = if self.unit_row_due { Plain::Slow } else { self.reader.row(bytes, at) };
            match plain {
                Plain::Row(next) => match timeline.resolve(self.reader.local) {
                    Local::Never => at = self.slow(bytes, at, encoding, timeline, sink)?,
                    local => {
                        let house = self.only.unwrap_or(self.reader.house);
                        sink.row(house, local, self.reader.values, self.line)?;
                        self.read += 1;
                        self.short_years += u64::from(self.reader.short_year);
                        self.line += 1;
                        at = next;
                    }
                },
                Plain::Slow => at = self.slow(bytes, at, encoding, timeline, sink)?,
                Plain::General => return Err(Stop::General),
            }
        }
        Ok(())
    }

    /// Reads one line by the general readers.
    fn slow(
        &mut self,
        bytes: &[u8],
        at: usize,
        encoding: &'static Encoding,
        timeline: &mut Timeline,
        sink: &mut impl Sink,
    ) -> Result<usize, Stop> {
        let rest = bytes.get(at..).unwrap_or_default();
        let length = rest.iter().position(|b| *b == b'\n').ok_or(Stop::General)?;
        let line = rest.get(..length).unwrap_or_default();
        let line = line.strip_suffix(b"\r").unwrap_or(line);
        if line.contains(&b'\r') {
            return Err(Stop::General);
        }
        let text = decoded(line, encoding)?;
        let number = self.line;
        self.line += 1;
        self.one(&text, line, number, timeline, sink)?;
        Ok(at + length + 1)
    }

    /// Looks whether a number shows that its point is no thousands mark, where nothing is declared; one that
    /// could be either needs the whole file.
    fn show_decimal(&mut self) -> Result<(), Stop> {
        if !self.reader.decimal_open {
            return Ok(());
        }
        for column in self.columns.iter().flatten() {
            let text = self.table.cell(0, column.column).text;
            let Some((_, decimals)) = text.rsplit_once('.') else { continue };
            if decimals.len() == 3 {
                return Err(Stop::General);
            }
            self.reader.decimal_open &= number(text, self.table.style).is_err();
        }
        Ok(())
    }

    fn one(&mut self, text: &str, line: &[u8], number: u32, timeline: &mut Timeline, sink: &mut impl Sink) -> Result<(), Stop> {
        let (log, site) = (&self.place.log.log, self.place.site);
        self.table.grid = one_row(text, self.head.delimiter, number)?;
        let mut kind = kind(&self.table.grid, log, &self.head.header, 0);
        if self.unit_row_due && matches!(kind, Line::Row | Line::Totals) {
            self.unit_row_due = false;
            kind = Line::UnitRow;
        }
        if kind != Line::Row {
            *self.head.counts.entry(kind).or_default() += 1;
            return Ok(());
        }
        self.read += 1;
        if !self.in_form() {
            return Ok(());
        }
        self.show_decimal()?;
        self.contradicts()?;
        let row =
            row_of(self.place.log, site, &self.table, 0, &self.days, &self.house, self.time, &self.columns, timeline, &mut self.cells);
        let Some(row) = row else { return Ok(()) };
        self.short_years += u64::from(row.short_year);
        let Some((house, local, values)) = row.record else { return Ok(()) };
        let index = sink.house(&house);
        if let House::Is(_) = self.house {
            self.only = Some(index);
        }
        if text.as_bytes() == line {
            self.reader.learn(log, site, &self.days, line, |name| (name == house).then_some(index));
        }
        sink.row(index, local, values, number)
    }

    /// Whether the row's cells can be told apart; see [`ragged`].
    fn in_form(&mut self) -> bool {
        self.table.rows = vec![0];
        let told = self.forms.inferences.len();
        ragged(&mut self.table, self.head.width, &mut self.forms);
        self.short_rows += self.forms.inferences.len() - told;
        self.forms.inferences.truncate(told);
        !self.table.rows.is_empty()
    }

    /// A date that does not exist may betray a wrong date style, which only all the rows together show,
    /// unless a date that went before has shown that the style is right.
    fn contradicts(&mut self) -> Result<(), Stop> {
        let Some(swapped) = self.swapped.as_ref().filter(|_| self.swapped_fits) else { return Ok(()) };
        let cell = self.table.cell(0, self.days.column);
        let codes =
            self.place.log.log.columns.get(self.days.column).map(|c| crate::shape::codes(&self.place.log.log, c)).unwrap_or_default();
        if crate::cells::is_missing(cell.text, codes) {
            return Ok(());
        }
        self.swapped_fits = swapped.read(cell).is_ok();
        let no_day = self.days.dating.read(cell) == Err(StampFault::Date(DateFault::NoSuchDay));
        if self.swapped_fits && no_day { Err(Stop::General) } else { Ok(()) }
    }

    /// The file's book, in the order in which the general readers say things.
    fn told(self, place: &Place<'_>, bytes: Bytes) -> Done {
        let (log, name) = (&place.log.log, place.found.name.as_str());
        let mut book = place.book.beside();
        if let Some((encoding, because)) = self.head.mark {
            book.infer(name, "encoding", encoding, because);
        } else if !bytes.ascii && log.layout.encoding.is_none() {
            book.infer(name, "encoding", UTF_8.name(), "every byte decodes");
        }
        if let Some((mark, because)) = self.head.told_delimiter {
            book.infer(name, "delimiter", mark, because);
        }
        if self.read == 0 {
            no_rows(name, &mut book);
        }
        book.join(self.head.book);
        book.join(self.forms);
        if self.short_rows > 0 {
            let (rows, width) = (self.short_rows, self.head.width);
            let read = format!("{rows} rows, the missing cells read as blank");
            book.infer(name, "rows shorter than the header", read, format!("the header has {width} cells"));
        }
        if log.layout.decimal.is_none() && self.columns.iter().any(Option::is_some) {
            book.infer(name, "decimal mark", ".", "the site file declares none");
        }
        book.join(self.cells);
        told_short_years(log, &self.table, self.days.column, self.short_years, &mut book);
        if let Some(account) = book.account(place.file) {
            account.sha256 = bytes.sha.map_or_else(String::new, |s| s.finalize().iter().map(|b| format!("{b:02x}")).collect());
            account.bytes = bytes.length;
            account.read = self.read;
            account.other_lines = self.head.counts.into_iter().map(|(k, n)| (k.words().to_owned(), n)).collect();
        }
        Done { book, has: self.columns.each_ref().map(Option::is_some) }
    }
}

/// What each cell under the header is.
fn fields(table: &Table, days: &Days, house: &House, columns: &Columns, time: Option<usize>, width: usize) -> Vec<Field> {
    let mut fields = vec![Field::Skip; width];
    let mut put = |column: usize, field: Field| {
        let place = table.positions.get(column).copied().flatten();
        if let Some(slot) = place.and_then(|p| fields.get_mut(p)) {
            *slot = field;
        }
    };
    put(days.column, if time.is_some() { Field::Date } else { Field::Stamp });
    if let Some(time) = time {
        put(time, Field::Time);
    }
    if let House::Column(column) = house {
        put(*column, Field::House);
    }
    for (slot, column) in columns.iter().enumerate() {
        if let Some(column) = column {
            put(column.column, Field::Number(slot));
        }
    }
    fields
}

/// A line as a grid of one row, with its number in the file.
fn one_row(text: &str, delimiter: char, number: u32) -> Result<Grid, Stop> {
    let split = split(text, delimiter);
    if !split.broken.is_empty() || split.grid.len() > 1 {
        return Err(Stop::General);
    }
    let mut grid = Grid::default();
    grid.start_row(number);
    if split.grid.len() == 0 {
        grid.push("", crate::source::Kind::Text);
    }
    for cell in split.grid.row(0) {
        grid.push(cell.text, cell.kind);
    }
    Ok(grid)
}
