//! A level shift of a zone's feed EC: medians of the rows before and after differ, and each side is steady.
//! A new recipe or a meter set anew; told, and no row is marked.
use super::{Doubt, Setting};
use crate::tables::RootZone;
use std::collections::BTreeMap;

/// Lowest, median and highest of some values.
fn spread(values: &[(usize, f64)]) -> Option<(f64, f64, f64)> {
    let mut sorted: Vec<f64> = values.iter().map(|v| v.1).collect();
    sorted.sort_by(f64::total_cmp);
    Some((*sorted.first()?, *sorted.get(sorted.len() / 2)?, *sorted.last()?))
}

/// Rows at which one zone's EC shifts, with the shift.
fn shifts(series: &[(usize, f64)], n: usize, least: f64) -> Vec<(usize, f64)> {
    let mut found: Vec<(usize, f64)> = Vec::new();
    for (i, window) in series.windows(2 * n).enumerate() {
        let (before, after) = window.split_at(n);
        let (Some(b), Some(a)) = (spread(before), spread(after)) else { continue };
        let apart = a.1 - b.1;
        // The two sides do not overlap, and neither wanders by half the shift.
        let clear = if apart > 0.0 { a.0 > b.2 } else { a.2 < b.0 };
        let steady = (a.2 - a.0).max(b.2 - b.0) < apart.abs() / 2.0;
        if let Some((row, _)) = series.get(i + n).filter(|_| apart.abs() > least && clear && steady) {
            found.push((*row, apart));
        }
    }
    found
}

pub(super) fn of(rows: &[RootZone], setting: &Setting<'_>) -> Vec<Doubt> {
    let (shift, n) = (setting.limit("ec-step", "shift"), setting.value("ec-step", "rows"));
    if n < 1.0 || n.is_nan() {
        return Vec::new();
    }
    let mut zones: BTreeMap<(&str, &str), Vec<(usize, f64)>> = BTreeMap::new();
    for (i, row) in rows.iter().enumerate() {
        if let Some(ec) = row.feed_ec {
            zones.entry((&row.house, &row.zone)).or_default().push((i, ec));
        }
    }
    let mut found: Vec<(usize, f64)> = zones.values().flat_map(|s| shifts(s, n as usize, shift.value)).collect();
    found.sort_by_key(|f| f.0);
    let Some((first, by)) = found.first().and_then(|(i, by)| Some((rows.get(*i)?, by))) else { return Vec::new() };
    let text = format!(
        "the feed EC of zone {} shifts by {by:+.1} dS/m from {} on and stays there: a new recipe, or a meter set anew? ({})",
        first.zone, first.day, shift.source
    );
    vec![Doubt::new("ec-step", text, found.into_iter().map(|f| f.0).collect())]
}

#[cfg(test)]
mod tests {
    use super::super::drain::tests::row;
    use super::*;

    fn list(values: &[f64]) -> Vec<RootZone> {
        values.iter().map(|ec| row(10.0, 2.0, *ec, 2.9)).collect()
    }

    #[test]
    fn a_feed_that_stays_0_8_higher_has_shifted() {
        let rows = list(&[2.2, 2.3, 2.2, 2.3, 2.2, 3.0, 3.1, 3.0, 3.1, 3.0]);
        let doubts = of(&rows, &Setting::default());
        assert_eq!(doubts[0].rows, [5]);
        assert!(doubts[0].text.contains("+0.8 dS/m from 2031-06-01"), "{}", doubts[0].text);
    }

    #[test]
    fn a_strong_day_a_slow_rise_and_a_wandering_feed_are_no_shift() {
        for values in [
            [2.2, 2.3, 2.2, 2.3, 2.2, 3.2, 2.2, 2.3, 2.2, 2.3],
            [2.0, 2.1, 2.2, 2.3, 2.4, 2.5, 2.6, 2.7, 2.8, 2.9],
            [2.0, 2.6, 2.1, 2.7, 2.2, 2.9, 2.3, 3.0, 2.4, 2.9],
        ] {
            assert!(of(&list(&values), &Setting::default()).is_empty(), "{values:?}");
        }
    }
}
