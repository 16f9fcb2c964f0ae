//! A declared date style that the dates themselves contradict: day and month the other way round.
use crate::account::{Book, Draft, Why};
use crate::cells::{DateFault, DateStyle, Dating, StampFault, is_missing};
use crate::declare::Log;
use crate::shape::{Table, codes};

/// Whether the declared style cannot be right: at least two dates, and a fifth of them, are no days by
/// it, and every one is a day with day and month swapped. One typed date proves nothing (common
/// practice). The file is then told, and every row set aside: the others would land in wrong months.
pub(super) fn contradicted(log: &Log, table: &Table, column: usize, dating: &Dating, book: &mut Book) -> bool {
    let Some(style) = dating.style.swapped() else { return false };
    let Some(declared) = log.columns.get(column) else { return false };
    let missing = codes(log, declared);
    let used: Vec<usize> = table.rows.iter().copied().filter(|r| !is_missing(table.cell(*r, column).text, missing)).collect();
    let other = Dating { style, ..dating.clone() };
    if !used.iter().all(|r| other.read(table.cell(*r, column)).is_ok()) {
        return false;
    }
    let none = |r: &&usize| dating.read(table.cell(**r, column)) == Err(StampFault::Date(DateFault::NoSuchDay));
    let wrong: Vec<usize> = used.iter().filter(none).copied().collect();
    if wrong.len() < 2 || wrong.len() * 5 < used.len() {
        return false;
    }
    tell(table, column, declared.header.as_str(), &wrong, (&dating.style, &other.style), book);
    true
}

fn tell(table: &Table, column: usize, header: &str, wrong: &[usize], styles: (&DateStyle, &DateStyle), book: &mut Book) {
    let (declared, swapped) = (&styles.0.words, &styles.1.words);
    for row in wrong {
        book.fault(Draft {
            code: "date-style-contradicted".into(),
            title: "dates that contradict the declared style".into(),
            file: table.name.clone(),
            row: Some(table.grid.number(*row)),
            column: Some(header.to_owned()),
            found: table.cell(*row, column).text.to_owned(),
            expected: format!("dates as date_style = \"{declared}\" writes them"),
            mend: format!("every date of the file is a day as \"{swapped}\": declare that style if it is the file's"),
            fatal: true,
            ..Draft::default()
        });
    }
    for row in &table.rows {
        let why = format!("the file's dates contradict date_style = \"{declared}\": which day is meant cannot be told");
        book.row_aside(
            table.source(*row),
            Some(header),
            Why { code: "date-style-contradicted", found: table.cell(*row, column).text, why },
        );
    }
}
