//! The numbers of a row: unreadable and impossible ones are set aside, their rows are not.
use crate::account::{Book, Draft, Why};
use crate::cells::{Undeclared, Values, is_missing};
use crate::declare::{Column, Log, Meaning};
use crate::flags::limits::Limits;
use crate::shape::{Table, codes};
use crate::source::Kind;
use crosshouse_readings::units::{self, Quantity};

/// A number column of a table: how it is read, and what it may hold.
pub(super) struct Numbers {
    pub column: usize,
    pub values: Values,
    pub limits: &'static Limits,
}

impl Numbers {
    /// The column of `meaning`, where the table has it and its unit is settled. An unsettled unit is
    /// told, and the column is not read.
    pub fn of(log: &Log, table: &Table, meaning: &Meaning, quantity: Quantity, limits: &'static Limits, book: &mut Book) -> Option<Self> {
        let column = table.index(log, meaning)?;
        Self::at(log, table, column, quantity, limits, book)
    }

    pub fn at(log: &Log, table: &Table, column: usize, quantity: Quantity, limits: &'static Limits, book: &mut Book) -> Option<Self> {
        let declared = log.columns.get(column)?;
        match Values::of(&with_unit(declared, table, column, quantity, book), quantity, table.style) {
            Ok(values) => {
                unit_of_header(log, declared, &values, quantity, book);
                let numbers = Numbers { column, values, limits };
                numbers.below_told(log, table, book);
                Some(numbers)
            }
            Err(why) => {
                unit_fault(log, declared, *why, book);
                None
            }
        }
    }

    /// The value of a row's cell; an unreadable or impossible one is set aside, the row is not.
    pub fn read(&self, log: &Log, table: &Table, row: usize, book: &mut Book) -> Option<f64> {
        let column = log.columns.get(self.column)?;
        let cell = table.cell(row, self.column);
        if is_missing(cell.text, codes(log, column)) {
            return None;
        }
        if let Some(below) = self.values.below_detection(column, cell) {
            return below;
        }
        let bad = match self.values.read(cell) {
            Err(_) if cell.text.starts_with('<') && column.below_detection.is_none() => Bad {
                code: "below-detection-undeclared".into(),
                title: "a value below detection, and what it counts as is not declared".into(),
                expected: "below_detection = \"zero\", \"half\" or \"missing\" for this column".into(),
                mend: format!("what does {} count as: zero, half of the limit, or no value? Declare below_detection for this column", cell.text),
            },
            Err(_) if matches!(cell.kind, Kind::Serial(_)) => Bad {
                code: "date-for-number".into(),
                title: "a date where a number is meant".into(),
                expected: self.limits.words.into(),
                mend: "the workbook made a date of what was typed (such as 2-3): write the cell again, as text".into(),
            },
            _ if cell.kind == Kind::Error && cell.text.starts_with('=') => Bad {
                code: "formula-without-value".into(),
                title: "a formula that was never worked out".into(),
                expected: self.limits.words.into(),
                mend: "open the workbook in an office program and save it: the formula's value is then stored".into(),
            },
            _ if cell.kind == Kind::Error => Bad {
                code: "formula-error".into(),
                title: "a formula's error in place of a value".into(),
                expected: self.limits.words.into(),
                mend: "correct the formula; or add this text to `missing`".into(),
            },
            Ok(x) if self.limits.is_possible(x) => return Some(x),
            Ok(_) => Bad {
                code: format!("{}-impossible", self.limits.code),
                title: format!("not possible as {}", self.limits.words),
                expected: self.limits.possible_words(),
                mend: "correct the cell, the unit in the site file, or the sensor; if this text is a code for \"no value\", add it to `missing`".into(),
            },
            Err(fault) => Bad {
                code: match fault.kind {
                    crosshouse_readings::quantity::NumberFaultKind::OtherMark => fault.code().to_owned(),
                    _ => format!("{}-unreadable", self.limits.code),
                },
                title: if fault.title() == "not a number" { format!("not {}", self.limits.words) } else { fault.title().to_owned() },
                expected: fault.expected,
                mend: fault.mend,
            },
        };
        bad.told(table, row, column, cell.text, book);
        None
    }
}

impl Numbers {
    /// Values below detection are told once a column of a file.
    pub fn below_told(&self, log: &Log, table: &Table, book: &mut Book) {
        let Some(column) = log.columns.get(self.column) else { return };
        let Some(as_declared) = column.below_detection else { return };
        let is_below = |row: &&usize| self.values.below_detection(column, table.cell(**row, self.column)).is_some();
        let count = table.rows.iter().filter(is_below).count();
        if count > 0 {
            book.infer(
                &table.name,
                format!("values below detection in column \"{}\"", column.header),
                format!("{} read as {}", crate::flags::many(count, "cell"), as_declared.words()),
                "the site file declares below_detection",
            );
        }
    }
}

/// Where a header may write its unit: in brackets, after a comma, on its last line, or alone.
fn units_in(header: &str) -> Vec<&str> {
    let bracketed = [('(', ')'), ('[', ']')]
        .into_iter()
        .filter_map(|(open, close)| header.trim_end().strip_suffix(close)?.rsplit_once(open).map(|(_, unit)| unit));
    let parted = [", ", " / "].into_iter().filter_map(|mark| header.rsplit_once(mark).map(|(_, unit)| unit));
    bracketed.chain(parted).chain([header]).map(str::trim).filter(|u| !u.is_empty()).collect()
}

/// Whether the text is a unit of the quantity, or a word for one that hides an assumption.
fn is_unit(text: &str, quantity: Quantity) -> bool {
    match units::find(text, quantity) {
        Ok(_) => true,
        Err(fault) => fault.question.is_some() || (quantity == Quantity::Mass && text.eq_ignore_ascii_case("lb oz")),
    }
}

/// The column with the unit of its header or unit row where the site file declares none; told.
fn with_unit(declared: &Column, table: &Table, index: usize, quantity: Quantity, book: &mut Book) -> Column {
    if declared.unit.is_some() {
        return declared.clone();
    }
    let of_header = units_in(&declared.header).into_iter().map(|u| (u, "its header"));
    let of_row = table.unit_written(index).into_iter().flat_map(units_in).map(|u| (u, "the unit row"));
    let Some((unit, place)) = of_header.chain(of_row).find(|(u, _)| is_unit(u, quantity)) else { return declared.clone() };
    // A count and a pH have one unit: a header "Fruit" tells nothing new.
    if !matches!(quantity, Quantity::Count | Quantity::Acidity) || units::find(unit, quantity).is_ok_and(|u| u.times != 1.0) {
        book.infer(
            &table.name,
            format!("unit of column \"{}\"", declared.header),
            unit,
            format!("the site file declares none, and {place} writes it"),
        );
    }
    Column { unit: Some(unit.to_owned()), ..declared.clone() }
}

/// A declared unit that the header's own contradicts: read as declared, and asked about.
fn unit_of_header(log: &Log, declared: &Column, values: &Values, quantity: Quantity, book: &mut Book) {
    let (Some(unit), Some(ucum)) = (&declared.unit, values.ucum()) else { return };
    let written = units_in(&declared.header).into_iter().filter(|u| *u != declared.header);
    let Some((text, other)) = written.filter_map(|u| units::find(u, quantity).ok().map(|found| (u, found))).next() else { return };
    if other.ucum == ucum {
        return;
    }
    let draft = Draft {
        code: "unit-contradicts-header".into(),
        title: "a declared unit that the header contradicts".into(),
        file: log.declared_in.clone(),
        row: Some(declared.line),
        column: Some(declared.header.clone()),
        found: format!("unit = \"{unit}\", and the header writes \"{text}\""),
        expected: "one unit".into(),
        mend: "which is right? The column is read as declared until then".into(),
        group: declared.line.to_string(),
        ..Draft::default()
    };
    let told = book.faults.iter().any(|f| f.code == draft.code && f.place.file == draft.file && f.place.row == draft.row);
    if !told {
        book.fault(draft);
    }
}

struct Bad {
    code: String,
    title: String,
    expected: String,
    mend: String,
}

impl Bad {
    fn told(self, table: &Table, row: usize, column: &Column, found: &str, book: &mut Book) {
        let why = format!("{}: expected {}", self.title, self.expected);
        book.cell_aside(table.source(row), &column.header, Why { code: &self.code, found, why });
        book.fault(Draft {
            code: self.code,
            title: self.title,
            file: table.name.clone(),
            row: Some(table.grid.number(row)),
            column: Some(column.header.clone()),
            found: found.to_owned(),
            expected: self.expected,
            mend: self.mend,
            ..Draft::default()
        });
    }
}

/// Sets a row aside of which nothing could be kept, or on which nothing is written.
pub(super) fn nothing_left(table: &Table, row: usize, book: &mut Book) -> &'static str {
    let source = table.source(row);
    let file = book.name(source.file);
    let emptied = book.set_aside.iter().rev().take_while(|s| s.place.row == Some(source.row) && s.place.file == file).any(|s| !s.whole_row);
    let (code, why) = if emptied {
        ("nothing-left", "none of the row's values could be kept: it says nothing, not even zero")
    } else {
        ("nothing-written", "the row gives no value that is read: it says nothing, not even zero")
    };
    let written = table.written(row);
    book.row_aside(source, None, Why { code, found: &written, why: why.to_owned() });
    code
}

/// A column that is not read until its unit is declared or corrected: told once a log, at its line.
pub(super) fn unit_fault(log: &Log, column: &Column, why: Undeclared, book: &mut Book) {
    let told = book.faults.iter().any(|f| {
        f.code == why.code
            && f.place.file == log.declared_in
            && f.place.row == Some(column.line)
            && f.place.column.as_deref() == Some(&column.header)
    });
    if told {
        return;
    }
    book.fault(Draft {
        code: why.code,
        title: format!("{}: column not read", why.title),
        file: log.declared_in.clone(),
        row: Some(column.line),
        column: Some(column.header.clone()),
        found: why.found,
        expected: why.expected,
        mend: why.mend,
        fatal: !why.is_question,
        group: column.line.to_string(),
    });
}
