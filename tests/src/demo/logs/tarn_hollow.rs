//! Tarn Hollow: pounds and ounces in one cell, °F, a 12-hour clock that follows daylight saving, sheets typed by hand.
use super::clock::{fahrenheit, month_day_year, month_day_year_12, on_clock};
use super::lines::Lines;
use super::{Files, WriteResult, put, water};
use crate::demo::chance::Chance;
use crate::demo::picking::Pick;
use crate::demo::season::StationSeason;
use crate::demo::station::Station;
use crate::demo::units::{Container, Medium, PLANTS, Unit};
use crate::demo::weather::{Reading, Weather};
use jiff::civil::Date;

const HERE: Station = Station::TarnHollow;
const MONTHS: [(&str, i8); 5] = [("march", 3), ("april", 4), ("may", 5), ("june", 6), ("july", 7)];
const PICKS_HEADER: [&str; 6] = ["Date", "Tag", "Grade", "Wt", "Fruit", "Notes"];

pub fn logs(season: &StationSeason, seed: u64) -> WriteResult {
    let mut files = Files::new();
    put(&mut files, HERE, "plan.csv", plan(&season.units));
    let mut chance = Chance::of(seed, "sheets of Tarn Hollow");
    for (name, month) in MONTHS {
        let picks: Vec<&Pick> = season.picks.iter().filter(|p| p.day.month() == month).collect();
        if !picks.is_empty() {
            put(&mut files, HERE, &format!("picks-{name}.csv"), sheet(name, &picks, &season.units, &mut chance));
        }
    }
    put(&mut files, HERE, "diary.csv", diary(season));
    if let Some(weather) = &season.weather {
        climate(&mut files, weather)?;
        put(&mut files, HERE, "drain.csv", drain(weather, seed));
    }
    Ok(files)
}

fn plan(units: &[Unit]) -> Vec<u8> {
    let mut lines = Lines::new(',');
    lines.row(&["Tag", "Block", "Line", "Pos", "Medium", "Container", "Plants", "Sq ft"]);
    for unit in units {
        let medium = if unit.medium == Medium::Blend { "CPP" } else { "Per" };
        let container = if unit.container == Container::Bucket { "5 gal bucket" } else { "#5 pot" };
        let (block, line, position) = (unit.block.to_string(), unit.row.to_string(), unit.position.to_string());
        lines.row(&[&unit.id, &block, &line, &position, medium, container, &PLANTS.to_string(), "8.6"]);
    }
    lines.utf8()
}

/// One row of a pick sheet.
struct Entry {
    day: Date,
    tag: String,
    grade: &'static str,
    ounces: u32,
    fruit: u32,
    note: &'static str,
}

fn sheet(month: &str, picks: &[&Pick], units: &[Unit], chance: &mut Chance) -> Vec<u8> {
    let mut lines = Lines::new(',');
    lines.raw(&format!("Tarn Hollow - pick sheet {month} 2031"));
    lines.raw("hanging scale - whole ounces");
    lines.raw("typed from the clipboard - check tags against the plan");
    lines.row(&PICKS_HEADER);
    let entries: Vec<Entry> = picks.iter().flat_map(|p| entries(p, units, chance)).collect();
    let mut slips = Slips::of(month);
    let mut day = None;
    for (n, entry) in entries.iter().enumerate() {
        if day != Some(entry.day) {
            lines.raw(if day.is_some() && chance.happens(0.5) { "" } else { "# walked north to south" });
            day = Some(entry.day);
        }
        if month == "june" && n == entries.len() / 2 {
            lines.row(&PICKS_HEADER);
        }
        slips.before(entry, &mut lines);
        let fruit = if chance.happens(0.006) { "n/a".to_owned() } else { entry.fruit.to_string() };
        write_entry(&mut lines, &month_day_year(entry.day), entry, &pounds(entry.ounces), &fruit, entry.note);
    }
    totals(&mut lines, &entries);
    lines.utf8()
}

fn totals(lines: &mut Lines, entries: &[Entry]) {
    let ounces = entries.iter().map(|e| e.ounces).sum();
    let fruit: u32 = entries.iter().map(|e| e.fruit).sum();
    lines.row(&["Total", "", "", &pounds(ounces), &fruit.to_string(), ""]);
}

fn write_entry(lines: &mut Lines, day: &str, entry: &Entry, mass: &str, fruit: &str, note: &str) {
    lines.row(&[day, &entry.tag, entry.grade, mass, fruit, note]);
}

/// Grades 1 and 2 are marketable, C is cull; now and then a second tray is written on a line of its own.
fn entries(pick: &Pick, units: &[Unit], chance: &mut Chance) -> Vec<Entry> {
    let Some(unit) = units.get(pick.unit) else { return Vec::new() };
    let (day, good) = (pick.day, pick.marketable);
    let second = (f64::from(good.fruit) * chance.between(0.05, 0.25)).round() as u32;
    let second_ounces = (0.92 * f64::from(second * good.ticks) / f64::from(good.fruit.max(1))).round() as u32;
    let mut grades = vec![("1", good.ticks - second_ounces, good.fruit - second, ""), ("2", second_ounces, second, "")];
    if second_ounces == 0 || second == 0 {
        grades = vec![("1", good.ticks, good.fruit, "")];
    } else if chance.happens(0.03) && good.fruit - second > 6 {
        let (ounces, fruit) = ((good.ticks - second_ounces) / 3, (good.fruit - second) / 3);
        grades.push(("1", ounces, fruit, "second tray"));
        if let Some(first) = grades.first_mut() {
            *first = ("1", first.1 - ounces, first.2 - fruit, "");
        }
    }
    grades.push(("C", pick.cull.ticks, pick.cull.fruit, ""));
    let written = grades.into_iter().filter(|g| g.1 > 0);
    written.map(|(grade, ounces, fruit, note)| Entry { day, tag: tag(&unit.id, chance), grade, ounces, fruit, note }).collect()
}

/// The tag as a hurried hand writes it: "B2-07", "b2-07", "B2- 07", "B02-7".
fn tag(id: &str, chance: &mut Chance) -> String {
    match chance.below(40) {
        0..=2 => id.to_lowercase(),
        3 => id.replace('-', "- "),
        4 => id.replace("-0", "-").replacen('B', "B0", 1),
        _ => id.to_owned(),
    }
}

fn pounds(ounces: u32) -> String {
    match (ounces / 16, ounces % 16) {
        (0, oz) => format!("{oz} oz"),
        (lb, oz) => format!("{lb} lb {oz} oz"),
    }
}

/// Lines struck by a slip of the pen, each followed by the right one: nothing is lost when they are set aside.
struct Slips {
    wrong_day: bool,
    wrong_mass: bool,
}

impl Slips {
    fn of(month: &str) -> Self {
        Slips { wrong_day: month == "july", wrong_mass: month == "july" }
    }

    fn before(&mut self, entry: &Entry, lines: &mut Lines) {
        if std::mem::take(&mut self.wrong_day) {
            let (mass, fruit) = (pounds(entry.ounces), entry.fruit.to_string());
            write_entry(lines, "06/31/2031", entry, &mass, &fruit, "wrong day - see next line");
        } else if self.wrong_mass && entry.ounces > 16 && entry.grade == "1" {
            self.wrong_mass = false;
            let mass = pounds(entry.ounces).replace(" oz", "0z");
            write_entry(lines, &month_day_year(entry.day), entry, &mass, "", "smudged - see next line");
        }
    }
}

fn diary(season: &StationSeason) -> Vec<u8> {
    let mut lines = Lines::new(',');
    lines.row(&["Date", "Until", "Tag", "What", "Plants", "Note"]);
    lines.row(&["03/03/2031", "", "", "note", "", "set out, two plants a container"]);
    lines.row(&["04/14/2031", "04/15/2031", "", "pump off", "", "fuse blown overnight, watered by hand at 9"]);
    lines.row(&["05/19/2031", "", "", "note", "", "strings lowered"]);
    for death in &season.deaths {
        let tag = season.units.get(death.unit).map_or("", |u| &u.id);
        lines.row(&[&month_day_year(death.day), "", tag, "plant died", "1", death.cause]);
    }
    lines.utf8()
}

fn climate(files: &mut Files, weather: &Weather) -> Result<(), jiff::Error> {
    let zone = HERE.facts().time_zone()?;
    for (name, month) in MONTHS {
        let mut lines = Lines::new(',');
        lines.raw("Logger south bay");
        lines.raw("Clock: house wall clock");
        lines.row(&["Date/Time", "Temp", "RH", "PAR"]);
        lines.row(&["", "°F", "%", "umol"]);
        for reading in &weather.readings {
            let time = on_clock(reading.second, &zone)?;
            if time.date().month() == month {
                lines.row(&record(&month_day_year_12(time), reading));
            }
        }
        put(files, HERE, &format!("climate-{name}.csv"), lines.utf8_marked());
    }
    Ok(())
}

fn record(time: &str, reading: &Reading) -> [String; 4] {
    let temperature = format!("{:.1}", fahrenheit(reading.celsius));
    [time.to_owned(), temperature, format!("{:.1}", reading.humidity), format!("{:.0}", reading.ppfd)]
}

/// Feed in US gallons, drain in millilitres.
fn drain(weather: &Weather, seed: u64) -> Vec<u8> {
    const LITRES_A_GALLON: f64 = 3.785_411_784;
    let mut lines = Lines::new(',');
    lines.row(&["Date", "Line", "Feed gal", "Drain mL", "EC in", "EC out", "pH in", "pH out"]);
    for r in water::of_season(HERE, weather, seed) {
        lines.row(&[
            month_day_year(r.day),
            r.line.to_string(),
            format!("{:.2}", r.feed / LITRES_A_GALLON),
            format!("{:.0}", r.drain * 1000.0),
            format!("{:.2}", r.feed_ec),
            format!("{:.2}", r.drain_ec),
            format!("{:.1}", r.feed_ph),
            format!("{:.1}", r.drain_ph),
        ]);
    }
    lines.utf8()
}
