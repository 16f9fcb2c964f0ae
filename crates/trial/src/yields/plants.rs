//! Plants of a unit over the season.
use crate::calendar::days;
use crosshouse_logs::tables::{Event, SiteTables};
use jiff::civil::Date;

/// Deaths of one unit's plants, from the diary: a death entry without a number is one plant.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Plants {
    set: u32,
    deaths: Vec<(Date, u32)>,
}

impl Plants {
    pub fn of(tables: &SiteTables, unit: usize) -> Plants {
        let set = tables.units.get(unit).map_or(0, |u| u.plants);
        let died = tables.diary.iter().filter(|e| e.event == Event::PlantDeath && e.unit == Some(unit));
        let mut deaths: Vec<(Date, u32)> = died.map(|e| (e.day, e.plants.unwrap_or(1))).collect();
        deaths.sort_unstable();
        Plants { set, deaths }
    }

    /// Plants alive on `day`; a plant counts as dead from the day of its entry.
    pub fn alive(&self, day: Date) -> u32 {
        let dead = self.deaths.iter().filter(|(died, _)| *died <= day).fold(0u32, |sum, (_, n)| sum.saturating_add(*n));
        self.set.saturating_sub(dead)
    }

    /// Plants that no entry says died.
    pub fn left(&self) -> u32 {
        let dead = self.deaths.iter().fold(0u32, |sum, (_, n)| sum.saturating_add(*n));
        self.set.saturating_sub(dead)
    }

    /// All plants set died by `day`.
    pub fn all_dead(&self, day: Date) -> bool {
        self.set > 0 && self.alive(day) == 0
    }

    /// Σ over plants of the days alive within [`from`, `to`).
    pub fn plant_days(&self, from: Date, to: Date) -> f64 {
        let span = days(from, to).max(0);
        let mut left = self.set;
        let mut sum = 0.0;
        for &(died, n) in &self.deaths {
            let n = n.min(left);
            left -= n;
            sum += f64::from(n) * f64::from(days(from, died).clamp(0, span));
        }
        sum + f64::from(left) * f64::from(span)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calendar::after;
    use jiff::civil::date;

    // By definition: two plants, 100 days, one dies on day 60 → 160; four plants, 120 days, one on day 72 → 432.
    #[test]
    fn a_plant_dead_at_day_60_of_100_leaves_160_plant_days() {
        let start = date(2031, 3, 24);
        let plants = |set, died| Plants { set, deaths: vec![(after(start, died), 1)] };
        assert_eq!(plants(2, 60).plant_days(start, after(start, 100)), 160.0);
        assert_eq!(plants(4, 72).plant_days(start, after(start, 120)), 432.0);
        assert_eq!(plants(1, 0).plant_days(start, after(start, 100)), 0.0);
    }

    #[test]
    fn more_deaths_than_plants_leave_none_alive() {
        let start = date(2031, 3, 24);
        let plants = Plants { set: 2, deaths: vec![(start, 3)] };
        assert_eq!((plants.alive(start), plants.plant_days(start, after(start, 9))), (0, 0.0));
    }
}
