//! Marl Ridge: decimal commas, semicolons, Windows code page 1252, grams, °C; a logger that wrote every minute for a
//! month; soluble solids now and then.
use super::clock::{day_month_year, on_clock, standard};
use super::lines::{Lines, comma};
use super::{Files, WriteResult, put, water};
use crate::demo::chance::Chance;
use crate::demo::picking::{Pick, Weighed};
use crate::demo::season::StationSeason;
use crate::demo::station::{Station, day_after};
use crate::demo::units::{Container, Medium, PLANTS, Unit};
use crate::demo::weather::{MARL_RIDGE_SLOWER, Weather};
use jiff::civil::{Weekday, date};

const HERE: Station = Station::MarlRidge;

pub fn logs(season: &StationSeason, seed: u64) -> WriteResult {
    let mut files = Files::new();
    put(&mut files, HERE, "plan.csv", plan(&season.units));
    put(&mut files, HERE, "harvest.csv", harvest(season, seed));
    put(&mut files, HERE, "diary.csv", diary(season));
    if let Some(weather) = &season.weather {
        climate(&mut files, weather)?;
        put(&mut files, HERE, "drain.csv", drain(weather, seed));
    }
    Ok(files)
}

fn plan(units: &[Unit]) -> Vec<u8> {
    let mut lines = Lines::new(';');
    lines.row(&["Plot", "Block", "Row", "Place", "Medium", "Container", "Plants", "Area m²"]);
    for unit in units {
        let medium = if unit.medium == Medium::Blend { "mix" } else { "perlite" };
        let container = if unit.container == Container::Bucket { "bucket" } else { "pot" };
        let (block, row, place) = (unit.block.to_string(), unit.row.to_string(), unit.position.to_string());
        lines.row(&[&unit.id, &block, &row, &place, medium, container, &PLANTS.to_string(), "0,74"]);
    }
    lines.windows_1252()
}

fn harvest(season: &StationSeason, seed: u64) -> Vec<u8> {
    let mut chance = Chance::of(seed, "sheets of Marl Ridge");
    let mut lines = Lines::new(';');
    lines.raw("Marl Ridge;snack pepper 2031;harvest");
    lines.row(&["Date", "Plot", "Class", "Mass", "Fruit", "°Brix", "Remark"]);
    lines.row(&["", "", "", "g", "", "%", ""]);
    for pick in &season.picks {
        if let Some(unit) = season.units.get(pick.unit) {
            let brix = brix(pick, unit, &mut chance);
            let remark = if chance.happens(0.01) { "½ crate, ripe" } else { "" };
            entry(&mut lines, pick, &unit.id, "I", pick.marketable, &brix, remark);
            entry(&mut lines, pick, &unit.id, "out", pick.cull, "-", "");
        }
    }
    lines.windows_1252()
}

/// Nothing ripe: no line.
fn entry(lines: &mut Lines, pick: &Pick, plot: &str, class: &str, weighed: Weighed, brix: &str, remark: &str) {
    if weighed.ticks > 0 {
        let (mass, fruit) = (weighed.ticks.to_string(), weighed.fruit.to_string());
        lines.row(&[&day_month_year(pick.day), plot, class, &mass, &fruit, brix, remark]);
    }
}

/// Soluble solids of a sample fruit on the first Tuesday of a month; "-" otherwise.
fn brix(pick: &Pick, unit: &Unit, chance: &mut Chance) -> String {
    let drawn = 7.4 + if unit.medium == Medium::Perlite { 0.3 } else { 0.0 } + chance.normal(0.45);
    if pick.day.weekday() == Weekday::Tuesday && pick.day.day() <= 7 { comma(drawn, 1) } else { "-".to_owned() }
}

fn diary(season: &StationSeason) -> Vec<u8> {
    let mut lines = Lines::new(';');
    lines.row(&["Date", "Plot", "House", "Entry", "Plants", "Remark"]);
    lines.row(&["17.03.2031", "", "G2", "remark", "", "planted out, CO2 on by day"]);
    lines.row(&["17.04.2031", "", "G2", "logger", "", "memory full, interval set from 1 to 10 min"]);
    lines.row(&["11.06.2031", "", "G2", "remark", "", "vents repaired, 31 °C at noon"]);
    for death in &season.deaths {
        let plot = season.units.get(death.unit).map_or("", |u| &u.id);
        lines.row(&[&day_month_year(death.day), plot, "G2", "plant lost", "1", death.cause]);
    }
    lines.windows_1252()
}

/// Standard time all year, date and time apart.
fn climate(files: &mut Files, weather: &Weather) -> Result<(), jiff::Error> {
    let clock = standard(HERE.facts().standard_offset())?;
    let header = ["Date", "Time", "Temp. °C", "RH %", "PPFD µmol/m²s", "CO2 ppm"];
    let mut files_of = [("climate-1min.csv", Lines::new(';')), ("climate-10min.csv", Lines::new(';'))];
    for (_, lines) in &mut files_of {
        lines.row(&header);
    }
    let [(_, fast), (_, slow)] = &mut files_of;
    for r in &weather.readings {
        let time = on_clock(r.second, &clock)?;
        let lines = if time.date() < MARL_RIDGE_SLOWER { &mut *fast } else { &mut *slow };
        lines.row(&[
            day_month_year(time.date()),
            format!("{:02}:{:02}", time.hour(), time.minute()),
            comma(r.celsius, 1),
            comma(r.humidity, 1),
            format!("{:.0}", r.ppfd),
            format!("{:.0}", r.co2),
        ]);
    }
    for (name, lines) in files_of {
        put(files, HERE, name, lines.windows_1252());
    }
    Ok(())
}

/// One pH was typed without its comma.
fn drain(weather: &Weather, seed: u64) -> Vec<u8> {
    let slip = (day_after(date(2031, 5, 1), 21), 2);
    let mut lines = Lines::new(';');
    lines.row(&["Date", "Row", "Feed L", "Drain L", "EC feed", "EC drain", "pH feed", "pH drain"]);
    for r in water::of_season(HERE, weather, seed) {
        let feed_ph = if (r.day, r.line) == slip { "58".to_owned() } else { comma(r.feed_ph, 1) };
        lines.row(&[
            day_month_year(r.day),
            r.line.to_string(),
            comma(r.feed, 1),
            comma(r.drain, 2),
            comma(r.feed_ec, 2),
            comma(r.drain_ec, 2),
            feed_ph,
            comma(r.drain_ph, 1),
        ]);
    }
    lines.windows_1252()
}
