//! The demo as the log reader understands it: the truth comes through, and every planted slip is caught.
use super::super::station::Station;
use super::super::units::PLANTS;
use super::demo;
use crosshouse_logs::tables::GradeKind;
use crosshouse_logs::{CleanTables, Silent, read_declarations, read_season};
use std::collections::BTreeMap;
use std::path::Path;

fn read(pipeline: &str) -> CleanTables {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("../pipelines").join(pipeline).join("season.toml");
    read_season(&read_declarations(&file).unwrap(), &Silent)
}

#[test]
fn every_units_marketable_season_as_read_is_the_true_one_to_half_a_tick() {
    let tables = read("four-stations");
    let mut sums: BTreeMap<(&str, &str), f64> = BTreeMap::new();
    for site in &tables.sites {
        for pick in site.picks.iter().filter(|p| p.kind == GradeKind::Marketable) {
            *sums.entry((&site.site.id, &site.units[pick.unit].id)).or_default() += pick.mass.unwrap_or(0.0);
        }
    }
    let truth = &demo().truth.unit_season;
    assert_eq!(sums.len(), truth.len());
    for t in truth {
        let off = sums[&(t.site.id(), t.unit.as_str())] - t.kg_per_plant * f64::from(PLANTS);
        assert!(off.abs() <= 0.5 * t.site.facts().tick + 1e-9, "{} {}: off by {off} kg", t.site.id(), t.unit);
    }
}

#[test]
fn the_reader_sets_aside_the_planted_slips_and_nothing_else() {
    let mut counts: BTreeMap<(String, String, bool), usize> = BTreeMap::new();
    for row in read("four-stations").set_aside {
        *counts.entry((row.site.to_string(), row.log.to_string(), row.whole_row)).or_default() += 1;
    }
    // Site, log, whole row or one cell, how many: 2 × 72 records of overlapping downloads and 9 of an unplugged sensor.
    let planted = [
        ("marl-ridge", "root zone", false, 1),
        ("sedge-flats", "climate", false, 1),
        ("sedge-flats", "climate", true, 153),
        ("sedge-flats", "harvest", true, 1),
        ("tarn-hollow", "harvest", false, 1),
        ("tarn-hollow", "harvest", true, 2),
        ("withy-end", "harvest", true, 1),
    ];
    let planted: BTreeMap<_, _> = planted.into_iter().map(|(site, log, row, n)| ((site.into(), log.into(), row), n)).collect();
    assert_eq!(counts, planted);
}

#[test]
fn every_file_of_the_demo_balances_and_no_fault_stops_it() {
    let tables = read("four-stations");
    assert!(tables.files.iter().all(crosshouse_readings::said::FileAccount::balances));
    assert!(tables.faults.iter().all(|f| !f.fatal));
    assert_eq!(tables.sites.len(), Station::ALL.len());
}

/// The published table: six sites, two years, ten varieties, one yield each.
#[test]
fn the_barley_season_reads_120_yields_of_60_variety_and_site_pairs() {
    let tables = read("barley");
    assert!(tables.faults.is_empty() && tables.set_aside.is_empty());
    let yields: usize = tables.sites.iter().flat_map(|s| &s.picks).filter(|p| p.measures.iter().any(Option::is_some)).count();
    assert_eq!((tables.sites.len(), yields), (6, 120));
}
