//! A body whose kind and columns are known.
use crate::assign::{Assigned, Choice};
use crate::body::{Body, Spot};
use crate::columns::Column;
use crate::dates::Reader;
use crate::measured::{named_unit, quantity};
use crate::numbers::{self, Decimal};
use crate::ranges;
use crosshouse_logs::raw::RawCell;
use crosshouse_readings::quantity::NumberStyle;
use jiff::civil::Date;

pub(crate) struct Log {
    pub body: Body,
    pub columns: Vec<Column>,
    pub assigned: Assigned,
    pub decimal: Decimal,
    /// Why the decimal mark is sure although every mark might part thousands.
    pub decimal_by_size: Option<String>,
}

impl Log {
    pub fn new(body: Body, columns: Vec<Column>, assigned: Assigned) -> Self {
        let mut measured: Vec<usize> = pairs(&columns, &assigned).filter(|(_, c)| quantity(c.is).is_some()).map(|(c, _)| c.index).collect();
        measured.extend(body.heads());
        let decimal = numbers::judge(&body, &measured);
        let mut log = Log { body, columns, assigned, decimal, decimal_by_size: None };
        if let Decimal::Either { point, comma, .. } = &log.decimal
            && let Some((style, because)) = log.by_size(*point, *comma)
        {
            log.decimal = Decimal::Only { style, fits: 0, of: 0, example: String::new() };
            log.decimal_by_size = Some(because);
        }
        log
    }

    pub fn style(&self) -> NumberStyle {
        self.decimal.first()
    }

    pub fn column(&self, is: &str) -> Option<&Column> {
        self.assigned.column(&self.columns, is)
    }

    pub fn choice(&self, column: usize) -> Option<Choice> {
        self.assigned.choices.get(column).copied().flatten()
    }

    /// Columns that have a meaning, with it.
    pub fn chosen(&self) -> impl Iterator<Item = (&Column, Choice)> {
        pairs(&self.columns, &self.assigned)
    }

    /// The column that holds the day.
    pub fn day_column(&self) -> Option<&Column> {
        self.column("date-time").or_else(|| self.column("date"))
    }

    pub fn days(&self) -> Option<Reader> {
        self.day_column()?.day.as_ref()?.reader()
    }

    /// All days of the log, sorted; of several possible styles, by the first.
    pub fn sorted_days(&self) -> Vec<Date> {
        let (Some(column), Some(days)) = (self.day_column(), self.days()) else { return Vec::new() };
        let mut list: Vec<Date> = self.body.filled(column.index).filter_map(|s| days.read(s.cell)).map(|d| d.day).collect();
        list.sort_unstable();
        list.dedup();
        list
    }

    /// Data rows: their part, their number, and their cells by column index.
    pub fn rows(&self) -> impl Iterator<Item = Row<'_>> {
        self.body.parts.iter().enumerate().flat_map(move |(part, p)| p.frame.rows.iter().map(move |at| Row { log: self, part, at: *at }))
    }

    /// Which of two marks leaves possible sizes, by the columns whose unit is written.
    fn by_size(&self, point: NumberStyle, comma: NumberStyle) -> Option<(NumberStyle, String)> {
        for (column, choice) in self.chosen() {
            let Some(unit) = quantity(choice.is).and_then(|q| named_unit(column, q)).and_then(|u| u.known()) else { continue };
            let middle = |style| numbers::quantile(&numbers::sorted(&self.body, column.index, style), 0.5);
            let (a, b) = (middle(point), middle(comma));
            let fits = |x| ranges::possible(choice.is, unit, x);
            let (style, right, wrong) = match (fits(a), fits(b)) {
                (true, false) => (point, a, b),
                (false, true) => (comma, b, a),
                _ => continue,
            };
            let because = format!(
                "the middle value of \"{}\" is then {} {unit}; by the other mark it would be {} {unit}",
                column.header,
                ranges::shown(right),
                ranges::shown(wrong)
            );
            return Some((style, because));
        }
        None
    }
}

/// A data row.
pub(crate) struct Row<'l> {
    log: &'l Log,
    part: usize,
    at: usize,
}

impl<'l> Row<'l> {
    pub fn cell(&self, column: &Column) -> RawCell<'l> {
        self.log
            .body
            .parts
            .get(self.part)
            .map_or(RawCell { text: "", is: crosshouse_logs::raw::RawKind::Text }, |p| p.sheet.cell(self.at, column.index))
    }

    pub fn spot(&self, column: &Column) -> Spot<'l> {
        let row = self.log.body.parts.get(self.part).map_or(0, |p| p.sheet.number(self.at));
        Spot { part: self.part, row, cell: self.cell(column) }
    }

    /// `row 12`, with the file where there are several.
    pub fn place(&self) -> String {
        let row = self.log.body.parts.get(self.part).map_or(0, |p| p.sheet.number(self.at));
        self.log.body.place(&Spot { part: self.part, row, cell: RawCell { text: "", is: crosshouse_logs::raw::RawKind::Text } })
    }
}

fn pairs<'a>(columns: &'a [Column], assigned: &'a Assigned) -> impl Iterator<Item = (&'a Column, Choice)> {
    columns.iter().zip(&assigned.choices).filter_map(|(c, choice)| choice.map(|ch| (c, ch)))
}
