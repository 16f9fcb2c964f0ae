//! EC, pH and moisture outside their usual range. Limits: [`limits`], from memory of growing guides.
use super::Doubt;
use super::limits::{self, Limits};
use crate::tables::RootZone;

type Column = (&'static Limits, &'static str, fn(&RootZone) -> Option<f64>);

const COLUMNS: [Column; 5] = [
    (&limits::FEED_EC, "feed-ec-unusual", |r| r.feed_ec),
    (&limits::DRAIN_EC, "drain-ec-unusual", |r| r.drain_ec),
    (&limits::FEED_PH, "feed-ph-unusual", |r| r.feed_ph),
    (&limits::DRAIN_PH, "drain-ph-unusual", |r| r.drain_ph),
    (&limits::MOISTURE, "moisture-unusual", |r| r.moisture),
];

pub(super) fn of(rows: &[RootZone]) -> Vec<Doubt> {
    COLUMNS
        .iter()
        .map(|(limits, code, value)| {
            let found: Vec<usize> =
                rows.iter().enumerate().filter(|(_, r)| value(r).is_some_and(|x| !limits.is_usual(x))).map(|(i, _)| i).collect();
            let text =
                format!("{{n}} of {} outside {} to {} {} ({})", limits.words, limits.usual.0, limits.usual.1, limits.unit, limits.source);
            Doubt::marking(code, text.replace("  ", " "), found)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_feed_of_5_dsm_is_kept_and_doubted() {
        let doubts = of(&[super::super::drain::tests::row(10.0, 2.0, 5.0, 5.2)]);
        assert_eq!(doubts[0].rows, [0]);
        assert_eq!(doubts[0].told(1, "row"), "1 row of an EC of feed outside 0.8 to 4.5 dS/m (common practice, no source)");
    }
}
