//! The common line of a climate log, read byte by byte: a stamp of a known day, numbers in plain
//! digits, declared missing codes. Whatever is anything else is left to the general readers of cells,
//! which would have read these lines to the same bits.
use super::super::days::Days;
use super::super::numbers::Numbers;
use super::super::places::House;
use super::super::records::Values;
use super::digits::{ONES, Short, clock, digits, eight, sixteen, tenths, word_of};
use crate::cells::is_missing;
use crate::declare::{Log, SiteDeclaration};
use crate::shape::codes;
use crate::source::{CellView, Kind};
use crosshouse_readings::units::{self, Quantity, Unit};

/// What a cell of the line is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Field {
    Skip,
    Stamp,
    Date,
    Time,
    House,
    /// One of [`Values`].
    Number(usize),
}

/// What became of a line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Plain {
    /// A whole row; the next line starts there.
    Row(usize),
    /// Not this simple: the general readers must see it.
    Slow,
    /// The file as a whole must be seen by the general readers.
    General,
}

/// Reads plain lines of one file. The last row's values are its fields.
pub(super) struct Reader {
    delimiter: u8,
    decimal: u8,
    /// The decimal mark eight times over; 0, which no log holds, where there is none.
    decimal_of_eight: u64,
    fields: Vec<Field>,
    numbers: [Option<Number>; 4],
    day: Day,
    houses: Vec<(Vec<u8>, usize)>,
    /// The last house cell, and the last cell that was not read.
    housed: Short,
    skipped: Short,
    /// Lines that do not begin with a digit may be comments or totals.
    digit_first: bool,
    /// The decimal mark is undeclared, and no number has shown yet that the point is one.
    pub decimal_open: bool,
    /// Seconds of the civil stamp since 1970.
    pub local: i64,
    pub short_year: bool,
    pub house: usize,
    pub values: Values,
    /// The row has a value.
    any: bool,
}

/// The day that the last rows were of.
#[derive(Default)]
struct Day {
    text: Vec<u8>,
    /// Between day and time, in one cell.
    mark: u8,
    /// Text and mark, where they are at most 16 bytes.
    word: u128,
    mask: u128,
    seconds: i64,
    short_year: bool,
}

/// How the digits of a column become its canonical number.
struct Number {
    numbers: Numbers,
    /// The declared unit, where the column is read by a unit alone.
    unit: Option<&'static Unit>,
    /// That unit is the canonical one: its conversion changes no bit.
    is_canonical: bool,
    /// Missing codes, those that look like numbers first.
    missing: Vec<Vec<u8>>,
    numeric_codes: usize,
    /// A code that is digits without a sign could stand where a plain number stands.
    unsigned_codes: bool,
    /// The canonical numbers of 0.0, 0.1, 0.2 …
    small: Vec<f64>,
}

/// So many numbers are kept: humidities, and temperatures in either unit.
const SMALL: u64 = 1024;

const POWERS: [f64; 16] = [1.0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15];

impl Number {
    fn of(log: &Log, numbers: Numbers, quantity: Quantity) -> Number {
        let column = log.columns.get(numbers.column);
        let declared: &[String] = column.map(|c| codes(log, c)).unwrap_or_default();
        let mut missing: Vec<Vec<u8>> = declared.iter().map(|c| c.trim().as_bytes().to_vec()).filter(|c| !c.is_empty()).collect();
        let is_numeric = |c: &Vec<u8>| c.strip_prefix(b"-").unwrap_or(c).first().is_some_and(u8::is_ascii_digit);
        missing.sort_by_key(|c| !is_numeric(c));
        let numeric_codes = missing.iter().filter(|c| is_numeric(c)).count();
        let unsigned_codes = missing.iter().any(|c| c.first().is_some_and(u8::is_ascii_digit));
        let unit = column.and_then(|c| units::find(c.unit.as_deref()?, quantity).ok());
        let is_canonical = unit.is_some_and(|u| u.shift == 0.0 && u.times == 1.0 && u.over == 1.0);
        let mut number = Number { numbers, unit, is_canonical, missing, numeric_codes, unsigned_codes, small: Vec::new() };
        number.small = (0..SMALL).map(|tenths| number.converted(tenths)).collect();
        number
    }

    /// The canonical number of so many tenths; `NaN` where that is not possible.
    #[inline(always)]
    fn of_tenths(&self, tenths: u64) -> f64 {
        match self.small.get(tenths as usize) {
            Some(x) => *x,
            None if self.is_canonical => self.possible(tenths as f64 / 10.0),
            None => self.converted(tenths),
        }
    }

    #[cold]
    fn converted(&self, tenths: u64) -> f64 {
        let written = tenths as f64 / 10.0;
        match self.unit {
            Some(_) if self.is_canonical => self.possible(written),
            Some(unit) => self.possible(unit.to_canonical(written)),
            None => self.canonical(written, false),
        }
    }

    #[inline]
    fn possible(&self, x: f64) -> f64 {
        if self.numbers.limits.is_possible(x) { x } else { f64::NAN }
    }

    /// The canonical number of what is written; `NaN` where that is not possible.
    fn canonical(&self, size: f64, negative: bool) -> f64 {
        let written = if negative { -size } else { size };
        match self.numbers.values.read(CellView { text: "", kind: Kind::Number(written) }) {
            Ok(x) if self.numbers.limits.is_possible(x) => x,
            _ => f64::NAN,
        }
    }
}

impl Reader {
    /// `fields`: what each cell under the header is.
    pub fn new(log: &Log, fields: Vec<Field>, delimiter: u8, columns: [Option<Numbers>; 4], days: &Days, house: Option<usize>) -> Reader {
        let starts_with_digit = |t: &String| t.trim_start().starts_with(|c: char| c.is_ascii_digit());
        let marks = log.layout.comment.iter().chain(&log.layout.totals);
        // A header that reads as a day could be repeated among the rows: then no line is plain.
        let header_is_day = log.columns.get(days.column).is_some_and(|c| days.dating.read(text(&c.header)).is_ok());
        let code_is_day =
            log.columns.get(days.column).is_some_and(|c| codes(log, c).iter().any(|m| days.dating.read(text(m.trim())).is_ok()));
        let never = header_is_day || code_is_day || marks.clone().any(starts_with_digit);
        let decimal = u8::try_from(log.layout.decimal.unwrap_or('.')).ok().filter(|d| !never && *d != delimiter).unwrap_or(0);
        Reader {
            delimiter,
            decimal,
            decimal_of_eight: u64::from(decimal) * ONES,
            fields: if never { Vec::new() } else { fields },
            numbers: numbers(log, columns),
            day: Day::default(),
            houses: Vec::new(),
            housed: Short::default(),
            skipped: Short::default(),
            digit_first: marks.count() > 0,
            decimal_open: log.layout.decimal.is_none() && log.layout.thousands.is_none(),
            local: 0,
            short_year: false,
            house: house.unwrap_or(0),
            values: [f64::NAN; 4],
            any: false,
        }
    }

    /// Reads the line at `at`; `bytes` end with a line end.
    #[inline]
    pub fn row(&mut self, bytes: &[u8], at: usize) -> Plain {
        self.parse(bytes, at).unwrap_or_else(|plain| plain)
    }

    #[inline]
    fn parse(&mut self, bytes: &[u8], mut at: usize) -> Result<Plain, Plain> {
        if self.fields.is_empty() || self.digit_first && !bytes.get(at).is_some_and(u8::is_ascii_digit) {
            return Err(Plain::Slow);
        }
        self.values = [f64::NAN; 4];
        self.any = false;
        let last = self.fields.len() - 1;
        for place in 0..=last {
            at = match self.fields.get(place).copied().unwrap_or(Field::Skip) {
                Field::Skip => self.skip(bytes, at)?,
                Field::Stamp => self.stamp(bytes, at)?,
                Field::Date => self.date(bytes, at)?,
                Field::Time => self.time(bytes, at)?,
                Field::House => self.house(bytes, at)?,
                Field::Number(column) => self.number(bytes, at, column)?,
            };
            let end = bytes.get(at).copied().unwrap_or(0);
            at += 1;
            if place < last {
                if end != self.delimiter {
                    return Err(Plain::Slow);
                }
            } else if end == b'\r' && bytes.get(at) == Some(&b'\n') {
                at += 1;
            } else if end != b'\n' {
                return Err(Plain::Slow);
            }
        }
        if self.any { Ok(Plain::Row(at)) } else { Err(Plain::Slow) }
    }

    fn ends(&self, byte: u8) -> bool {
        byte == self.delimiter || byte == b'\n' || byte == b'\r'
    }

    /// End of the cell that begins at `at`.
    fn cell_end(&self, bytes: &[u8], at: usize) -> usize {
        bytes.get(at..).and_then(|rest| rest.iter().position(|b| self.ends(*b))).map_or(bytes.len(), |n| at + n)
    }

    /// A cell that is not read: often the same from row to row.
    #[inline]
    fn skip(&mut self, bytes: &[u8], at: usize) -> Result<usize, Plain> {
        if let Some(length) = self.skipped.length_at(bytes, at) {
            return Ok(at + length);
        }
        let end = self.skip_any(bytes, at)?;
        self.skipped = Short::of(bytes.get(at..end + 1));
        Ok(end)
    }

    fn skip_any(&self, bytes: &[u8], at: usize) -> Result<usize, Plain> {
        if bytes.get(at) == Some(&b'"') { Err(Plain::Slow) } else { Ok(self.cell_end(bytes, at)) }
    }

    #[inline]
    fn stamp(&mut self, bytes: &[u8], at: usize) -> Result<usize, Plain> {
        let length = self.day.text.len();
        let same = match sixteen(bytes, at) {
            Some(word) if self.day.mask != 0 => word & self.day.mask == self.day.word,
            _ => {
                length > 0 && bytes.get(at..at + length) == Some(self.day.text.as_slice()) && bytes.get(at + length) == Some(&self.day.mark)
            }
        };
        if !same {
            return Err(Plain::Slow);
        }
        self.short_year = self.day.short_year;
        let (seconds, next) = clock(bytes, at + length + 1).ok_or(Plain::Slow)?;
        self.local = self.day.seconds + seconds;
        Ok(next)
    }

    fn date(&mut self, bytes: &[u8], at: usize) -> Result<usize, Plain> {
        let next = at + self.day.text.len();
        if self.day.text.is_empty() || bytes.get(at..next) != Some(self.day.text.as_slice()) {
            return Err(Plain::Slow);
        }
        self.short_year = self.day.short_year;
        self.local = self.day.seconds;
        Ok(next)
    }

    fn time(&mut self, bytes: &[u8], at: usize) -> Result<usize, Plain> {
        let (seconds, next) = clock(bytes, at).ok_or(Plain::Slow)?;
        self.local = self.day.seconds + seconds;
        Ok(next)
    }

    #[inline]
    fn house(&mut self, bytes: &[u8], at: usize) -> Result<usize, Plain> {
        if let Some(length) = self.housed.length_at(bytes, at) {
            return Ok(at + length);
        }
        let end = self.cell_end(bytes, at);
        let written = bytes.get(at..end).unwrap_or_default();
        let found = self.houses.iter().find(|(text, _)| text.as_slice() == written).ok_or(Plain::Slow)?;
        self.house = found.1;
        self.housed = Short::of(bytes.get(at..end + 1));
        Ok(end)
    }

    /// Digits with one decimal, the bulk of every log, eight bytes at a time; what else there is, byte by byte.
    #[inline]
    fn number(&mut self, bytes: &[u8], at: usize, column: usize) -> Result<usize, Plain> {
        let Some(number) = self.numbers.get(column).and_then(Option::as_ref) else { return Err(Plain::General) };
        if let Some((tenths, length)) = eight(bytes, at).and_then(|word| tenths(word, self.decimal_of_eight))
            && bytes.get(at + length).is_some_and(|end| *end == self.delimiter || *end == b'\n' || *end == b'\r')
            && !number.unsigned_codes
        {
            self.decimal_open = false;
            let x = number.of_tenths(tenths);
            return self.put(column, x).map(|()| at + length);
        }
        self.any_number(bytes, at, column)
    }

    fn any_number(&mut self, bytes: &[u8], at: usize, column: usize) -> Result<usize, Plain> {
        let Some(number) = self.numbers.get(column).and_then(Option::as_ref) else { return Err(Plain::General) };
        let first = bytes.get(at).copied().unwrap_or(0);
        let negative = first == b'-';
        let start = at + usize::from(negative);
        let (mut digits, mut next) = digits(bytes, start, 0);
        let whole = next - start;
        if whole == 0 {
            return self.code(bytes, at, number);
        }
        let mut decimals = 0;
        if bytes.get(next) == Some(&self.decimal) {
            let from = next + 1;
            (digits, next) = super::digits::digits(bytes, from, digits);
            decimals = next - from;
            if decimals == 0 {
                return Err(Plain::Slow);
            }
            if self.decimal_open {
                if decimals == 3 {
                    return Err(Plain::General);
                }
                self.decimal_open = false;
            }
        }
        if !bytes.get(next).is_some_and(|b| self.ends(*b)) || whole + decimals > 15 {
            return Err(Plain::Slow);
        }
        if number.numeric_codes > 0 {
            let written = bytes.get(at..next).unwrap_or_default();
            if number.missing.iter().take(number.numeric_codes).any(|c| c.as_slice() == written) {
                return Ok(next);
            }
        }
        let x = number.canonical(digits as f64 / POWERS.get(decimals).copied().unwrap_or(1.0), negative);
        self.put(column, x).map(|()| next)
    }

    #[inline]
    fn put(&mut self, column: usize, x: f64) -> Result<(), Plain> {
        match self.values.get_mut(column).filter(|_| !x.is_nan()) {
            Some(slot) => {
                *slot = x;
                self.any = true;
                Ok(())
            }
            None => Err(Plain::Slow),
        }
    }

    /// A cell that is no number: blank or a missing code.
    fn code(&self, bytes: &[u8], at: usize, number: &Number) -> Result<usize, Plain> {
        let end = self.cell_end(bytes, at);
        let written = bytes.get(at..end).unwrap_or_default();
        let known = written.is_empty() || number.missing.iter().any(|c| c.as_slice() == written);
        if known { Ok(end) } else { Err(Plain::Slow) }
    }

    /// Learns the day and the house of a row that the general readers have read, so that the next row
    /// like it is plain.
    pub fn learn(&mut self, log: &Log, site: &SiteDeclaration, days: &Days, line: &[u8], named: impl FnOnce(&str) -> Option<usize>) {
        let mut at = 0;
        let mut named = Some(named);
        for field in self.fields.clone() {
            let end = self.cell_end(line, at);
            let written = line.get(at..end).unwrap_or_default();
            match field {
                Field::Stamp => self.day = Day::before_a_clock(log, days, written).unwrap_or_default(),
                Field::Date => self.day = Day::alone(log, days, written).unwrap_or_default(),
                Field::House => self.learn_house(site, written, named.take()),
                _ => {}
            }
            at = end + 1;
        }
    }

    fn learn_house(&mut self, site: &SiteDeclaration, written: &[u8], named: Option<impl FnOnce(&str) -> Option<usize>>) {
        let known = self.houses.iter().any(|(text, _)| text.as_slice() == written);
        let Some(text) = std::str::from_utf8(written).ok().filter(|t| t.trim() == *t && !known) else { return };
        let Some(house) = House::named(text, site) else { return };
        if let Some(index) = named.and_then(|n| n(&house)) {
            self.houses.push((written.to_vec(), index));
        }
    }
}

/// Temperature, humidity, light, CO₂.
fn numbers(log: &Log, columns: [Option<Numbers>; 4]) -> [Option<Number>; 4] {
    let [temperature, humidity, light, co2] = columns;
    let of = |column: Option<Numbers>, quantity| column.map(|n| Number::of(log, n, quantity));
    [of(temperature, Quantity::Temperature), of(humidity, Quantity::Humidity), of(light, Quantity::Light), of(co2, Quantity::Co2)]
}

fn text(text: &str) -> CellView<'_> {
    CellView { text, kind: Kind::Text }
}

impl Day {
    /// The day of a stamp such as `2031-07-04T06:30`: its text up to the mark before the clock. Two
    /// clocks behind the same text prove that the day does not depend on them.
    fn before_a_clock(log: &Log, days: &Days, written: &[u8]) -> Option<Day> {
        if log.layout.twelve_hour {
            return None;
        }
        let length = written.iter().rposition(|b| matches!(b, b' ' | b'T'))?;
        let mark = written.get(length).copied()?;
        let day = std::str::from_utf8(written.get(..length)?).ok().filter(|t| t.trim() == *t && !t.is_empty())?;
        let read = |time: &str| days.dating.read(text(&format!("{day}{}{time}", char::from(mark)))).ok();
        let (first, last) = (read("00:00")?, read("23:59:59")?);
        let sound = first.seconds == Some(0) && last.seconds == Some(86_399) && first.date == last.date && first.offset.is_none();
        (sound && days.outside(first.date).is_none()).then(|| Day {
            text: day.as_bytes().to_vec(),
            mark,
            word: word_of(written, length + 1),
            mask: if length < 16 { u128::MAX >> (128 - 8 * (length + 1)) } else { 0 },
            seconds: crate::cells::days_of(first.date) * 86_400,
            short_year: first.short_year,
        })
    }

    /// The day of a cell of its own.
    fn alone(log: &Log, days: &Days, written: &[u8]) -> Option<Day> {
        let day = std::str::from_utf8(written).ok().filter(|t| t.trim() == *t && !t.is_empty())?;
        let missing = log.columns.get(days.column).is_some_and(|c| is_missing(day, codes(log, c)));
        let stamp = days.dating.read(text(day)).ok().filter(|s| s.seconds.is_none() && !missing && !log.layout.twelve_hour)?;
        days.outside(stamp.date).is_none().then(|| Day {
            text: day.as_bytes().to_vec(),
            mark: 0,
            word: 0,
            mask: 0,
            seconds: crate::cells::days_of(stamp.date) * 86_400,
            short_year: stamp.short_year,
        })
    }
}
