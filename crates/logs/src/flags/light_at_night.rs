//! Light at night. With coordinates night is when the sun stands well under the horizon; without, an hour
//! of the day that the house's own record keeps dark. Light on many nights is lamps or a clock: told, and no
//! record marked.
use super::batch::Batch;
use super::climate::{ClimateDoubt, Column, Logger, Reading, Rule};
use super::marks::Marks;
use super::sun::{SolarDay, day_number, solar_day};

const HOUR: i64 = 3600;
/// Days of records that an hour of the day must have to be judged by the house's own record.
const DAYS: f64 = 20.0;
/// Lit records after which an hour that is often lit is given up.
const GIVE_UP: u64 = 60;

/// The two ways to know the night.
enum Night {
    Sun { place: (f64, f64), height: f64, day: i64, sun: SolarDay, nights: u64, last_night: i64, all_nights: u64 },
    OwnRecord { hours: Box<[Hour; 24]>, hour: usize, hour_end: i64, standard_offset_s: i64 },
}

#[derive(Default)]
struct Hour {
    dark: u64,
    lit: u64,
    found: Marks,
}

pub(super) struct LightAtNight {
    above: f64,
    /// Seconds on either side of a stamp that a mean may speak of.
    around: i64,
    night: Night,
    found: Marks,
}

impl LightAtNight {
    pub fn new(logger: &Logger<'_>) -> Self {
        let limit = |name| logger.setting.value("light-at-night", name);
        let night = match logger.place {
            Some(place) => Night::Sun {
                place,
                height: -limit("sun-below"),
                day: i64::MIN,
                sun: SolarDay { noon: 0, half: 0 },
                nights: 0,
                last_night: i64::MIN,
                all_nights: 0,
            },
            None => Night::OwnRecord { hours: Box::default(), hour: 0, hour_end: i64::MIN, standard_offset_s: logger.standard_offset_s },
        };
        LightAtNight {
            above: limit("above"),
            around: if logger.light_is_mean { logger.interval_s } else { 0 },
            night,
            found: Marks::default(),
        }
    }
}

impl LightAtNight {
    /// Passes over records that say nothing new; where the next one stands that must be seen.
    fn pass_over(&mut self, batch: &Batch<'_>, from: usize) -> usize {
        let light = batch.values(Column::Light);
        let first_lit = |from: usize, until: usize| {
            let stretch = light.get(from..until).unwrap_or_default();
            stretch.iter().position(|x| *x > self.above).map_or(until, |n| from + n)
        };
        match &mut self.night {
            Night::Sun { sun, .. } => {
                let next = batch.until(from, sun.noon + DAY / 2);
                let dawn = batch.until(from, sun.noon - sun.half - self.around).min(next);
                let dusk = batch.until(from, sun.noon + sun.half + self.around).clamp(dawn, next);
                match first_lit(from, dawn) {
                    lit if lit < dawn => lit,
                    _ => first_lit(dusk, next),
                }
            }
            Night::OwnRecord { hours, hour, hour_end, .. } => {
                let lit = first_lit(from, batch.until(from, *hour_end));
                if let Some(of) = hours.get_mut(*hour) {
                    of.dark += (lit - from) as u64;
                }
                lit
            }
        }
    }
}

impl Rule for LightAtNight {
    #[inline]
    fn see(&mut self, row: &Reading) {
        if row.light.is_nan() {
            return;
        }
        let (lit, instant) = (row.light > self.above, row.spot.instant);
        match &mut self.night {
            Night::Sun { place, height, day, sun, nights, last_night, all_nights } => {
                if instant >= sun.noon + DAY / 2 || *day == i64::MIN {
                    *day = day_number(instant, place.1);
                    *sun = solar_day(*day, *place, *height);
                    // The day that turns by mean time and the sun's own midnight differ by some minutes.
                    if instant >= sun.noon + DAY / 2 {
                        *day += 1;
                        *sun = solar_day(*day, *place, *height);
                    }
                    *all_nights += 1;
                }
                if lit && (instant - sun.noon).abs() - self.around > sun.half {
                    self.found.add(&row.spot);
                    // A night has an evening in one solar day and a morning in the next.
                    let night = *day + i64::from(instant > sun.noon);
                    *nights += u64::from(night != *last_night);
                    *last_night = night;
                }
            }
            Night::OwnRecord { hours, hour, hour_end, standard_offset_s } => {
                if instant >= *hour_end {
                    let local = (instant + *standard_offset_s).div_euclid(HOUR);
                    *hour = local.rem_euclid(24) as usize;
                    *hour_end = (local + 1) * HOUR - *standard_offset_s;
                }
                if let Some(of) = hours.get_mut(*hour) {
                    of.see(lit, row);
                }
            }
        }
    }

    fn see_all(&mut self, batch: &Batch<'_>) {
        let extent = batch.extent(Column::Light);
        if extent.is_empty() {
            return;
        }
        if extent.gaps {
            return batch.readings(0..batch.len()).for_each(|row| self.see(&row));
        }
        let mut from = 0;
        while let Some(row) = batch.reading(from) {
            // The first record of a stretch turns the day or the hour.
            self.see(&row);
            from = self.pass_over(batch, from + 1);
        }
    }

    fn finish(&mut self, logger: &Logger<'_>) -> Vec<ClimateDoubt> {
        let limit = |name| logger.setting.limit("light-at-night", name);
        let above = limit("above");
        let (marks, often, how) = match &mut self.night {
            Night::Sun { nights, all_nights, height, .. } => {
                let often = *nights as f64 > limit("nights").value * *all_nights as f64 && *nights > 3;
                let how = format!("with the sun more than {} ° under the horizon: {}", -*height, limit("sun-below").source);
                (std::mem::take(&mut self.found), often.then_some((*nights, *all_nights)), how)
            }
            Night::OwnRecord { hours, .. } => {
                let least = DAYS * HOUR as f64 / logger.interval_s.max(1) as f64;
                let marks = dark_hours(hours, limit("dark-hour").value, least);
                (marks, None, "in hours of the day that this house otherwise keeps dark; no coordinates are declared".to_owned())
            }
        };
        let text = format!("{{n}} of light above {} µmol m⁻² s⁻¹ at night ({how}; {})", above.value, above.source);
        let Some((nights, of)) = often else {
            return vec![ClimateDoubt::new("light-at-night", text, marks, Some(Column::Light))];
        };
        let text = format!("{text}, in {nights} of {of} nights: lamps, or a clock that is not the one declared? No record is marked");
        vec![ClimateDoubt::new("light-on-many-nights", text, marks, Some(Column::Light))]
    }
}

const DAY: i64 = 86_400;

impl Hour {
    fn see(&mut self, lit: bool, row: &Reading) {
        if !lit {
            self.dark += 1;
            return;
        }
        self.lit += 1;
        // No hour of the night any more: its records need not be kept in mind.
        if self.lit > GIVE_UP && self.lit * 20 > self.dark {
            self.found.clear();
        } else {
            self.found.add(&row.spot);
        }
    }
}

/// Lit records of the hours that are dark otherwise, and whose neighbours are: dusk and dawn move over the season, and
/// the hour beside a lit one is lit itself for some weeks.
fn dark_hours(hours: &[Hour; 24], share: f64, least: f64) -> Marks {
    let dark = |h: &Hour| {
        let all = (h.dark + h.lit) as f64;
        all >= least && h.dark as f64 >= share * all
    };
    let around = |i: usize| [23, 0, 1].into_iter().filter_map(move |d| hours.get((i + d) % 24));
    let mut records: Vec<&Hour> = hours.iter().enumerate().filter(|(i, _)| around(*i).all(dark)).map(|(_, h)| h).collect();
    records.sort_by_key(|h| h.found.runs.first().map(|r| r.start));
    let mut marks = Marks::default();
    records.into_iter().for_each(|h| marks.join(&h.found));
    marks.runs.sort_by_key(|r| r.start);
    marks
}

#[cfg(test)]
mod tests {
    use super::super::sample::{Log, doubt, sunny};
    use super::super::{ClimateDoubt, Logger};

    const PLACE: (f64, f64) = (45.0, 0.0);

    fn doubts(log: &Log, place: Option<(f64, f64)>) -> Vec<ClimateDoubt> {
        log.doubts_by(Logger { place, ..log.logger() })
    }

    #[test]
    fn a_lamp_in_one_night_is_doubted_with_and_without_coordinates() {
        let mut log = sunny(60, PLACE);
        // 23:00 to 23:30 of the fortieth day, in ten-minute records.
        let at = 40 * 144 + 138;
        log.light[at..at + 4].fill(120.0);
        for place in [Some(PLACE), None] {
            let found = doubts(&log, place);
            assert_eq!(doubt(&found, "light-at-night").unwrap().marks.runs, std::slice::from_ref(&(at..at + 4)), "{place:?}");
        }
    }

    #[test]
    fn dawn_and_dusk_of_every_day_are_no_light_at_night() {
        let log = sunny(120, PLACE);
        for place in [Some(PLACE), None] {
            assert!(doubt(&doubts(&log, place), "light-at-night").is_none(), "{place:?}");
        }
    }

    #[test]
    fn lamps_on_every_evening_are_told_once_and_mark_no_record() {
        let mut log = sunny(60, PLACE);
        for day in 0..60 {
            log.light[day * 144 + 130..day * 144 + 140].fill(90.0);
        }
        let found = doubts(&log, Some(PLACE));
        assert!(doubt(&found, "light-at-night").is_none());
        let told = doubt(&found, "light-on-many-nights").unwrap();
        assert!(told.text.contains("in 60 of 60 nights: lamps, or a clock"), "{}", told.text);
        assert!(doubt(&doubts(&log, None), "light-at-night").is_none());
    }

    #[test]
    fn an_hourly_mean_that_ends_after_sunset_is_no_light_at_night() {
        let mut log = Log::of(3600, &vec![20.0; 24 * 30]);
        // Equinox at the equator: the sun sets at 18:00 and the mean of that hour may be stamped 19:00.
        log.instant.iter_mut().for_each(|t| *t += 79 * 86_400);
        log.light = (0..24 * 30).map(|i| if (7..=19).contains(&(i % 24)) { 60.0 } else { 0.0 }).collect();
        let logger = Logger { place: Some((0.0, 0.0)), light_is_mean: true, ..log.logger() };
        assert!(doubt(&log.doubts_by(logger), "light-at-night").is_none());
        let instants = Logger { light_is_mean: false, ..logger };
        assert!(log.doubts_by(instants).iter().any(|d| d.code == "light-on-many-nights"));
    }
}
