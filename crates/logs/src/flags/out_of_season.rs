//! Picks before transplanting and after the last day of the trial. Limit: the site file's own dates.
use super::{Doubt, Picks};

pub(super) fn of(picks: &Picks<'_>) -> Vec<Doubt> {
    let before = picks.transplanted.map(|day| {
        let rows = picks.those(|p| p.day < day);
        Doubt::marking("before-transplanting", format!("{{n}} before the transplanting of {day}"), rows)
    });
    let after = picks.ended.map(|day| {
        let rows = picks.those(|p| p.day > day);
        Doubt::marking("after-the-end", format!("{{n}} after {day}, the last day of the trial here"), rows)
    });
    before.into_iter().chain(after).collect()
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
        let doubts = of(&facts(&units, &[], &picks));
        assert_eq!(
            (doubts[0].rows.as_slice(), doubts[0].told(1, "pick").as_str()),
            ([0].as_slice(), "1 pick before the transplanting of 2031-03-24")
        );
        assert_eq!(doubts[1].rows, [2]);
    }
}
