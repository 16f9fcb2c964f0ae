//! House days of a season's climate records.
use crosshouse_logs::tables::{Climate, Site, Unlisted};
use crosshouse_readings::{FileId, Source};
use crosshouse_trial::{Settings, house_days};

fn main() {
    divan::main();
}

fn site() -> Site {
    Site {
        id: "a".into(),
        name: "A".into(),
        time_zone: "UTC".into(),
        latitude: Some(45.0),
        longitude: Some(0.0),
        seeded: None,
        transplanted: None,
        ended: None,
        unlisted: Unlisted::Zero,
        pick_days: Vec::new(),
        house_pick_days: Default::default(),
        missed_days: Vec::new(),
        houses: Vec::new(),
        practices: Vec::new(),
    }
}

/// One-minute records of `records` minutes.
fn logger(records: usize) -> Climate {
    let hour = |i: usize| (i % 1440) as f64 / 60.0;
    let wave = |i: usize| (std::f64::consts::PI * (hour(i) - 6.0) / 12.0).sin();
    Climate {
        house: "house-1".into(),
        interval_s: 60,
        instant: (0..records as i64).map(|i| 1_932_000_000 + i * 60).collect(),
        temperature: (0..records).map(|i| 21.0 + 6.0 * wave(i)).collect(),
        humidity: (0..records).map(|i| 70.0 - 15.0 * wave(i)).collect(),
        light: (0..records).map(|i| (900.0 * wave(i)).max(0.0)).collect(),
        source: vec![Source { file: FileId(0), row: 1 }; records],
        flagged: vec![false; records],
        ..Climate::default()
    }
}

#[divan::bench(args = [50_000, 500_000], sample_count = 5)]
fn house_days_of_minute_records(bencher: divan::Bencher<'_, '_>, records: usize) {
    let (site, climate, settings) = (site(), [logger(records)], Settings::default());
    bencher.bench(|| house_days(&site, &climate, &settings));
}
