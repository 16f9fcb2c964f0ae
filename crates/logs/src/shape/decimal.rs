//! The decimal mark of a file that declares none: a point, unless the numbers could mean thousands.
use super::table::{Table, codes};
use crate::account::{Book, Draft};
use crate::cells::is_missing;
use crate::declare::{Log, LogKind, Meaning};
use crate::source::Kind;
use crosshouse_readings::quantity::number;

/// Tells that numbers are read with a point. A column in which every point parts exactly three digits
/// ("1.250") may write thousands: where no number of the file shows that it does not, the column is
/// left unread, with the question.
pub(super) fn settle_decimal(log: &Log, table: &mut Table, book: &mut Book) {
    if log.layout.decimal.is_some() {
        return;
    }
    let columns: Vec<usize> =
        log.columns.iter().enumerate().filter(|(i, c)| table.has(*i) && is_number(log.kind, &c.meaning)).map(|(i, _)| i).collect();
    let points: Vec<Points> = columns.iter().map(|i| points(log, table, *i)).collect();
    let shown = log.layout.thousands.is_some() || points.iter().any(|p| matches!(p, Points::Decimal));
    let open: Vec<(usize, usize)> = columns
        .iter()
        .zip(&points)
        .filter_map(|(column, p)| match p {
            Points::Either(row) if !shown => Some((*column, *row)),
            _ => None,
        })
        .collect();
    for (column, row) in &open {
        ask(log, table, *column, *row, book);
        if let Some(position) = table.positions.get_mut(*column) {
            *position = None;
        }
    }
    if open.len() < columns.len() && !table.name.contains(" / ") {
        book.infer(&table.name, "decimal mark", ".", "the site file declares none");
    }
}

pub(super) fn is_number(kind: LogKind, meaning: &Meaning) -> bool {
    match meaning {
        Meaning::Plants => kind != LogKind::Diary,
        Meaning::Area | Meaning::Mass | Meaning::Count | Meaning::Measure { .. } => true,
        Meaning::Temperature | Meaning::Humidity | Meaning::Light | Meaning::Co2 | Meaning::Moisture => true,
        Meaning::FeedVolume | Meaning::DrainVolume | Meaning::FeedEc | Meaning::DrainEc | Meaning::FeedPh | Meaning::DrainPh => true,
        _ => false,
    }
}

/// What the points of a column can mean.
enum Points {
    None,
    /// At least one parts no thousands.
    Decimal,
    /// Each may part thousands; the first row with one.
    Either(usize),
}

fn points(log: &Log, table: &Table, column: usize) -> Points {
    let missing = log.columns.get(column).map(|c| codes(log, c)).unwrap_or_default();
    let mut first = None;
    for row in table.rows.iter().copied() {
        let cell = table.cell(row, column);
        if cell.kind != Kind::Text || !cell.text.contains('.') || is_missing(cell.text, missing) || number(cell.text, table.style).is_err()
        {
            continue;
        }
        if !parts_thousands(cell.text) {
            return Points::Decimal;
        }
        first = first.or(Some(row));
    }
    first.map_or(Points::None, Points::Either)
}

/// "1.250" and "12.000", not "0.250" nor "12.5".
fn parts_thousands(text: &str) -> bool {
    let digits = |s: &str| !s.is_empty() && s.bytes().all(|b| b.is_ascii_digit());
    text.trim_start_matches(['-', '+'])
        .split_once('.')
        .is_some_and(|(whole, rest)| digits(whole) && whole.len() <= 3 && !whole.starts_with('0') && rest.len() == 3 && digits(rest))
}

fn ask(log: &Log, table: &Table, column: usize, row: usize, book: &mut Book) {
    let Some(declared) = log.columns.get(column) else { return };
    let found = table.cell(row, column).text;
    book.fault(Draft {
        code: "decimal-undeclared".into(),
        title: "numbers that can be read two ways: column not read".into(),
        file: table.name.clone(),
        row: Some(table.grid.number(row)),
        column: Some(declared.header.clone()),
        found: format!("{found}, and no `decimal` in {}, line {}", log.declared_in, log.line),
        expected: format!("a declared decimal mark: {found} is either {found} or {}", found.replace('.', "")),
        mend: "which is it? Declare decimal = \".\"; or decimal = \",\" and thousands = \".\"".into(),
        ..Draft::default()
    });
}
