//! A unit's season spread over the visits: flushes, whole fruit, whole ticks of the scale.
//!
//! The picked masses are rounded along their running sum, so that a unit's recorded season is its true
//! one to half a tick, as it would be were the fruit left on the scale.
use super::chance::Chance;
use super::station::{Facts, Station, days_between};
use super::truth::{Traits, UnitTruth, traits};
use super::units::PLANTS;
use jiff::civil::{Date, date};

/// What one visit took from one unit.
#[derive(Debug, Clone)]
pub struct Pick {
    /// Index into the plan.
    pub unit: usize,
    pub day: Date,
    pub marketable: Weighed,
    pub cull: Weighed,
}

/// Fruit and their mass in ticks of the station's scale.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Weighed {
    pub ticks: u32,
    pub fruit: u32,
}

/// Every visit to every unit: a visit that found nothing ripe is a pick of nothing; a visit that did
/// not take place is none.
pub fn of_station(station: Station, grown: &[UnitTruth], seed: u64) -> Vec<Pick> {
    let facts = station.facts();
    let days = facts.visit_days();
    let weather = weather_of_visits(station, days.len(), seed);
    let mut picks = Vec::new();
    for (unit, truth) in grown.iter().enumerate() {
        let mut chance = Chance::of(seed, &format!("picks {} {}", station.id(), truth.unit));
        let visited: Vec<bool> = days.iter().map(|&d| !missed(station, truth, d, chance.uniform())).collect();
        picks.extend(season_of_unit(&facts, unit, truth, &days, &visited, &weather, &mut chance));
    }
    picks.sort_by_key(|p| (p.day, p.unit));
    picks
}

/// The week that nobody picked at Sedge Flats: both its visits.
pub const MISSED_WEEK: (Date, Date) = (date(2031, 8, 4), date(2031, 8, 10));

/// Whether the visit did not take place; at Sedge Flats a few single units are also passed over (never at the
/// last visit, which strips the plants).
fn missed(station: Station, truth: &UnitTruth, day: Date, draw: f64) -> bool {
    let week = day >= MISSED_WEEK.0 && day <= MISSED_WEEK.1;
    let passed_over = truth.unit.starts_with("L2") && draw < 0.02 && days_between(day, station.facts().ended) > 7;
    station == Station::SedgeFlats && (week || passed_over)
}

/// Dull and bright days shift ripening between visits, alike for all units of a station.
fn weather_of_visits(station: Station, visits: usize, seed: u64) -> Vec<f64> {
    let mut chance = Chance::of(seed, &format!("ripening {}", station.id()));
    (0..visits).map(|_| chance.normal(0.16).exp()).collect()
}

fn season_of_unit(
    facts: &Facts,
    unit: usize,
    truth: &UnitTruth,
    days: &[Date],
    visited: &[bool],
    weather: &[f64],
    chance: &mut Chance,
) -> Vec<Pick> {
    let traits = traits(truth.medium, truth.container);
    let total = truth.kg_per_plant * f64::from(PLANTS);
    let share = (traits.cull_share + chance.normal(0.02)).clamp(0.02, 0.35);
    let ripening = ripening(facts, &traits, days, weather, chance);
    let good = Crop { total, fruit_kg: traits.fruit_g / 1000.0 };
    let bad = Crop { total: total * share / (1.0 - share), fruit_kg: 0.74 * traits.fruit_g / 1000.0 };
    let marketable = counted(good.taken(&ripening, visited, facts.tick, chance), truth.fruit - truth.culls);
    let cull = counted(bad.taken(&ripening, visited, facts.tick, chance), truth.culls);
    let taken = days.iter().zip(visited).zip(marketable.into_iter().zip(cull));
    taken.filter(|((_, visited), _)| **visited).map(|((&day, _), (marketable, cull))| Pick { unit, day, marketable, cull }).collect()
}

/// Share of the season that ripens before each visit since the one before; sums to 1.
fn ripening(facts: &Facts, traits: &Traits, days: &[Date], weather: &[f64], chance: &mut Chance) -> Vec<f64> {
    let own_shift = chance.normal(2.5);
    let length = days_between(facts.transplanted, facts.ended) - facts.first_ripe;
    let mut before = -7;
    let mut shares = Vec::new();
    for (day, weather) in days.iter().zip(weather) {
        let now = days_between(facts.transplanted, *day) - facts.first_ripe;
        let ripe: f64 = (before..now).map(|d| rate(d as f64 - traits.days_later - own_shift, length as f64)).sum();
        shares.push(ripe * weather * chance.normal(0.10).exp());
        before = now;
    }
    let sum: f64 = shares.iter().sum();
    shares.iter().map(|s| s / sum).collect()
}

/// Relative rate of ripening `day` days after the first ripe fruit: a rise of a week or two, flushes some four
/// weeks apart, a slow decline.
fn rate(day: f64, length: f64) -> f64 {
    let rise = 1.0 / (1.0 + (-(day - 8.0) / 2.6).exp());
    let flush = 1.0 + 0.38 * (std::f64::consts::TAU * (day - 10.0) / 27.0).sin();
    rise * flush * (1.15 - 0.45 * day / length).max(0.2)
}

/// One kind of fruit of one unit.
struct Crop {
    /// Season mass, kg.
    total: f64,
    fruit_kg: f64,
}

impl Crop {
    /// What each visit takes: whole fruit, the rest ripens on; the last visit takes everything.
    fn taken(&self, ripening: &[f64], visited: &[bool], tick: f64, chance: &mut Chance) -> Vec<Weighed> {
        let (mut hanging, mut picked) = (0.0, 0.0);
        let mut taken: Vec<(f64, u32)> = Vec::new();
        let last = visited.iter().rposition(|v| *v).unwrap_or_default();
        for (visit, (share, visited)) in ripening.iter().zip(visited).enumerate() {
            hanging += share * self.total;
            let fruit_kg = self.fruit_kg * (1.07 - 0.14 * visit as f64 / ripening.len() as f64);
            let fruit = if *visited { (hanging / fruit_kg).round().max(0.0) } else { 0.0 };
            let scatter = if fruit > 0.0 { 1.0 + chance.normal(0.12) / fruit.sqrt() } else { 0.0 };
            let mass = if visit == last { self.total - picked } else { fruit * fruit_kg * scatter };
            hanging -= mass;
            picked += mass;
            taken.push((mass, fruit as u32));
        }
        in_ticks(settle(taken, last), tick)
    }
}

/// The unit's true number of fruit shared out over its picks along the running sum of the numbers that their masses would
/// make. A pick that comes to no fruit is weighed with the next one; what the last leaves, with the one before.
fn counted(picks: Vec<Weighed>, fruit: u32) -> Vec<Weighed> {
    let by_mass: u32 = picks.iter().map(|p| p.fruit).sum();
    let (mut seen, mut given, mut waiting) = (0u32, 0u32, 0u32);
    let mut shared: Vec<Weighed> = Vec::new();
    for pick in picks {
        seen += pick.fruit;
        waiting += pick.ticks;
        let reached = (f64::from(fruit) * f64::from(seen) / f64::from(by_mass.max(1))).round() as u32;
        if reached == given || waiting == 0 {
            shared.push(Weighed::default());
            continue;
        }
        shared.push(Weighed { ticks: waiting, fruit: reached - given });
        (given, waiting) = (reached, 0);
    }
    if let Some(last) = shared.iter_mut().rfind(|p| p.fruit > 0) {
        last.ticks += waiting;
    }
    shared
}

/// A last visit with too little for a fruit adds it to the visit before (a gram or two a fruit).
fn settle(mut taken: Vec<(f64, u32)>, last: usize) -> Vec<(f64, u32)> {
    let Some(&(mass, fruit)) = taken.get(last) else { return taken };
    let earlier = taken.iter().take(last).rposition(|t| t.1 > 0);
    if let (0, Some(earlier)) = (fruit, earlier) {
        if let Some(t) = taken.get_mut(earlier) {
            t.0 += mass;
        }
        if let Some(t) = taken.get_mut(last) {
            t.0 = 0.0;
        }
    }
    taken
}

/// Masses in ticks along their running sum. A pick too light for the scale is weighed with the next one.
fn in_ticks(taken: Vec<(f64, u32)>, tick: f64) -> Vec<Weighed> {
    let (mut sum, mut written, mut waiting) = (0.0, 0u32, 0u32);
    let mut weighed = Vec::new();
    for (mass, fruit) in taken {
        sum += mass;
        waiting += fruit;
        let reached = (sum / tick).round().max(0.0) as u32;
        if waiting == 0 || reached <= written {
            weighed.push(Weighed::default());
            continue;
        }
        weighed.push(Weighed { ticks: reached - written, fruit: waiting });
        (written, waiting) = (reached, 0);
    }
    weighed
}
