//! The demo season as a whole: what DEMO.md says stands in its files is found there.
#![allow(clippy::unwrap_used, clippy::disallowed_methods)]
use crosshouse_logs::tables::SiteTables;
use crosshouse_logs::{CleanTables, Silent, read_declarations, read_season};
use std::path::Path;

fn tables() -> CleanTables {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../pipelines/four-stations/season.toml");
    read_season(&read_declarations(&file).unwrap(), &Silent)
}

fn site<'t>(tables: &'t CleanTables, id: &str) -> &'t SiteTables {
    tables.sites.iter().find(|s| s.site.id == id).unwrap()
}

fn aside(tables: &CleanTables, site: &str, code: &str) -> usize {
    tables.set_aside.iter().filter(|s| s.site == site && s.code == code).count()
}

#[test]
fn every_slip_of_the_demo_season_is_found_and_nothing_else_is_lost() {
    let tables = tables();
    assert!(tables.files.iter().all(|f| f.balances() && f.read > 0));
    assert!(tables.faults.iter().all(|f| !f.fatal), "{:#?}", tables.faults);
    assert_eq!(tables.sites.iter().map(|s| s.units.iter().filter(|u| !u.guard).count()).collect::<Vec<_>>(), [24, 24, 24, 12]);
    // A day that does not exist, and a mass that cannot be read.
    assert_eq!((aside(&tables, "tarn-hollow", "date-impossible"), aside(&tables, "tarn-hollow", "mass-unreadable")), (1, 1));
    // An unknown unit, downloads that overlap by 72 records twice, a humidity of 104.5, 45 minutes without a sensor.
    assert_eq!(aside(&tables, "sedge-flats", "unit-unknown"), 1);
    assert_eq!(aside(&tables, "sedge-flats", "duplicate-identical"), 144);
    assert_eq!(aside(&tables, "sedge-flats", "humidity-impossible"), 1);
    assert_eq!(aside(&tables, "sedge-flats", "nothing-written"), 9);
    // A feed pH of 58; a mass weighed again.
    assert_eq!(aside(&tables, "marl-ridge", "feed-ph-impossible"), 1);
    assert_eq!(aside(&tables, "withy-end", "replaced"), 1);
}

#[test]
fn the_doubts_of_the_demo_season_are_the_slips_that_stand_in_it_and_no_others() {
    let tables = tables();
    let found: Vec<_> = tables.flags.iter().map(|f| (f.file.as_str(), f.code.as_str(), f.first_row, f.last_row, f.rows)).collect();
    let (first, second, third) = ("sedge-flats/climate-1.csv", "sedge-flats/climate-2.csv", "sedge-flats/climate-3.csv");
    assert_eq!(
        found,
        [
            // Two days of one temperature and humidity, 45 minutes without a sensor.
            (second, "temperature-stuck", 1225, 1801, 577),
            (second, "humidity-stuck", 1225, 1801, 577),
            (second, "gap", 7739, 7739, 1),
            // Nights with a little above 100 %: told, and no record doubted.
            (first, "humidity-above-100", 5, 12333, 614),
            (second, "humidity-above-100", 3591, 12800, 127),
            (third, "humidity-above-100", 166, 13026, 355),
        ]
    );
    let flagged: Vec<_> = tables.files.iter().filter(|f| f.flagged > 0).map(|f| (f.file.as_str(), f.flagged)).collect();
    assert_eq!(flagged, [(second, 577)]);
}

#[test]
fn clocks_are_turned_to_utc_without_gaps() {
    let tables = tables();
    for id in ["tarn-hollow", "withy-end"] {
        let climate = &site(&tables, id).climate[0];
        assert!(climate.instant.windows(2).all(|w| w[1] - w[0] == i64::from(climate.interval_s)), "{id}");
    }
}

#[test]
fn the_missed_week_is_in_the_facts_of_the_site() {
    let tables = tables();
    let missed = &site(&tables, "sedge-flats").site.missed_days[0];
    assert_eq!((missed.from.to_string(), missed.to.to_string()), ("2031-08-04".to_owned(), "2031-08-10".to_owned()));
}
