//! One season, kept in two styles: tidy metric CSV, and the customary workbooks of a station that writes
//! pounds and ounces, °F, month/day, a sheet a week and a column a date. The trial tables are the same, to
//! the gram and the minute; so are those of a station whose houses pick on different days.
#![allow(clippy::unwrap_used)]

use crosshouse_logs::Silent;
use crosshouse_trial::tables::{PickState, SiteTrial, TrialTables};
use jiff::ToSpan;
use jiff::civil::{Date, DateTime, date};
use rust_xlsxwriter::{ExcelDateTime, Format, Workbook, Worksheet};
use std::path::Path;

const SEASON: &str = r#"
[season]
title = "Two soils"
crop = "snack pepper"
year = "2031"
seed = 7
logs = "logs"
sites = ["north.toml"]
[factors.soil]
levels = ["loam", "grit"]
unit_of_assignment = "unit"
[[question]]
id = "loam-against-grit"
ask = "Does loam bear more than grit?"
response = "marketable-yield-per-plant"
compare = ["soil"]
pairs = "all"
adjust = "tukey"
sites = "these"
"#;

const SITE: &str = r#"
[site]
name = "North"
time_zone = "CST6CDT"
transplanted = 2031-03-24
ended = 2031-07-31
[[house]]
id = "glass-1"
kind = "glasshouse"
area_basis = "house floor incl. share of aisle"
"#;

const TIDY: &str = r#"
[plan]
file = "plan.csv"
[plan.columns]
"unit" = { is = "unit" }
"block" = { is = "block" }
"line" = { is = "line" }
"soil" = { is = "factor", factor = "soil" }
"plants" = { is = "plants" }
"area_m2" = { is = "area", unit = "m2" }
[[harvest]]
files = ["picks.csv"]
delimiter = ","
decimal = "."
date_style = "year-month-day"
unlisted = "zero"
same_day = "add"
[harvest.columns]
"day" = { is = "date" }
"unit" = { is = "unit" }
"kg" = { is = "mass", unit = "kg" }
"grade" = { is = "grade" }
[harvest.grades]
"marketable" = "marketable"
"cull" = "cull"
[[climate]]
files = ["climate.csv"]
house = "glass-1"
clock = "utc"
interval_minutes = 30
light_is = "instant"
decimal = "."
date_style = "year-month-day"
[climate.columns]
"utc" = { is = "date-time" }
"celsius" = { is = "temperature", unit = "°C" }
"humidity" = { is = "humidity", unit = "%" }
"ppfd" = { is = "light", unit = "umol/m2/s" }
[[root_zone]]
files = ["drain.csv"]
house = "glass-1"
plants = 4
decimal = "."
date_style = "year-month-day"
[root_zone.columns]
"day" = { is = "date" }
"line" = { is = "zone" }
"feed_l" = { is = "feed-volume", unit = "L" }
"drain_l" = { is = "drain-volume", unit = "L" }
"feed_ec" = { is = "feed-ec", unit = "dS/m" }
"drain_ec" = { is = "drain-ec", unit = "dS/m" }
[[diary]]
files = ["diary.csv"]
date_style = "year-month-day"
[diary.columns]
"day" = { is = "date" }
"unit" = { is = "unit" }
"event" = { is = "event" }
"plants" = { is = "plants" }
"#;

/// Marketable fruit: a sheet for each month, a column a date, pounds and ounces side by side under it, the
/// dates merged over their pairs, the blocks merged over their buckets, totals below. Culls: a sheet a
/// week, in one cell as 1-4. Climate: °F and foot-candles, month/day, 12 hours, the site's clock, two
/// overlapping downloads with preamble and trailer.
const CUSTOMARY: &str = r#"
[plan]
file = "The plan.xlsx"
sheet = "Buckets"
skip_lines = 2
[plan.columns]
"Bucket #" = { is = "unit" }
"Blk" = { is = "block" }
"Row" = { is = "line" }
"Mix" = { is = "factor", factor = "soil" }
"No. of plants" = { is = "plants" }
"Area (sq ft)" = { is = "area" }
[plan.levels.soil]
"L" = "loam"
"G" = "grit"
[unit_ids]
case = "ignore"
spaces = "drop"
[[harvest]]
files = ["Picks 2031.xlsx"]
sheet = "* picks"
skip_lines = 1
date_style = "month/day"
year = 2031
totals = ["Total*"]
unlisted = "zero"
same_day = "add"
[harvest.columns]
"Block" = { is = "ignored" }
"Bucket" = { is = "unit" }
"Season" = { is = "ignored" }
[harvest.wide]
across = "date"
[harvest.wide.columns]
"lb" = { is = "mass" }
"oz" = { is = "mass" }
[[harvest]]
files = ["Culls.xlsx"]
sheet = "Week *"
sheet_name = { is = "date" }
date_style = "week"
year = 2031
week_day = "monday"
unlisted = "zero"
same_day = "add"
missing = ["", "-"]
[harvest.columns]
"Bucket" = { is = "unit" }
"Thrown out" = { is = "mass", unit = "lb-oz" }
"Why" = { is = "grade" }
[harvest.grades]
"sunscald" = "cull"
[[climate]]
files = ["House log *.csv"]
house = "glass-1"
clock = "site"
interval_minutes = 30
light_is = "instant"
skip_lines = 2
ends_at = "End of"
date_style = "month/day/year"
time_style = "12-hour"
[climate.columns]
"Date" = { is = "date" }
"Time" = { is = "time" }
"Temp (°F)" = { is = "temperature" }
"RH (%)" = { is = "humidity" }
"Light (fc)" = { is = "light", lamp = "sun and sky" }
[[root_zone]]
files = ["Drain.xlsx"]
house = "glass-1"
plants = 4
date_style = "month/day"
year = 2031
[root_zone.columns]
"Day" = { is = "date" }
"Row" = { is = "zone" }
"Feed" = { is = "feed-volume", unit = "US gal" }
"Drain" = { is = "drain-volume", unit = "US fl oz" }
"Feed ppm" = { is = "feed-ec", unit = "ppm", scale = 700 }
"Drain ppm" = { is = "drain-ec", unit = "ppm", scale = 700 }
[[diary]]
files = ["Diary.xlsx"]
[diary.columns]
"Day" = { is = "date" }
"Bucket" = { is = "unit" }
"What" = { is = "event" }
"How many" = { is = "plants" }
[diary.events]
"plant died" = "plant-death"
"#;

const UNITS: u32 = 8;

fn unit(u: u32) -> String {
    format!("B{}-{:02}", 1 + u / 4, 1 + u % 4)
}

/// Pick days: each Monday from 2 June to 28 July.
fn days() -> Vec<Date> {
    (0..9).map(|w| date(2031, 6, 2).checked_add((7 * w).days()).unwrap()).collect()
}

/// Ounces picked of a unit on the nth pick day; `None`: no row.
fn ounces(u: u32, n: u32) -> Option<u32> {
    (!(u * 5 + n * 3).is_multiple_of(11)).then(|| 6 + (u * 7 + n * 13) % 41)
}

fn culled(u: u32, n: u32) -> Option<u32> {
    ounces(u, n).filter(|_| (u + n).is_multiple_of(4)).map(|o| 1 + o / 5)
}

/// Kilograms of whole ounces, written out exactly: 1 oz = 0.028 349 523 125 kg.
fn kilograms(ounces: u32) -> String {
    let picograms = u64::from(ounces) * 28_349_523_125;
    format!("{}.{:012}", picograms / 1_000_000_000_000, picograms % 1_000_000_000_000)
}

/// Half-hours of July 4 to 6 by the site's clock: instant, °F in whole degrees, % and foot-candles.
fn climate() -> Vec<(DateTime, u32, u32, u32)> {
    let start = date(2031, 7, 4).at(0, 0, 0, 0);
    let light = |i: u32| (i % 48).abs_diff(24);
    (0..144)
        .map(|i| (start.checked_add((i64::from(i) * 30).minutes()).unwrap(), 61 + i % 27, 50 + i % 31, (24 - light(i).min(24)) * 100))
        .collect()
}

struct Folder(tempfile::TempDir);

impl Folder {
    fn new(site: &str) -> Self {
        let folder = Folder(tempfile::tempdir().unwrap());
        std::fs::create_dir(folder.0.path().join("logs")).unwrap();
        folder.put("season.toml", SEASON).put("north.toml", format!("{SITE}{site}"))
    }

    #[allow(clippy::disallowed_methods)] // inputs of the tests
    fn put(self, name: impl AsRef<Path>, bytes: impl AsRef<[u8]>) -> Self {
        std::fs::write(self.0.path().join(name), bytes).unwrap();
        self
    }

    fn log(self, name: &str, bytes: impl AsRef<[u8]>) -> Self {
        self.put(Path::new("logs").join(name), bytes)
    }

    fn trial(&self) -> TrialTables {
        let worked = crosshouse::run::work(&self.0.path().join("season.toml"), &Silent).unwrap_or_else(|e| panic!("{e:?}"));
        assert!(worked.clean.files.iter().all(|f| f.balances()), "{:#?}", worked.clean.files);
        assert!(worked.clean.faults.is_empty(), "{:#?}", worked.clean.faults);
        worked.trial
    }
}

fn tidy() -> Folder {
    let mut plan = "unit,block,line,soil,plants,area_m2\n".to_owned();
    let (mut picks, mut drain) = ("day,unit,kg,grade\n".to_owned(), "day,line,feed_l,drain_l,feed_ec,drain_ec\n".to_owned());
    for u in 0..UNITS {
        let soil = if u % 2 == 0 { "loam" } else { "grit" };
        // 5 ft² = 0.464 515 2 m² (1 ft = 0.3048 m).
        plan += &format!("{},{},{},{soil},2,0.4645152\n", unit(u), 1 + u / 4, 1 + u / 4);
        for (n, day) in (0..).zip(days()) {
            let row = |ounces: u32, grade: &str| format!("{day},{},{},{grade}\n", unit(u), kilograms(ounces));
            picks += &ounces(u, n).map_or_else(String::new, |o| row(o, "marketable"));
            picks += &culled(u, n).map_or_else(String::new, |o| row(o, "cull"));
        }
    }
    let mut records = "utc,celsius,humidity,ppfd\n".to_owned();
    for (local, fahrenheit, humidity, candles) in climate() {
        // July is daylight time: 5 hours behind UTC. 1 fc = 1/0.09290304 lx; 54 lx per µmol (Thimijan & Heins 1983).
        let utc = local.checked_add(5.hours()).unwrap();
        let celsius = (f64::from(fahrenheit) - 32.0) * 5.0 / 9.0;
        records += &format!("{}T{},{celsius},{humidity},{}\n", utc.date(), utc.time(), f64::from(candles) / 0.092_903_04 / 54.0);
    }
    for (day, line) in days().into_iter().flat_map(|d| [(d, 1), (d, 2)]) {
        // 2 US gal = 7.570 823 568 L; 64 US fl oz = 1.892 705 892 L; 1400 and 1960 ppm of the 700 scale.
        drain += &format!("{day},{line},7.570823568,1.892705892,2,2.8\n");
    }
    Folder::new(TIDY)
        .log("plan.csv", plan)
        .log("picks.csv", picks)
        .log("climate.csv", records)
        .log("drain.csv", drain)
        .log("diary.csv", "day,unit,event,plants\n2031-06-20,B1-03,plant-death,1\n")
}

/// One month of marketable picks, a column a date.
fn month(sheet: &mut Worksheet, days: &[(u32, Date)]) {
    let plain = Format::new();
    sheet.write(0, 0, "Weighed by the morning crew").unwrap();
    sheet.merge_range(1, 0, 2, 0, "Block", &plain).unwrap();
    sheet.write(2, 1, "Bucket").unwrap();
    for (i, (_, day)) in days.iter().enumerate() {
        let column = 2 + 2 * i as u16;
        // The first date is a date of the workbook, the others are typed as text.
        sheet.merge_range(1, column, 1, column + 1, &format!("{}/{}", day.month(), day.day()), &plain).unwrap();
        if i == 0 {
            let serial = ExcelDateTime::from_ymd(day.year() as u16, day.month() as u8, day.day() as u8).unwrap();
            sheet.write_with_format(1, column, &serial, &Format::new().set_num_format("m/d")).unwrap();
        }
        sheet.write(2, column, "lb").unwrap();
        sheet.write(2, column + 1, "oz").unwrap();
    }
    let last = 2 + 2 * days.len() as u16;
    sheet.write(2, last, "Season").unwrap();
    for u in 0..UNITS {
        let row = 3 + u;
        if u % 4 == 0 {
            sheet.merge_range(row, 0, row + 3, 0, &format!("Block {}", 1 + u / 4), &plain).unwrap();
        }
        sheet.write(row, 1, unit(u).to_lowercase().replace('-', " - ")).unwrap();
        for (i, (n, _)) in days.iter().enumerate() {
            let Some(ounces) = ounces(u, *n) else { continue };
            let column = 2 + 2 * i as u16;
            if ounces >= 16 {
                sheet.write(row, column, ounces / 16).unwrap();
            }
            // Some ounces were typed as text.
            match u % 3 {
                0 => sheet.write(row, column + 1, (ounces % 16).to_string()).unwrap(),
                _ => sheet.write(row, column + 1, ounces % 16).unwrap(),
            };
        }
        sheet.write(row, last, 99).unwrap();
    }
    sheet.write(3 + UNITS, 0, "Total of the month").unwrap();
    sheet.write(3 + UNITS, 2, 999).unwrap();
    sheet.set_row_hidden(4).unwrap();
}

fn picks_workbook() -> Vec<u8> {
    let mut book = Workbook::new();
    for (name, of) in [("June", 6), ("July", 7)] {
        let days: Vec<(u32, Date)> = (0..).zip(days()).filter(|(_, d)| d.month() == of).collect();
        month(book.add_worksheet().set_name(format!("{name} picks")).unwrap(), &days);
    }
    book.add_worksheet().set_name("Notes").unwrap().write(0, 0, "Nothing here").unwrap();
    book.save_to_buffer().unwrap()
}

fn culls_workbook() -> Vec<u8> {
    let mut book = Workbook::new();
    for (n, day) in (0..).zip(days()) {
        let sheet = book.add_worksheet().set_name(format!("Week {}", day.iso_week_date().week())).unwrap();
        sheet.write_row(0, 0, ["Bucket", "Thrown out", "Why"]).unwrap();
        for (row, u) in (1..).zip((0..UNITS).filter(|u| culled(*u, n).is_some())) {
            let ounces = culled(u, n).unwrap();
            sheet.write_row(row, 0, [unit(u), format!("{}-{}", ounces / 16, ounces % 16), "sunscald".to_owned()]).unwrap();
        }
        // A week without culls has a sheet all the same.
        if (0..UNITS).all(|u| culled(u, n).is_none()) {
            panic!("every week of the made season has culls");
        }
    }
    book.save_to_buffer().unwrap()
}

fn house_log(records: &[(DateTime, u32, u32, u32)]) -> String {
    let mut text = "Station North\nSensor 4\nDate,Time,Temp (°F),RH (%),Light (fc)\n".to_owned();
    for (local, fahrenheit, humidity, candles) in records {
        let half = if local.hour() < 12 { "AM" } else { "PM" };
        let hour = if local.hour() % 12 == 0 { 12 } else { local.hour() % 12 };
        let day = format!("{}/{}/{}", local.month(), local.day(), local.year());
        text += &format!("{day},{hour}:{:02} {half},{fahrenheit},{humidity},{candles}\n", local.minute());
    }
    text + "End of download\n"
}

fn sheet_of(name: &str, skip: u32, rows: &[Vec<String>]) -> Vec<u8> {
    let mut book = Workbook::new();
    let sheet = book.add_worksheet().set_name(name).unwrap();
    if skip > 0 {
        sheet.write(0, 0, "Kept by hand").unwrap();
    }
    for (r, row) in rows.iter().enumerate() {
        for (c, cell) in row.iter().enumerate() {
            match cell.parse::<f64>() {
                Ok(x) => sheet.write(skip + r as u32, c as u16, x).unwrap(),
                Err(_) => sheet.write(skip + r as u32, c as u16, cell).unwrap(),
            };
        }
    }
    book.save_to_buffer().unwrap()
}

fn row(cells: &[&str]) -> Vec<String> {
    cells.iter().map(|c| (*c).to_owned()).collect()
}

fn customary() -> Folder {
    let mut plan = vec![row(&["Bucket #", "Blk", "Row", "Mix", "No. of plants", "Area (sq ft)"])];
    for u in 0..UNITS {
        let block = (1 + u / 4).to_string();
        plan.push(row(&[&unit(u), &block, &block, if u % 2 == 0 { "L" } else { "G" }, "2", "5"]));
    }
    let mut drain = vec![row(&["Day", "Row", "Feed", "Drain", "Feed ppm", "Drain ppm"])];
    for (day, line) in days().into_iter().flat_map(|d| [(d, "1"), (d, "2")]) {
        drain.push(row(&[&format!("{}/{}", day.month(), day.day()), line, "2", "64", "1400", "1960"]));
    }
    let mut diary = Workbook::new();
    let sheet = diary.add_worksheet();
    sheet.write_row(0, 0, ["Day", "Bucket", "What", "How many"]).unwrap();
    let died = ExcelDateTime::from_ymd(2031, 6, 20).unwrap();
    sheet.write_with_format(1, 0, &died, &Format::new().set_num_format("m/d/yyyy")).unwrap();
    sheet.write_row(1, 1, ["b1-03", "plant died", "1"]).unwrap();
    let records = climate();
    Folder::new(CUSTOMARY)
        .log("The plan.xlsx", sheet_of("Buckets", 2, &plan))
        .log("Picks 2031.xlsx", picks_workbook())
        .log("Culls.xlsx", culls_workbook())
        .log("House log 1.csv", house_log(&records[..100]))
        .log("House log 2.csv", house_log(&records[80..]))
        .log("Drain.xlsx", sheet_of("Sheet1", 0, &drain))
        .log("Diary.xlsx", diary.save_to_buffer().unwrap())
}

/// Every number of the table within a billionth of itself, far below a gram and a minute; every word equal.
fn same(path: &str, a: &serde_json::Value, b: &serde_json::Value) {
    use serde_json::Value::{Array, Number, Object};
    match (a, b) {
        (Object(x), Object(y)) => {
            assert_eq!(x.keys().collect::<Vec<_>>(), y.keys().collect::<Vec<_>>(), "{path}");
            x.iter().for_each(|(key, value)| same(&format!("{path}.{key}"), value, &y[key]));
        }
        (Array(x), Array(y)) => {
            assert_eq!(x.len(), y.len(), "{path}");
            x.iter().zip(y).enumerate().for_each(|(i, (x, y))| same(&format!("{path}[{i}]"), x, y));
        }
        (Number(x), Number(y)) => {
            let (x, y) = (x.as_f64().unwrap(), y.as_f64().unwrap());
            assert!((x - y).abs() <= 1e-9 * x.abs().max(1e-3), "{path}: {x} and {y}");
        }
        _ => assert_eq!(a, b, "{path}"),
    }
}

#[test]
fn two_styles_of_one_season_give_the_same_trial_tables() {
    let (tidy, customary) = (tidy().trial(), customary().trial());
    let site = |tables: &TrialTables| serde_json::to_value(&tables.sites[0]).unwrap();
    same("site", &site(&tidy), &site(&customary));
    same("design", &serde_json::to_value(&tidy.design).unwrap(), &serde_json::to_value(&customary.design).unwrap());
    // The comparison is of a season that holds something: picks, zeros, culls, three days of climate, water.
    let site: &SiteTrial = &customary.sites[0];
    let ounces: u32 = (0..9).filter_map(|n| ounces(2, n)).sum();
    assert!((site.units[2].marketable - f64::from(ounces) * 0.028_349_523_125).abs() < 1e-9);
    assert!(site.units.iter().all(|u| u.cull > 0.0) && site.states.iter().any(|s| s.state == PickState::Zero));
    assert_eq!((site.units.len(), site.pick_days, site.units[2].plants_alive_at_end), (8, 9, 1));
    assert!(site.houses.iter().filter(|d| d.mean.is_some() && d.dli.is_some()).count() >= 2);
    assert!(site.zones.iter().all(|z| z.drain_fraction.is_some_and(|f| (f - 0.25).abs() < 1e-12)));
}

#[test]
fn a_unit_is_judged_on_the_pick_days_of_its_own_house() {
    let plan = "unit,house,block,line,soil,plants,area_m2\nA1,glass-1,1,1,loam,2,1\nA2,glass-1,1,1,grit,2,1\nB1,tunnel,2,2,loam,2,1\nB2,tunnel,2,2,grit,2,1\n";
    let picks = "day,unit,kg,grade\n2031-06-02,A1,1,marketable\n2031-06-09,A1,1,marketable\n2031-06-09,A2,1,marketable\n2031-06-04,B1,1,marketable\n2031-06-04,B2,1,marketable\n";
    let end = TIDY.find("[[climate]]").unwrap();
    for (unlisted, state) in [("zero", PickState::Zero), ("missed", PickState::Missed)] {
        let site = TIDY[..end]
            .replace("\"unit\" = { is = \"unit\" }\n\"block\"", "\"unit\" = { is = \"unit\" }\n\"house\" = { is = \"house\" }\n\"block\"");
        let site = format!("[[house]]\nid = \"tunnel\"\n{}", site.replace("\"zero\"", &format!("\"{unlisted}\"")));
        let trial = Folder::new(&site).log("plan.csv", plan).log("picks.csv", picks).trial();
        let states: Vec<(String, i8, PickState)> = trial.sites[0].states.iter().map(|s| (s.unit.clone(), s.day.day(), s.state)).collect();
        let of = |unit: &str, day: i8, state: PickState| (unit.to_owned(), day, state);
        let mut wanted = vec![of("A2", 2, state)];
        wanted.extend([("A1", 2), ("A1", 9), ("A2", 9), ("B1", 4), ("B2", 4)].map(|(u, d)| of(u, d, PickState::Picked)));
        assert!(wanted.iter().all(|w| states.contains(w)), "{states:?}");
        assert_eq!(states.len(), wanted.len(), "{states:?}");
    }
}
