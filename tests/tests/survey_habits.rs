//! Drafts of logs of many habits: what is sure is right, what is not is asked, and with the answers `check` runs and
//! reads what was written.
#![allow(clippy::unwrap_used)]

use crosshouse::survey::{Request, survey};
use crosshouse_logs::tables::{CleanTables, SiteTables};
use crosshouse_logs::{Silent, read_declarations, read_season};
use crosshouse_tests::answers::answered;
use std::path::{Path, PathBuf};

const PLAN: &str = "Tag,Block,Medium,Plants\nB1,1,loam,2\nB2,1,grit,2\nB3,2,loam,2\nB4,2,grit,2\nB5,3,loam,2\nB6,3,grit,2\n";
const SITE: [(&str, &str); 2] = [("site.transplanted", "2031-03-24"), ("site.ended", "2031-09-30")];
const ZERO: (&str, &str) = ("harvest.unlisted", "\"zero\"");

/// A station with a plan and one log of some habit.
struct Station {
    folder: tempfile::TempDir,
    files: Vec<PathBuf>,
}

impl Station {
    fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        std::fs::create_dir_all(folder.path().join("logs/north")).unwrap();
        Station { folder, files: Vec::new() }.put("plan.csv", PLAN)
    }

    fn put(mut self, name: &str, bytes: impl AsRef<[u8]>) -> Self {
        let path = self.folder.path().join("logs/north").join(name);
        #[allow(clippy::disallowed_methods)] // an input of the test
        std::fs::write(&path, bytes).unwrap();
        self.files.push(path);
        self
    }

    fn at(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// Both drafts, written.
    fn draft(&self) -> String {
        let (out, season) = (self.at("north.toml"), self.at("season.toml"));
        let outcome = survey(&Request { files: &self.files, out: Some(&out), season: Some(&season), logs: None, replace: false });
        assert_eq!((outcome.status, outcome.err.as_str()), (0, ""));
        std::fs::read_to_string(out).unwrap()
    }

    /// The draft with the site's answers and these; `check` then runs.
    fn read(&self, answers: &[(&str, &str)]) -> (String, CleanTables) {
        let draft = self.draft();
        put(&self.at("north.toml"), &answered(&draft, &[&SITE, answers].concat()));
        let season = std::fs::read_to_string(self.at("season.toml")).unwrap();
        put(&self.at("season.toml"), &answered(&season, &[("season.crop", "\"snack pepper\"")]));
        let checked = crosshouse::check::check(&self.at("season.toml"), &Silent);
        assert_eq!(checked.status, 0, "{}\n{draft}", checked.err);
        let tables = read_season(&read_declarations(&self.at("season.toml")).unwrap(), &Silent);
        (draft, tables)
    }
}

fn put(path: &Path, text: &str) {
    #[allow(clippy::disallowed_methods)] // an input of the test
    std::fs::write(path, text).unwrap();
}

fn kilograms(site: &SiteTables) -> f64 {
    site.picks.iter().filter_map(|p| p.mass).sum()
}

fn close(a: f64, b: f64) {
    assert!((a - b).abs() < 1e-9, "{a} against {b}");
}

fn utf16(text: &str) -> Vec<u8> {
    [0xFF, 0xFE].into_iter().chain(text.encode_utf16().flat_map(u16::to_le_bytes)).collect()
}

#[test]
fn utf16_parted_by_tabs() {
    let text = "Date\tTag\tWeight (kg)\n2031-06-13\tB1\t1.25\n2031-06-13\tB2\t0.75\n2031-06-20\tB1\t2.5\n";
    let (draft, tables) = Station::new().put("picks.txt", utf16(text)).read(&[ZERO]);
    assert!(draft.contains("delimiter = \"tab\"") && draft.contains("encoding = \"utf-16le\""), "{draft}");
    assert_eq!(tables.sites[0].picks.len(), 3);
    close(kilograms(&tables.sites[0]), 4.5);
}

#[test]
fn semicolons_decimal_commas_and_days_before_months_in_german() {
    let text =
        "Datum;Parzelle;Gewicht (g);Stück;Klasse\n13.06.2031;B1;1250,5;12;gut\n13.06.2031;B2;980,0;9;Abfall\n20.06.2031;B3;1100,5;11;gut\n";
    let answers = [ZERO, ("harvest.grades.gut", "\"marketable\"")];
    let (draft, tables) = Station::new().put("ernte.csv", text).read(&answers);
    for line in ["delimiter = \";\"", "decimal = \",\"", "date_style = \"day.month.year\"", "unit = \"g\"", "Abfall = \"cull\""] {
        assert!(draft.contains(line), "{line}\n{draft}");
    }
    close(kilograms(&tables.sites[0]), 3.331);
}

#[test]
fn a_clock_of_twice_twelve_hours_in_a_column_of_its_own_and_fahrenheit_by_its_size() {
    let mut text = "Date,Time,Air temp,RH\n".to_owned();
    for i in 0..96 {
        let (hour, minute) = (i / 4, i % 4 * 15);
        let half = if hour < 12 { "AM" } else { "PM" };
        text.push_str(&format!(
            "6/13/2031,{}:{minute:02} {half},{:.1},{}\n",
            (hour + 11) % 12 + 1,
            62.0 + f64::from(i % 48) / 2.0,
            60 + i % 30
        ));
    }
    let answers = [("site.time_zone", "\"CST6CDT\""), ("climate.clock", "\"standard\"")];
    let (draft, tables) = Station::new().put("logger.csv", text).read(&answers);
    assert!(draft.contains("time_style = \"12-hour\"") && draft.contains("interval_minutes = 15"), "{draft}");
    let climate = &tables.sites[0].climate[0];
    assert_eq!(climate.instant.len(), 96);
    // 62.0 °F is 16.666… °C; midnight of standard time in the zone is 06:00 UTC.
    close(climate.temperature[0], 50.0 / 3.0);
    assert_eq!(climate.instant[0].rem_euclid(86_400), 6 * 3600);
}

#[test]
fn a_row_of_units_in_brackets_below_the_header() {
    let text = "Time,Temp,RH,PAR\n,(°C),(%),(µmol/m2/s)\n2031-06-13 11:00,21.5,70,800\n2031-06-13 11:10,21.7,69,810\n2031-06-13 11:20,21.8,69,820\n";
    let answers = [("site.time_zone", "\"CST6CDT\""), ("climate.clock", "\"site\""), ("climate.light_is", "\"mean\"")];
    let (draft, tables) = Station::new().put("logger.csv", text).read(&answers);
    assert!(draft.contains("unit_row = true"), "{draft}");
    assert_eq!(tables.sites[0].climate[0].light, [800.0, 810.0, 820.0]);
    assert!(tables.sites[0].climate[0].light_is_mean);
}

#[test]
fn pounds_and_ounces_in_one_cell() {
    let text = "Picked,Bucket,Weight,Fruit\n06/13/2031,B1,2 lb 3 oz,20\n06/13/2031,B2,1 lb,9\n06/20/2031,b3,5 oz,3\n";
    let (draft, tables) = Station::new().put("picks.csv", text).read(&[ZERO]);
    assert!(draft.contains("unit = \"lb oz\"") && draft.contains("case = \"ignore\"") && !draft.contains("zeros"), "{draft}");
    // 35 + 16 + 5 ounces of 0.028349523125 kg.
    close(kilograms(&tables.sites[0]), 56.0 * 0.028_349_523_125);
}

#[test]
fn a_workbook_with_a_sheet_a_week_and_one_of_notes() {
    let mut book = rust_xlsxwriter::Workbook::new();
    let day = rust_xlsxwriter::Format::new().set_num_format("yyyy-mm-dd");
    for (week, date) in [(24, "2031-06-13"), (25, "2031-06-20")] {
        let sheet = book.add_worksheet().set_name(format!("KW {week}")).unwrap();
        sheet.write(0, 0, format!("Picks of week {week}")).unwrap();
        for (c, header) in ["Date", "Tag", "lb", "oz"].into_iter().enumerate() {
            sheet.write(1, c as u16, header).unwrap();
        }
        for (r, tag) in ["B1", "B2", "B3"].into_iter().enumerate() {
            let row = r as u32 + 2;
            sheet.write_with_format(row, 0, rust_xlsxwriter::ExcelDateTime::parse_from_str(date).unwrap(), &day).unwrap();
            sheet.write(row, 1, tag).unwrap();
            sheet.write(row, 2, 1).unwrap();
            sheet.write(row, 3, 4.5).unwrap();
        }
        sheet.write(5, 0, "Total").unwrap();
        sheet.write(5, 2, 3).unwrap();
    }
    book.add_worksheet().set_name("Read me").unwrap().write(0, 0, "typed on Mondays").unwrap();
    let (draft, tables) = Station::new().put("picks.xlsx", book.save_to_buffer().unwrap()).read(&[ZERO]);
    for line in ["sheet = \"KW *\"", "date_style = \"workbook\"", "totals = [\"Total\"]", "skip_lines = 1", "north/picks.xlsx / Read me"] {
        assert!(draft.contains(line), "{line}\n{draft}");
    }
    assert_eq!(tables.sites[0].picks.len(), 6);
    close(kilograms(&tables.sites[0]), 6.0 * 20.5 * 0.028_349_523_125);
}

#[test]
fn preamble_comments_totals_codes_and_a_header_again() {
    let text = "North station\nscale 2, whole grams\n\nDate,Tag,g,Fruit\n# bay one\n2031-06-13,B1,812,7\n2031-06-13,B2,n/a,\nTotal,,812,\nDate,Tag,g,Fruit\n2031-06-20,B1,420,4\n2031-06-20,B2,388,4\nTotal,,808,\n";
    let (draft, tables) = Station::new().put("picks.csv", text).read(&[ZERO]);
    for line in ["skip_lines = 3", "comment = \"#\"", "totals = [\"Total\"]", "missing = [\"\", \"n/a\"]"] {
        assert!(draft.contains(line), "{line}\n{draft}");
    }
    close(kilograms(&tables.sites[0]), 1.620);
    let account = tables.files.iter().find(|f| f.log == "harvest").unwrap();
    assert_eq!((account.read, account.kept), (4, 3));
}

#[test]
fn months_by_their_names() {
    for (style, written) in [
        ("day-month-name-year", ["4-Jul-2031", "11-Jul-2031"]),
        ("month-name day, year", ["\"July 4, 2031\"", "\"July 11, 2031\""]),
        ("day month-name year", ["4 juillet 2031", "11 juillet 2031"]),
    ] {
        let text = format!("Date,Tag,kg\n{},B1,1.5\n{},B1,2.25\n", written[0], written[1]);
        let (draft, tables) = Station::new().put("picks.csv", text).read(&[ZERO]);
        assert!(draft.contains(&format!("date_style = \"{style}\"")), "{style}\n{draft}");
        let days: Vec<String> = tables.sites[0].picks.iter().map(|p| p.day.to_string()).collect();
        assert_eq!(days, ["2031-07-04", "2031-07-11"]);
    }
}

#[test]
fn millisiemens_are_sure_by_their_size_and_microsiemens_are_asked() {
    let plan = "Tag,Block,Line,Medium,Plants\nB1,1,1,loam,2\nB2,1,1,grit,2\nB3,2,2,loam,2\nB4,2,2,grit,2\n";
    let small = "Date,Line,EC in,EC out,pH in\n2031-06-13,1,2.25,2.90,5.8\n2031-06-14,1,2.31,2.95,5.9\n";
    let large = "Date,Line,EC feed,EC drain\n2031-06-13,2,2250,2900\n2031-06-14,2,2310,2950\n";
    let asked = [("root_zone.columns.EC feed.unit", "\"µS/cm\""), ("root_zone.columns.EC drain.unit", "\"µS/cm\"")];
    let station = Station::new().put("plan.csv", plan).put("one.csv", small).put("two.csv", large);
    let draft = station.draft();
    assert!(draft.contains("\"EC in\" = { is = \"feed-ec\", unit = \"mS/cm\" }"), "{draft}");
    put(&station.at("north.toml"), &answered(&draft, &[&SITE[..], &asked[..]].concat()));
    let season = std::fs::read_to_string(station.at("season.toml")).unwrap();
    put(&station.at("season.toml"), &answered(&season, &[("season.crop", "\"snack pepper\"")]));
    let tables = read_season(&read_declarations(&station.at("season.toml")).unwrap(), &Silent);
    let feed: Vec<f64> = tables.sites[0].root_zone.iter().filter_map(|r| r.feed_ec).collect();
    assert_eq!(feed.len(), 4);
    close(feed.iter().sum::<f64>(), 9.12);
}

#[test]
fn days_that_can_be_read_two_ways_are_read_as_answered() {
    let text = "Date,Tag,kg\n05/06/2031,B1,1.5\n06/06/2031,B1,2.25\n";
    for (style, days) in [("day/month/year", ["2031-06-05", "2031-06-06"]), ("month/day/year", ["2031-05-06", "2031-06-06"])] {
        let style = format!("\"{style}\"");
        let (draft, tables) = Station::new().put("picks.csv", text).read(&[ZERO, ("harvest.date_style", &style)]);
        assert!(draft.contains("row 2 \"05/06/2031\" is 5 June 2031 or 6 May 2031"), "{draft}");
        assert_eq!(tables.sites[0].picks.iter().map(|p| p.day.to_string()).collect::<Vec<_>>(), days);
    }
}

#[test]
fn a_point_before_three_digits_is_settled_by_a_known_unit_and_asked_without() {
    // 1.250 kg of a unit's pick, not 1250 kg.
    let text = "Date;Tag;kg\n2031-06-13;B1;1.250\n2031-06-20;B1;2.125\n";
    let (draft, tables) = Station::new().put("picks.csv", text).read(&[ZERO]);
    assert!(draft.contains("decimal = \".\""), "{draft}");
    close(kilograms(&tables.sites[0]), 3.375);
    // 1.250 g of a pick is nothing, 1250 g is one.
    let text = "Date;Tag;g\n2031-06-13;B1;1.250\n2031-06-20;B1;2.125\n";
    let (draft, tables) = Station::new().put("picks.csv", text).read(&[ZERO]);
    assert!(draft.contains("decimal = \",\"") && draft.contains("thousands = \".\""), "{draft}");
    close(kilograms(&tables.sites[0]), 3.375);
    // A weight of no unit may be either.
    let text = "Date;Tag;Weight\n2031-06-13;B1;1.250\n2031-06-20;B1;2.125\n";
    let answers = [ZERO, ("harvest.decimal", "\".\""), ("harvest.columns.Weight.unit", "\"lb\"")];
    let (_, tables) = Station::new().put("picks.csv", text).read(&answers);
    close(kilograms(&tables.sites[0]), 3.375 * 0.453_592_37);
}

#[test]
fn a_box_holds_what_is_answered() {
    let text = "fecha;parcela;cajas\n13/06/2031;B1;3\n20/06/2031;B2;2\n";
    let answers = [ZERO, ("harvest.columns.cajas.content", "\"10 kg\"")];
    let (_, tables) = Station::new().put("cosecha.csv", text).read(&answers);
    close(kilograms(&tables.sites[0]), 50.0);
}

#[test]
fn two_words_for_a_column_are_asked_and_a_house_is_chosen() {
    let plan = "Tag,House,Block,Medium,Plants\nB1,east,1,loam,2\nB2,east,1,grit,2\nB3,west,2,loam,2\nB4,west,2,grit,2\n";
    let log = "Time,Temp in,Temp out\n2031-06-13 06:00,18.2,9.1\n2031-06-13 06:05,18.3,9.0\n2031-06-13 06:10,18.3,9.0\n";
    let answers = [
        ("site.time_zone", "\"CET\""),
        ("climate.clock", "\"utc\""),
        ("climate.house", "\"west\""),
        ("climate.columns.Temp in.is", "\"temperature\""),
        ("climate.columns.Temp out.is", "\"ignored\""),
    ];
    let (_, tables) = Station::new().put("plan.csv", plan).put("logger.csv", log).read(&answers);
    let climate = &tables.sites[0].climate[0];
    assert_eq!((climate.house.as_str(), climate.temperature.as_slice()), ("west", [18.2, 18.3, 18.3].as_slice()));
}

#[test]
fn a_file_that_is_there_is_not_overwritten_unasked_and_nothing_is_written_beside_it() {
    let station = Station::new();
    let out = station.at("north.toml");
    put(&out, "mine\n");
    let ask = |replace| {
        survey(&Request { files: &station.files, out: Some(&out), season: Some(&station.at("season.toml")), logs: None, replace })
    };
    let refused = ask(false);
    assert_eq!(refused.status, 2);
    assert!(refused.err.contains("is there already") && refused.err.contains("--replace"), "{}", refused.err);
    assert_eq!(std::fs::read_to_string(&out).unwrap(), "mine\n");
    assert!(!station.at("season.toml").exists());
    assert_eq!(ask(true).status, 0);
    assert!(std::fs::read_to_string(&out).unwrap().starts_with("# Drafted"));
}

#[test]
fn every_file_that_cannot_be_read_is_told() {
    let station = Station::new().put("a.csv", b"\x89PNG\r\n\x1a\n\0\0\0").put("b.xlsx", b"no workbook").put("c.csv", b"");
    let outcome = survey(&Request { files: &station.files, out: None, season: None, logs: None, replace: false });
    assert_eq!((outcome.status, outcome.out.as_str()), (2, ""));
    for name in ["north/a.csv", "north/b.xlsx", "north/c.csv"] {
        assert!(outcome.err.contains(name), "{name}: {}", outcome.err);
    }
}

#[test]
fn a_sheet_with_a_column_a_day() {
    let text =
        "Picks of 2031, kg per bucket\nTag;13.06.2031;20.06.2031;27.06.2031;Note\nB1;1,25;0,80;;\nB2;0,75;0;1,10;leaf mould\nB3;;0,9;1;\n";
    let (draft, tables) = Station::new().put("picks.csv", text).read(&[ZERO]);
    for line in ["across = \"date\"", "cells = { is = \"mass\", unit = \"kg\" }", "date_style = \"day.month.year\""] {
        assert!(draft.contains(line), "{line}\n{draft}");
    }
    assert_eq!(tables.sites[0].picks.len(), 7);
    close(kilograms(&tables.sites[0]), 5.8);
    assert_eq!(
        tables.sites[0].site.pick_days.iter().map(ToString::to_string).collect::<Vec<_>>(),
        ["2031-06-13", "2031-06-20", "2031-06-27"]
    );
}

#[test]
fn weeks_of_iso_8601_with_and_without_their_year() {
    // Week 1 holds the year's first Thursday, 2 January 2031; week 24 begins on Monday 9 June.
    let text = "Week,Tag,kg\n2031-W24,B1,1.5\n2031-W25,B1,2.25\n";
    let (draft, tables) = Station::new().put("picks.csv", text).read(&[ZERO, ("harvest.week_day", "\"friday\"")]);
    assert!(draft.contains("date_style = \"year-week\""), "{draft}");
    assert_eq!(tables.sites[0].picks.iter().map(|p| p.day.to_string()).collect::<Vec<_>>(), ["2031-06-13", "2031-06-20"]);
    let text = "KW;Parzelle;kg\n24;B1;1,5\n25;B1;2,25\n";
    let answers = [ZERO, ("harvest.week_day", "\"monday\""), ("harvest.year", "2031")];
    let (_, tables) = Station::new().put("ernte.csv", text).read(&answers);
    assert_eq!(tables.sites[0].picks.iter().map(|p| p.day.to_string()).collect::<Vec<_>>(), ["2031-06-09", "2031-06-16"]);
}

#[test]
fn a_header_of_two_lines() {
    let plan = "Tag,Block,Line,Medium,Plants\nB1,1,1,loam,2\nB2,1,1,grit,2\nB3,2,2,loam,2\nB4,2,2,grit,2\n";
    let text =
        "North station\nDate,Line,Feed,Feed,Drain,Drain\n,,EC,pH,EC,pH\n2031-06-13,1,2.25,5.8,2.9,6.1\n2031-06-14,2,2.35,5.9,3.0,6.2\n";
    let (draft, tables) = Station::new().put("plan.csv", plan).put("water.csv", text).read(&[]);
    for line in [
        "header_lines = 2",
        "skip_lines = 1",
        "\"Feed / EC\" = { is = \"feed-ec\", unit = \"mS/cm\" }",
        "\"Drain / pH\" = { is = \"drain-ph\" }",
    ] {
        assert!(draft.contains(line), "{line}\n{draft}");
    }
    close(tables.sites[0].root_zone.iter().filter_map(|r| r.feed_ec).sum(), 4.6);
    close(tables.sites[0].root_zone.iter().filter_map(|r| r.drain_ph).sum(), 12.3);
}

#[test]
fn pounds_and_ounces_under_each_day() {
    let text = "Picks\n,13.06.2031,,20.06.2031,\nTag,lb,oz,lb,oz\nB1,1,4,0,12\nB2,0,9,1,2\n";
    let (_, tables) = Station::new().put("picks.csv", text).read(&[ZERO]);
    assert_eq!(tables.sites[0].picks.len(), 4);
    // 20 + 12 + 9 + 18 ounces of 0.028349523125 kg.
    close(kilograms(&tables.sites[0]), 59.0 * 0.028_349_523_125);
}
