//! Air of the house: heating, sun, vents; humidity follows from the water in the air.
use super::super::chance::Chance;
use super::super::station::Facts;
use super::sky::Spell;
use super::{Reading, left_after};
use std::f64::consts::TAU;

/// The house carries its state from record to record.
pub struct House {
    celsius: f64,
    /// kPa
    vapour: f64,
    co2: f64,
    noise: f64,
}

impl House {
    pub fn new(facts: &Facts) -> Self {
        House { celsius: if facts.heated { 18.0 } else { 11.0 }, vapour: 1.3, co2: 430.0, noise: 0.0 }
    }

    pub fn reading(&mut self, facts: &Facts, second: i64, ppfd: f64, spell: &Spell, step: f64, chance: &mut Chance) -> Reading {
        let outside = outside(facts, second, spell);
        let unvented = self.unvented(facts, outside, ppfd);
        let vents = ((unvented - vent_at(facts)) / 6.0).clamp(0.0, 1.0);
        let target = unvented - vents * if facts.heated { 0.62 } else { 0.45 } * (unvented - vent_at(facts)).max(0.0);
        self.celsius = follow(self.celsius, target, step, 1800.0);
        let wet = shut_humidity(facts, ppfd, spell) * saturation(self.celsius);
        let open = damp_outside(facts, second, spell) + 0.30 + 0.55 * ppfd / 1000.0;
        self.vapour = follow(self.vapour, (1.0 - vents) * wet + vents * open.min(wet), step, 1500.0);
        self.co2 = follow(self.co2, co2_target(ppfd, vents), step, 2400.0);
        let kept = left_after(step, 900.0);
        self.noise = kept * self.noise + chance.normal(0.25 * (1.0 - kept * kept).sqrt());
        let celsius = self.celsius + self.noise + chance.normal(0.03);
        Reading {
            second,
            celsius,
            humidity: sensed(100.0 * self.vapour / saturation(celsius) + chance.normal(0.3)),
            ppfd,
            co2: self.co2 + chance.normal(4.0),
        }
    }

    /// Where the air would go with closed vents.
    fn unvented(&self, facts: &Facts, outside: f64, ppfd: f64) -> f64 {
        if facts.heated {
            return (outside + 1.0).max(17.5 + 1.5 * (ppfd / 120.0).min(1.0)) + 9.5 * ppfd / 1000.0;
        }
        outside + 1.0 + 16.0 * ppfd / 1000.0
    }
}

/// Relative humidity, 0–1, that a house with shut vents tends to: dew in the tunnel after clear days.
fn shut_humidity(facts: &Facts, ppfd: f64, spell: &Spell) -> f64 {
    if facts.heated { 0.82 - 0.10 * (ppfd / 400.0).min(1.0) } else { 0.87 + 0.075 * spell.clearness }
}

fn vent_at(facts: &Facts) -> f64 {
    if facts.heated { 24.0 } else { 23.0 }
}

/// Enriched by day while the vents are shut; plants breathe out at night.
fn co2_target(ppfd: f64, vents: f64) -> f64 {
    let shut = if ppfd > 40.0 { 720.0 } else { 470.0 };
    (1.0 - vents) * shut + vents * 415.0
}

/// A sensor that reads a little high near saturation.
fn sensed(humidity: f64) -> f64 {
    let high = if humidity > 92.0 { humidity + 0.25 * (humidity - 92.0) } else { humidity };
    high.clamp(18.0, 101.4)
}

/// One step of a first-order approach to `target`.
fn follow(now: f64, target: f64, step: f64, memory: f64) -> f64 {
    target + (now - target) * left_after(step, memory)
}

/// Outside air, °C: warmest near 20 July and at three in the afternoon of the sun's time.
fn outside(facts: &Facts, second: i64, spell: &Spell) -> f64 {
    let hours = second.rem_euclid(86_400) as f64 / 3600.0 + facts.longitude / 15.0;
    let swing = 2.5 + 4.0 * spell.clearness;
    season(facts, second) + spell.warmer + swing * (TAU * (hours - 15.0) / 24.0).cos()
}

fn season(facts: &Facts, second: i64) -> f64 {
    let day_of_year = second.rem_euclid(86_400 * 365) as f64 / 86_400.0 - 14.0;
    let (mean, half_swing) = facts.outside;
    mean + half_swing * (TAU * (day_of_year - 110.0) / 365.0).sin()
}

/// Vapour pressure outside, kPa: the dew point stands near the night's minimum.
fn damp_outside(facts: &Facts, second: i64, spell: &Spell) -> f64 {
    saturation(season(facts, second) + spell.warmer - 3.0 - 3.5 * spell.clearness)
}

/// Saturation vapour pressure, kPa (FAO-56 eq. 11).
fn saturation(celsius: f64) -> f64 {
    0.6108 * (17.27 * celsius / (celsius + 237.3)).exp()
}
