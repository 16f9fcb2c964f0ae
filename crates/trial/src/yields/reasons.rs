//! Why a result of a site cannot be given, and what would mend it.
use super::counts::{ENOUGH, Fruit};
use super::{Grown, season};
use crate::responses::key;
use crate::tables::NotGiven;
use crosshouse_logs::tables::Event;

pub(super) fn collect(grown: &Grown<'_>, not_given: &mut Vec<NotGiven>) {
    let tell = Tell { grown };
    not_given.extend(
        [
            tell.masses(),
            tell.counts(),
            tell.grades(),
            tell.areas(),
            tell.dates(),
            tell.ended(),
            tell.unlisted(),
            tell.unvisited(),
            tell.deaths(),
            tell.no_diary(),
        ]
        .into_iter()
        .flatten(),
    );
}

struct Tell<'a> {
    grown: &'a Grown<'a>,
}

impl Tell<'_> {
    fn reason(&self, what: &str, why: String, mend: &str) -> Option<NotGiven> {
        Some(NotGiven { site: self.grown.tables.site.id.clone(), what: what.to_owned(), why, mend: mend.to_owned() })
    }

    fn name(&self) -> &str {
        &self.grown.tables.site.name
    }

    fn masses(&self) -> Option<NotGiven> {
        if self.grown.logs_mass {
            return None;
        }
        let why = format!("no yield at {}: its harvest log holds no mass", self.name());
        self.reason(key::MARKETABLE_PER_PLANT, why, "declare the mass column and its unit, or log masses")
    }

    fn counts(&self) -> Option<NotGiven> {
        if !self.grown.logs_count {
            let why = format!("no fruit count and no mean fruit mass at {}: its harvest log holds no counts", self.name());
            return self.reason(key::FRUIT_PER_PLANT, why, "declare the count column, or log counts");
        }
        let short = self.units_where(|index| Fruit::of(Grown::days_of(&self.grown.all, index)).is_none())?;
        let why = format!(
            "no fruit count for {short} at {}: picks that hold more than {:.0} % of the mass were not counted whole",
            self.name(),
            100.0 * (1.0 - ENOUGH)
        );
        self.reason(key::FRUIT_PER_PLANT, why, "complete the counts")
    }

    fn grades(&self) -> Option<NotGiven> {
        if self.grown.logs_grades || !self.grown.logs_mass {
            return None;
        }
        let why = format!("no cull share at {}: its harvest log tells no grades, so all of it counts as marketable", self.name());
        self.reason(key::CULL_SHARE, why, "declare the grade column and which grades are culls")
    }

    fn areas(&self) -> Option<NotGiven> {
        let site = &self.grown.tables.site;
        let unbased: Vec<&str> = site.houses.iter().filter(|h| h.area_basis.is_none()).map(|h| h.id.as_str()).collect();
        if !unbased.is_empty() {
            let why = format!("no yield per m² at {}: no area basis is stated for {}", self.name(), unbased.join(", "));
            return self.reason(key::MARKETABLE_PER_M2, why, "state area_basis of the house: which floor counts");
        }
        let bare = self.units_where(|index| self.grown.tables.units.get(index).is_some_and(|u| season::area(self.grown, u).is_none()))?;
        let why = format!("no yield per m² at {}: the plan states no area for {bare}", self.name());
        self.reason(key::MARKETABLE_PER_M2, why, "add an area column to the plan")
    }

    fn dates(&self) -> Option<NotGiven> {
        if self.grown.tables.site.transplanted.is_some() {
            return None;
        }
        let why = format!("no days to first pick and no plant-days at {}: no transplanting date is stated", self.name());
        self.reason(key::FIRST_PICK, why, "state transplanted in the site file")
    }

    fn ended(&self) -> Option<NotGiven> {
        let site = &self.grown.tables.site;
        if site.ended.is_some() || site.transplanted.is_none() {
            return None;
        }
        self.reason(
            key::PLANT_DAYS,
            format!("no plant-days at {}: its last day is not stated", self.name()),
            "state ended in the site file",
        )
    }

    fn unlisted(&self) -> Option<NotGiven> {
        let unknown = self.grown.states.unknown();
        if unknown == 0 {
            return None;
        }
        let why = format!("at {}, {unknown} unit days are unknown: nobody says what a unit without a row on a pick day means", self.name());
        self.reason("pick-states", why, "declare unlisted = \"zero\" or \"missed\" for the harvest log")
    }

    fn unvisited(&self) -> Option<NotGiven> {
        let units = self.units_where(|index| self.grown.logs_mass && !self.grown.states.told(index))?;
        let why = format!("no yield for {units} at {}: no pick of it is known, which is no zero", self.name());
        self.reason(key::MARKETABLE_PER_PLANT, why, "look for the missing sheets, or declare what an unlisted unit means")
    }

    fn deaths(&self) -> Option<NotGiven> {
        let unplaced = self.grown.tables.diary.iter().filter(|e| e.event == Event::PlantDeath && e.unit.is_none()).count();
        if unplaced == 0 {
            return None;
        }
        let why = format!(
            "at {}, {unplaced} diary entries of plant deaths name no unit: they count in no unit's plant-days, and no plants lost can be told there",
            self.name()
        );
        self.reason(key::PLANT_DAYS, why, "name the unit in the diary")
    }

    fn no_diary(&self) -> Option<NotGiven> {
        if !self.grown.tables.diary.is_empty() {
            return None;
        }
        let why = format!("no plants lost at {}: there is no diary entry, and nobody says whether plants died", self.name());
        self.reason(key::PLANTS_LOST, why, "declare the diary, with its deaths or with a note that there were none")
    }

    /// Units that `lacks` holds for, listed; `None` for none.
    fn units_where(&self, lacks: impl Fn(usize) -> bool) -> Option<String> {
        let names: Vec<&str> = self.grown.units().filter(|(index, _)| lacks(*index)).map(|(_, unit)| unit.id.as_str()).collect();
        match names.len() {
            0 => None,
            n @ 7.. => Some(format!("{n} units ({}, …)", names.get(..3).unwrap_or_default().join(", "))),
            _ => Some(names.join(", ")),
        }
    }
}
