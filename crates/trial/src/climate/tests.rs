use super::*;
use crate::DayStarts;
use crate::made::{day, logger, site};
use std::f64::consts::PI;

fn days(logger: &Climate, settings: &Settings) -> Vec<HouseDay> {
    house_days(&site("a", Vec::new()).site, std::slice::from_ref(logger), settings)
}

fn near(found: Option<f64>, expected: f64, tolerance: f64) {
    let found = found.unwrap();
    assert!((found - expected).abs() <= tolerance, "{found}, expected {expected}");
}

/// Second of the day of record `i`.
fn second(logger: &Climate, i: usize) -> f64 {
    (i as u64 * u64::from(logger.interval_s) % 86_400) as f64
}

fn fill(logger: &Climate, of: impl Fn(f64) -> f64) -> Vec<f64> {
    (0..logger.instant.len()).map(|i| of(second(logger, i) / 3600.0)).collect()
}

/// 1000 sin(π(h − 6)/12) by day, dark by night; its exact integral is 27.5020 mol.
fn sun(hour: f64) -> f64 {
    if (6.0..=18.0).contains(&hour) { 1000.0 * (PI * (hour - 6.0) / 12.0).sin() } else { 0.0 }
}

fn without(mut logger: Climate, hours: std::ops::Range<f64>) -> Climate {
    for i in 0..logger.instant.len() {
        if hours.contains(&(second(&logger, i) / 3600.0)) {
            logger.light[i] = f64::NAN;
        }
    }
    logger
}

// 14 h at 25 °C and 10 h at 18 °C: (14·25 + 10·18)/24 = 22.0833, by definition.
#[test]
fn the_daily_mean_is_weighted_by_time_and_parts_by_clock_hours() {
    let mut logger = logger(60, 1441);
    logger.temperature = fill(&logger, |h| if (6.0..20.0).contains(&h) { 25.0 } else { 18.0 });
    let settings = Settings { day_starts: DayStarts::Clock { from: 6.0 * 3600.0, to: 20.0 * 3600.0 }, ..Settings::default() };
    let day = &days(&logger, &settings)[0];
    near(day.mean, 22.0833, 0.01);
    near(day.day_mean, 25.0, 0.01);
    near(day.night_mean, 18.0, 0.01);
    assert_eq!((day.minimum, day.maximum, day.records), (Some(18.0), Some(25.0), 1440));
    assert!((day.completeness - 1.0).abs() < 1e-12);
}

#[test]
fn day_is_where_the_light_is_above_five() {
    let mut logger = logger(300, 289);
    logger.temperature = fill(&logger, |h| if sun(h) > 5.0 { 25.0 } else { 18.0 });
    logger.light = fill(&logger, sun);
    let day = &days(&logger, &Settings::default())[0];
    near(day.day_mean, 25.0, 0.1);
    near(day.night_mean, 18.0, 0.1);
}

#[test]
fn without_a_light_sensor_and_without_hours_there_is_no_day_mean() {
    let mut logger = logger(300, 289);
    logger.temperature = fill(&logger, |_| 20.0);
    let day = &days(&logger, &Settings::default())[0];
    assert_eq!((day.day_mean, day.night_mean, day.dli), (None, None, None));
    near(day.mean, 20.0, 1e-12);
}

#[test]
fn uneven_records_do_not_weigh_by_their_number() {
    let mut logger = logger(600, 145);
    logger.temperature = fill(&logger, |h| if h < 12.0 { 10.0 } else { 20.0 });
    for i in (73..144).filter(|i| i % 3 != 0) {
        logger.temperature[i] = f64::NAN;
    }
    // the mean of the records would be 12.6
    near(days(&logger, &Settings::default())[0].mean, 15.0, 0.1);
}

#[test]
fn vapour_pressure_deficit_is_averaged_over_records() {
    let mut logger = logger(3600, 25);
    logger.temperature = (0..25).map(|i| if i % 2 == 0 { 15.0 } else { 35.0 }).collect();
    logger.humidity = (0..25).map(|i| if i % 2 == 0 { 90.0 } else { 40.0 }).collect();
    let day = &days(&logger, &Settings::default())[0];
    near(day.vpd, 1.7721, 0.0005);
    near(day.humidity, 65.0, 1e-9);
}

// 0.5·1000·… trapezoids over hourly and quarter-hourly readings of the sine, by definition.
#[test]
fn hourly_readings_of_a_sine_day_give_27_3447_mol_and_quarter_hours_27_4922() {
    for (interval, expected) in [(3600, 27.3447), (900, 27.4922)] {
        let mut logger = logger(interval, 86_400 / interval as usize + 1);
        logger.light = fill(&logger, sun);
        let day = &days(&logger, &Settings::default())[0];
        near(day.dli, expected, 0.0005);
        assert!(!day.dli_is_estimate);
    }
}

#[test]
fn twenty_four_hourly_means_give_15_12_mol() {
    let mut logger = logger(3600, 24);
    let half = [0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 50.0, 150.0, 300.0, 450.0, 550.0, 600.0];
    logger.light = half.iter().chain(half.iter().rev()).copied().collect();
    logger.light_is_mean = true;
    near(days(&logger, &Settings::default())[0].dli, 15.12, 1e-9);
}

#[test]
fn two_hours_without_light_record_at_noon_make_an_estimate_and_five_make_a_blank() {
    let mut whole = logger(300, 2 * 288 + 1);
    whole.light = fill(&whole, sun);
    let first_day = |hours| {
        let mut logger = whole.clone();
        logger.light[..288].copy_from_slice(&without(whole.clone(), hours).light[..288]);
        days(&logger, &Settings::default())[0].clone()
    };
    let estimate = first_day(11.0..13.0);
    assert!(estimate.dli_is_estimate);
    near(estimate.dli, 27.5, 0.3);
    assert_eq!(first_day(9.5..14.5).dli, None);
    assert!(!first_day(12.0..12.4).dli_is_estimate);
}

#[test]
fn a_missing_morning_is_never_counted_as_dark() {
    let mut logger = logger(300, 289);
    logger.light = fill(&logger, sun);
    let logger = without(logger, 0.0..8.0);
    let mut site = site("a", Vec::new()).site;
    (site.latitude, site.longitude) = (Some(0.0), Some(0.0));
    let day = &house_days(&site, &[logger], &Settings::default())[0];
    assert_eq!(day.dli, None);
}

#[test]
fn a_gap_longer_than_allowed_is_left_open() {
    let mut logger = logger(300, 289);
    logger.temperature = fill(&logger, |h| if (6.0..12.0).contains(&h) { f64::NAN } else { 20.0 });
    let day = &days(&logger, &Settings::default())[0];
    assert!((day.completeness - 0.75).abs() < 0.01);
    assert_eq!(day.degree_days, None);
    near(day.mean, 20.0, 1e-9);
}

#[test]
fn degree_days_and_hours_outside_follow_the_curve() {
    let mut logger = logger(300, 289);
    logger.temperature = fill(&logger, |h| 22.0 + 12.0 * (PI * (h - 9.0) / 12.0).sin());
    let day = &days(&logger, &Settings::default())[0];
    // single sine 34/10 °C, base 10, ceiling 30, integrated numerically: Baskerville & Emin (1969)
    near(day.degree_days, crate::degree_days::single_sine(34.0, 10.0, 10.0, Some(30.0)), 0.005);
    let above = 24.0 / PI * (10.0f64 / 12.0).acos();
    let below = 24.0 / PI * (7.0f64 / 12.0).acos();
    near(day.hours_outside_band, above + below, 0.05);
}

#[test]
fn days_are_standard_days_of_the_site() {
    let mut logger = logger(3600, 48);
    logger.standard_offset_s = -6 * 3600;
    logger.temperature = fill(&logger, |_| 20.0);
    let rows = days(&logger, &Settings::default());
    let dates: Vec<_> = rows.iter().map(|r| (r.day.unwrap(), r.records)).collect();
    assert_eq!(dates, [(day(-1), 6), (day(0), 24), (day(1), 18)]);
    assert!((rows[1].completeness - 1.0).abs() < 1e-12);
    assert!((rows[0].completeness - 0.25).abs() < 1e-12);
}

#[test]
fn a_stretch_over_midnight_is_cut_there() {
    let mut logger = logger(43_200, 4);
    logger.temperature = vec![10.0, 20.0, 30.0, 30.0];
    let rows = days(&logger, &Settings::default());
    near(rows[0].mean, 20.0, 1e-9);
    near(rows[1].mean, 30.0, 1e-9);
}

#[test]
fn two_loggers_of_a_house_make_one_row_a_day() {
    let mut air = logger(300, 289);
    air.temperature = fill(&air, |_| 20.0);
    let mut light = logger(900, 97);
    light.light = fill(&light, sun);
    light.flagged[3] = true;
    let rows = house_days(&site("a", Vec::new()).site, &[air, light], &Settings::default());
    assert_eq!((rows.len(), rows[0].records, rows[0].flagged), (2, 288 + 96, 1));
    near(rows[0].mean, 20.0, 1e-12);
    near(rows[0].dli, 27.4922, 0.0005);
}

#[test]
fn an_empty_logger_has_no_days() {
    assert!(days(&logger(300, 0), &Settings::default()).is_empty());
}

/// Some records of a logger: each with a step to it, and values of which some are missing.
fn any_logger() -> impl proptest::strategy::Strategy<Value = Climate> {
    use proptest::prelude::*;
    let value = |low: f64, high: f64| prop_oneof![8 => (low..high).prop_map(|x| (x * 10.0).round() / 10.0), 1 => Just(f64::NAN)];
    let light = prop_oneof![3 => Just(0.0), 6 => 0.0..900.0, 1 => Just(f64::NAN)];
    let step = prop_oneof![20 => Just(1i64), 2 => 2i64..9, 1 => 9i64..400];
    let record = (step, value(-5.0, 40.0), value(20.0, 100.0), light, any::<bool>());
    let interval = prop::sample::select(vec![60u32, 300, 3600, 43_200]);
    (prop::collection::vec(record, 0..400), interval, any::<bool>(), any::<bool>(), -6i32..7).prop_map(
        |(records, interval, mean, lit, offset)| {
            let mut logger = logger(interval, records.len());
            if lit {
                logger.light = vec![f64::NAN; records.len()];
            }
            let mut at = 1_932_000_007;
            for (i, (step, t, rh, light, flagged)) in records.into_iter().enumerate() {
                at += step * i64::from(interval);
                (logger.instant[i], logger.flagged[i]) = (at, flagged);
                (logger.temperature[i], logger.humidity[i]) = (t, rh);
                if lit {
                    logger.light[i] = light;
                }
            }
            logger.light_is_mean = mean;
            logger.standard_offset_s = offset * 3600;
            logger
        },
    )
}

proptest::proptest! {
    #![proptest_config(proptest::test_runner::Config { cases: 256, ..Default::default() })]

    #[test]
    fn days_summed_as_records_pass_are_those_of_whole_columns_to_the_bit(logger in any_logger(), sunlit: bool, clock: bool) {
        let mut site = site("a", Vec::new()).site;
        if sunlit {
            (site.latitude, site.longitude) = (Some(46.9), Some(-95.1));
        }
        let hours = if clock { DayStarts::Clock { from: 21_600.0, to: 72_000.0 } } else { DayStarts::Light };
        let settings = Settings { day_starts: hours, ..Settings::default() };
        let (running, whole) = (logger_days(&site, &logger, &settings), whole::logger_days(&site, &logger, &settings));
        proptest::prop_assert_eq!(format!("{running:?}"), format!("{whole:?}"));
    }
}
