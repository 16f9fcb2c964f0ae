//! A whole pick day that is not there, though the house keeps its rhythm before and after: by its weekdays,
//! or by the length of its intervals; and the diary names no missed or lost pick.
use super::{Doubt, Picks, Setting};
use crate::tables::Event;
use jiff::Span;
use jiff::civil::Date;
use std::collections::{BTreeMap, BTreeSet};

const SIDES: usize = 3;

fn after(day: Date, days: i64) -> Date {
    day.saturating_add(Span::new().days(days))
}

fn between(from: Date, to: Date) -> i64 {
    from.duration_until(to).as_hours() / 24
}

/// Whether the house picked on this weekday in the two weeks before and the two after.
fn expected(days: &BTreeSet<Date>, day: Date) -> bool {
    [-14, -7, 7, 14].into_iter().all(|n| days.contains(&after(day, n)))
}

/// Days on which the weekday was due, and neither it nor a stand-in beside it was picked.
fn by_weekday(days: &BTreeSet<Date>) -> BTreeSet<Date> {
    let (Some(first), Some(last)) = (days.first(), days.last()) else { return BTreeSet::new() };
    let picked_instead = |day: Date| [-1, 1].into_iter().map(|n| after(day, n)).any(|d| days.contains(&d) && !expected(days, d));
    (14..=between(*first, *last) - 14)
        .map(|n| after(*first, n))
        .filter(|d| !days.contains(d) && expected(days, *d) && !picked_instead(*d))
        .collect()
}

/// Middles of intervals that are much longer than the three on either side.
fn by_interval(days: &BTreeSet<Date>, times: f64) -> BTreeSet<Date> {
    let list: Vec<Date> = days.iter().copied().collect();
    let steps: Vec<i64> = list.windows(2).filter_map(|w| Some(between(*w.first()?, *w.last()?))).collect();
    let odd = |(i, step): (usize, &i64)| {
        let near = steps.get(i.checked_sub(SIDES)?..i)?.iter().chain(steps.get(i + 1..=i + SIDES)?);
        let longest = *near.max()?;
        (*step as f64 >= times * longest as f64 && *step > 1).then(|| list.get(i).map(|d| after(*d, (step / 2).max(1))))?
    };
    steps.iter().enumerate().filter_map(odd).collect()
}

pub(super) fn of(picks: &Picks<'_>, setting: &Setting<'_>) -> Vec<Doubt> {
    let times = setting.limit("pick-day-missing", "times");
    let mut houses: BTreeMap<&str, BTreeMap<Date, usize>> = BTreeMap::new();
    for (i, pick) in picks.picks.iter().enumerate().filter(|(_, p)| p.mass.is_some() || p.count.is_some()) {
        if let Some(unit) = picks.units.get(pick.unit) {
            houses.entry(&unit.house).or_default().entry(pick.day).or_insert(i);
        }
    }
    let explained = |house: &str, day: Date| {
        picks.diary.iter().any(|d| {
            matches!(d.event, Event::MissedPick | Event::LostPick)
                && d.unit.is_none()
                && d.house.as_deref().is_none_or(|h| h == house)
                // A spell told from Monday to Sunday explains the pick days round it too.
                && after(d.day, -1) <= day && day <= after(d.until, 1)
        })
    };
    let mut found: Vec<(Date, &str, usize)> = Vec::new();
    for (house, first_rows) in &houses {
        let days: BTreeSet<Date> = first_rows.keys().copied().collect();
        for day in by_weekday(&days).into_iter().chain(by_interval(&days, times.value)) {
            let next = first_rows.range(day..).next().map(|(_, i)| *i);
            let told = found.iter().any(|(_, h, i)| h == house && Some(*i) == next);
            if let Some(next) = next.filter(|_| !told && !explained(house, day)) {
                found.push((day, house, next));
            }
        }
    }
    found.sort_unstable();
    let Some((day, house, _)) = found.first() else { return Vec::new() };
    let text = format!(
        "{} missing without a word in the diary, the first in \"{house}\" about {day}: the days picked before and after keep a rhythm ({})",
        super::many(found.len(), "pick day"),
        times.source
    );
    let mut rows: Vec<usize> = found.iter().map(|f| f.2).collect();
    rows.sort_unstable();
    vec![Doubt::new("pick-day-missing", text, rows)]
}

#[cfg(test)]
mod tests {
    use super::super::sample::{facts, pick, unit};
    use super::*;
    use crate::tables::{DiaryEntry, Pick};
    use jiff::civil::{Weekday, date};

    /// Picks on these weekdays for ten weeks from 5 May 2031, a Monday, less the days left out.
    fn season(weekdays: &[Weekday], out: &[Date]) -> Vec<Pick> {
        (0..70)
            .map(|n| after(date(2031, 5, 5), n))
            .filter(|d| weekdays.contains(&d.weekday()) && !out.contains(d))
            .map(|d| pick(0, d, 1.0, 25.0))
            .collect()
    }

    fn told(picks: &[Pick], diary: &[DiaryEntry]) -> Option<String> {
        let units = [unit(2)];
        of(&facts(&units, diary, picks), &Setting::default()).first().map(|d| d.text.clone())
    }

    #[test]
    fn a_thursday_that_is_not_there_among_mondays_and_thursdays_is_told() {
        let text = told(&season(&[Weekday::Monday, Weekday::Thursday], &[date(2031, 6, 5)]), &[]).unwrap();
        assert!(text.starts_with("1 pick day missing without a word in the diary, the first in \"h\" about 2031-06-05"), "{text}");
    }

    #[test]
    fn a_wednesday_of_three_picks_a_week_and_a_week_of_weekly_picks_are_told() {
        assert!(told(&season(&[Weekday::Monday, Weekday::Wednesday, Weekday::Friday], &[date(2031, 6, 4)]), &[]).is_some());
        assert!(told(&season(&[Weekday::Tuesday], &[date(2031, 6, 3)]), &[]).is_some());
    }

    #[test]
    fn a_full_season_a_pick_a_day_late_and_one_that_the_diary_explains_are_not_told() {
        let days = [Weekday::Monday, Weekday::Thursday];
        assert_eq!(told(&season(&days, &[]), &[]), None);
        let mut late = season(&days, &[date(2031, 6, 5)]);
        late.push(pick(0, date(2031, 6, 6), 1.0, 25.0));
        assert_eq!(told(&late, &[]), None);
        let missed = DiaryEntry {
            day: date(2031, 6, 5),
            until: date(2031, 6, 5),
            event: Event::MissedPick,
            unit: None,
            house: None,
            plants: None,
            note: String::new(),
            source: unit(1).source,
        };
        assert_eq!(told(&season(&days, &[date(2031, 6, 5)]), &[missed]), None);
    }

    #[test]
    fn a_house_that_picks_when_fruit_is_ripe_misses_nothing() {
        let days = [1, 4, 9, 11, 17, 20, 22, 28, 31].map(|n| pick(0, after(date(2031, 6, 1), n), 1.0, 25.0));
        assert_eq!(told(&days, &[]), None);
    }
}
