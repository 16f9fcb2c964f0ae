//! The loggers' clocks and faults, as the reading side must meet them.
use super::super::SEED;
use super::{demo, demo_files};

fn lines(name: &str) -> Vec<String> {
    String::from_utf8_lossy(&demo_files()[name]).lines().map(str::to_owned).collect()
}

#[test]
fn tarn_hollows_wall_clock_goes_from_1_55_to_3_00_on_9_march() {
    let log = lines("tarn-hollow/climate-march.csv");
    let before = log.iter().position(|l| l.starts_with("03/09/2031 1:55 AM")).unwrap();
    assert!(log[before + 1].starts_with("03/09/2031 3:00 AM"));
    assert_eq!(log.iter().filter(|l| l.starts_with("03/09/2031")).count(), 23 * 12);
}

#[test]
fn withy_ends_wall_clock_writes_the_hour_from_1_to_2_twice_on_2_november() {
    let log = lines("withy-end/climate.csv");
    assert_eq!(log.iter().filter(|l| l.starts_with("2031-11-02 01:")).count(), 12);
    assert_eq!(log.iter().filter(|l| l.starts_with("2031-11-02")).count(), 25 * 6);
}

#[test]
fn sedge_flats_downloads_overlap_by_72_equal_records() {
    let (first, second) = (lines("sedge-flats/climate-1.csv"), lines("sedge-flats/climate-2.csv"));
    assert_eq!(first[first.len() - 72..], second[1..73]);
}

#[test]
fn sedge_flats_probe_stuck_for_two_days_while_the_light_went_on() {
    let log = lines("sedge-flats/climate-2.csv");
    let stuck: Vec<&String> = log.iter().filter(|l| l.starts_with("2031-06-24") || l.starts_with("2031-06-25")).collect();
    assert_eq!(stuck.len(), 576);
    let probe = |l: &str| l.split(',').skip(1).take(2).collect::<Vec<_>>().join(",");
    assert!(stuck.iter().all(|l| probe(l) == probe(stuck[0])));
    assert!(stuck.iter().any(|l| !l.ends_with(",0")));
}

#[test]
fn marl_ridge_wrote_every_minute_for_31_days() {
    assert_eq!(lines("marl-ridge/climate-1min.csv").len(), 1 + 31 * 1440);
}

#[test]
fn no_light_falls_between_ten_at_night_and_three_in_the_morning_of_standard_time() {
    for s in &demo().stations {
        let offset = s.station.facts().standard_offset();
        let night = |second: i64| !(3 * 3600..22 * 3600).contains(&(second + offset).rem_euclid(86_400));
        let weather = s.weather.as_ref().unwrap();
        assert!(weather.readings.iter().filter(|r| night(r.second)).all(|r| r.ppfd == 0.0), "{}", s.station.id());
    }
}

#[test]
fn relative_humidity_is_lower_at_two_in_the_afternoon_than_at_two_at_night() {
    for s in &demo().stations {
        let offset = s.station.facts().standard_offset();
        let at = |hour: i64| {
            let hit = |second: i64| (second + offset).rem_euclid(86_400) == hour * 3600;
            let values: Vec<f64> = s.weather.as_ref().unwrap().readings.iter().filter(|r| hit(r.second)).map(|r| r.humidity).collect();
            values.iter().sum::<f64>() / values.len() as f64
        };
        assert!(at(14) < at(2) - 8.0, "{}", s.station.id());
    }
}

/// Orientation of the trade: 8 to 40 mol a day under cover in the season, dull and bright days aside.
#[test]
fn the_mean_light_sum_of_every_house_lies_between_14_and_34_mol_a_day() {
    for s in &demo().stations {
        let sums = &s.weather.as_ref().unwrap().light_sums;
        let mean = sums.values().sum::<f64>() / sums.len() as f64;
        assert!((14.0..34.0).contains(&mean), "{}: {mean}", s.station.id());
        assert!(sums.values().all(|d| *d > 0.5 && *d < 60.0));
    }
}

#[test]
fn drain_lies_between_a_tenth_and_a_third_of_the_feed_at_every_station() {
    for s in &demo().stations {
        for r in super::super::logs::water::of_season(s.station, s.weather.as_ref().unwrap(), SEED) {
            assert!((0.10..0.33).contains(&(r.drain / r.feed)));
            assert!((2.0..3.0).contains(&r.feed_ec) && r.drain_ec > r.feed_ec && r.drain_ec < 4.0);
            assert!((5.4..6.4).contains(&r.feed_ph) && (5.5..6.8).contains(&r.drain_ph));
            assert!(r.feed / 8.0 < 5.0, "litres a plant: {}", r.feed / 8.0);
        }
    }
}
