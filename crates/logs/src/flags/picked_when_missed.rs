//! Picks on days that the diary calls missed, of the same unit, house or site: one of the two is wrong.
use super::{Doubt, Picks};
use crate::tables::{DiaryEntry, Event, Pick};

fn speaks_of(entry: &DiaryEntry, pick: &Pick, picks: &Picks<'_>) -> bool {
    let house = picks.units.get(pick.unit).map(|u| u.house.as_str());
    match (entry.unit, &entry.house) {
        (Some(unit), _) => unit == pick.unit,
        (None, Some(of)) => house == Some(of.as_str()),
        (None, None) => true,
    }
}

pub(super) fn of(picks: &Picks<'_>) -> Vec<Doubt> {
    let missed: Vec<&DiaryEntry> = picks.diary.iter().filter(|d| d.event == Event::MissedPick).collect();
    let rows = picks.those(|p| missed.iter().any(|d| d.day <= p.day && p.day <= d.until && speaks_of(d, p, picks)));
    vec![Doubt::new("picked-when-missed", "{n} on days that the diary calls missed".to_owned(), rows)]
}

#[cfg(test)]
mod tests {
    use super::super::sample::{facts, pick, unit};
    use super::*;
    use jiff::civil::date;

    #[test]
    fn a_pick_within_a_missed_spell_contradicts_the_diary() {
        let spell = DiaryEntry {
            day: date(2031, 6, 1),
            until: date(2031, 6, 7),
            event: Event::MissedPick,
            unit: None,
            house: Some("h".into()),
            plants: None,
            note: String::new(),
            source: unit(1).source,
        };
        let (units, diary) = ([unit(2)], [spell]);
        let picks = [pick(0, date(2031, 6, 7), 1.0, 20.0), pick(0, date(2031, 6, 8), 1.0, 20.0)];
        assert_eq!(of(&facts(&units, &diary, &picks))[0].rows, [0]);
    }
}
