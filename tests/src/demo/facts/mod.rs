//! Facts about the demo season that the tests of everything else lean on.
mod climate;
mod reading;
mod sheets;

use super::logs::Files;
use super::station::Station;
use super::truth::EFFECTS;
use super::units::{Container, Medium, PLANTS};
use super::{Generated, Parts, SEED, files, pipeline_files, season, season_of, unit_yields, write};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::LazyLock;

fn committed() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../fixtures/four-stations")
}

/// The committed season, generated once for all tests.
fn demo() -> &'static Generated {
    static DEMO: LazyLock<Generated> = LazyLock::new(|| season(SEED).unwrap());
    &DEMO
}

fn demo_files() -> &'static Files {
    static FILES: LazyLock<Files> = LazyLock::new(|| files(demo()).unwrap());
    &FILES
}

#[test]
fn the_committed_demo_is_byte_for_byte_what_its_seed_generates() {
    let different: Vec<&String> = demo_files()
        .iter()
        .filter(|(name, bytes)| std::fs::read(committed().join(name)).ok().as_ref() != Some(*bytes))
        .map(|(name, _)| name)
        .collect();
    assert!(different.is_empty(), "run `cargo run -p crosshouse-tests --bin make-demo`; these differ: {different:?}");
}

#[test]
fn the_committed_demo_holds_no_log_that_its_seed_does_not_generate() {
    let generated = demo_files();
    for station in Station::ALL {
        for entry in std::fs::read_dir(committed().join(station.id())).unwrap() {
            let name = format!("{}/{}", station.id(), entry.unwrap().file_name().to_string_lossy());
            assert!(generated.contains_key(&name), "{name} is not generated");
        }
    }
}

#[test]
fn all_fixtures_of_the_demo_together_stay_below_8_mb() {
    assert!(demo_files().values().map(Vec::len).sum::<usize>() < 8_000_000);
}

#[test]
fn two_generations_of_one_seed_are_the_same_bytes_workbook_included() {
    assert_eq!(&files(&season(SEED).unwrap()).unwrap(), demo_files());
}

#[test]
fn leaving_out_the_climate_moves_no_byte_of_the_harvest() {
    let all = demo_files();
    let light = files(&season_of(SEED, &EFFECTS, Parts::Harvest).unwrap()).unwrap();
    assert!(light.len() < all.len());
    for (name, bytes) in &light {
        assert_eq!(all.get(name), Some(bytes), "{name}");
    }
}

/// Half a tick of the scale a unit, so a quarter of a tick a plant of two.
#[test]
fn weighed_picks_add_up_to_the_true_season_of_every_unit_to_half_a_tick() {
    for seed in 0..60 {
        let season = season_of(seed, &EFFECTS, Parts::Harvest).unwrap();
        let truths = season.truth.unit_season.iter().map(|t| ((t.site, t.unit.clone()), t.kg_per_plant));
        let truths: BTreeMap<_, _> = truths.collect();
        for s in &season.stations {
            for (u, unit) in s.units.iter().enumerate().filter(|(_, unit)| !unit.guard) {
                let ticks: u32 = s.picks.iter().filter(|p| p.unit == u).map(|p| p.marketable.ticks).sum();
                let tick = s.station.facts().tick;
                let true_mass = truths[&(s.station, unit.id.clone())] * f64::from(PLANTS);
                let off = (f64::from(ticks) * tick - true_mass).abs();
                assert!(off <= 0.5 * tick + 1e-9, "seed {seed}, {} {}: off by {off} kg", s.station.id(), unit.id);
            }
        }
    }
}

#[test]
fn counted_picks_add_up_to_the_true_number_of_fruit_and_culls_of_every_unit() {
    for seed in 0..60 {
        let season = season_of(seed, &EFFECTS, Parts::Harvest).unwrap();
        let truths = season.truth.unit_season.iter().map(|t| ((t.site, t.unit.clone()), (t.fruit, t.culls)));
        let truths: BTreeMap<_, _> = truths.collect();
        for s in &season.stations {
            for (u, unit) in s.units.iter().enumerate().filter(|(_, unit)| !unit.guard) {
                let picks: Vec<_> = s.picks.iter().filter(|p| p.unit == u).collect();
                let culls: u32 = picks.iter().map(|p| p.cull.fruit).sum();
                let good: u32 = picks.iter().map(|p| p.marketable.fruit).sum();
                assert_eq!((good + culls, culls), truths[&(s.station, unit.id.clone())], "seed {seed}, {} {}", s.station.id(), unit.id);
                assert!(picks.iter().all(|p| (p.cull.fruit > 0) == (p.cull.ticks > 0)), "a pick of fruit has a mass");
            }
        }
    }
}

/// 400 seasons: E N = m·exp((0.05² + 0.085²)/2) for a Poisson number about a lognormal mean; a unit's spread is near
/// √(m + (0.1 m)²), so that a cell's mean of 2400 units has a standard error near 0.4; four of them are allowed.
#[test]
fn cell_means_of_fruit_over_400_seasons_are_the_true_ones() {
    let mut cells: BTreeMap<(Station, Medium, Container), (f64, f64)> = BTreeMap::new();
    for seed in 0..400 {
        for t in unit_yields(seed, &EFFECTS) {
            let cell = cells.entry((t.site, t.medium, t.container)).or_default();
            *cell = (cell.0 + f64::from(t.fruit), cell.1 + f64::from(t.culls));
        }
    }
    let spread = (0.05f64 * 0.05 + 0.085 * 0.085) / 2.0;
    for ((site, medium, container), (fruit, culls)) in cells {
        let expected = EFFECTS.fruit(site, medium, container) * f64::from(PLANTS) * spread.exp();
        assert!((fruit / 2400.0 - expected).abs() < 1.7, "{site:?} {medium:?} {container:?}: {} for {expected}", fruit / 2400.0);
        // 2400 units of about 150 fruit: √(0.12 · 0.88 / 360 000 + 0.025² / 2400) ≈ 0.0008.
        let share = super::truth::traits(medium, container).culls_of_fruit;
        assert!((culls / fruit - share).abs() < 0.0032, "{site:?} {medium:?} {container:?}: {} for {share}", culls / fruit);
    }
}

/// By the stated halves: of 12 decimals, no more than the definition.
#[test]
fn the_true_ratio_of_fruit_numbers_is_the_geometric_mean_of_the_stations_ratios() {
    let alone: f64 = Station::COMPARABLE.iter().map(|s| EFFECTS.fruit_ratio(&[*s], None).ln()).sum::<f64>() / 3.0;
    assert!((EFFECTS.fruit_ratio(&Station::COMPARABLE, None) - alone.exp()).abs() < 1e-12);
    // Within buckets: 0.11 − 0.14 exactly.
    assert!((EFFECTS.cull_share_difference(Some(Container::Bucket)) + 0.03).abs() < 1e-12);
}

#[test]
fn the_short_way_to_unit_yields_draws_the_same_truths_as_the_season() {
    assert_eq!(unit_yields(SEED, &EFFECTS), season_of(SEED, &EFFECTS, Parts::Harvest).unwrap().truth.unit_season);
}

/// 400 seasons of 6 units a cell: the standard error of a cell's mean is sqrt(0.15² + 0.28²)/√2400 ≈ 0.0065 kg;
/// four of them are allowed.
#[test]
fn cell_means_over_400_seasons_are_the_true_ones() {
    let mut cells: BTreeMap<(Station, Medium, Container), (f64, u32)> = BTreeMap::new();
    for seed in 0..400 {
        for t in unit_yields(seed, &EFFECTS) {
            let cell = cells.entry((t.site, t.medium, t.container)).or_default();
            *cell = (cell.0 + t.kg_per_plant, cell.1 + 1);
        }
    }
    assert_eq!(cells.len(), 14);
    for ((site, medium, container), (sum, n)) in cells {
        assert_eq!(n, 2400);
        let off = sum / f64::from(n) - EFFECTS.cell(site, medium, container);
        assert!(off.abs() < 0.026, "{site:?} {medium:?} {container:?}: off by {off}");
    }
}

/// By the stated halves: 2 × 0.10 over the comparable stations, whose deviations cancel; ± 2 × 0.03 within containers.
#[test]
fn blend_truly_yields_0_20_kg_a_plant_more_than_perlite_and_0_26_more_in_buckets() {
    let three = Station::COMPARABLE;
    assert!((EFFECTS.blend_minus_perlite(&three, None) - 0.20).abs() < 1e-12);
    assert!((EFFECTS.blend_minus_perlite(&three, Some(Container::Bucket)) - 0.26).abs() < 1e-12);
    assert!((EFFECTS.blend_minus_perlite(&three, Some(Container::Pot)) - 0.14).abs() < 1e-12);
    assert!((EFFECTS.bucket_minus_pot(&three, None) - 0.32).abs() < 1e-12);
    assert!((EFFECTS.bucket_minus_pot(&[Station::WithyEnd], Some(Medium::Perlite)) - 0.26).abs() < 1e-12);
}

#[test]
fn every_block_of_a_station_holds_each_of_its_treatments_once() {
    for s in season_of(SEED, &EFFECTS, Parts::Harvest).unwrap().stations {
        let mut cells = BTreeMap::new();
        for u in s.units.iter().filter(|u| !u.guard) {
            *cells.entry((u.block, u.medium, u.container)).or_insert(0) += 1;
        }
        assert_eq!(cells.len(), if s.station == Station::WithyEnd { 12 } else { 24 });
        assert!(cells.values().all(|n| *n == 1));
    }
}

#[test]
fn a_unit_loses_at_most_one_of_its_two_plants() {
    for seed in 0..100 {
        for s in season_of(seed, &EFFECTS, Parts::Harvest).unwrap().stations {
            let mut units: Vec<usize> = s.deaths.iter().map(|d| d.unit).collect();
            units.sort_unstable();
            assert!(units.windows(2).all(|w| w[0] != w[1]));
        }
    }
}

#[test]
fn the_site_files_state_the_dates_and_zones_of_the_generated_stations() {
    for (name, bytes) in pipeline_files(Parts::All, "logs").unwrap() {
        let Some(station) = Station::ALL.into_iter().find(|s| name == format!("{}.toml", s.id())) else { continue };
        let file: toml::Table = std::str::from_utf8(&bytes).unwrap().parse().unwrap();
        let (site, facts) = (file["site"].as_table().unwrap(), station.facts());
        assert_eq!(site["id"].as_str(), Some(station.id()));
        assert_eq!(site["time_zone"].as_str(), Some(facts.zone));
        assert_eq!(site["latitude"].as_float(), Some(facts.latitude));
        for (key, day) in [("seeded", facts.seeded), ("transplanted", facts.transplanted), ("ended", facts.ended)] {
            assert_eq!(site[key].to_string(), day.to_string(), "{name} {key}");
        }
    }
}

#[test]
fn a_season_written_elsewhere_points_from_its_declarations_to_its_logs() {
    let folder = tempfile::tempdir().unwrap();
    let (logs, pipeline) = (folder.path().join("a/logs"), folder.path().join("b/season"));
    write(&season_of(1, &EFFECTS, Parts::Harvest).unwrap(), &logs, &pipeline).unwrap();
    let season: toml::Table = std::fs::read_to_string(pipeline.join("season.toml")).unwrap().parse().unwrap();
    let way = season["season"]["logs"].as_str().unwrap();
    assert_eq!(pipeline.join(way).canonicalize().unwrap(), logs.canonicalize().unwrap());
    assert!(!std::fs::read_to_string(pipeline.join("withy-end.toml")).unwrap().contains("climate"));
}
