//! Climate logs: the interval, and what the logger's clock shows.
use crate::body::{Body, Part};
use crate::columns;
use crate::draft::{Chapter, Line, Question, Section, many};
use crate::kinds::{columns as column_section, house};
use crate::known::Known;
use crate::layout;
use crate::log::Log;
use crate::numbers;
use crate::ranges::shown;
use crate::words::tokens;
use jiff::civil::{Date, Weekday};
use std::collections::BTreeMap;

pub(crate) fn chapter(log: &Log, sheet: Option<&str>, known: &Known) -> Chapter {
    let mut head = Section::new("[[climate]]");
    head.lines = layout::lines(log, sheet);
    head.lines.extend(house(log, known));
    let stamps = stamps(log);
    head.push(clock(log, &stamps));
    head.lines.extend(interval(&stamps));
    if log.column("light").is_some() {
        head.push(light_is());
    }
    Chapter { title: String::new(), sections: vec![head, column_section(log, "climate", known)] }
}

/// A civil stamp: part, day, seconds since 1970 of the logger's own clock.
struct Stamp {
    part: usize,
    day: Date,
    at: i64,
    light: Option<f64>,
}

fn stamps(log: &Log) -> Vec<Stamp> {
    let (Some(column), Some(days)) = (log.day_column(), log.days()) else { return Vec::new() };
    let (time, light) = (log.column("time"), log.column("light"));
    let style = log.style();
    let clock = time.map(|t| crosshouse_logs::raw::Days::of("year-month-day", t.twelve_hour_times));
    let epoch = jiff::civil::date(1970, 1, 1);
    let stamp = |row: crate::log::Row<'_>| {
        let spot = row.spot(column);
        let found = days.read(spot.cell)?;
        let seconds = match (&clock, time) {
            (Some(Some(clock)), Some(time)) => clock.time(row.cell(time))?,
            _ => found.seconds?,
        };
        let whole = i64::from(found.day.since(epoch).ok()?.get_days());
        Some(Stamp {
            part: spot.part,
            day: found.day,
            at: whole * 86_400 + seconds,
            light: light.and_then(|l| numbers::value(&row.spot(l), style)),
        })
    };
    log.rows().filter_map(stamp).collect()
}

/// Steps from record to record in seconds, with how often.
fn steps(stamps: &[Stamp]) -> BTreeMap<i64, usize> {
    let mut steps: BTreeMap<i64, usize> = BTreeMap::new();
    for pair in stamps.windows(2) {
        if let [a, b] = pair
            && a.part == b.part
        {
            *steps.entry(b.at - a.at).or_default() += 1;
        }
    }
    steps
}

fn usual_step(stamps: &[Stamp]) -> Option<(i64, usize, usize)> {
    let steps = steps(stamps);
    let all: usize = steps.values().sum();
    let (step, n) = steps.into_iter().filter(|(s, _)| *s > 0).max_by_key(|(s, n)| (*n, std::cmp::Reverse(*s)))?;
    Some((step, n, all))
}

fn interval(stamps: &[Stamp]) -> Option<Line> {
    // A step of more than a day is no interval between records, as the site file has it.
    let (step, n, all) = usual_step(stamps).filter(|(step, ..)| (1..=86_400).contains(step))?;
    let minutes = step as f64 / 60.0;
    let text = format!("interval_minutes = {}", shown(minutes));
    let because = format!("{} of {} steps from record to record", many(n), many(all));
    Some(if n * 10 >= all * 9 { Line::sure(text, because) } else { Line::likely(text, because) })
}

fn light_is() -> Line {
    Line::asked(
        Question::new("light_is", "is a value of light the reading at its instant, or a mean?", "")
            .or("instant", "the reading at that time")
            .or("mean", "the mean since the record before"),
    )
}

fn clock(log: &Log, stamps: &[Stamp]) -> Line {
    let header = log.day_column().map_or("", |c| c.header.as_str());
    let time = log.column("time").map_or("", |c| c.header.as_str());
    let says = |text: &str| tokens(text).iter().any(|w| matches!(w.as_str(), "utc" | "gmt" | "z"));
    if says(header) || says(time) {
        return Line::sure("clock = \"utc\"", format!("the header \"{}\" says so", if says(header) { header } else { time }));
    }
    let offsets = log.day_column().and_then(|c| c.day.as_ref()).map_or(0, |d| d.with_offset);
    if offsets > 0 && offsets == stamps.len() {
        return Line::likely("clock = \"utc\"", "every time carries its own offset from UTC, which counts");
    }
    let mut seen: Vec<String> = Vec::new();
    let preamble = log.body.parts.iter().flat_map(|p| &p.frame.preamble);
    let told = |t: &&String| {
        ["clock", "utc", "gmt", "standard time", "daylight", "summer time", "zeit", "uhr", "hora"]
            .iter()
            .any(|w| t.to_lowercase().contains(w))
    };
    seen.extend(preamble.clone().find(told).map(|t| format!("the file says \"{t}\"")));
    seen.extend(changes(stamps));
    seen.extend(centre_of_light(stamps));
    Line::asked(
        Question::new("clock", "what does the logger's clock show?", seen.join("; "))
            .or("site", "the wall clock, with daylight saving")
            .or("standard", "the site's standard time all year")
            .or("utc", "")
            .or_plain("an offset such as \"-06:00\"", "always so far from UTC"),
    )
}

/// An hour that lacks, or stands twice, in the night of a Sunday of spring or autumn.
fn changes(stamps: &[Stamp]) -> Vec<String> {
    let Some((step, _, _)) = usual_step(stamps) else { return Vec::new() };
    let clock = |at: i64| format!("{:02}:{:02}", at.rem_euclid(86_400) / 3600, at.rem_euclid(3600) / 60);
    let mut found = Vec::new();
    for pair in stamps.windows(2) {
        let [a, b] = pair else { continue };
        let night = b.at.rem_euclid(86_400) <= 4 * 3600 && b.day.weekday() == Weekday::Sunday && a.part == b.part;
        match b.at - a.at - step {
            3600 if night => found.push(format!("on Sunday {} the hour after {} lacks", b.day, clock(a.at))),
            -3600 if night => found.push(format!("on Sunday {} the hour from {} stands twice", b.day, clock(b.at))),
            _ => {}
        }
    }
    found.truncate(2);
    found
}

/// The middle of the day by the light: near noon on a local clock, elsewhere on another.
fn centre_of_light(stamps: &[Stamp]) -> Option<String> {
    let (mut x, mut y, mut all) = (0.0, 0.0, 0.0);
    for (at, light) in stamps.iter().filter_map(|s| s.light.filter(|l| *l > 0.0).map(|l| (s.at, l))) {
        let angle = at.rem_euclid(86_400) as f64 / 86_400.0 * std::f64::consts::TAU;
        x += light * angle.cos();
        y += light * angle.sin();
        all += light;
    }
    if all <= 0.0 {
        return None;
    }
    let minutes = (y.atan2(x).rem_euclid(std::f64::consts::TAU) / std::f64::consts::TAU * 1440.0).round() as i64;
    Some(format!("by it the middle of the light falls on {:02}:{:02}", minutes / 60 % 24, minutes % 60))
}

/// Files of one header whose loggers recorded at different intervals are logs of their own.
pub(crate) fn by_interval(log: Log) -> Vec<Log> {
    let stamps = stamps(&log);
    let of = |part: usize| {
        let own: Vec<Stamp> = stamps.iter().filter(|s| s.part == part).map(|s| Stamp { light: None, ..*s }).collect();
        usual_step(&own).map_or(0, |(step, _, _)| step)
    };
    let intervals: Vec<i64> = (0..log.body.parts.len()).map(of).collect();
    if intervals.windows(2).all(|w| w.first() == w.last()) {
        return vec![log];
    }
    let mut groups: Vec<(i64, Vec<Part>)> = Vec::new();
    for (interval, part) in intervals.into_iter().zip(log.body.parts) {
        match groups.iter_mut().find(|(i, _)| *i == interval) {
            Some((_, parts)) => parts.push(part),
            None => groups.push((interval, vec![part])),
        }
    }
    let again = |parts: Vec<Part>| {
        let body = Body { parts };
        let columns = columns::of(&body);
        let assigned = crate::assign::as_kind(&columns, log.assigned.kind, &Known::default());
        Log::new(body, columns, assigned)
    };
    groups.into_iter().map(|(_, parts)| again(parts)).collect()
}
