//! Picks whose unit is known and whose day is not. Their unit was picked on some day, so that on that
//! day it is not among those with nothing ready.
use super::places::UnitColumns;
use super::plan::PlanTable;
use crate::account::Book;
use crate::declare::Log;
use crate::shape::Table;
use crate::tables::UnreadPick;
use jiff::civil::Date;
use std::collections::BTreeSet;

/// Rows of one table in file order: those with a day, and those without.
#[derive(Default)]
pub(super) struct Undated {
    dated: Vec<(usize, Date, Option<usize>)>,
    undated: Vec<(usize, usize)>,
}

impl Undated {
    pub fn dated(&mut self, row: usize, day: Date, unit: Option<usize>) {
        self.dated.push((row, day, unit));
    }

    pub fn undated(&mut self, log: &Log, table: &Table, row: usize, units: &UnitColumns, plan: &PlanTable) {
        self.undated.extend(units.known(log, table, row, plan).map(|unit| (row, unit)));
    }

    /// The picks whose day shows itself; each is told.
    pub fn picks(self, table: &Table, book: &mut Book) -> Vec<UnreadPick> {
        let mut picks = Vec::new();
        for (row, unit) in &self.undated {
            let Some((day, because)) = self.day_of(*row, *unit) else { continue };
            let what = format!("day of the pick in row {}", table.grid.number(*row));
            book.infer(&table.name, what, format!("{day}: the unit's pick of that day is lost, not zero"), because);
            picks.push(UnreadPick { unit: *unit, day, code: "date-unreadable".to_owned(), source: table.source(*row) });
        }
        picks
    }

    /// The day of the rows on both sides, or the only day on which the unit has no row.
    fn day_of(&self, row: usize, unit: usize) -> Option<(Date, &'static str)> {
        let own: BTreeSet<Date> = self.dated.iter().filter(|(_, _, u)| *u == Some(unit)).map(|(_, day, _)| *day).collect();
        let next = self.dated.partition_point(|(r, _, _)| *r < row);
        let before = next.checked_sub(1).and_then(|i| self.dated.get(i)).map(|(_, day, _)| *day);
        let after = self.dated.get(next).map(|(_, day, _)| *day);
        if let Some(day) = before.filter(|day| after == Some(*day) && !own.contains(day)) {
            return Some((day, "the rows before and after it are of that day"));
        }
        let days: BTreeSet<Date> = self.dated.iter().map(|(_, day, _)| *day).collect();
        let mut lacking = days.difference(&own);
        let only = lacking.next().filter(|_| lacking.next().is_none())?;
        Some((*only, "it is the only pick day on which the unit has no row"))
    }
}
