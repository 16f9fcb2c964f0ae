//! The diary: what happened, when, and to what.
use super::days::{Days, told_short_years};
use super::numbers::Numbers;
use super::places::{House, UnitColumns};
use super::plan::PlanTable;
use super::season::Reading;
use crate::account::{Book, Draft, Why};
use crate::cells::is_missing;
use crate::declare::{DiaryLog, Log, Meaning, SiteDeclaration, event};
use crate::flags::limits;
use crate::shape::{Table, codes};
use crate::source::Found;
use crate::tables::{DiaryEntry, Event};
use crosshouse_readings::declared::nearest;
use crosshouse_readings::units::Quantity;
use jiff::civil::Date;

pub(super) fn read(site: &SiteDeclaration, files: &[Vec<Found>], plan: &PlanTable, reading: &mut Reading<'_>) -> Vec<DiaryEntry> {
    let mut entries = Vec::new();
    for (diary, found) in site.diary.iter().zip(files) {
        for file in found {
            for table in reading.open(&diary.log, file) {
                read_table(site, diary, &table, plan, &mut entries, &mut reading.book);
            }
        }
    }
    entries.sort_by_key(|e: &DiaryEntry| (e.day, e.source.file, e.source.row));
    entries
}

fn text<'t>(log: &Log, table: &'t Table, row: usize, meaning: &Meaning) -> Option<&'t str> {
    let index = table.index(log, meaning)?;
    let text = table.cell(row, index).text;
    (!is_missing(text, codes(log, log.columns.get(index)?))).then_some(text)
}

fn read_table(site: &SiteDeclaration, diary: &DiaryLog, table: &Table, plan: &PlanTable, entries: &mut Vec<DiaryEntry>, book: &mut Book) {
    let log = &diary.log;
    let Some(days) = Days::of(log, table, book).map(|d| d.in_season(site)) else { return };
    let plants = Numbers::of(log, table, &Meaning::Plants, Quantity::Count, &limits::PLANTS, book);
    let units = UnitColumns::of(log, table, &site.unit_ids);
    let mut short = 0;
    for row in table.rows.iter().copied() {
        let Some(stamp) = days.read(log, table, row, book) else { continue };
        short += u64::from(stamp.short_year);
        let Some(event) = event_of(diary, table, row, book) else { continue };
        let named = units.as_ref().filter(|u| u.written(log, table, row).is_some());
        let unit = match named {
            Some(columns) => match columns.unit(log, table, row, plan, book) {
                Some(unit) => Some(unit),
                None => continue,
            },
            None => None,
        };
        let Some(house) = house_of(site, log, table, row, book) else { continue };
        let until = until_of(log, table, row, &days, stamp.date, book).unwrap_or(stamp.date);
        let plants = plants.as_ref().and_then(|p| p.read(log, table, row, book)).map(|p| p as u32);
        entries.push(DiaryEntry {
            day: stamp.date,
            until,
            event,
            unit,
            house: house.or_else(|| unit.and_then(|u| plan.units.get(u)).map(|u| u.house.clone())),
            plants: dead_plants(event, plants, unit, table, row, plan, book),
            note: text(log, table, row, &Meaning::Note).unwrap_or("").to_owned(),
            source: table.source(row),
        });
    }
    told_short_years(log, table, days.column, short, book);
}

/// A death of a unit that does not say how many plants is of one, and told.
fn dead_plants(
    event: Event,
    plants: Option<u32>,
    unit: Option<usize>,
    table: &Table,
    row: usize,
    plan: &PlanTable,
    book: &mut Book,
) -> Option<u32> {
    if event != Event::PlantDeath || plants.is_some() || unit.is_none() {
        return plants;
    }
    if unit.and_then(|u| plan.units.get(u)).is_none_or(|u| u.plants != 1) {
        book.infer(&table.name, format!("plants that died in row {}", table.grid.number(row)), "1", "the entry names no number");
    }
    Some(1)
}

/// `None`: the row was set aside; `Some(None)`: the row names no house.
fn house_of(site: &SiteDeclaration, log: &Log, table: &Table, row: usize, book: &mut Book) -> Option<Option<String>> {
    if text(log, table, row, &Meaning::House).is_none() {
        return Some(None);
    }
    House::of(None, log, Some(table), site)?.read(log, table, row, site, book).map(Some)
}

/// The last day of an entry. One that is no date, or lies before the first or far outside the season,
/// is set aside: the entry is then of one day.
fn until_of(log: &Log, table: &Table, row: usize, days: &Days, from: Date, book: &mut Book) -> Option<Date> {
    let index = table.index(log, &Meaning::Until)?;
    text(log, table, row, &Meaning::Until)?;
    let cell = table.cell(row, index);
    let (code, title, expected) = match days.dating.read(cell).map(|s| s.date) {
        Ok(day) if day < from => ("until-before-start", "an end before its beginning", format!("{from} or a later day")),
        Ok(day) => match days.outside(day) {
            None => return Some(day),
            Some(how) => ("date-outside-season", "a day far outside the season", format!("a day of the season: this one lies {how}")),
        },
        Err(_) => ("date-unreadable", "not a date", format!("a date such as {}", days.dating.style.example())),
    };
    let header = log.columns.get(index).map_or("", |c| c.header.as_str());
    let why = format!("{title}: expected {expected}; the entry is read as of one day");
    book.cell_aside(table.source(row), header, Why { code, found: cell.text, why });
    book.fault(Draft {
        code: code.into(),
        title: title.into(),
        file: table.name.clone(),
        row: Some(table.grid.number(row)),
        column: Some(header.to_owned()),
        found: cell.text.to_owned(),
        expected,
        mend: "correct the cell; until then the entry is read as of one day".into(),
        ..Draft::default()
    });
    None
}

/// The event of a row, by the site's words or our own; without an event column every row is a note.
fn event_of(diary: &DiaryLog, table: &Table, row: usize, book: &mut Book) -> Option<Event> {
    let Some(index) = table.index(&diary.log, &Meaning::Event) else { return Some(Event::Note) };
    let Some(written) = text(&diary.log, table, row, &Meaning::Event) else { return Some(Event::Note) };
    if let Some(known) = diary.events.get(written).copied().or_else(|| event(written)) {
        return Some(known);
    }
    let header = diary.log.columns.get(index).map_or("", |c| c.header.as_str());
    let near =
        nearest(written, diary.events.keys().map(String::as_str)).map_or_else(String::new, |n| format!("did you mean \"{n}\"? If not, "));
    book.fault(Draft {
        code: "event-undeclared".into(),
        title: "a diary word that the site file does not explain".into(),
        file: table.name.clone(),
        row: Some(table.grid.number(row)),
        column: Some(header.to_owned()),
        found: written.to_owned(),
        expected: diary.events.keys().map(|k| format!("\"{k}\"")).collect::<Vec<_>>().join(", "),
        mend: format!(
            "{near}say in [diary.events] whether it is plant-death, missed-irrigation, missed-pick, lost-pick, sensor-change or note"
        ),
        group: written.to_owned(),
        ..Draft::default()
    });
    book.row_aside(
        table.source(row),
        Some(header),
        Why { code: "event-undeclared", found: written, why: "the site file does not say what this diary word means".into() },
    );
    None
}
