//! Picks before transplanting, before a crop of that age can bear, and after the last day of the trial.
//! Limits: the site file's own dates, and the days from seeding to a first pick.
use super::{Doubt, Picks, Setting};
use jiff::civil::Date;

/// The first day on which a crop seeded that day can bear.
fn first_possible(seeded: Date, days: f64) -> Option<Date> {
    if !days.is_finite() {
        return None;
    }
    seeded.checked_add(jiff::Span::new().try_days(days as i64).ok()?).ok()
}

pub(super) fn of(picks: &Picks<'_>, setting: &Setting<'_>) -> Vec<Doubt> {
    let before = picks.transplanted.map(|day| {
        let rows = picks.those(|p| p.day < day);
        Doubt::new("before-transplanting", format!("{{n}} before the transplanting of {day}"), rows)
    });
    let limit = setting.limit("before-first-possible", "days");
    let early = picks.seeded.and_then(|seeded| Some((seeded, first_possible(seeded, limit.value)?))).map(|(seeded, first)| {
        let rows = picks.those(|p| p.day < first && picks.transplanted.is_none_or(|t| p.day >= t));
        let text = format!("{{n}} before {first}, {} days after seeding on {seeded} ({})", limit.value, limit.source);
        Doubt::new("before-first-possible", text, rows)
    });
    let after = picks.ended.map(|day| {
        let rows = picks.those(|p| p.day > day);
        Doubt::new("after-the-end", format!("{{n}} after {day}, the last day of the trial here"), rows)
    });
    [before, early, after].into_iter().flatten().collect()
}

#[cfg(test)]
mod tests {
    use super::super::sample::{facts, pick, unit};
    use super::*;
    use jiff::civil::date;

    #[test]
    fn a_pick_before_transplanting_and_one_after_the_end_are_doubted() {
        let (units, picks) = (
            [unit(2)],
            [pick(0, date(2031, 3, 23), 1.0, 20.0), pick(0, date(2031, 8, 3), 1.0, 20.0), pick(0, date(2031, 8, 4), 1.0, 20.0)],
        );
        let doubts = of(&facts(&units, &[], &picks), &Setting::default());
        assert_eq!(
            (doubts[0].rows.as_slice(), doubts[0].told(1, "pick").as_str()),
            ([0].as_slice(), "1 pick before the transplanting of 2031-03-24")
        );
        assert_eq!(doubts[1].rows, [2]);
    }

    #[test]
    fn a_pepper_does_not_bear_ten_weeks_after_seeding_and_may_after_twelve() {
        let (units, picks) = ([unit(2)], [pick(0, date(2031, 4, 10), 1.0, 20.0), pick(0, date(2031, 4, 24), 1.0, 20.0)]);
        let facts = Picks { seeded: Some(date(2031, 1, 30)), ..facts(&units, &[], &picks) };
        let pepper = Setting { crop: "snack pepper", ..Setting::default() };
        let early = |s: &Setting<'_>| of(&facts, s).into_iter().find(|d| d.code == "before-first-possible").map(|d| d.rows);
        assert_eq!(early(&pepper), Some(vec![0]));
        assert_eq!(early(&Setting::default()), None, "a crop without a limit");
    }
}
