//! Picks of a unit after the diary recorded the death of its last plant. Limit: the plan's plants.
use super::{Doubt, Picks};
use crate::tables::Event;
use jiff::civil::Date;

/// The day on which the last plant of a unit died, where all of them did.
fn dead_from(picks: &Picks<'_>, unit: usize) -> Option<Date> {
    let plants = picks.units.get(unit)?.plants;
    let mut deaths: Vec<(Date, u32)> = picks
        .diary
        .iter()
        .filter(|d| d.event == Event::PlantDeath && d.unit == Some(unit))
        .map(|d| (d.day, d.plants.unwrap_or(1)))
        .collect();
    deaths.sort();
    let mut dead = 0;
    deaths.into_iter().find_map(|(day, n)| {
        dead += n;
        (dead >= plants.max(1)).then_some(day)
    })
}

pub(super) fn of(picks: &Picks<'_>) -> Vec<Doubt> {
    let dead: Vec<Option<Date>> = (0..picks.units.len()).map(|u| dead_from(picks, u)).collect();
    let rows = picks.those(|p| dead.get(p.unit).copied().flatten().is_some_and(|day| p.day > day));
    vec![Doubt::new("after-death", "{n} of units whose last plant the diary records as dead on an earlier day".to_owned(), rows)]
}

#[cfg(test)]
mod tests {
    use super::super::sample::{facts, pick, unit};
    use super::*;
    use crate::tables::DiaryEntry;
    use jiff::civil::date;

    fn death(day: Date, plants: u32) -> DiaryEntry {
        DiaryEntry {
            day,
            until: day,
            event: Event::PlantDeath,
            unit: Some(0),
            house: None,
            plants: Some(plants),
            note: String::new(),
            source: unit(1).source,
        }
    }

    #[test]
    fn a_pick_is_doubted_once_all_plants_of_its_unit_are_dead() {
        let units = [unit(2)];
        let picks = [pick(0, date(2031, 6, 3), 1.0, 20.0), pick(0, date(2031, 6, 20), 1.0, 20.0)];
        let one = [death(date(2031, 6, 1), 1)];
        assert!(of(&facts(&units, &one, &picks))[0].rows.is_empty());
        let both = [death(date(2031, 6, 1), 1), death(date(2031, 6, 10), 1)];
        assert_eq!(of(&facts(&units, &both, &picks))[0].rows, [1]);
    }
}
