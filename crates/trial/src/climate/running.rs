//! The days of one logger, summed while its records pass. Each sum takes the records in time order, so
//! that no digit depends on how they were handed on.
use super::daylight::{NEAR_DAYS, by_sun, nearest};
use super::lit::Lit;
use super::stretch::{DAY, DayMeans, Stretch, Value, cut};
use super::temperature::TemperatureDay;
use crate::Settings;
use crate::air::Saturation;
use crate::calendar::from_day_number;
use crate::tables::HouseDay;
use crosshouse_logs::loggers::{Ending, LoggerFacts, Pass, Records};

/// Longest gap that one straight line may bridge for an estimate of light, s.
const LONGEST_BRIDGE: i64 = 6 * 3600;

/// The days of one logger: a [`Pass`].
pub struct RunningDays {
    facts: LoggerFacts,
    settings: Settings,
    /// Latitude and longitude, degrees.
    place: Option<(f64, f64)>,
    /// Longest gap that is bridged, s.
    gap: i64,
    days: Vec<Day>,
    /// First second of the last day.
    start: i64,
    records: usize,
    saturation: Saturation,
    temperature: Option<(Value, f64)>,
    humidity: Option<Value>,
    deficit: Option<Value>,
    light: Option<Value>,
    /// Days before this one have their daylight settled.
    settled: usize,
}

/// The last record, where it has every value.
#[derive(Clone, Copy)]
struct Last {
    at: i64,
    temperature: f64,
    lit: f64,
    humidity: f64,
    deficit: f64,
}

#[derive(Default)]
struct Day {
    number: i64,
    /// Place of its first record among all.
    first: usize,
    records: u32,
    temperature: TemperatureDay,
    humidity: DayMeans,
    deficit: DayMeans,
    lit: Lit,
}

impl RunningDays {
    pub fn new(place: Option<(f64, f64)>, facts: &LoggerFacts, settings: &Settings) -> Self {
        RunningDays {
            facts: facts.clone(),
            settings: settings.clone(),
            place,
            gap: settings.max_gap_s.max(2 * i64::from(facts.interval_s)),
            days: Vec::new(),
            start: i64::MIN,
            records: 0,
            saturation: Saturation::default(),
            temperature: None,
            humidity: None,
            deficit: None,
            light: None,
            settled: 0,
        }
    }

    fn record(&mut self, at: i64, t: f64, humidity: f64, light: f64) {
        if self.start == i64::MIN || at - self.start >= DAY {
            self.new_day(at);
        }
        let second = (at - self.start) as f64;
        let deficit = self.saturation.deficit(t, humidity);
        if let Some(day) = self.days.last_mut() {
            day.records += 1;
            if t.is_finite() {
                day.temperature.meet(t);
            }
            if light.is_finite() {
                day.lit.meet(second, light);
            }
        }
        self.records += 1;
        self.warm(at, second, t, light);
        let (humid, dry) = (self.humidity, self.deficit);
        self.humidity = self.mean(humid, at, second, humidity, |d| &mut d.humidity);
        self.deficit = self.mean(dry, at, second, deficit, |d| &mut d.deficit);
        if light.is_finite() {
            self.lighten(Value { at, value: light }, second);
        }
    }

    fn new_day(&mut self, at: i64) {
        let number = at.div_euclid(DAY);
        self.start = number * DAY;
        let mut day = Day { number, first: self.records, ..Day::default() };
        if let Some(place) = self.place {
            day.lit.settle(by_sun(number, place, self.facts.standard_offset_s));
        }
        self.days.push(day);
        let sure = number - NEAR_DAYS - 2 - self.gap.max(LONGEST_BRIDGE) / DAY;
        self.settle_before(sure);
    }

    /// Takes the records from `from` on that follow the last one within its day, as long as none lacks a value
    /// and none comes late: what [`record`](Self::record) does with them, all sums at hand. How many it took.
    fn plain(&mut self, records: &Records<'_>, from: usize) -> usize {
        let (Some((warm, lit)), Some(humid), Some(dry), Some(light)) = (self.temperature, self.humidity, self.deficit, self.light) else {
            return 0;
        };
        let one_record = [humid.at, dry.at, light.at].iter().all(|at| *at == warm.at);
        let Some(day) = self.days.last_mut().filter(|_| one_record && warm.at >= self.start && !self.facts.light_is_mean) else { return 0 };
        let offset = i64::from(self.facts.standard_offset_s);
        let latest = |at: i64| (at + self.gap).min(self.start + DAY - 1);
        let mut last = Last { at: warm.at, temperature: warm.value, lit, humidity: humid.value, deficit: dry.value };
        let mut sums = (day.temperature, day.humidity, day.deficit, day.lit.on_record);
        let mut taken = 0;
        let of = |column: &[f64], i: usize| column.get(i).copied().unwrap_or(f64::NAN);
        while let Some(instant) = records.instant.get(from + taken) {
            let at = instant.saturating_add(offset);
            let i = from + taken;
            let (t, humidity, light) = (of(records.temperature, i), of(records.humidity, i), of(records.light, i));
            if at > latest(last.at) || !(t.is_finite() && humidity.is_finite() && light.is_finite()) {
                break;
            }
            let deficit = self.saturation.deficit(t, humidity);
            let end = (at - self.start) as f64;
            let stretch = |from: f64, to: f64| Stretch { start: end - (at - last.at) as f64, end, from, to };
            sums.0.meet(t);
            day.lit.meet(end, light);
            sums.0.add(&stretch(last.temperature, t), (last.lit + light) / 2.0, &self.settings);
            for (sum, stretch) in [(&mut sums.1, stretch(last.humidity, humidity)), (&mut sums.2, stretch(last.deficit, deficit))] {
                sum.add(stretch.seconds(), stretch.mean());
            }
            let bright = stretch(last.lit, light);
            sums.3.add(bright.seconds(), bright.mean());
            day.lit.add(&bright, true);
            last = Last { at, temperature: t, lit: light, humidity, deficit };
            taken += 1;
        }
        day.records += taken as u32;
        (day.temperature, day.humidity, day.deficit, day.lit.on_record) = sums;
        let value = |value| Value { at: last.at, value };
        self.temperature = Some((value(last.temperature), last.lit));
        (self.humidity, self.deficit, self.light) = (Some(value(last.humidity)), Some(value(last.deficit)), Some(value(last.lit)));
        self.records += taken;
        taken
    }

    /// The straight stretch to a value of this day, where the value before it is of this day too.
    fn within_day(&self, before: Value, at: i64, second: f64, to: f64) -> Option<Stretch> {
        (before.at >= self.start).then(|| Stretch { start: second - (at - before.at) as f64, end: second, from: before.value, to })
    }

    fn warm(&mut self, at: i64, second: f64, t: f64, light: f64) {
        if !t.is_finite() {
            return;
        }
        if let Some((before, lit)) = self.temperature.replace((Value { at, value: t }, light))
            && at - before.at <= self.gap
        {
            let light = (lit + light) / 2.0;
            match self.within_day(before, at, second, t) {
                Some(stretch) => self.days.last_mut().into_iter().for_each(|d| d.temperature.add(&stretch, light, &self.settings)),
                None => cut(before, Value { at, value: t }, |number, stretch| {
                    if let Some(day) = day_of(&mut self.days, number) {
                        day.temperature.add(stretch, light, &self.settings);
                    }
                }),
            }
        }
    }

    fn mean(&mut self, before: Option<Value>, at: i64, second: f64, x: f64, of: impl Fn(&mut Day) -> &mut DayMeans) -> Option<Value> {
        if !x.is_finite() {
            return before;
        }
        let value = Value { at, value: x };
        if let Some(before) = before.filter(|b| at - b.at <= self.gap) {
            match self.within_day(before, at, second, x) {
                Some(stretch) => self.days.last_mut().into_iter().for_each(|d| of(d).add(stretch.seconds(), stretch.mean())),
                None => cut(before, value, |number, stretch| {
                    if let Some(day) = day_of(&mut self.days, number) {
                        of(day).add(stretch.seconds(), stretch.mean());
                    }
                }),
            }
        }
        Some(value)
    }

    fn lighten(&mut self, value: Value, second: f64) {
        let Some(before) = self.light.replace(value) else { return };
        let step = value.at - before.at;
        if step > self.gap.max(LONGEST_BRIDGE) {
            if self.facts.light_is_mean {
                self.period(before, Some(value));
            }
            return;
        }
        let strict = step <= self.gap;
        if let Some(stretch) = self.within_day(before, value.at, second, value.value).filter(|_| !self.facts.light_is_mean) {
            if let Some(day) = self.days.last_mut() {
                if strict {
                    day.lit.on_record.add(stretch.seconds(), stretch.mean());
                }
                day.lit.add(&stretch, strict);
            }
            return;
        }
        cut(before, value, |number, stretch| {
            if let Some(day) = day_of(&mut self.days, number) {
                if strict {
                    day.lit.on_record.add(stretch.seconds(), stretch.mean());
                }
                if !self.facts.light_is_mean {
                    day.lit.add(stretch, strict);
                }
            }
        });
        if self.facts.light_is_mean {
            self.period(before, Some(value));
        }
    }

    /// A period mean holds from its stamp for one interval (or to the next record, where the gap may be
    /// bridged), the stamp being taken as the period's start. A stamp at the end moves the record by one
    /// interval, which changes a daily sum only where it is light at midnight.
    fn period(&mut self, value: Value, next: Option<Value>) {
        let interval = i64::from(self.facts.interval_s).max(1);
        let step = next.map_or(i64::MAX, |n| n.at - value.at);
        let held = if step <= self.gap { step } else { interval };
        self.level(value, value.at.saturating_add(held), true);
        if let Some(next) = next.filter(|_| step > self.gap && step <= LONGEST_BRIDGE) {
            let middle = (value.value + next.value) / 2.0;
            self.level(Value { at: value.at + held, value: middle }, next.at, false);
        }
    }

    /// A level stretch from a record to `until`.
    fn level(&mut self, value: Value, until: i64, strict: bool) {
        let mut start = value.at;
        while start < until {
            let number = start.div_euclid(DAY);
            let end = until.min((number + 1) * DAY);
            let second = |time: i64| (time - number * DAY) as f64;
            let stretch = Stretch { start: second(start), end: second(end), from: value.value, to: value.value };
            if let Some(day) = day_of(&mut self.days, number) {
                day.lit.add(&stretch, strict);
            }
            start = end;
        }
    }

    /// Settles the daylight of the days before day `number`: nothing can be added to the days near them.
    fn settle_before(&mut self, number: i64) {
        while let Some(day) = self.days.get(self.settled).filter(|d| d.number < number) {
            if day.lit.is_open() {
                let number = day.number;
                let near = self.days.iter().skip(self.settled.saturating_sub(NEAR_DAYS as usize)).take(2 * NEAR_DAYS as usize + 1);
                let seen: Vec<_> = near.filter_map(|d| Some((d.number, d.lit.shows()?))).collect();
                let window = nearest(number, &seen);
                if let Some(day) = self.days.get_mut(self.settled) {
                    day.lit.settle(window);
                }
            }
            self.settled += 1;
        }
    }

    fn rows(&self, ending: &Ending<'_>) -> Vec<HouseDay> {
        let row = |day: &Day| {
            let date = i32::try_from(day.number).ok().map(from_day_number);
            let mut row = HouseDay { house: self.facts.house.clone(), day: date, records: day.records, ..HouseDay::default() };
            day.write(&mut row);
            row
        };
        let mut rows: Vec<HouseDay> = self.days.iter().map(row).collect();
        for record in ending.flagged.iter() {
            let day = self.days.partition_point(|d| d.first <= record).checked_sub(1);
            if let Some(row) = day.and_then(|k| rows.get_mut(k)) {
                row.flagged += 1;
            }
        }
        rows
    }
}

impl Day {
    fn write(&self, row: &mut HouseDay) {
        self.temperature.write(row);
        row.humidity = self.humidity.mean();
        row.vpd = self.deficit.mean();
        row.completeness = row.completeness.max(self.humidity.share()).max(self.lit.on_record.share());
        if let Some((dli, estimate)) = self.lit.integral() {
            row.dli = Some(dli);
            row.dli_is_estimate = estimate;
        }
    }
}

/// The day of a number; among the last ones, if it has records.
fn day_of(days: &mut [Day], number: i64) -> Option<&mut Day> {
    days.iter_mut().rev().take_while(|d| d.number >= number).find(|d| d.number == number)
}

impl Pass for RunningDays {
    type Out = Vec<HouseDay>;

    fn see(&mut self, records: &Records<'_>) {
        let offset = i64::from(self.facts.standard_offset_s);
        let of = |column: &[f64], i: usize| column.get(i).copied().unwrap_or(f64::NAN);
        let mut i = 0;
        while let Some(instant) = records.instant.get(i) {
            let plain = self.plain(records, i);
            if plain == 0 {
                let (t, humidity, light) = (of(records.temperature, i), of(records.humidity, i), of(records.light, i));
                self.record(instant.saturating_add(offset), t, humidity, light);
            }
            i += plain.max(1);
        }
    }

    fn finish(mut self, ending: &Ending<'_>) -> Vec<HouseDay> {
        if let Some(last) = self.light.filter(|_| self.facts.light_is_mean) {
            self.period(last, None);
        }
        self.settle_before(i64::MAX);
        self.rows(ending)
    }
}
