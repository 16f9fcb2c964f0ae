//! Where a row belongs: the unit of the plan, the house, the zone.
use super::plan::PlanTable;
use crate::account::{Book, Draft, Why};
use crate::cells::{Resolved, is_missing};
use crate::declare::{IdRules, Log, Meaning, SiteDeclaration};
use crate::shape::{Table, codes};
use crosshouse_readings::declared::nearest;

/// The columns that make a unit's id.
pub(super) struct UnitColumns {
    columns: Vec<usize>,
    with: String,
}

impl UnitColumns {
    /// One `unit` column, or the `unit-part` columns in the order of `join`.
    pub fn of(log: &Log, table: &Table, rules: &IdRules) -> Option<Self> {
        if let Some(column) = table.index(log, &Meaning::Unit) {
            return Some(UnitColumns { columns: vec![column], with: String::new() });
        }
        let mut parts: Vec<usize> =
            log.columns.iter().enumerate().filter(|(i, c)| c.meaning == Meaning::UnitPart && table.has(*i)).map(|(i, _)| i).collect();
        let place = |i: &usize| log.columns.get(*i).and_then(|c| rules.join.iter().position(|j| *j == c.header)).unwrap_or(usize::MAX);
        parts.sort_by_key(place);
        (!parts.is_empty()).then(|| UnitColumns { columns: parts, with: rules.with.clone() })
    }

    pub fn header(&self, log: &Log) -> String {
        self.columns.iter().filter_map(|i| log.columns.get(*i)).map(|c| c.header.as_str()).collect::<Vec<_>>().join(" + ")
    }

    /// The id as written; `None` where any part of it is missing.
    pub fn written(&self, log: &Log, table: &Table, row: usize) -> Option<String> {
        let parts: Vec<&str> = self.columns.iter().map(|i| table.cell(row, *i).text).collect();
        let missing = self.columns.iter().zip(&parts).any(|(i, text)| log.columns.get(*i).is_none_or(|c| is_missing(text, codes(log, c))));
        (!missing).then(|| parts.join(&self.with))
    }

    /// The unit of a row, if it is one of the plan; nothing is said of it.
    pub fn known(&self, log: &Log, table: &Table, row: usize, plan: &PlanTable) -> Option<usize> {
        match plan.index.resolve(&self.written(log, table, row)?) {
            Resolved::Unit(unit) => plan.in_table(unit),
            Resolved::Unknown(_) => None,
        }
    }

    /// The unit of a row; a row of no unit of the plan is set aside.
    pub fn unit(&self, log: &Log, table: &Table, row: usize, plan: &PlanTable, book: &mut Book) -> Option<usize> {
        let header = self.header(log);
        let Some(written) = self.written(log, table, row) else {
            book.row_aside(
                table.source(row),
                Some(&header),
                Why { code: "unit-missing", found: "", why: "the row names no unit: its place in the trial cannot be told".into() },
            );
            return None;
        };
        match plan.index.resolve(&written) {
            Resolved::Unit(unit) => plan.in_table(unit).or_else(|| {
                book.row_aside(
                    table.source(row),
                    Some(&header),
                    Why { code: "unit-not-in-use", found: &written, why: "the plan's row of this unit was set aside".into() },
                );
                None
            }),
            Resolved::Unknown(_) if plan.units.is_empty() => {
                // The plan's own faults are told; one more for each unit would bury them.
                let why = "the plan has no unit that can be used: the row's place in the trial cannot be told".into();
                book.row_aside(table.source(row), Some(&header), Why { code: "plan-unusable", found: &written, why });
                None
            }
            Resolved::Unknown(near) => {
                let mend = near.as_ref().map_or_else(
                    || "add the unit to the plan, or correct the cell".to_owned(),
                    |n| format!("did you mean \"{n}\"? If the two are one unit, add \"{written}\" to [unit_ids.also]"),
                );
                let near = near.map_or_else(String::new, |n| format!("; the nearest is \"{n}\""));
                book.fault(Draft {
                    code: "unit-unknown".into(),
                    title: "a unit that the plan does not have".into(),
                    file: table.name.clone(),
                    row: Some(table.grid.number(row)),
                    column: Some(header.clone()),
                    found: written.clone(),
                    expected: "a unit of the plan".into(),
                    mend,
                    group: written.clone(),
                    ..Draft::default()
                });
                book.row_aside(
                    table.source(row),
                    Some(&header),
                    Why { code: "unit-unknown", found: &written, why: format!("the plan has no unit \"{written}\"{near}") },
                );
                None
            }
        }
    }
}

/// The house of each row: declared, or in a column, or the site's only one.
pub(super) enum House {
    Is(String),
    Column(usize),
}

impl House {
    pub fn of(declared: Option<&String>, log: &Log, table: Option<&Table>, site: &SiteDeclaration) -> Option<Self> {
        let column = table.and_then(|t| t.index(log, &Meaning::House));
        match (declared, column, site.houses.as_slice()) {
            (Some(house), _, _) => Some(House::Is(house.clone())),
            (None, Some(column), _) => Some(House::Column(column)),
            (None, None, [only]) => Some(House::Is(only.id.clone())),
            _ => None,
        }
    }

    /// A house of the site by its written id (letter case aside, where that is unambiguous).
    pub fn named(written: &str, site: &SiteDeclaration) -> Option<String> {
        let exact = site.houses.iter().find(|h| h.id == written);
        let mut loose = site.houses.iter().filter(|h| h.id.eq_ignore_ascii_case(written));
        let found = exact.or_else(|| match (loose.next(), loose.next()) {
            (Some(only), None) => Some(only),
            _ => None,
        });
        found.map(|h| h.id.clone())
    }

    /// The house of a row; a row of no house of the site is set aside.
    pub fn read(&self, log: &Log, table: &Table, row: usize, site: &SiteDeclaration, book: &mut Book) -> Option<String> {
        let column = match self {
            House::Is(house) => return Some(house.clone()),
            House::Column(column) => *column,
        };
        let written = table.cell(row, column).text;
        let found = House::named(written, site);
        if found.is_none() {
            let header = log.columns.get(column).map_or("", |c| c.header.as_str());
            unknown_house(table, row, header, written, site, book);
            book.row_aside(
                table.source(row),
                Some(header),
                Why { code: "house-unknown", found: written, why: format!("the site has no house \"{written}\"") },
            );
        }
        found
    }
}

pub(super) fn unknown_house(table: &Table, row: usize, header: &str, written: &str, site: &SiteDeclaration, book: &mut Book) {
    let ids: Vec<&str> = site.houses.iter().map(|h| h.id.as_str()).collect();
    let mend = nearest(written, ids.iter().copied())
        .map_or_else(|| "correct the cell, or add a [[house]] to the site file".to_owned(), |n| format!("did you mean \"{n}\"?"));
    book.fault(Draft {
        code: "house-unknown".into(),
        title: "a house that the site does not have".into(),
        file: table.name.clone(),
        row: Some(table.grid.number(row)),
        column: Some(header.to_owned()),
        found: written.to_owned(),
        expected: ids.join(", "),
        mend,
        group: written.to_owned(),
        ..Draft::default()
    });
}
