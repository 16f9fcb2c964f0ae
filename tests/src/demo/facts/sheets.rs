//! The sheets read back by plain means: what a careful person with a pencil would add up.
use super::super::station::{OUNCE, Station};
use super::super::units::PLANTS;
use super::{demo, demo_files};
use calamine::{Data, Reader, Xlsx};
use std::collections::BTreeMap;
use std::io::Cursor;

/// Marketable kg by unit.
type Sums = BTreeMap<String, f64>;

fn text(bytes: &[u8]) -> String {
    encoding_rs::WINDOWS_1252.decode(bytes).0.into_owned()
}

/// Compares with the truth, to half a tick a unit.
fn assert_true(station: Station, sums: &Sums) {
    let tick = station.facts().tick;
    let units: Vec<_> = demo().truth.unit_season.iter().filter(|t| t.site == station).collect();
    assert_eq!(units.len(), sums.len());
    for t in units {
        let off = sums[&t.unit] - t.kg_per_plant * f64::from(PLANTS);
        assert!(off.abs() <= 0.5 * tick + 1e-9, "{} {}: off by {off} kg", station.id(), t.unit);
    }
}

#[test]
fn marl_ridges_grams_add_up_to_the_truth() {
    let mut sums = Sums::new();
    for line in text(&demo_files()["marl-ridge/harvest.csv"]).lines().skip(3) {
        let cells: Vec<&str> = line.split(';').collect();
        if cells[2] == "I" {
            *sums.entry(cells[1].into()).or_default() += cells[3].parse::<f64>().unwrap() / 1000.0;
        }
    }
    assert_true(Station::MarlRidge, &sums);
}

#[test]
fn withy_ends_kilograms_with_corrections_in_place_add_up_to_the_truth() {
    let mut last = BTreeMap::new();
    for line in text(&demo_files()["withy-end/picks.txt"]).lines().filter(|l| !l.starts_with("Day")) {
        let cells: Vec<&str> = line.split('\t').collect();
        if cells[2] == "good" {
            last.insert((cells[0].to_owned(), cells[1].to_owned()), cells[3].parse::<f64>().unwrap());
        }
    }
    let mut sums = Sums::new();
    for ((_, unit), kg) in last {
        *sums.entry(unit).or_default() += kg;
    }
    assert_true(Station::WithyEnd, &sums);
}

#[test]
fn tarn_hollows_pounds_and_ounces_without_the_struck_lines_add_up_to_the_truth() {
    let mut sums = Sums::new();
    for month in ["may", "june", "july"] {
        let sheet = String::from_utf8(demo_files()[&format!("tarn-hollow/picks-{month}.csv")].clone()).unwrap();
        let lines = sheet.lines().skip(4).filter(|l| l.starts_with('0') && !l.contains("see next line"));
        for cells in lines.map(|l| l.split(',').collect::<Vec<_>>()).filter(|c| c[2] != "C") {
            *sums.entry(plain_tag(cells[1])).or_default() += ounces(cells[3]) * OUNCE;
        }
    }
    assert_true(Station::TarnHollow, &sums);
}

/// "b02- 7" to "B2-07".
fn plain_tag(written: &str) -> String {
    let (block, number_of_tag) = written[1..].split_once('-').unwrap();
    let number = |t: &str| t.trim().parse::<u32>().unwrap();
    format!("B{}-{:02}", number(block), number(number_of_tag))
}

fn ounces(written: &str) -> f64 {
    let numbers: Vec<f64> = written.split(' ').filter_map(|w| w.parse().ok()).collect();
    match numbers.as_slice() {
        [oz] => *oz,
        [lb, oz] => 16.0 * lb + oz,
        _ => panic!("not a mass: {written}"),
    }
}

#[test]
fn sedge_flats_workbook_without_the_unknown_unit_adds_up_to_the_truth() {
    let mut book = Xlsx::new(Cursor::new(demo_files()["sedge-flats/picks.xlsx"].clone())).unwrap();
    let mut sums = Sums::new();
    for (name, range) in book.worksheets() {
        assert!(name.starts_with("Week "));
        for row in range.rows().skip(3) {
            if let [Data::DateTime(_), Data::String(unit), Data::String(grade), Data::Float(lb), Data::Float(oz), ..] = row
                && grade == "M"
                && !unit.starts_with("L3")
            {
                *sums.entry(unit.clone()).or_default() += (16.0 * lb + oz) * OUNCE;
            }
        }
    }
    assert_true(Station::SedgeFlats, &sums);
}

#[test]
fn a_marketable_fruit_weighs_25_to_60_g_on_every_units_season_mean() {
    for s in &demo().stations {
        for u in (0..s.units.len()).filter(|&u| !s.units[u].guard) {
            let picks = s.picks.iter().filter(|p| p.unit == u).map(|p| p.marketable);
            let (ticks, fruit) = picks.fold((0, 0), |(t, f), w| (t + w.ticks, f + w.fruit));
            let grams = 1000.0 * f64::from(ticks) * s.station.facts().tick / f64::from(fruit);
            assert!((25.0..60.0).contains(&grams), "{}: {grams} g", s.units[u].id);
        }
    }
}

#[test]
fn nobody_picked_at_sedge_flats_in_the_flooded_week_and_nothing_was_lost() {
    let flooded = super::super::picking::MISSED_WEEK;
    let sedge = demo().stations.iter().find(|s| s.station == Station::SedgeFlats).unwrap();
    assert!(sedge.picks.iter().all(|p| p.day < flooded.0 || p.day > flooded.1));
}
