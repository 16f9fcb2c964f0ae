//! Two rows where one is meant: harvest rows by the site's word, logger records by comparison.
use super::harvest::Row;
use crate::account::{Book, Draft, Why};
use crate::declare::{HarvestLog, SameDay};
use crate::tables::{Pick, UnreadPick};
use crosshouse_readings::Source;
use jiff::civil::Date;
use std::collections::BTreeMap;

type Key = (usize, Date, Option<String>);

/// Rows of one unit, day and grade, over all harvest logs of the site: added, replaced or set aside, as the
/// site file says. Rows of different logs meet only where both give the same kind of value: a log of masses
/// and a log of counts or samples complete each other.
pub(super) fn same_day(logs: &[HarvestLog], mut rows: Vec<Row>, unread: &mut Vec<UnreadPick>, book: &mut Book) -> Vec<Pick> {
    let mut groups: BTreeMap<Key, Vec<usize>> = BTreeMap::new();
    for (i, row) in rows.iter().enumerate() {
        groups.entry((row.pick.unit, row.pick.day, row.pick.grade.clone())).or_default().push(i);
    }
    let mut kept = vec![true; rows.len()];
    let groups: Vec<Vec<usize>> = groups.into_values().flat_map(|g| meeting(&rows, g)).filter(|g| g.len() > 1).collect();
    for group in groups {
        let Some(log) = group.first().and_then(|i| rows.get(*i)).and_then(|r| logs.get(r.log)) else { continue };
        match rule(logs, &rows, &group) {
            Some(SameDay::Add) => copies(log, &mut rows, &group, book),
            Some(SameDay::Replace) => replace(&rows, &group, &mut kept, book),
            Some(SameDay::Fault) => refuse(log, Refusal::Fault, &rows, &group, &mut kept, unread, book),
            Some(SameDay::Undeclared) => refuse(log, Refusal::Undeclared, &rows, &group, &mut kept, unread, book),
            None => refuse(log, Refusal::Differs, &rows, &group, &mut kept, unread, book),
        }
    }
    rows.into_iter().zip(kept).filter(|(_, k)| *k).map(|(r, _)| r.pick).collect()
}

/// The rule of the rows' logs; `None` where they say different things.
fn rule(logs: &[HarvestLog], rows: &[Row], group: &[usize]) -> Option<SameDay> {
    let mut said = group.iter().filter_map(|i| rows.get(*i)).filter_map(|r| logs.get(r.log)).map(|l| l.same_day);
    let first = said.next()?;
    said.all(|s| s == first).then_some(first)
}

/// A group parted into the rows that meet: those of one log, and those of logs that give a value of one kind.
fn meeting(rows: &[Row], group: Vec<usize>) -> Vec<Vec<usize>> {
    let mut by_log: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for i in group {
        by_log.entry(rows.get(i).map_or(0, |r| r.log)).or_default().push(i);
    }
    let mut parts: Vec<Vec<usize>> = Vec::new();
    for of_log in by_log.into_values() {
        let meets = |part: &Vec<usize>| part.iter().any(|a| of_log.iter().any(|b| same_kind(rows, *a, *b)));
        match parts.iter().position(meets) {
            Some(at) => parts.get_mut(at).into_iter().for_each(|p| p.extend(&of_log)),
            None => parts.push(of_log),
        }
    }
    parts
}

fn same_kind(rows: &[Row], a: usize, b: usize) -> bool {
    let (Some(a), Some(b)) = (rows.get(a), rows.get(b)) else { return false };
    let (a, b) = (&a.pick, &b.pick);
    let measured = || a.measures.iter().zip(&b.measures).any(|(x, y)| x.is_some() && y.is_some());
    (a.mass.is_some() && b.mass.is_some()) || (a.count.is_some() && b.count.is_some()) || measured()
}

/// Whether a row says what another says: word for word in one log, value for value in two.
fn is_copy(a: &Row, b: &Row) -> bool {
    let values = |r: &Row| (r.pick.mass, r.pick.count, r.pick.measures.clone());
    if a.log == b.log { a.written == b.written } else { values(a) == values(b) }
}

/// A row that stands there word for word a second time is added, as declared, and flagged: it may be a
/// copy. In one file the row is asked about too.
fn copies(log: &HarvestLog, rows: &mut [Row], group: &[usize], book: &mut Book) {
    for (n, i) in group.iter().enumerate().skip(1) {
        let Some(row) = rows.get(*i) else { continue };
        let same = |j: &&usize| rows.get(**j).is_some_and(|other| is_copy(other, row));
        let Some(first) = group.iter().take(n).find(same).and_then(|j| rows.get(*j)).map(|r| r.pick.source) else { continue };
        let here = row.pick.source;
        if first.file == here.file {
            repeated_fault(log, first, here, &row.written, book);
        }
        let code = if first.file == here.file { crate::flags::SAME_ROW_TWICE } else { crate::flags::SAME_ROW_IN_TWO_FILES };
        if let Some(row) = rows.get_mut(*i) {
            row.pick.flags.push(code.to_owned());
        }
    }
}

fn repeated_fault(log: &HarvestLog, first: Source, here: Source, written: &str, book: &mut Book) {
    let file = book.name(here.file).to_owned();
    book.fault(Draft {
        code: "row-repeated".into(),
        title: "a row that repeats another word for word: kept and flagged".into(),
        file,
        row: Some(here.row),
        found: format!("{written}, as in row {}", first.row),
        expected: "a second pick of one unit, day and grade that differs from the first".into(),
        mend: format!(
            "take the row out if it is a copy; it is added to the first, as same_day = \"add\" says ({}, line {})",
            log.log.declared_in, log.log.line
        ),
        ..Draft::default()
    });
}

fn replace(rows: &[Row], group: &[usize], kept: &mut [bool], book: &mut Book) {
    let Some((last, earlier)) = group.split_last() else { return };
    let Some(by) = rows.get(*last).map(|r| book.place(r.pick.source)) else { return };
    for i in earlier {
        if let (Some(row), Some(slot)) = (rows.get(*i), kept.get_mut(*i)) {
            *slot = false;
            book.row_aside(
                row.pick.source,
                None,
                Why {
                    code: "replaced",
                    found: &row.written,
                    why: format!("a later row of the same unit, day and grade replaces it ({by}), as same_day = \"replace\" says"),
                },
            );
        }
    }
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Refusal {
    /// The site file says that there is no second row.
    Fault,
    /// It does not say what a second row means.
    Undeclared,
    /// Two of its harvest logs say different things.
    Differs,
}

impl Refusal {
    fn code(self) -> &'static str {
        match self {
            Refusal::Fault => "duplicate-row",
            Refusal::Undeclared => "same-day-undeclared",
            Refusal::Differs => "same-day-differs",
        }
    }

    fn mend(self, log: &HarvestLog) -> String {
        let place = format!("({}, line {})", log.log.declared_in, log.log.line);
        match self {
            Refusal::Fault => "correct the rows so that one is left".to_owned(),
            Refusal::Undeclared => format!(
                "does a second row of one unit, day and grade add to the first, replace it, or is it a fault? Answer with same_day under [[harvest]] {place}"
            ),
            Refusal::Differs => {
                format!("the rows stand in two harvest logs whose same_day differ: write the same rule in both {place}")
            }
        }
    }
}

fn refuse(
    log: &HarvestLog,
    refusal: Refusal,
    rows: &[Row],
    group: &[usize],
    kept: &mut [bool],
    unread: &mut Vec<UnreadPick>,
    book: &mut Book,
) {
    let places: Vec<String> = group.iter().filter_map(|i| rows.get(*i)).map(|r| book.place(r.pick.source)).collect();
    for (n, i) in group.iter().enumerate() {
        let (Some(row), Some(slot)) = (rows.get(*i), kept.get_mut(*i)) else { continue };
        *slot = false;
        let others: Vec<&str> = places.iter().enumerate().filter(|(m, _)| *m != n).map(|(_, p)| p.as_str()).collect();
        let source = row.pick.source;
        let why = format!("the same unit, day and grade stand in {} too", others.join(" and "));
        book.row_aside(source, None, Why { code: refusal.code(), found: &row.written, why });
        unread.push(UnreadPick { unit: row.pick.unit, day: row.pick.day, code: refusal.code().to_owned(), source });
        duplicate_fault(log, refusal, source, &row.written, book);
    }
}

fn duplicate_fault(log: &HarvestLog, refusal: Refusal, source: Source, written: &str, book: &mut Book) {
    let file = book.name(source.file).to_owned();
    book.fault(Draft {
        code: refusal.code().to_owned(),
        title: "several rows of one unit, day and grade".into(),
        file,
        row: Some(source.row),
        found: written.to_owned(),
        expected: "one row a unit, day and grade".into(),
        mend: refusal.mend(log),
        ..Draft::default()
    });
}

/// What becomes of the records of one instant: the place of the one kept, where one is.
pub(super) enum Together {
    /// All equal: the first is kept.
    Identical,
    /// They differ: none is kept.
    Differ,
}

/// Whether the records of one instant are the same reading. Absent values equal each other.
pub(super) fn compare<const N: usize>(records: &[[f64; N]]) -> Together {
    let same = |a: &f64, b: &f64| a == b || (a.is_nan() && b.is_nan());
    let first = records.first();
    let identical = first.is_some_and(|f| records.iter().all(|r| r.iter().zip(f).all(|(a, b)| same(a, b))));
    if identical { Together::Identical } else { Together::Differ }
}

/// Sets the further records of an instant aside as identical to the first.
pub(super) fn identical_aside(first: Source, further: Source, written: &str, book: &mut Book) {
    let by = book.place(first);
    book.row_aside(further, None, Why { code: "duplicate-identical", found: written, why: format!("identical to {by}, which is kept") });
}

/// Sets all records of an instant aside: they cannot all be right.
pub(super) fn differing_aside(all: &[(Source, String)], instant: &str, book: &mut Book) {
    let places: Vec<String> = all.iter().map(|(s, _)| book.place(*s)).collect();
    for (n, (source, written)) in all.iter().enumerate() {
        let others: Vec<&str> = places.iter().enumerate().filter(|(m, _)| *m != n).map(|(_, p)| p.as_str()).collect();
        book.row_aside(
            *source,
            None,
            Why {
                code: "duplicate-differing",
                found: written,
                why: format!("another record of {instant} differs ({}): which is right cannot be told", others.join(" and ")),
            },
        );
        let file = book.name(source.file).to_owned();
        book.fault(Draft {
            code: "duplicate-differing".into(),
            title: "records of one instant that differ".into(),
            file,
            row: Some(source.row),
            found: written.clone(),
            expected: "one record an instant".into(),
            mend: "see whether the files of two loggers were mixed, or the clock was set back; take the wrong records out, or declare the clock that the logger keeps (clock = \"site\" where it follows daylight saving)".into(),
            ..Draft::default()
        });
    }
}
