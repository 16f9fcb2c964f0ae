//! The state of each unit on each pick day. A missing pick is not a zero pick.
use super::picks::PickDay;
use super::plants::Plants;
use crate::tables::PickState;
use crosshouse_logs::tables::{DiaryEntry, Event, SiteTables, Unit, Unlisted};
use jiff::civil::Date;
use std::collections::{BTreeMap, BTreeSet};

/// States by unit (index of the plan) and day.
pub(super) struct States {
    by_unit: Vec<BTreeMap<Date, PickState>>,
    /// Units that the harvest log never names at all, and that no rule says were visited.
    told: Vec<bool>,
}

impl States {
    pub fn new(tables: &SiteTables, days: &[PickDay], logs_mass: bool) -> States {
        let by_unit: Vec<_> = (0..tables.units.len()).map(|unit| UnitStates::new(tables, unit, days, logs_mass).states()).collect();
        let known = |s: &PickState| matches!(s, PickState::Picked | PickState::Zero | PickState::Dead);
        let told = by_unit.iter().map(|states| states.values().any(known)).collect();
        States { by_unit, told }
    }

    pub fn of(&self, unit: usize) -> impl Iterator<Item = (Date, PickState)> + '_ {
        self.by_unit.get(unit).into_iter().flatten().map(|(day, state)| (*day, *state))
    }

    /// Whether anything is known of the unit's harvest.
    pub fn told(&self, unit: usize) -> bool {
        self.told.get(unit).copied().unwrap_or(false)
    }

    /// Days within [`from`, `to`) picked, and days whose result is not known: missed, lost or unknown.
    pub fn picked_and_missed(&self, unit: usize, within: impl Fn(Date) -> bool) -> (u32, u32) {
        let mut counts = (0, 0);
        for (_, state) in self.of(unit).filter(|(day, _)| within(*day)) {
            match state {
                PickState::Picked => counts.0 += 1,
                PickState::Missed | PickState::Lost | PickState::Unknown => counts.1 += 1,
                PickState::Zero | PickState::Dead | PickState::NotDue => {}
            }
        }
        counts
    }

    pub fn unknown(&self) -> usize {
        self.by_unit.iter().flat_map(BTreeMap::values).filter(|s| **s == PickState::Unknown).count()
    }

    /// First and last day of any unit.
    pub fn span(&self) -> Option<(Date, Date)> {
        let days = || self.by_unit.iter().flat_map(BTreeMap::keys).copied();
        days().min().zip(days().max())
    }
}

/// What is said of one unit.
struct UnitStates<'a> {
    tables: &'a SiteTables,
    /// Days on which the unit's house was picked.
    pick_days: &'a [Date],
    plants: Plants,
    /// With a row: what the row says.
    rows: BTreeMap<Date, PickState>,
    missed: BTreeSet<Date>,
    lost: BTreeSet<Date>,
    /// A row of the day was set aside with what it said: the other rows are not the whole pick.
    in_part: BTreeSet<Date>,
}

impl<'a> UnitStates<'a> {
    fn new(tables: &'a SiteTables, unit: usize, days: &[PickDay], logs_mass: bool) -> Self {
        let mut of_unit = UnitStates {
            tables,
            pick_days: tables.units.get(unit).map_or(&[], |u| tables.site.pick_days_of(&u.house)),
            plants: Plants::of(tables, unit),
            rows: BTreeMap::new(),
            missed: BTreeSet::new(),
            lost: BTreeSet::new(),
            in_part: BTreeSet::new(),
        };
        let from = days.partition_point(|d| d.unit < unit);
        of_unit.rows = days.iter().skip(from).take_while(|d| d.unit == unit).map(|d| (d.day, row_state(d, logs_mass))).collect();
        let unread = || tables.unread.iter().filter(|u| u.unit == unit);
        of_unit.lost = unread().map(|u| u.day).collect();
        of_unit.in_part = unread().filter(|u| u.code != "nothing-written").map(|u| u.day).collect();
        if let Some(planned) = tables.units.get(unit) {
            of_unit.spells(unit, planned);
        }
        of_unit
    }

    /// Days of missed and lost picks that the diary tells of this unit, its house or the whole site.
    fn spells(&mut self, index: usize, unit: &Unit) {
        let site = &self.tables.site;
        for spell in site.missed_days.iter().filter(|s| s.house.as_ref().is_none_or(|h| *h == unit.house)) {
            self.missed.extend(due_days(self.pick_days, spell.from, spell.to));
        }
        let concerns = |e: &&DiaryEntry| e.unit.map_or(e.house.as_ref().is_none_or(|h| *h == unit.house), |u| u == index);
        for entry in self.tables.diary.iter().filter(concerns) {
            let days = due_days(self.pick_days, entry.day, entry.until);
            match entry.event {
                Event::MissedPick => self.missed.extend(days),
                Event::LostPick => self.lost.extend(days),
                _ => {}
            }
        }
    }

    fn states(&self) -> BTreeMap<Date, PickState> {
        let days: BTreeSet<Date> = self.pick_days.iter().chain(self.rows.keys()).chain(&self.missed).chain(&self.lost).copied().collect();
        days.into_iter().map(|day| (day, self.on(day))).collect()
    }

    fn on(&self, day: Date) -> PickState {
        let site = &self.tables.site;
        let due = site.transplanted.is_none_or(|from| day >= from) && site.ended.is_none_or(|to| day <= to);
        match self.rows.get(&day) {
            Some(_) if self.in_part.contains(&day) => PickState::Lost,
            Some(state) => *state,
            None if self.lost.contains(&day) => PickState::Lost,
            None if !due => PickState::NotDue,
            None if self.plants.all_dead(day) => PickState::Dead,
            None if self.missed.contains(&day) => PickState::Missed,
            None => match site.unlisted {
                Unlisted::Zero => PickState::Zero,
                Unlisted::Missed => PickState::Missed,
                Unlisted::Undeclared => PickState::Unknown,
            },
        }
    }
}

/// A row without fruit is a zero pick; a row whose mass could not be read, at a site that weighs, is a lost one.
fn row_state(day: &PickDay, logs_mass: bool) -> PickState {
    if day.total() > 0.0 || (!logs_mass && day.fruit > 0.0) {
        PickState::Picked
    } else if logs_mass && day.unweighed > 0 {
        PickState::Lost
    } else {
        PickState::Zero
    }
}

/// Pick days within a spell; a spell in which nobody picked at all stands for one pick, on its first day.
fn due_days(pick_days: &[Date], from: Date, to: Date) -> Vec<Date> {
    let within: Vec<Date> = pick_days.iter().filter(|d| (from..=to).contains(d)).copied().collect();
    if within.is_empty() { vec![from] } else { within }
}
