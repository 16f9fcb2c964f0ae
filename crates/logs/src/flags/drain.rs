//! Drain against feed: more drain than feed, a drain in another unit, salt lost or piled up, pH drifting.
use super::{Doubt, Setting};
use crate::tables::RootZone;

fn those(rows: &[RootZone], wanted: impl Fn(&RootZone) -> bool) -> Vec<usize> {
    rows.iter().enumerate().filter(|(_, r)| wanted(r)).map(|(i, _)| i).collect()
}

fn fraction(row: &RootZone) -> Option<f64> {
    let (feed, drain) = (row.feed_volume?, row.drain_volume?);
    (drain > 0.0).then_some(drain / feed)
}

fn volumes(rows: &[RootZone], setting: &Setting<'_>) -> [Doubt; 2] {
    let (full, unit) = (setting.limit("drain-above-feed", "fraction"), setting.limit("drain-like-millilitres", "fraction"));
    let like = |r: &RootZone| fraction(r).is_some_and(|x| x >= unit.value && x / 1000.0 <= full.value);
    let above = those(rows, |r| fraction(r).is_some_and(|x| x > full.value) && !like(r));
    [
        Doubt::new("drain-above-feed", format!("{{n}} with more drain than feed, so that a volume was misread ({})", full.source), above),
        Doubt::new(
            "drain-like-millilitres",
            format!("{{n}} with a drain of {} times the feed or more: millilitres in a column of litres? ({})", unit.value, unit.source),
            those(rows, like),
        ),
    ]
}

fn ec_apart(rows: &[RootZone], setting: &Setting<'_>) -> Doubt {
    let limit = |name| setting.limit("drain-ec-apart", name);
    let (below, above) = (limit("below-feed"), limit("above-feed"));
    let found = those(rows, |r| matches!((r.feed_ec, r.drain_ec), (Some(f), Some(d)) if d < f - below.value || d > f + above.value));
    let text =
        format!("{{n}} with a drain EC more than {} dS/m below or {} dS/m above the feed ({})", below.value, above.value, above.source);
    Doubt::new("drain-ec-apart", text, found)
}

pub(super) fn of(rows: &[RootZone], setting: &Setting<'_>) -> Vec<Doubt> {
    let drift = setting.limit("ph-drift", "drift");
    let ph = those(rows, |r| matches!((r.feed_ph, r.drain_ph), (Some(f), Some(d)) if (d - f).abs() > drift.value));
    let text = format!("{{n}} with a pH that drifts by more than {} from feed to drain ({})", drift.value, drift.source);
    let mut doubts = volumes(rows, setting).to_vec();
    doubts.extend([ec_apart(rows, setting), Doubt::new("ph-drift", text, ph)]);
    doubts
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;
    use crosshouse_readings::{FileId, Source};

    pub fn row(feed: f64, drain: f64, feed_ec: f64, drain_ec: f64) -> RootZone {
        RootZone {
            zone: "1".into(),
            house: "h".into(),
            day: jiff::civil::date(2031, 6, 1),
            feed_volume: Some(feed),
            drain_volume: Some(drain),
            feed_ec: Some(feed_ec),
            drain_ec: Some(drain_ec),
            feed_ph: None,
            drain_ph: None,
            moisture: None,
            plants: None,
            source: Source { file: FileId(0), row: 2 },
            flags: vec![],
        }
    }

    fn rows<'d>(doubts: &'d [Doubt], code: &str) -> &'d [usize] {
        &doubts.iter().find(|d| d.code == code).unwrap().rows
    }

    #[test]
    fn more_drain_than_feed_and_salt_piling_up_are_doubted() {
        let doubts = of(&[row(10.0, 2.0, 2.4, 2.9), row(10.0, 10.5, 2.4, 2.9), row(10.0, 2.0, 2.4, 4.0)], &Setting::default());
        assert_eq!((rows(&doubts, "drain-above-feed"), rows(&doubts, "drain-ec-apart")), ([1].as_slice(), [2].as_slice()));
    }

    #[test]
    fn all_the_feed_drained_and_none_fed_with_none_drained_are_no_doubt() {
        let doubts = of(&[row(10.0, 10.0, 2.4, 2.9), row(0.0, 0.0, 2.4, 2.9)], &Setting::default());
        assert!(rows(&doubts, "drain-above-feed").is_empty());
    }

    #[test]
    fn millilitres_among_litres_are_told_as_such() {
        let doubts = of(&[row(3.2, 720.0, 2.4, 2.9), row(3.2, 0.72, 2.4, 2.9)], &Setting::default());
        assert_eq!((rows(&doubts, "drain-like-millilitres"), rows(&doubts, "drain-above-feed")), ([0].as_slice(), [].as_slice()));
    }

    #[test]
    fn tomato_may_pile_up_more_salt_than_pepper() {
        let piled = [row(10.0, 2.0, 2.4, 4.2)];
        let of_crop = |crop| of(&piled, &Setting { crop, ..Setting::default() });
        assert_eq!(rows(&of_crop("cherry tomato"), "drain-ec-apart").len(), 0);
        assert_eq!(rows(&of_crop("snack pepper"), "drain-ec-apart").len(), 1);
    }

    #[test]
    fn a_ph_that_drifts_by_one_and_a_half_is_doubted_and_by_a_half_it_is_not() {
        let mut list = [row(10.0, 2.0, 2.4, 2.9), row(10.0, 2.0, 2.4, 2.9)];
        (list[0].feed_ph, list[0].drain_ph) = (Some(5.8), Some(6.3));
        (list[1].feed_ph, list[1].drain_ph) = (Some(5.8), Some(7.3));
        assert_eq!(rows(&of(&list, &Setting::default()), "ph-drift"), [1]);
    }
}
