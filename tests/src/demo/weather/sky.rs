//! Sun and cloud.
use super::super::chance::Chance;
use super::super::station::Facts;
use super::left_after;
use std::f64::consts::TAU;

/// A day's weather: clearness 0–1, and how much warmer than the season's mean, °C.
#[derive(Debug, Clone, Copy)]
pub struct Spell {
    pub clearness: f64,
    pub warmer: f64,
}

/// Days hang together: a fine day follows a fine day more often than not.
pub fn spells(days: i64, chance: &mut Chance) -> Vec<Spell> {
    let (mut fine, mut warm) = (0.3, 0.0);
    let next = |_| {
        fine = 0.55 * fine + chance.normal(0.83);
        warm = 0.7 * warm + chance.normal(1.8) + 0.3 * fine;
        Spell { clearness: 0.22 + 0.78 / (1.0 + (-1.5 * fine - 0.7).exp()), warmer: warm }
    };
    (0..days).map(next).collect()
}

/// Passing clouds.
#[derive(Debug, Default)]
pub struct Cloud {
    deviation: f64,
}

impl Cloud {
    /// PPFD at the crop, µmol m⁻² s⁻¹; zero from sunset to sunrise.
    pub fn ppfd(&mut self, facts: &Facts, second: i64, spell: &Spell, step: f64, chance: &mut Chance) -> f64 {
        let kept = left_after(step, 1200.0);
        self.deviation = kept * self.deviation + chance.normal((1.0 - kept * kept).sqrt());
        let broken = 4.0 * spell.clearness * (1.0 - spell.clearness);
        let through = (spell.clearness + 0.24 * broken * self.deviation).clamp(0.07, 1.06);
        let flicker = 1.0 + chance.normal(0.008);
        clear_sky(sine_of_elevation(facts, second)) * facts.cover * through * flicker
    }
}

/// PPFD of a clear sky: near 2000 at a high sun.
fn clear_sky(sine: f64) -> f64 {
    if sine <= 0.0 { 0.0 } else { 2150.0 * sine.powf(1.15) }
}

/// Sine of the sun's elevation: declination after Cooper (1969), Solar Energy 12:333–346, and a two-term
/// equation of time (common practice).
fn sine_of_elevation(facts: &Facts, second: i64) -> f64 {
    let day_of_year = (second.rem_euclid(86_400 * 365)) as f64 / 86_400.0 - 14.0;
    let declination = (23.45f64).to_radians() * (TAU * (284.0 + day_of_year) / 365.0).sin();
    let b = TAU * (day_of_year - 81.0) / 364.0;
    let equation_of_time = 9.87 * (2.0 * b).sin() - 7.53 * b.cos() - 1.5 * b.sin();
    let solar_hours = second.rem_euclid(86_400) as f64 / 3600.0 + facts.longitude / 15.0 + equation_of_time / 60.0;
    let hour_angle = TAU * (solar_hours - 12.0) / 24.0;
    let latitude = facts.latitude.to_radians();
    latitude.sin() * declination.sin() + latitude.cos() * declination.cos() * hour_angle.cos()
}

#[cfg(test)]
mod tests {
    use super::super::super::station::Station;
    use super::*;

    #[test]
    fn the_noon_sun_of_midsummer_stands_at_90_less_latitude_plus_23_45_degrees() {
        let facts = Station::TarnHollow.facts();
        let day = jiff::civil::date(2031, 6, 21).at(0, 0, 0, 0);
        let midsummer = jiff::tz::TimeZone::UTC.to_timestamp(day).unwrap().as_second();
        let highest = (0..1440).map(|m| sine_of_elevation(&facts, midsummer + 60 * m)).fold(f64::MIN, f64::max);
        assert!((highest.asin().to_degrees() - (90.0 - facts.latitude + 23.45)).abs() < 0.3);
    }
}
