//! The plan: the units of a site, their places and their levels.
use super::numbers::Numbers;
use super::places::{House, UnitColumns};
use super::season::Reading;
use crate::account::{Book, Draft, Why};
use crate::cells::{UnitIndex, is_missing};
use crate::declare::{Column, Log, Meaning, Plan, Season, SiteDeclaration};
use crate::flags::limits;
use crate::shape::{Table, codes};
use crate::source::Found;
use crate::tables::Unit;
use crosshouse_readings::declared::nearest;
use crosshouse_readings::units::Quantity;
use std::collections::BTreeMap;

/// The units, and the index that finds them by their written ids.
#[derive(Debug, Default)]
pub(super) struct PlanTable {
    pub units: Vec<Unit>,
    pub index: UnitIndex,
    /// Place in `units` of each indexed id; `None`: its rows were set aside.
    places: Vec<Option<usize>>,
}

impl PlanTable {
    pub fn in_table(&self, unit: usize) -> Option<usize> {
        self.places.get(unit).copied().flatten()
    }
}

pub(super) fn read(season: &Season, site: &SiteDeclaration, files: &[Found], reading: &mut Reading<'_>) -> PlanTable {
    let mut table = PlanTable { index: UnitIndex::new(site.unit_ids.clone()), ..PlanTable::default() };
    let Some(plan) = &site.plan else { return table };
    let plan = with_parts(plan, site);
    let mut drafts: Vec<(usize, Option<Unit>)> = Vec::new();
    for found in files {
        for sheet in reading.open(&plan.log, found) {
            read_sheet(season, site, &plan, &sheet, &mut table.index, &mut drafts, &mut reading.book);
        }
    }
    place(drafts, &mut table);
    if table.units.is_empty() && !files.is_empty() {
        no_units(site, &plan, &mut reading.book);
    }
    for (alias, unit) in table.index.dangling() {
        dangling(site, alias, unit, &mut reading.book);
    }
    table
}

/// The plan's log with the columns of `join`, which need no entry of their own.
fn with_parts(plan: &Plan, site: &SiteDeclaration) -> Plan {
    let mut plan = plan.clone();
    if !plan.log.has(&Meaning::Unit) && !plan.log.has(&Meaning::UnitPart) {
        let line = plan.log.line;
        plan.log.columns.extend(site.unit_ids.join.iter().map(|header| Column { line, ..Column::plain(header, Meaning::UnitPart) }));
    }
    plan
}

fn place(drafts: Vec<(usize, Option<Unit>)>, table: &mut PlanTable) {
    let ids = drafts.iter().map(|(i, _)| i + 1).max().unwrap_or(0);
    table.places = vec![None; ids];
    for (index, unit) in drafts {
        if let (Some(unit), Some(slot)) = (unit, table.places.get_mut(index)) {
            *slot = Some(table.units.len());
            table.units.push(unit);
        }
    }
}

fn read_sheet(
    season: &Season,
    site: &SiteDeclaration,
    plan: &Plan,
    table: &Table,
    index: &mut UnitIndex,
    drafts: &mut Vec<(usize, Option<Unit>)>,
    book: &mut Book,
) {
    let log = &plan.log;
    let Some(units) = UnitColumns::of(log, table, &site.unit_ids) else { return };
    let numbers = PlanNumbers::of(log, table, book);
    let house = House::of(None, log, Some(table), site);
    for row in table.rows.iter().copied() {
        let Some(id) = units.written(log, table, row) else {
            book.row_aside(
                table.source(row),
                Some(&units.header(log)),
                Why { code: "unit-missing", found: "", why: "the row names no unit".into() },
            );
            continue;
        };
        let slot = match index.add(&id) {
            Ok(slot) => slot,
            Err(taken) => {
                repeated(table, row, &id, &units.header(log), taken, drafts, book);
                continue;
            }
        };
        let unit = house
            .as_ref()
            .and_then(|h| h.read(log, table, row, site, book))
            .and_then(|house| unit_of(season, plan, table, row, id, house, &numbers, book));
        drafts.push((slot, unit));
    }
}

/// A unit listed twice: neither row can be trusted.
fn repeated(table: &Table, row: usize, id: &str, header: &str, taken: usize, drafts: &mut [(usize, Option<Unit>)], book: &mut Book) {
    let why = |at: String| format!("the plan lists the unit \"{id}\" again in {at}: which row is right cannot be told");
    book.fault(Draft {
        code: "plan-unit-twice".into(),
        title: "a unit that the plan lists twice".into(),
        file: table.name.clone(),
        row: Some(table.grid.number(row)),
        column: Some(header.to_owned()),
        found: id.to_owned(),
        expected: "one row a unit".into(),
        mend: "take one of the rows out, or correct its id (the rules of [unit_ids] count as one what they make equal)".into(),
        group: id.to_owned(),
        fatal: true,
    });
    let mut first = String::new();
    for (slot, unit) in drafts.iter_mut() {
        if *slot == taken
            && let Some(unit) = unit.take()
        {
            first = book.place(unit.source);
            let second = book.place(table.source(row));
            book.row_aside(unit.source, Some(header), Why { code: "plan-unit-twice", found: id, why: why(second) });
        }
    }
    if first.is_empty() {
        first = "another row".into();
    }
    book.row_aside(table.source(row), Some(header), Why { code: "plan-unit-twice", found: id, why: why(first) });
}

struct PlanNumbers {
    plants: Option<Numbers>,
    area: Option<Numbers>,
    row: Option<Numbers>,
    position: Option<Numbers>,
}

impl PlanNumbers {
    fn of(log: &Log, table: &Table, book: &mut Book) -> Self {
        let mut number = |meaning: Meaning, quantity, limits| Numbers::of(log, table, &meaning, quantity, limits, book);
        PlanNumbers {
            plants: number(Meaning::Plants, Quantity::Count, &limits::PLANTS),
            area: number(Meaning::Area, Quantity::Area, &limits::AREA),
            row: number(Meaning::Row, Quantity::Count, &limits::PLACE),
            position: number(Meaning::Position, Quantity::Count, &limits::PLACE),
        }
    }
}

#[allow(clippy::too_many_arguments)]
fn unit_of(
    season: &Season,
    plan: &Plan,
    table: &Table,
    row: usize,
    id: String,
    house: String,
    numbers: &PlanNumbers,
    book: &mut Book,
) -> Option<Unit> {
    let log = &plan.log;
    let text = |meaning: &Meaning| {
        let index = table.index(log, meaning)?;
        let missing = log.columns.get(index).map(|c| codes(log, c)).unwrap_or_default();
        let text = table.cell(row, index).text;
        (!is_missing(text, missing)).then(|| text.to_owned())
    };
    let guard = text(&Meaning::Guard).is_some_and(|t| is_yes(&t));
    let levels = levels(season, plan, table, row, guard, book)?;
    let mut number = |n: &Option<Numbers>| n.as_ref().and_then(|n| n.read(log, table, row, book));
    let plants = number(&numbers.plants);
    let area_m2 = number(&numbers.area);
    let (along, position) = (number(&numbers.row), number(&numbers.position));
    let plants = match plants {
        Some(plants) => {
            if plants < 1.0 && !guard {
                plantless(log, table, row, &id, book);
            }
            plants as u32
        }
        None if guard => 0,
        None => return no_plants(log, table, row, &id, book),
    };
    let whole = |x: Option<f64>| x.map(|x| x as u32);
    Some(Unit {
        id: id.trim().to_owned(),
        house,
        block: text(&Meaning::Block),
        line: text(&Meaning::Line),
        bench: text(&Meaning::Bench),
        levels,
        plants,
        area_m2,
        row: whole(along),
        position: whole(position),
        guard,
        source: table.source(row),
    })
}

fn is_yes(text: &str) -> bool {
    ["yes", "y", "x", "true", "1", "guard"].contains(&text.trim().to_lowercase().as_str())
}

/// A unit planned with no plants is kept, and has no result per plant.
fn plantless(log: &Log, table: &Table, row: usize, id: &str, book: &mut Book) {
    book.fault(Draft {
        code: "plants-none".into(),
        title: "a unit without plants".into(),
        file: table.name.clone(),
        row: Some(table.grid.number(row)),
        column: log.of(&Meaning::Plants).next().map(|c| c.header.clone()),
        found: format!("0 plants in \"{id}\""),
        expected: "the plants set in the unit, 1 or more".into(),
        mend: "write how many were set (deaths belong in the diary), or mark the unit as a guard; until then it has no result per plant"
            .into(),
        group: id.to_owned(),
        ..Draft::default()
    });
}

/// Without a number of plants no result per plant can be given for the unit.
fn no_plants(log: &Log, table: &Table, row: usize, id: &str, book: &mut Book) -> Option<Unit> {
    let column = log.of(&Meaning::Plants).next().map(|c| c.header.clone());
    book.fault(Draft {
        code: "plants-missing".into(),
        title: "a unit without its number of plants".into(),
        file: table.name.clone(),
        row: Some(table.grid.number(row)),
        column: column.clone(),
        found: format!("no readable number of plants for \"{id}\""),
        expected: "a whole number of plants set in the unit".into(),
        mend: if column.is_some() { "write it into the plan" } else { "add a column with is = \"plants\" to the plan" }.into(),
        fatal: true,
        ..Draft::default()
    });
    book.row_aside(
        table.source(row),
        column.as_deref(),
        Why { code: "plants-missing", found: id, why: "the plan does not say how many plants the unit has".into() },
    );
    None
}

/// The unit's level of every factor, in the words of the season.
fn levels(season: &Season, plan: &Plan, table: &Table, row: usize, guard: bool, book: &mut Book) -> Option<BTreeMap<String, String>> {
    let mut levels = BTreeMap::new();
    for (i, column) in plan.log.columns.iter().enumerate() {
        let Meaning::Factor(factor) = &column.meaning else { continue };
        let written = table.cell(row, i).text;
        if is_missing(written, codes(&plan.log, column)) {
            if guard {
                continue;
            }
            unknown_level(season, factor, table, row, column, "", book);
            return None;
        }
        let level = plan.levels.get(factor).and_then(|words| words.get(written)).map_or(written, String::as_str);
        let declared = season.factors.iter().find(|f| f.name == *factor);
        if declared.is_some_and(|f| !f.levels.is_empty() && !f.levels.iter().any(|l| l == level)) {
            if guard {
                continue;
            }
            unknown_level(season, factor, table, row, column, written, book);
            return None;
        }
        levels.insert(factor.clone(), level.to_owned());
    }
    Some(levels)
}

fn unknown_level(season: &Season, factor: &str, table: &Table, row: usize, column: &Column, written: &str, book: &mut Book) {
    let known: Vec<&str> = season.factors.iter().filter(|f| f.name == factor).flat_map(|f| f.levels.iter().map(String::as_str)).collect();
    let mend = nearest(written, known.iter().copied()).filter(|_| !written.is_empty()).map_or_else(
        || format!("correct the cell, or say in [plan.levels.{factor}] which level it means"),
        |n| format!("did you mean \"{n}\"? If so, write it in [plan.levels.{factor}]"),
    );
    book.fault(Draft {
        code: "level-unknown".into(),
        title: format!("not a level of {factor}"),
        file: table.name.clone(),
        row: Some(table.grid.number(row)),
        column: Some(column.header.clone()),
        found: if written.is_empty() { "a blank cell".into() } else { written.to_owned() },
        expected: known.join(", "),
        mend,
        group: written.to_owned(),
        fatal: true,
    });
    book.row_aside(
        table.source(row),
        Some(&column.header),
        Why { code: "level-unknown", found: written, why: format!("the season has no level \"{written}\" of {factor}") },
    );
}

fn no_units(site: &SiteDeclaration, plan: &Plan, book: &mut Book) {
    book.fault(Draft {
        code: "plan-empty".into(),
        title: "the plan has no unit that can be used".into(),
        file: site.file.clone(),
        row: Some(plan.log.line),
        column: Some("plan".into()),
        found: "no usable row".into(),
        expected: "one row a unit".into(),
        mend: "see the other faults of the plan's file".into(),
        fatal: true,
        ..Draft::default()
    });
}

fn dangling(site: &SiteDeclaration, alias: &str, unit: &str, book: &mut Book) {
    book.fault(Draft {
        code: "alias-dangles".into(),
        title: "an alias of a unit that the plan does not have".into(),
        file: site.file.clone(),
        column: Some(format!("unit_ids.also.\"{alias}\"")),
        found: unit.to_owned(),
        expected: "a unit of the plan".into(),
        mend: "correct the alias".into(),
        group: alias.to_owned(),
        ..Draft::default()
    });
}
