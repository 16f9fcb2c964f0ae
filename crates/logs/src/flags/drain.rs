//! Drain against feed: more drain than feed, salt lost or piled up, pH drifting.
use super::Doubt;
use crate::tables::RootZone;

/// Drain EC below feed by more than this (dS/m), or above by more than the next: common practice.
const EC_BELOW: f64 = 0.5;
const EC_ABOVE: f64 = 1.5;
/// Drift of pH from feed to drain: common practice.
const PH_DRIFT: f64 = 1.0;

fn those(rows: &[RootZone], wanted: impl Fn(&RootZone) -> bool) -> Vec<usize> {
    rows.iter().enumerate().filter(|(_, r)| wanted(r)).map(|(i, _)| i).collect()
}

pub(super) fn of(rows: &[RootZone]) -> Vec<Doubt> {
    let above = those(rows, |r| matches!((r.feed_volume, r.drain_volume), (Some(f), Some(d)) if d > f));
    let ec = those(rows, |r| matches!((r.feed_ec, r.drain_ec), (Some(f), Some(d)) if d < f - EC_BELOW || d > f + EC_ABOVE));
    let ph = those(rows, |r| matches!((r.feed_ph, r.drain_ph), (Some(f), Some(d)) if (d - f).abs() > PH_DRIFT));
    vec![
        Doubt::marking(
            "drain-above-feed",
            "{n} with more drain than feed: not possible in a rain-proof house unless a volume was misread".to_owned(),
            above,
        ),
        Doubt::marking(
            "drain-ec-apart",
            format!("{{n}} with a drain EC more than {EC_BELOW} dS/m below or {EC_ABOVE} dS/m above the feed (common practice)"),
            ec,
        ),
        Doubt::marking("ph-drift", format!("{{n}} with a pH that drifts by more than {PH_DRIFT} from feed to drain (common practice)"), ph),
    ]
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

    #[test]
    fn more_drain_than_feed_and_salt_piling_up_are_doubted() {
        let doubts = of(&[row(10.0, 2.0, 2.4, 2.9), row(10.0, 10.5, 2.4, 2.9), row(10.0, 2.0, 2.4, 4.0)]);
        assert_eq!((doubts[0].rows.as_slice(), doubts[1].rows.as_slice()), ([1].as_slice(), [2].as_slice()));
    }
}
