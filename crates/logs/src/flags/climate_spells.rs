//! Humidity too low or too high for too long: below 15 % for more than 1 h, above 98 % for more
//! than 12 h (common practice).
use super::limits::HUMIDITY;
use super::{Doubt, spell};
use crate::tables::Climate;

const DRY_S: i64 = 3600;
const WET_S: i64 = 12 * 3600;

/// Runs of successive records that fit, without a gap, as index ranges.
pub(super) fn runs(climate: &Climate, fits: impl Fn(usize) -> bool) -> Vec<std::ops::Range<usize>> {
    let close = |i: usize| match (climate.instant.get(i), climate.instant.get(i + 1)) {
        (Some(a), Some(b)) => (b - a) * 2 <= i64::from(climate.interval_s.max(1)) * 3,
        _ => false,
    };
    let mut runs = Vec::new();
    let mut start = None;
    for i in 0..climate.instant.len() {
        if !fits(i) {
            continue;
        }
        let from = *start.get_or_insert(i);
        if !(close(i) && i + 1 < climate.instant.len() && fits(i + 1)) {
            runs.push(from..i + 1);
            start = None;
        }
    }
    runs
}

/// From the first record of a run to its last, s.
pub(super) fn length(climate: &Climate, run: &std::ops::Range<usize>) -> i64 {
    let at = |i: usize| climate.instant.get(i).copied().unwrap_or(0);
    at(run.end.saturating_sub(1)) - at(run.start)
}

fn long(climate: &Climate, least: i64, fits: impl Fn(f64) -> bool) -> (Vec<usize>, i64) {
    let value = |i: usize| climate.humidity.get(i).copied().unwrap_or(f64::NAN);
    let found: Vec<_> = runs(climate, |i| fits(value(i))).into_iter().filter(|r| length(climate, r) > least).collect();
    let longest = found.iter().map(|r| length(climate, r)).max().unwrap_or(0);
    (found.into_iter().flatten().collect(), longest)
}

pub(super) fn of(climate: &Climate) -> Vec<Doubt> {
    let (dry, dry_s) = long(climate, DRY_S, |x| x < HUMIDITY.usual.0);
    let (wet, wet_s) = long(climate, WET_S, |x| x > HUMIDITY.usual.1);
    vec![
        Doubt::marking(
            "humidity-low",
            format!("{{n}} in spells below {} % of more than 1 h, the longest of {} (common practice)", HUMIDITY.usual.0, spell(dry_s)),
            dry,
        ),
        Doubt::marking(
            "humidity-high",
            format!("{{n}} in spells above {} % of more than 12 h, the longest of {} (common practice)", HUMIDITY.usual.1, spell(wet_s)),
            wet,
        ),
    ]
}

#[cfg(test)]
mod tests {
    use super::super::sample::climate;
    use super::*;

    #[test]
    fn two_dry_hours_are_doubted_and_half_an_hour_is_not() {
        let mut c = climate(600, vec![20.0; 40]);
        c.humidity[0..4].fill(10.0);
        c.humidity[10..23].fill(10.0);
        let doubts = of(&c);
        assert_eq!(doubts[0].rows, (10..23).collect::<Vec<_>>());
        assert!(doubts[0].text.contains("the longest of 2 h"));
    }
}
