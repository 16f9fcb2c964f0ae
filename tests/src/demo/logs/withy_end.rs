//! Withy End: perlite alone, a late crop; kilograms, tab-separated pages, lux, EC on a meter in ppm; a logger on the
//! house clock that goes through the doubled hour of autumn.
use super::clock::{day_name_year, on_clock, year_month_day_24};
use super::lines::Lines;
use super::{Files, WriteResult, put, water};
use crate::demo::picking::{Pick, Weighed};
use crate::demo::season::StationSeason;
use crate::demo::station::Station;
use crate::demo::units::{Container, PLANTS, Unit};
use crate::demo::weather::Weather;

const HERE: Station = Station::WithyEnd;
const HEADER: [&str; 6] = ["Day", "No", "Quality", "kg", "Pieces", "Remark"];
const ROWS_A_PAGE: usize = 50;

pub fn logs(season: &StationSeason, seed: u64) -> WriteResult {
    let mut files = Files::new();
    put(&mut files, HERE, "plan.csv", plan(&season.units));
    put(&mut files, HERE, "picks.txt", picks(season));
    put(&mut files, HERE, "diary.csv", diary(season));
    if let Some(weather) = &season.weather {
        put(&mut files, HERE, "climate.csv", climate(weather)?);
        put(&mut files, HERE, "water.csv", feed_and_drain(weather, seed));
    }
    Ok(files)
}

fn plan(units: &[Unit]) -> Vec<u8> {
    let mut lines = Lines::new(',');
    lines.row(&["No", "Block", "Bench", "Place", "Medium", "Container", "Plants"]);
    for unit in units {
        let container = if unit.container == Container::Bucket { "bucket" } else { "pot" };
        let (block, bench, place) = (unit.block.to_string(), unit.row.to_string(), unit.position.to_string());
        lines.row(&[&unit.id, &block, &bench, &place, "perlite", container, &PLANTS.to_string()]);
    }
    lines.utf8()
}

/// Pages with the header on top of each; a second line of the same plant pair and day replaces the first.
fn picks(season: &StationSeason) -> Vec<u8> {
    let mut lines = Lines::new('\t');
    let mut rows: Vec<[String; 6]> = Vec::new();
    for (n, pick) in season.picks.iter().enumerate() {
        if n == 65 {
            let tipped = Weighed { ticks: pick.marketable.ticks / 2 + 1, ..pick.marketable };
            rows.extend(row(pick, season, "good", tipped, "scale not level"));
            rows.extend(row(pick, season, "good", pick.marketable, "weighed again"));
        } else {
            rows.extend(row(pick, season, "good", pick.marketable, ""));
        }
        rows.extend(row(pick, season, "waste", pick.cull, ""));
    }
    for (n, row) in rows.iter().enumerate() {
        if n % ROWS_A_PAGE == 0 {
            lines.row(&HEADER);
        }
        lines.row(row);
    }
    lines.utf8()
}

/// Nothing ripe: no line.
fn row(pick: &Pick, season: &StationSeason, quality: &str, weighed: Weighed, remark: &str) -> Option<[String; 6]> {
    let unit = season.units.get(pick.unit).filter(|_| weighed.ticks > 0)?;
    let kg = format!("{:.3}", f64::from(weighed.ticks) * 0.005);
    Some([day_name_year(pick.day), unit.id.clone(), quality.into(), kg, weighed.fruit.to_string(), remark.into()])
}

fn diary(season: &StationSeason) -> Vec<u8> {
    let mut lines = Lines::new(',');
    lines.row(&["Day", "No", "What", "Plants", "Remark"]);
    lines.row(&["2031-06-23", "", "remark", "", "planted, perlite only this year"]);
    lines.row(&["2031-10-06", "", "remark", "", "heating on"]);
    for death in &season.deaths {
        let unit = season.units.get(death.unit).map_or("", |u| &u.id);
        lines.row(&[&death.day.to_string(), unit, "plant dead", "1", death.cause]);
    }
    lines.utf8()
}

fn climate(weather: &Weather) -> Result<Vec<u8>, jiff::Error> {
    const LUX_A_MICROMOLE: f64 = 54.0;
    let zone = HERE.facts().time_zone()?;
    let mut lines = Lines::new(',');
    lines.row(&["Time", "T", "rH", "Lux", "Battery"]);
    for (n, r) in weather.readings.iter().enumerate() {
        lines.row(&[
            year_month_day_24(on_clock(r.second, &zone)?),
            format!("{:.1}", r.celsius),
            format!("{:.0}", r.humidity.min(100.0)),
            format!("{:.0}", 10.0 * (r.ppfd * LUX_A_MICROMOLE / 10.0).round()),
            format!("{:.2}", 3.62 - 0.5 * n as f64 / weather.readings.len() as f64),
        ]);
    }
    Ok(lines.utf8())
}

/// EC as the meter shows it, 700 ppm a mS/cm.
fn feed_and_drain(weather: &Weather, seed: u64) -> Vec<u8> {
    let mut lines = Lines::new(',');
    lines.row(&["Day", "Bench", "Feed L", "Drain L", "Feed ppm", "Drain ppm", "Feed pH", "Drain pH"]);
    for r in water::of_season(HERE, weather, seed) {
        lines.row(&[
            r.day.to_string(),
            r.line.to_string(),
            format!("{:.1}", r.feed),
            format!("{:.2}", r.drain),
            format!("{:.0}", 10.0 * (r.feed_ec * 70.0).round()),
            format!("{:.0}", 10.0 * (r.drain_ec * 70.0).round()),
            format!("{:.1}", r.feed_ph),
            format!("{:.1}", r.drain_ph),
        ]);
    }
    lines.utf8()
}
