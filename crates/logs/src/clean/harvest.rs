//! Harvest logs: one pick a kept row, masses in kg, counts in fruit.
use super::days::{Days, told_short_years};
use super::duplicates::same_day;
use super::numbers::{Numbers, nothing_left};
use super::places::UnitColumns;
use super::plan::PlanTable;
use super::season::Reading;
use super::undated::Undated;
use crate::account::{Book, Draft, Why};
use crate::cells::{Values, is_missing};
use crate::declare::{HarvestLog, Log, Meaning, SiteDeclaration};
use crate::flags::limits;
use crate::shape::{Table, codes};
use crate::source::Found;
use crate::tables::{GradeKind, Measure, Pick, UnreadPick};
use crosshouse_readings::declared::nearest;
use crosshouse_readings::units::{self, Quantity};

/// The picks of a site.
#[derive(Debug, Default)]
pub(super) struct Harvest {
    pub picks: Vec<Pick>,
    pub unread: Vec<UnreadPick>,
    pub measures: Vec<Measure>,
}

/// A pick with the words of its whole row, for telling copies apart from second picks.
pub(super) struct Row {
    pub pick: Pick,
    pub written: String,
    /// Place of its log among the site's harvest logs.
    pub log: usize,
}

pub(super) fn read(site: &SiteDeclaration, files: &[Vec<Found>], plan: &PlanTable, reading: &mut Reading<'_>) -> Harvest {
    let mut harvest = Harvest { measures: measures(site), ..Harvest::default() };
    let mut rows = Vec::new();
    for (index, (log, found)) in site.harvest.iter().zip(files).enumerate() {
        for file in found {
            for table in reading.open(&log.log, file) {
                read_table(site, (index, log), &table, plan, &mut harvest, &mut rows, &mut reading.book);
            }
        }
    }
    harvest.picks = same_day(&site.harvest, rows, &mut harvest.unread, &mut reading.book);
    harvest.picks.sort_by_key(|p| (p.day, p.source.file, p.source.row));
    harvest
}

/// Free measures of all harvest logs, each name once.
fn measures(site: &SiteDeclaration) -> Vec<Measure> {
    let mut list: Vec<Measure> = Vec::new();
    for column in site.harvest.iter().flat_map(|h| &h.log.columns) {
        if let Meaning::Measure { name, combine } = &column.meaning
            && !list.iter().any(|m| m.name == *name)
        {
            list.push(Measure { name: name.clone(), unit: column.unit.clone().unwrap_or_default(), combine: *combine });
        }
    }
    list
}

/// The number columns of one table.
struct Columns {
    masses: Vec<Numbers>,
    count: Option<Numbers>,
    /// By place in the site's list of measures.
    measures: Vec<(usize, Numbers)>,
    grade: Option<usize>,
}

impl Columns {
    fn of(log: &Log, table: &Table, measures: &[Measure], book: &mut Book) -> Self {
        let of_mass: Vec<usize> =
            (0..log.columns.len()).filter(|i| log.columns.get(*i).is_some_and(|c| c.meaning == Meaning::Mass) && table.has(*i)).collect();
        let masses: Vec<Numbers> =
            of_mass.iter().filter_map(|i| Numbers::at(log, table, *i, Quantity::Mass, &limits::MASS, book)).collect();
        // Half of a mass is no mass: if one of its columns cannot be read, none is.
        let whole = masses.len() == of_mass.len();
        let measured = log.columns.iter().enumerate().filter(|(i, _)| table.has(*i)).filter_map(|(i, c)| match &c.meaning {
            Meaning::Measure { name, .. } => {
                let place = measures.iter().position(|m| m.name == *name)?;
                Some((place, Numbers { column: i, values: Values::plain(table.style), limits: &limits::MEASURE }))
            }
            _ => None,
        });
        let measures: Vec<(usize, Numbers)> = measured.collect();
        measures.iter().for_each(|(_, numbers)| numbers.below_told(log, table, book));
        Columns {
            masses: if whole { masses } else { Vec::new() },
            count: Numbers::of(log, table, &Meaning::Count, Quantity::Count, &limits::COUNT, book),
            measures,
            grade: table.index(log, &Meaning::Grade),
        }
    }

    fn imperial(&self) -> bool {
        self.masses.iter().all(|m| matches!(m.values.ucum(), Some("[lb_av]" | "[oz_av]")))
    }

    /// The sum of the mass cells; `None` where none is written or one cannot be read.
    fn mass(&self, log: &Log, table: &Table, row: usize, book: &mut Book) -> Option<f64> {
        let mut parts = Vec::new();
        for number in &self.masses {
            let missing = log.columns.get(number.column).map(|c| codes(log, c)).unwrap_or_default();
            if !is_missing(table.cell(row, number.column).text, missing) {
                parts.push(number.read(log, table, row, book));
            }
        }
        let parts: Option<Vec<f64>> = parts.into_iter().collect();
        match parts?.as_slice() {
            [] => None,
            [only] => Some(*only),
            several if self.imperial() => Some(sum_of_ounces(several)),
            several => Some(several.iter().sum()),
        }
    }
}

/// Pounds and ounces are added as ounces, so that 2 lb and 3 oz are 35 oz to the last digit.
fn sum_of_ounces(parts: &[f64]) -> f64 {
    let Ok(ounce) = units::find("oz", Quantity::Mass) else { return parts.iter().sum() };
    let ounces: f64 = parts.iter().map(|kg| (ounce.from_canonical(*kg) * 1e9).round() / 1e9).sum();
    ounce.to_canonical(ounces)
}

fn read_table(
    site: &SiteDeclaration,
    (index, log): (usize, &HarvestLog),
    table: &Table,
    plan: &PlanTable,
    harvest: &mut Harvest,
    rows: &mut Vec<Row>,
    book: &mut Book,
) {
    let Some(days) = Days::of(&log.log, table, book).map(|d| d.in_zone(&site.time_zone).in_season(site)) else { return };
    let Some(units) = UnitColumns::of(&log.log, table, &site.unit_ids) else { return };
    let columns = Columns::of(&log.log, table, &harvest.measures, book);
    let mut short = 0;
    let mut undated = Undated::default();
    for row in table.rows.iter().copied() {
        let Some(stamp) = days.read(&log.log, table, row, book) else {
            undated.undated(&log.log, table, row, &units, plan);
            continue;
        };
        short += u64::from(stamp.short_year);
        let unit = units.unit(&log.log, table, row, plan, book);
        undated.dated(row, stamp.date, unit);
        let Some(unit) = unit else { continue };
        let source = table.source(row);
        match pick(log, table, row, &columns, harvest.measures.len(), book) {
            Ok((grade, kind, values)) => rows.push(Row {
                pick: Pick {
                    unit,
                    day: stamp.date,
                    grade,
                    kind,
                    mass: values.mass,
                    count: values.count,
                    measures: values.measures,
                    source,
                    flags: Vec::new(),
                },
                written: table.written(row),
                log: index,
            }),
            Err(code) => harvest.unread.push(UnreadPick { unit, day: stamp.date, code: code.to_owned(), source }),
        }
    }
    harvest.unread.extend(undated.picks(table, book));
    told_short_years(&log.log, table, days.column, short, book);
}

struct Read {
    mass: Option<f64>,
    count: Option<f64>,
    measures: Vec<Option<f64>>,
}

type Graded = (Option<String>, GradeKind, Read);

/// Grade and values of a row; the code of why it was set aside where nothing can be used.
fn pick(log: &HarvestLog, table: &Table, row: usize, columns: &Columns, measures: usize, book: &mut Book) -> Result<Graded, &'static str> {
    let (grade, kind) = grade(log, table, row, columns, book)?;
    let mut read = Read { mass: columns.mass(&log.log, table, row, book), count: None, measures: vec![None; measures] };
    read.count = columns.count.as_ref().and_then(|c| c.read(&log.log, table, row, book)).map(f64::round);
    for (place, number) in &columns.measures {
        if let Some(slot) = read.measures.get_mut(*place) {
            *slot = number.read(&log.log, table, row, book);
        }
    }
    if read.mass.is_some() || read.count.is_some() || read.measures.iter().any(Option::is_some) {
        return Ok((grade, kind, read));
    }
    Err(nothing_left(table, row, book))
}

fn grade(
    log: &HarvestLog,
    table: &Table,
    row: usize,
    columns: &Columns,
    book: &mut Book,
) -> Result<(Option<String>, GradeKind), &'static str> {
    let Some(index) = columns.grade else { return Ok((None, GradeKind::Marketable)) };
    let written = table.cell(row, index).text;
    let column = log.log.columns.get(index);
    if let Some(kind) = log.grades.get(written) {
        return Ok((Some(written.to_owned()), *kind));
    }
    let header = column.map_or("", |c| c.header.as_str());
    if is_missing(written, column.map(|c| codes(&log.log, c)).unwrap_or_default()) {
        book.row_aside(
            table.source(row),
            Some(header),
            Why {
                code: "grade-missing",
                found: written,
                why: "the row has no grade: whether its fruit is marketable cannot be told".into(),
            },
        );
        return Err("grade-missing");
    }
    let near =
        nearest(written, log.grades.keys().map(String::as_str)).map_or_else(String::new, |n| format!("did you mean \"{n}\"? If not, "));
    book.fault(Draft {
        code: "grade-undeclared".into(),
        title: "a grade that the site file does not explain".into(),
        file: table.name.clone(),
        row: Some(table.grid.number(row)),
        column: Some(header.to_owned()),
        found: written.to_owned(),
        expected: log.grades.keys().map(|k| format!("\"{k}\"")).collect::<Vec<_>>().join(", "),
        mend: format!("{near}say in [harvest.grades] whether \"{written}\" is marketable or cull"),
        group: written.to_owned(),
        ..Draft::default()
    });
    book.row_aside(
        table.source(row),
        Some(header),
        Why {
            code: "grade-undeclared",
            found: written,
            why: format!("the site file does not say whether grade \"{written}\" is marketable or cull"),
        },
    );
    Err("grade-undeclared")
}
