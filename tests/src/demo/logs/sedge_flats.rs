//! Sedge Flats: a workbook with a sheet a week, pounds and ounces in two columns, a logger in UTC that stuck for
//! two days and whose downloads overlap, a week that nobody picked.
use super::clock::{fahrenheit, on_clock, year_month_day_24};
use super::lines::Lines;
use super::{Files, WriteResult, put, sedge_book, water};
use crate::demo::picking::MISSED_WEEK;
use crate::demo::season::StationSeason;
use crate::demo::station::Station;
use crate::demo::units::{Container, Medium, PLANTS, Unit};
use crate::demo::weather::{Reading, Weather};
use jiff::civil::{Date, Time, date};
use jiff::tz::TimeZone;

const HERE: Station = Station::SedgeFlats;

pub fn logs(season: &StationSeason, seed: u64) -> WriteResult {
    let mut files = Files::new();
    put(&mut files, HERE, "plan.csv", plan(&season.units));
    put(&mut files, HERE, "picks.xlsx", sedge_book::workbook(season)?);
    put(&mut files, HERE, "diary.csv", diary(season));
    if let Some(weather) = &season.weather {
        climate(&mut files, weather)?;
        put(&mut files, HERE, "water.csv", feed_and_drain(weather, seed));
    }
    Ok(files)
}

fn plan(units: &[Unit]) -> Vec<u8> {
    let mut lines = Lines::new(',');
    lines.row(&["Unit", "Block", "Line", "Pos", "Medium", "Container", "Plants", "Sq ft", "Guard"]);
    for unit in units {
        let medium = if unit.medium == Medium::Blend { "blend" } else { "perlite" };
        let container = if unit.container == Container::Bucket { "bucket" } else { "pot" };
        let (block, line, position) = (unit.block.to_string(), unit.row.to_string(), unit.position.to_string());
        let guard = if unit.guard { "x" } else { "" };
        lines.row(&[&unit.id, &block, &line, &position, medium, container, &PLANTS.to_string(), "10.0", guard]);
    }
    lines.utf8()
}

fn diary(season: &StationSeason) -> Vec<u8> {
    let mut lines = Lines::new(',');
    lines.row(&["Date", "Until", "House", "Unit", "Event", "Plants", "Remark"]);
    lines.row(&["2031-05-05", "", "tunnel", "", "note", "", "transplanted"]);
    lines.row(&["2031-06-26", "", "tunnel", "", "logger", "", "temperature and RH frozen since the 24th, restarted"]);
    let (from, until) = (MISSED_WEEK.0.to_string(), MISSED_WEEK.1.to_string());
    lines.row(&[&from, &until, "tunnel", "", "no pick", "", "road flooded; fruit left on the plants"]);
    for death in &season.deaths {
        let unit = season.units.get(death.unit).map_or("", |u| &u.id);
        lines.row(&[&death.day.to_string(), "", "tunnel", unit, "dead plant", "1", death.cause]);
    }
    lines.utf8()
}

/// Downloads of the logger: each begins with the last six hours of the one before.
const DOWNLOADS: [(Date, Date); 3] =
    [(date(2031, 5, 1), date(2031, 6, 20)), (date(2031, 6, 20), date(2031, 8, 5)), (date(2031, 8, 5), date(2031, 9, 30))];
const OVERLAP: i64 = 6 * 3600;

fn climate(files: &mut Files, weather: &Weather) -> Result<(), jiff::Error> {
    let logged = logged(weather)?;
    for (n, (from, until)) in DOWNLOADS.into_iter().enumerate() {
        let (from, until) = (utc_midnight(from)? - OVERLAP, utc_midnight(until)?);
        let mut lines = Lines::new(',');
        lines.row(&["Time UTC", "Temp F", "RH %", "PPFD"]);
        for (second, row) in logged.iter().filter(|(second, _)| (from..until).contains(second)) {
            let time = year_month_day_24(on_clock(*second, &TimeZone::UTC)?);
            let [temperature, humidity, light] = row;
            lines.row(&[&time, temperature, humidity, light]);
        }
        put(files, HERE, &format!("climate-{}.csv", n + 1), lines.utf8());
    }
    Ok(())
}

fn utc_midnight(day: Date) -> Result<i64, jiff::Error> {
    Ok(TimeZone::UTC.to_timestamp(day.to_datetime(Time::midnight()))?.as_second())
}

/// What the logger wrote, faults and all.
fn logged(weather: &Weather) -> Result<Vec<(i64, [String; 3])>, jiff::Error> {
    let stuck = utc_midnight(date(2031, 6, 24))?..utc_midnight(date(2031, 6, 26))?;
    let unplugged = utc_midnight(date(2031, 7, 16))? + 14 * 3600..utc_midnight(date(2031, 7, 16))? + 14 * 3600 + 2700;
    let wet = utc_midnight(date(2031, 8, 21))? + 9 * 3600 + 600;
    let frozen = weather.readings.iter().rfind(|r| r.second < stuck.start).copied();
    let write = |r: &Reading| {
        if unplugged.contains(&r.second) {
            return ["-999", "-999", "-999"].map(str::to_owned);
        }
        let probe = frozen.filter(|_| stuck.contains(&r.second)).unwrap_or(*r);
        let humidity = if r.second == wet { 104.5 } else { probe.humidity };
        [format!("{:.1}", fahrenheit(probe.celsius)), format!("{humidity:.1}"), format!("{:.0}", r.ppfd)]
    };
    Ok(weather.readings.iter().map(|r| (r.second, write(r))).collect())
}

/// Feed and drain in US gallons, EC in µS/cm; not measured on Sundays.
fn feed_and_drain(weather: &Weather, seed: u64) -> Vec<u8> {
    const LITRES_A_GALLON: f64 = 3.785_411_784;
    let mut lines = Lines::new(',');
    lines.row(&["Date", "Line", "In gal", "Out gal", "EC in", "EC out", "pH in", "pH out"]);
    for r in water::of_season(HERE, weather, seed) {
        if r.day.weekday() == jiff::civil::Weekday::Sunday {
            continue;
        }
        lines.row(&[
            r.day.to_string(),
            r.line.to_string(),
            format!("{:.2}", r.feed / LITRES_A_GALLON),
            format!("{:.2}", r.drain / LITRES_A_GALLON),
            format!("{:.0}", r.feed_ec * 1000.0),
            format!("{:.0}", r.drain_ec * 1000.0),
            format!("{:.2}", r.feed_ph),
            format!("{:.2}", r.drain_ph),
        ]);
    }
    lines.utf8()
}
