//! Yields of a site's units: season, weeks, cumulative curves, and the state of every pick day.
mod counts;
mod cumulative;
mod measures;
mod picks;
mod plants;
mod reasons;
mod season;
mod states;
mod weeks;

pub(crate) use measures::units as measure_units;

use crate::Settings;
use crate::calendar::days;
use crate::tables::{NotGiven, SiteTrial, UnitDay};
use crosshouse_logs::tables::{SiteTables, Unit};
use jiff::civil::Date;
use picks::PickDay;
use states::States;

/// A site with what its units' seasons rest on.
pub(crate) struct Grown<'a> {
    pub tables: &'a SiteTables,
    pub settings: &'a Settings,
    /// First day on which any unit bore fruit, not before transplanting.
    pub first_pick: Option<Date>,
    /// Days from transplanting to the end, where both are stated.
    pub season_days: Option<i32>,
    pub logs_mass: bool,
    pub logs_count: bool,
    pub logs_grades: bool,
    /// Sums by unit and day, of all rows and of rows without a flag.
    all: Vec<PickDay>,
    unflagged: Vec<PickDay>,
    states: States,
}

impl<'a> Grown<'a> {
    /// # Errors
    /// The table engine's own error; the query does not depend on the input.
    pub fn new(tables: &'a SiteTables, settings: &'a Settings) -> Result<Self, polars::error::PolarsError> {
        let all = picks::by_day(&tables.picks, true)?;
        let unflagged = picks::by_day(&tables.picks, false)?;
        let logs_mass = tables.picks.iter().any(|p| p.mass.is_some());
        let site = &tables.site;
        Ok(Grown {
            tables,
            settings,
            first_pick: first_pick(tables, &all),
            season_days: site.transplanted.zip(site.ended).map(|(from, to)| days(from, to)).filter(|d| *d > 0),
            logs_mass,
            logs_count: tables.picks.iter().any(|p| p.count.is_some()),
            logs_grades: tables.picks.iter().any(|p| p.grade.is_some() || p.kind == crosshouse_logs::tables::GradeKind::Cull),
            states: States::new(tables, &all, logs_mass),
            all,
            unflagged,
        })
    }

    /// Units that are analysed, with their index in the plan: guards are left out.
    pub fn units(&self) -> impl Iterator<Item = (usize, &'a Unit)> + use<'a> {
        self.tables.units.iter().enumerate().filter(|(_, unit)| !unit.guard)
    }

    fn days_of(days: &[PickDay], unit: usize) -> &[PickDay] {
        let from = days.partition_point(|d| d.unit < unit);
        let to = days.partition_point(|d| d.unit <= unit);
        days.get(from..to).unwrap_or_default()
    }

    /// Day that trial weeks and curves count from.
    fn start(&self) -> Option<Date> {
        self.tables.site.transplanted.or(self.first_pick)
    }

    /// The site's table without houses, zones and water, and what could not be given.
    pub fn site_trial(&self, not_given: &mut Vec<NotGiven>) -> SiteTrial {
        let site = &self.tables.site;
        reasons::collect(self, not_given);
        SiteTrial {
            site: site.id.clone(),
            name: site.name.clone(),
            transplanted: site.transplanted,
            ended: site.ended,
            first_pick: self.first_pick,
            last_pick: self.all.iter().filter(|d| d.bears()).map(|d| d.day).max(),
            pick_days: site.pick_days.len() as u32,
            units: self.units().map(|(index, unit)| season::unit_season(self, index, unit)).collect(),
            weeks: weeks::unit_weeks(self),
            states: self.unit_days(),
            cumulative: cumulative::points(self),
            houses: Vec::new(),
            zones: Vec::new(),
            water: Vec::new(),
        }
    }

    fn unit_days(&self) -> Vec<UnitDay> {
        let of_unit = |(index, unit): (usize, &Unit)| {
            self.states.of(index).map(|(day, state)| UnitDay { unit: unit.id.clone(), day, state }).collect::<Vec<_>>()
        };
        self.units().flat_map(of_unit).collect()
    }
}

/// First day with fruit on a row that carries no flag and lies within the season; if there is none, the first with fruit.
fn first_pick(tables: &SiteTables, days: &[PickDay]) -> Option<Date> {
    let within = |day: Date| tables.site.transplanted.is_none_or(|from| day >= from) && tables.site.ended.is_none_or(|to| day <= to);
    let bearing = || days.iter().filter(|d| d.bears());
    bearing().filter(|d| within(d.day)).map(|d| d.day).min().or_else(|| bearing().map(|d| d.day).min())
}

#[cfg(test)]
mod tests;
