//! Clocks that stand apart by an hour or more. A logger's light is halved by the sun's noon at its
//! coordinates; without them, loggers of one site are laid upon each other: the middle of their light, or
//! the daily curves of their temperature.
use super::climate::{ClimateDoubt, Logger};
use super::marks::Marks;
use super::rules::Limit;
use super::sun::solar_day;
use super::trace::{PIECE, PIECES, Trace, TraceDay};

const DAY: i64 = 86_400;
/// Days whose lit time is longer or shorter than the sun's by more than this are lit by lamps or torn by gaps, s.
const TORN: i64 = 2 * 3600;
/// The sun stands so high, °, when light comes and goes in a house.
const HEIGHT: f64 = 2.0;
const WEEK: usize = 7;
/// Furthest shift of curves that is tried, in half-hours.
const FURTHEST: i64 = 4;

/// One logger of a site.
pub(crate) struct Clock<'c> {
    pub house: &'c str,
    pub logger: Logger<'c>,
    pub trace: &'c Trace,
}

/// A day and how many seconds the logger's middle of light is late on it.
type Late<'t> = (&'t TraceDay, i64);

/// The doubts about each logger's clock, in the order of the loggers.
pub(crate) fn clocks(all: &[Clock<'_>]) -> Vec<Vec<ClimateDoubt>> {
    all.iter().enumerate().map(|(i, clock)| of_one(i, clock, all)).collect()
}

fn of_one(i: usize, clock: &Clock<'_>, all: &[Clock<'_>]) -> Vec<ClimateDoubt> {
    if clock.logger.setting.is_off("clock-apart") {
        return Vec::new();
    }
    let lit = clock.trace.days.iter().any(|d| d.light.is_some());
    if let Some(place) = clock.logger.place.filter(|_| lit) {
        let late = by_the_sun(clock.trace, place);
        return told(clock, late, "the sun's noon at the site's coordinates").into_iter().collect();
    }
    // Of two that differ neither can be told to be right: the later one is told, and names the other.
    let others: Vec<&Clock<'_>> = all.iter().enumerate().filter(|(j, _)| *j != i && (all.len() > 2 || *j < i)).map(|(_, o)| o).collect();
    let other_lit: Vec<&Clock<'_>> = others.iter().copied().filter(|o| o.trace.days.iter().any(|d| d.light.is_some())).collect();
    if lit && !other_lit.is_empty() {
        return told(clock, by_others(clock.trace, &other_lit), &named(&other_lit)).into_iter().collect();
    }
    by_curves(clock, &others).into_iter().collect()
}

fn named(others: &[&Clock<'_>]) -> String {
    let names: Vec<String> = others.iter().map(|o| format!("\"{}\"", o.house)).collect();
    format!("that of the logger in {}", names.join(" and "))
}

fn middle(day: &TraceDay) -> Option<i64> {
    day.light.map(|(first, last)| first + (last - first) / 2)
}

fn by_the_sun(trace: &Trace, place: (f64, f64)) -> Vec<Late<'_>> {
    let late = |d| {
        let day: &TraceDay = d;
        let (first, last) = day.light?;
        let sun = solar_day(super::sun::day_number(middle(day)?, place.1), place, HEIGHT);
        ((last - first - 2 * sun.half).abs() <= TORN).then_some((day, middle(day)? - sun.noon))
    };
    trace.days.iter().filter_map(late).collect()
}

fn by_others<'t>(trace: &'t Trace, others: &[&Clock<'_>]) -> Vec<Late<'t>> {
    let of = |d: &'t TraceDay| {
        let same = |o: &&Clock<'_>| o.trace.days.iter().find(|x| x.day == d.day).and_then(middle);
        let mut middles: Vec<i64> = others.iter().filter_map(same).collect();
        middles.sort_unstable();
        let half = middles.len() / 2;
        let between = match middles.len() {
            0 => return None,
            n if n % 2 == 0 => (middles.get(half)? + middles.get(half - 1)?) / 2,
            _ => *middles.get(half)?,
        };
        Some((d, middle(d)? - between))
    };
    trace.days.iter().filter_map(of).collect()
}

/// Each day's median of the five days round it: one dull morning is no clock.
fn smoothed(late: &[Late<'_>]) -> Vec<i64> {
    let of = |i: usize| {
        let mut near: Vec<i64> = late.get(i.saturating_sub(2)..(i + 3).min(late.len())).unwrap_or_default().iter().map(|l| l.1).collect();
        near.sort_unstable();
        near.get(near.len() / 2).copied().unwrap_or(0)
    };
    (0..late.len()).map(of).collect()
}

fn told(clock: &Clock<'_>, late: Vec<Late<'_>>, than: &str) -> Option<ClimateDoubt> {
    let limit = |name| clock.logger.setting.limit("clock-apart", name);
    let (minutes, days) = (limit("minutes"), limit("days").value);
    let smooth = smoothed(&late);
    let apart = |x: &i64| (x.abs() as f64) >= minutes.value * 60.0;
    let (mut best, mut from) = (0..0, 0);
    for run in smooth.chunk_by(|a, b| apart(a) == apart(b) && (a.signum() == b.signum() || !apart(a))) {
        let to = from + run.len();
        if run.first().is_some_and(apart) && run.len() > best.len() {
            best = from..to;
        }
        from = to;
    }
    if (best.len() as f64) < days {
        return None;
    }
    let mut lags: Vec<i64> = smooth.get(best.clone())?.to_vec();
    lags.sort_unstable();
    let lag = lags.get(lags.len() / 2)?;
    let found: Vec<&TraceDay> = late.get(best)?.iter().map(|l| l.0).collect();
    let what = format!("the middle of its light lies {} min {} than {than}", lag.abs() / 60, if *lag > 0 { "later" } else { "earlier" });
    Some(doubt(&found, &what, &minutes))
}

fn doubt(days: &[&TraceDay], what: &str, limit: &Limit) -> ClimateDoubt {
    let mut marks = Marks::default();
    days.iter().for_each(|d| marks.join(&d.marks));
    let date = |d: Option<&&TraceDay>| d.map_or(String::new(), |d| super::stamp(d.day * DAY).split(' ').next().unwrap_or("").to_owned());
    let text = format!(
        "from {} to {} {what} (limit {} min: {}): see which clock the logger kept, and declare it as `clock`",
        date(days.first()),
        date(days.last()),
        limit.value,
        limit.source
    );
    ClimateDoubt::new("clock-apart", text, marks, None)
}

/// Weeks in which the curve of temperature lies better on those of all the others after a shift.
fn by_curves(clock: &Clock<'_>, others: &[&Clock<'_>]) -> Option<ClimateDoubt> {
    if others.is_empty() {
        return None;
    }
    let limit = |name| clock.logger.setting.limit("clock-apart", name);
    let (minutes, likeness, gain) = (limit("minutes"), limit("likeness").value, limit("gain").value);
    let least = (minutes.value * 60.0 / PIECE as f64).ceil() as i64;
    let shift_of = |week: &[TraceDay]| -> Option<i64> {
        let shifts: Option<Vec<i64>> = others.iter().map(|o| best_shift(week, o.trace, likeness, gain)).collect();
        let shifts = shifts?;
        let first = *shifts.first()?;
        (first.abs() >= least && shifts.iter().all(|s| *s == first)).then_some(first)
    };
    let weeks: Vec<&[TraceDay]> =
        clock.trace.days.chunk_by(|a, b| a.day.div_euclid(WEEK as i64) == b.day.div_euclid(WEEK as i64)).collect();
    let shifts: Vec<Option<i64>> = weeks.iter().map(|w| shift_of(w)).collect();
    let mut at = 0;
    for run in shifts.chunk_by(|a, b| a == b) {
        let these = weeks.get(at..at + run.len())?;
        at += run.len();
        let Some(Some(shift)) = run.first() else { continue };
        let days: Vec<&TraceDay> = these.iter().flat_map(|w| w.iter()).collect();
        if run.len() < 2 {
            continue;
        }
        let what = format!(
            "its daily curve of temperature lies {} min {} than {}",
            shift.abs() * PIECE / 60,
            if *shift > 0 { "later" } else { "earlier" },
            named(others)
        );
        return Some(doubt(&days, &what, &minutes));
    }
    None
}

/// The shift, in half-hours late, at which a week's curve lies best on another logger's; 0 where no shift is
/// clearly better; `None` where the curves are unlike or too short.
fn best_shift(week: &[TraceDay], other: &Trace, likeness: f64, gain: f64) -> Option<i64> {
    let pairs: Vec<(&TraceDay, &TraceDay)> = week.iter().filter_map(|d| Some((d, other.days.iter().find(|o| o.day == d.day)?))).collect();
    if pairs.len() < 5 {
        return None;
    }
    let at = |shift: i64| correlation(&pairs, shift).map(|r| (r, shift));
    let still = at(0)?.0;
    let (best, shift) = (-FURTHEST..=FURTHEST).filter_map(at).max_by(|a, b| a.0.total_cmp(&b.0).then(b.1.abs().cmp(&a.1.abs())))?;
    if best < likeness {
        return None;
    }
    Some(if best - still >= gain { shift } else { 0 })
}

/// Correlation of two loggers' half-hours, each day about its own mean, the first read `shift` half-hours later.
fn correlation(pairs: &[(&TraceDay, &TraceDay)], shift: i64) -> Option<f64> {
    let (mut xy, mut xx, mut yy) = (0.0, 0.0, 0.0);
    for (a, b) in pairs {
        let of = |d: &TraceDay, i: i64| d.curve.get(usize::try_from(i).ok()?).filter(|p| p.1 > 0).map(|p| p.0 / f64::from(p.1));
        let both: Vec<(f64, f64)> = (0..PIECES as i64).filter_map(|i| Some((of(a, i + shift)?, of(b, i)?))).collect();
        let n = both.len() as f64;
        let (mx, my) = (both.iter().map(|p| p.0).sum::<f64>() / n, both.iter().map(|p| p.1).sum::<f64>() / n);
        for (x, y) in both {
            xy += (x - mx) * (y - my);
            xx += (x - mx).powi(2);
            yy += (y - my).powi(2);
        }
    }
    (xx > 0.0 && yy > 0.0).then(|| xy / (xx * yy).sqrt())
}

#[cfg(test)]
mod tests {
    use super::super::sample::{Log, sunny};
    use super::*;

    const PLACE: (f64, f64) = (45.0, 0.0);

    fn trace(log: &Log) -> Trace {
        log.told(log.logger()).1
    }

    fn found(logs: &[&Log], place: Option<(f64, f64)>) -> Vec<Option<String>> {
        let traces: Vec<Trace> = logs.iter().map(|l| trace(l)).collect();
        let names = ["east", "west", "north"];
        let all: Vec<Clock<'_>> = logs
            .iter()
            .zip(&traces)
            .zip(names)
            .map(|((l, trace), house)| Clock { house, logger: Logger { place, ..l.logger() }, trace })
            .collect();
        clocks(&all).into_iter().map(|d| d.first().map(|d| d.text.clone())).collect()
    }

    fn late(log: &Log, from: usize, seconds: i64) -> Log {
        let mut log = log.clone();
        log.instant.iter_mut().skip(from).for_each(|t| *t += seconds);
        log
    }

    #[test]
    fn a_logger_an_hour_fast_is_told_by_the_sun_and_one_right_is_not() {
        let log = sunny(30, PLACE);
        assert_eq!(found(&[&log], Some(PLACE)), [None]);
        let text = found(&[&late(&log, 0, 3600)], Some(PLACE))[0].clone().unwrap();
        assert!(text.contains("light lies 6") && text.contains("min later than the sun's noon"), "{text}");
    }

    #[test]
    fn a_clock_put_forward_in_mid_log_is_told_from_that_day_on() {
        let log = late(&sunny(40, PLACE), 20 * 144, 3600);
        let text = found(&[&log], Some(PLACE))[0].clone().unwrap();
        assert!(text.starts_with("from 1970-01-2"), "{text}");
    }

    #[test]
    fn a_house_whose_mornings_are_shaded_for_half_an_hour_keeps_its_clock() {
        let mut log = sunny(30, PLACE);
        for day in 0..30 {
            let dawn = (day * 144..day * 144 + 144).find(|i| log.light[*i] > 20.0).unwrap();
            log.light[dawn..dawn + 3].fill(5.0);
        }
        assert_eq!(found(&[&log], Some(PLACE)), [None]);
    }

    #[test]
    fn of_two_loggers_without_coordinates_an_hour_apart_one_names_the_other() {
        let log = sunny(30, PLACE);
        let told = found(&[&log, &late(&log, 0, 3600)], None);
        assert_eq!(told[0], None);
        assert!(told[1].as_ref().unwrap().contains("60 min later than that of the logger in \"east\""), "{told:?}");
    }

    #[test]
    fn of_three_loggers_the_one_that_differs_is_named() {
        let log = sunny(30, PLACE);
        let told = found(&[&log, &late(&log, 0, -3600), &log], None);
        assert_eq!(told.iter().map(Option::is_some).collect::<Vec<_>>(), [false, true, false]);
    }

    #[test]
    fn curves_of_temperature_an_hour_apart_are_told_where_there_is_no_light() {
        let mut log = sunny(30, PLACE);
        log.light.clear();
        let mut other = log.clone();
        // Another house: warmer by day, and half an hour behind in its warmth.
        other.temperature.iter_mut().for_each(|x| *x = 1.2 * *x - 2.0);
        assert_eq!(found(&[&log, &late(&other, 0, 1800)], None), [None, None]);
        let told = found(&[&log, &late(&other, 0, 3600)], None);
        assert!(told[1].as_ref().unwrap().contains("daily curve of temperature lies 60 min later"), "{told:?}");
    }
}
