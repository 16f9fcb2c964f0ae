//! A single pick far above the site's others: more than 5 times their 95th percentile (common
//! practice): often a wrong unit, a shifted decimal mark or a total.
use super::{Doubt, Picks};

const TIMES: f64 = 5.0;
const ENOUGH: usize = 20;

pub(super) fn of(picks: &Picks<'_>) -> Vec<Doubt> {
    let mut masses: Vec<f64> = picks.picks.iter().filter_map(|p| p.mass).filter(|m| *m > 0.0).collect();
    masses.sort_by(f64::total_cmp);
    if masses.len() < ENOUGH {
        return Vec::new();
    }
    let Some(high) = masses.get((masses.len() * 95).div_ceil(100) - 1).copied() else { return Vec::new() };
    let rows = picks.those(|p| p.mass.is_some_and(|m| m > TIMES * high));
    vec![Doubt::marking(
        "heavy-pick",
        format!("{{n}} above {:.2} kg, 5 times the site's 95th percentile (common practice)", TIMES * high),
        rows,
    )]
}

#[cfg(test)]
mod tests {
    use super::super::sample::{facts, pick, unit};
    use super::*;
    use jiff::civil::date;

    #[test]
    fn a_pick_ten_times_the_others_is_doubted() {
        let mut picks: Vec<_> = (0..40).map(|i| pick(0, date(2031, 6, 3), 1.0 + f64::from(i) / 100.0, 25.0)).collect();
        picks.push(pick(0, date(2031, 6, 3), 12.0, 300.0));
        let units = [unit(2)];
        assert_eq!(of(&facts(&units, &[], &picks))[0].rows, [40]);
    }
}
