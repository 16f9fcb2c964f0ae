//! EC, pH and moisture outside their usual range, and an EC a thousand times too small.
use super::rules::between;
use super::{Doubt, Setting};
use crate::tables::RootZone;

type Column = (&'static str, &'static str, fn(&RootZone) -> Option<f64>);

const COLUMNS: [Column; 5] = [
    ("feed-ec-unusual", "an EC of feed", |r| r.feed_ec),
    ("drain-ec-unusual", "an EC of drain", |r| r.drain_ec),
    ("feed-ph-unusual", "a pH of feed", |r| r.feed_ph),
    ("drain-ph-unusual", "a pH of drain", |r| r.drain_ph),
    ("moisture-unusual", "a water content by volume", |r| r.moisture),
];

fn those(rows: &[RootZone], wanted: impl Fn(&RootZone) -> bool) -> Vec<usize> {
    rows.iter().enumerate().filter(|(_, r)| wanted(r)).map(|(i, _)| i).collect()
}

pub(super) fn of(rows: &[RootZone], setting: &Setting<'_>) -> Vec<Doubt> {
    let small = setting.limit("ec-like-other-unit", "below");
    let thousandth = |x: f64| x > 0.0 && x < small.value;
    let mut doubts: Vec<Doubt> = COLUMNS
        .iter()
        .map(|(code, words, value)| {
            let (low, high) = (setting.limit(code, "below"), setting.limit(code, "above"));
            let odd = |x: f64| (x < low.value || x > high.value) && !(code.contains("ec") && thousandth(x));
            Doubt::new(code, format!("{{n}} of {words} outside {}", between(&low, &high)), those(rows, |r| value(r).is_some_and(odd)))
        })
        .collect();
    let found = those(rows, |r| [r.feed_ec, r.drain_ec].into_iter().flatten().any(thousandth));
    let text = format!("{{n}} of an EC below {} dS/m: dS/m (mS/cm) in a column of µS/cm? ({})", small.value, small.source);
    doubts.push(Doubt::new("ec-like-other-unit", text, found));
    doubts
}

#[cfg(test)]
mod tests {
    use super::super::drain::tests::row;
    use super::*;

    fn rows(list: &[RootZone], code: &str) -> Vec<usize> {
        of(list, &Setting::default()).into_iter().find(|d| d.code == code).unwrap().rows
    }

    #[test]
    fn a_feed_of_5_dsm_is_kept_and_doubted() {
        let doubts = of(&[row(10.0, 2.0, 5.0, 5.2), row(10.0, 2.0, 4.5, 5.2)], &Setting::default());
        assert_eq!(doubts[0].rows, [0]);
        assert_eq!(doubts[0].told(1, "row"), "1 row of an EC of feed outside 0.8 to 4.5 dS/m (from memory of provincial growing guides)");
    }

    #[test]
    fn a_decisiemens_in_a_column_of_microsiemens_is_told_as_a_unit_and_tap_water_is_not() {
        let list = [row(10.0, 2.0, 0.0024, 2.9), row(10.0, 2.0, 0.3, 0.4), row(10.0, 2.0, 0.0, 0.0)];
        assert_eq!(rows(&list, "ec-like-other-unit"), [0]);
        assert_eq!(rows(&list, "feed-ec-unusual"), [1, 2]);
    }
}
