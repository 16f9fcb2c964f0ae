//! Feed and drain of each line and day, from catch trays under some of its containers.
use crate::demo::chance::Chance;
use crate::demo::station::{Station, days_between};
use crate::demo::weather::Weather;
use jiff::civil::Date;

/// Plants over each line's trays.
pub const PLANTS_CAUGHT: f64 = 8.0;

/// Canonical units: L, dS/m.
#[derive(Debug, Clone, Copy)]
pub struct Irrigated {
    pub day: Date,
    pub line: usize,
    pub feed: f64,
    pub drain: f64,
    pub feed_ec: f64,
    pub drain_ec: f64,
    pub feed_ph: f64,
    pub drain_ph: f64,
}

/// One record a line and day. Plants drink by their age and by the day's light; the feed aims at a fifth to
/// run off; salts and pH rise in the root zone.
pub fn of_season(station: Station, weather: &Weather, seed: u64) -> Vec<Irrigated> {
    let mut chance = Chance::of(seed, &format!("water {}", station.id()));
    let facts = station.facts();
    let (mut salt, mut acid) = ([0.5, 0.6], 0.0);
    let mut records = Vec::new();
    for (&day, &light) in &weather.light_sums {
        let age = days_between(facts.transplanted, day) as f64;
        let recipe = if age < 28.0 { 2.30 } else { 2.50 };
        let recipe = if light > 26.0 { recipe - 0.12 } else { recipe };
        acid = 0.8 * acid + chance.normal(0.05);
        for line in 1..=2 {
            let drunk = (0.22 + 0.78 / (1.0 + (-(age - 32.0) / 9.0).exp())) * (0.18 + 0.056 * light) * chance.normal(0.05).exp();
            let fraction = (0.215 + chance.normal(0.03)).clamp(0.13, 0.31);
            let feed = PLANTS_CAUGHT * drunk / (1.0 - fraction);
            let kept = salt.get_mut(line - 1);
            let rise = kept.map_or(0.5, |s| {
                *s = (0.75 * *s + 0.15 + 1.1 * (0.215 - fraction) + chance.normal(0.05)).clamp(0.2, 1.2);
                *s
            });
            let feed_ec = recipe + chance.normal(0.05);
            records.push(Irrigated {
                day,
                line,
                feed,
                drain: feed * fraction,
                feed_ec,
                drain_ec: feed_ec + rise,
                feed_ph: 5.82 + acid + chance.normal(0.03),
                drain_ph: 6.12 + acid + chance.normal(0.07),
            });
        }
    }
    records
}
