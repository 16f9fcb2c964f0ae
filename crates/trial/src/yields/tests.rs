use crate::made::{day, entry, pick, picked, site, unit};
use crate::tables::{PickState, TrialTables, UnitSeason};
use crate::{Settings, build};
use crosshouse_logs::tables::*;
use proptest::prelude::*;

fn trial(sites: Vec<SiteTables>) -> TrialTables {
    build(&CleanTables { sites, ..CleanTables::default() }, &[], &Settings::default())
}

fn response(unit: &UnitSeason, key: &str) -> f64 {
    *unit.responses.get(key).unwrap_or_else(|| panic!("{key} is missing"))
}

fn near(found: f64, expected: f64, tolerance: f64) {
    assert!((found - expected).abs() <= tolerance, "{found}, expected {expected}");
}

fn death(on: i32, unit: usize) -> DiaryEntry {
    DiaryEntry { plants: Some(1), ..entry(Event::PlantDeath, on, on, Some(unit)) }
}

fn state_of(trial: &TrialTables, unit: &str, on: i32) -> PickState {
    trial.sites[0].states.iter().find(|s| s.unit == unit && s.day == day(on)).unwrap().state
}

// By definition: 2 plants, 100 days, one dies on day 60, 9.6 kg: 4.80 a plant set, 9.6/160·100 = 6.00.
#[test]
fn a_death_counts_in_plant_days_and_not_in_plants_set() {
    let mut site = picked(site("a", vec![unit("u1", &[])]), vec![pick(0, 50, 4.0), pick(0, 70, 5.6)]);
    site.diary = vec![death(60, 0)];
    let unit = &trial(vec![site]).sites[0].units[0];
    near(response(unit, "marketable-yield-per-unit"), 9.6, 1e-12);
    near(response(unit, "marketable-yield-per-plant"), 4.8, 1e-12);
    near(response(unit, "plant-days"), 160.0, 0.0);
    near(response(unit, "marketable-yield-per-plant-day-season"), 6.0, 1e-12);
    assert_eq!(unit.plants_alive_at_end, 1);
}

#[test]
fn plants_all_dead_on_day_0_yield_nothing_and_no_adjusted_yield() {
    let mut site = picked(site("a", vec![unit("u1", &[]), unit("u2", &[])]), vec![pick(1, 50, 1.0)]);
    site.diary = vec![death(0, 0), death(0, 0)];
    let trial = trial(vec![site]);
    let unit = &trial.sites[0].units[0];
    assert_eq!(response(unit, "marketable-yield-per-plant"), 0.0);
    assert!(!unit.responses.contains_key("marketable-yield-per-plant-day-season"));
    assert_eq!(state_of(&trial, "u1", 50), PickState::Dead);
}

// By definition: 20 lb a plant on 5 ft² is 19.5297 kg/m².
#[test]
fn yield_per_square_metre_needs_an_area_and_its_basis() {
    let with_area = Unit { area_m2: Some(2.0 * 5.0 * 0.092_903_04), ..unit("u1", &[]) };
    let bare = picked(site("a", vec![with_area.clone()]), vec![pick(0, 50, 2.0 * 9.071_847_4)]);
    let mut based = bare.clone();
    based.site.houses[0].area_basis = Some("house floor".into());
    near(response(&trial(vec![based]).sites[0].units[0], "marketable-yield-per-m2"), 19.5297, 1e-4);
    let refused = trial(vec![bare]);
    assert!(!refused.sites[0].units[0].responses.contains_key("marketable-yield-per-m2"));
    assert!(refused.not_given.iter().any(|n| n.what == "marketable-yield-per-m2" && n.why.contains("area basis")));
}

// Ratios of sums, by definition: 3.2/4.2 marketable; 2.0 kg/10 and 1.0 kg/2 fruit are 250 g, not 350.
#[test]
fn cull_share_and_fruit_mass_are_ratios_of_sums() {
    let cull = |on, kg| Pick { kind: GradeKind::Cull, grade: Some("C".into()), ..pick(0, on, kg) };
    let culled = picked(site("a", vec![unit("u1", &[])]), vec![pick(0, 50, 2.0), pick(0, 53, 1.0), cull(53, 1.0), pick(0, 56, 0.2)]);
    near(response(&trial(vec![culled]).sites[0].units[0], "cull-share"), 1.0 - 0.7619, 1e-4);
    let counted = |on, kg, n| Pick { count: Some(n), ..pick(0, on, kg) };
    let counted = trial(vec![picked(site("a", vec![unit("u1", &[])]), vec![counted(50, 2.0, 10.0), counted(53, 1.0, 2.0)])]);
    near(response(&counted.sites[0].units[0], "mean-fruit-mass"), 250.0, 1e-9);
    near(response(&counted.sites[0].units[0], "fruit-count-per-plant"), 6.0, 0.0);
}

#[test]
fn nothing_picked_has_no_cull_share() {
    let site = picked(site("a", vec![unit("u1", &[]), unit("u2", &[])]), vec![pick(1, 50, 1.0)]);
    let unit = &trial(vec![site]).sites[0].units[0];
    assert!(!unit.responses.contains_key("cull-share") && !unit.responses.contains_key("days-to-first-pick"));
    assert_eq!(response(unit, "total-yield-per-plant"), 0.0);
}

// Window [45, 59): 0.2 + 0.5 + 0.8 + 1.0 = 2.5; one day longer takes in day 59: 3.6. By definition.
#[test]
fn the_early_window_is_half_open_and_starts_with_the_sites_first_pick() {
    let picks = || [(45, 0.2), (48, 0.5), (52, 0.8), (55, 1.0), (59, 1.1), (62, 0.9)].map(|(on, kg)| pick(0, on, kg)).to_vec();
    let early = |w| {
        let clean = CleanTables { sites: vec![picked(site("a", vec![unit("u1", &[])]), picks())], ..CleanTables::default() };
        response(&build(&clean, &[], &Settings { early_days: w, ..Settings::default() }).sites[0].units[0], "early-yield-per-plant") * 2.0
    };
    near(early(14), 2.5, 1e-12);
    near(early(15), 3.6, 1e-12);
}

#[test]
fn a_late_unit_is_not_given_its_own_early_window() {
    let site = picked(site("a", vec![unit("u1", &[]), unit("u2", &[])]), vec![pick(0, 40, 1.0), pick(1, 75, 2.0)]);
    assert_eq!(response(&trial(vec![site]).sites[0].units[1], "early-yield-per-plant"), 0.0);
}

#[test]
fn a_pick_dated_before_transplanting_does_not_start_the_early_window() {
    let wrong = Pick { flags: vec!["before-transplanting".into()], ..pick(0, -365, 1.0) };
    let trial = trial(vec![picked(site("a", vec![unit("u1", &[])]), vec![wrong, pick(0, 45, 2.0)])]);
    assert_eq!(trial.sites[0].first_pick, Some(day(45)));
    near(response(&trial.sites[0].units[0], "early-yield-per-plant"), 1.0, 1e-12);
}

#[test]
fn a_unit_not_listed_on_a_pick_day_is_not_a_zero_harvest_unless_the_site_says_so() {
    for (unlisted, state, missed) in
        [(Unlisted::Zero, PickState::Zero, 0), (Unlisted::Missed, PickState::Missed, 1), (Unlisted::Undeclared, PickState::Unknown, 1)]
    {
        let mut site =
            picked(site("a", vec![unit("u1", &[]), unit("u2", &[])]), vec![pick(0, 50, 1.0), pick(1, 50, 1.0), pick(0, 53, 1.0)]);
        site.site.unlisted = unlisted;
        let trial = trial(vec![site]);
        assert_eq!(state_of(&trial, "u2", 53), state);
        assert_eq!((trial.sites[0].units[1].picks, trial.sites[0].units[1].picks_missed), (1, missed));
    }
}

#[test]
fn a_unit_of_which_no_pick_is_known_has_no_yield() {
    let mut site = picked(site("a", vec![unit("u1", &[]), unit("u2", &[])]), vec![pick(0, 50, 1.0)]);
    site.site.unlisted = Unlisted::Missed;
    let trial = trial(vec![site]);
    assert!(!trial.sites[0].units[1].responses.contains_key("total-yield-per-plant"));
    assert!(trial.not_given.iter().any(|n| n.why.contains("no yield for u2")));
}

#[test]
fn diary_and_unread_rows_make_missed_and_lost_picks() {
    let mut site = picked(site("a", vec![unit("u1", &[]), unit("u2", &[])]), vec![pick(0, 50, 1.0), pick(0, 53, 1.0), pick(0, 56, 1.0)]);
    site.diary = vec![entry(Event::MissedPick, 50, 50, Some(1)), entry(Event::LostPick, 53, 54, Some(1))];
    site.unread = vec![UnreadPick { unit: 1, day: day(56), code: "mass-unreadable".into(), source: crate::made::SOURCE }];
    let trial = trial(vec![site]);
    let states = [50, 53, 56].map(|on| state_of(&trial, "u2", on));
    assert_eq!(states, [PickState::Missed, PickState::Lost, PickState::Lost]);
    assert_eq!(trial.sites[0].units[1].picks_missed, 3);
}

#[test]
fn a_missed_pick_week_of_the_site_is_one_missed_pick_and_no_zero() {
    let mut site = picked(site("a", vec![unit("u1", &[])]), vec![pick(0, 50, 1.0), pick(0, 64, 2.0)]);
    site.site.missed_days = vec![MissedPick { from: day(57), to: day(60), house: None, reason: "storm".into() }];
    let trial = trial(vec![site]);
    assert_eq!(state_of(&trial, "u1", 57), PickState::Missed);
    assert_eq!((trial.sites[0].units[0].picks, trial.sites[0].units[0].picks_missed), (2, 1));
}

#[test]
fn days_before_transplanting_are_not_due() {
    let early = Pick { unit: 1, ..pick(1, -3, 0.5) };
    let trial = trial(vec![picked(site("a", vec![unit("u1", &[]), unit("u2", &[])]), vec![early, pick(0, 50, 1.0)])]);
    assert_eq!(state_of(&trial, "u1", -3), PickState::NotDue);
}

#[test]
fn a_weighed_zero_is_a_zero_pick_and_an_unread_mass_a_lost_one() {
    let unread = Pick { mass: None, count: Some(4.0), ..pick(0, 53, 0.0) };
    let trial = trial(vec![picked(site("a", vec![unit("u1", &[])]), vec![pick(0, 50, 0.0), unread, pick(0, 56, 1.0)])]);
    assert_eq!([50, 53, 56].map(|on| state_of(&trial, "u1", on)), [PickState::Zero, PickState::Lost, PickState::Picked]);
}

#[test]
fn flagged_picks_count_in_the_season_and_not_in_the_unflagged_one() {
    let doubtful = Pick { flags: vec!["heavy".into()], ..pick(0, 53, 5.0) };
    let trial = trial(vec![picked(site("a", vec![unit("u1", &[])]), vec![pick(0, 50, 1.0), doubtful])]);
    let unit = &trial.sites[0].units[0];
    near(response(unit, "total-yield-per-unit"), 6.0, 1e-12);
    assert_eq!((unit.responses_unflagged["total-yield-per-unit"], unit.flagged_picks), (1.0, 1));
}

#[test]
fn guards_are_listed_in_the_plan_and_never_analysed() {
    let guard = Unit { guard: true, ..unit("g", &[]) };
    let trial = trial(vec![picked(site("a", vec![guard, unit("u1", &[])]), vec![pick(0, 50, 9.0), pick(1, 50, 1.0)])]);
    assert_eq!(trial.sites[0].units.len(), 1);
    near(trial.sites[0].cumulative[0].mean_kg_per_plant, 0.5, 1e-12);
}

#[test]
fn weeks_count_from_transplanting_and_hold_their_own_picks() {
    let trial = trial(vec![picked(site("a", vec![unit("u1", &[])]), vec![pick(0, 48, 1.0), pick(0, 49, 2.0), pick(0, 62, 3.0)])]);
    let weeks: Vec<_> = trial.sites[0].weeks.iter().map(|w| (w.week, w.marketable, w.plant_days)).collect();
    assert_eq!(weeks, [(7, 1.0, 14.0), (8, 2.0, 14.0), (9, 3.0, 14.0)]);
    assert_eq!(trial.sites[0].weeks[0].from, day(42));
}

#[test]
fn the_cumulative_curve_is_the_mean_over_the_units_of_a_treatment() {
    let units = vec![unit("u1", &[("m", "x")]), unit("u2", &[("m", "x")]), unit("u3", &[("m", "y")])];
    let trial = trial(vec![picked(site("a", units), vec![pick(0, 50, 1.0), pick(1, 50, 3.0), pick(0, 53, 2.0), pick(2, 53, 4.0)])]);
    let curve: Vec<_> = trial.sites[0].cumulative.iter().map(|p| (p.levels["m"].as_str(), p.day, p.mean_kg_per_plant, p.units)).collect();
    assert_eq!(curve, [("x", 50, 1.0, 2), ("x", 53, 1.5, 2), ("y", 50, 0.0, 1), ("y", 53, 2.0, 1)]);
}

#[test]
fn measures_combine_as_declared_and_are_not_compared_across_units() {
    let measure = |name: &str, unit: &str, combine| Measure { name: name.into(), unit: unit.into(), combine };
    let make = |id: &str, text: &str| {
        let row = |on, a, b| Pick { measures: vec![a, b], ..pick(0, on, 1.0) };
        let mut site = picked(
            site(id, vec![unit("u1", &[])]),
            vec![row(50, Some(7.0), Some(1.0)), row(53, Some(8.0), None), row(56, None, Some(2.0))],
        );
        site.measures = vec![measure("solids", text, Combine::Mean), measure("leaves", "kg", Combine::Sum)];
        site
    };
    let same = trial(vec![make("a", "%"), make("b", "%")]);
    assert_eq!((response(&same.sites[0].units[0], "measure:solids"), response(&same.sites[0].units[0], "measure:leaves")), (7.5, 3.0));
    assert_eq!(same.measure_units["solids"], "%");
    let mixed = trial(vec![make("a", "%"), make("b", "g/L")]);
    assert!(!mixed.sites[0].units[0].responses.contains_key("measure:solids"));
    assert!(mixed.not_given.iter().any(|n| n.what == "measure:solids"));
}

#[test]
fn water_productivity_is_yield_per_plant_over_water_per_plant() {
    let line = Unit { line: Some("line-1".into()), ..unit("u1", &[]) };
    let mut site = picked(site("a", vec![line]), vec![pick(0, 50, 6.2)]);
    site.root_zone = (0..100)
        .map(|on| RootZone {
            feed_volume: Some(0.385),
            drain_volume: Some(0.077),
            plants: Some(2.0),
            ..crate::made::root_zone("line-1", on)
        })
        .collect();
    let trial = trial(vec![site.clone()]);
    let water = &trial.sites[0].water[0];
    near(water.productivity_applied.unwrap(), 161.039, 0.001);
    near(water.productivity_used.unwrap(), 201.299, 0.001);
    near(water.drain_fraction.unwrap(), 0.2, 1e-12);
    site.root_zone.iter_mut().for_each(|r| r.plants = None);
    assert!(self::trial(vec![site]).not_given.iter().any(|n| n.what == "water-productivity" && n.why.contains("how many plants")));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(32))]

    #[test]
    fn the_order_of_rows_moves_no_digit(masses in prop::collection::vec((0usize..3, 40i32..60, 0.0..5.0f64), 1..40), seed in any::<u64>()) {
        let units = || vec![unit("u1", &[]), unit("u2", &[]), unit("u3", &[])];
        let rows: Vec<Pick> = masses.iter().map(|(u, on, kg)| pick(*u, *on, *kg)).collect();
        let mut shuffled = rows.clone();
        let n = shuffled.len();
        (0..n).for_each(|i| shuffled.swap(i, (seed as usize).wrapping_mul(31).wrapping_add(i * 17) % n));
        let results = [rows, shuffled].map(|picks| {
            let trial = trial(vec![picked(site("a", units()), picks)]);
            format!("{:?} {:?} {:?}", trial.sites[0].units, trial.sites[0].weeks, trial.sites[0].cumulative)
        });
        prop_assert_eq!(&results[0], &results[1]);
    }

    #[test]
    fn a_pick_split_over_rows_is_the_same_pick(masses in prop::collection::vec((40i32..60, 0.0..5.0f64), 1..20), share in 0.0..1.0f64) {
        let whole: Vec<Pick> = masses.iter().map(|(on, kg)| pick(0, *on, *kg)).collect();
        let split: Vec<Pick> = masses.iter().flat_map(|(on, kg)| [pick(0, *on, kg * share), pick(0, *on, kg * (1.0 - share))]).collect();
        let [whole, split] = [whole, split].map(|picks| trial(vec![picked(site("a", vec![unit("u1", &[])]), picks)]).sites[0].units[0].clone());
        for (key, value) in &whole.responses {
            prop_assert!((split.responses[key] - value).abs() <= 1e-9 * value.abs().max(1.0), "{}", key);
        }
        prop_assert_eq!(whole.picks, split.picks);
    }
}

#[test]
fn a_day_of_which_a_row_could_not_be_used_is_lost_whatever_the_other_rows_say() {
    let mut site = site("a", vec![unit("u1", &[])]);
    let unread = |n, code: &str| UnreadPick { unit: 0, day: day(n), code: code.into(), source: crate::made::SOURCE };
    site.unread = vec![unread(50, "duplicate-row"), unread(53, "nothing-written")];
    let trial = trial(vec![picked(site, vec![pick(0, 50, 0.1), pick(0, 53, 1.0)])]);
    let states: Vec<_> = trial.sites[0].states.iter().map(|s| s.state).collect();
    assert_eq!(states, [PickState::Lost, PickState::Picked]);
    assert_eq!((trial.sites[0].units[0].picks, trial.sites[0].units[0].picks_missed), (1, 1));
}

// By definition: 4.0 kg of 4.5 were counted on two plants: the 34 fruit stand for 2 · 4.0/4.5 plants.
#[test]
fn fruit_of_a_pick_that_was_not_counted_is_taken_off_the_exposure() {
    let counted = |on, kg, n| Pick { count: n, ..pick(0, on, kg) };
    let cull = |on, n| Pick { kind: GradeKind::Cull, grade: Some("C".into()), count: Some(n), ..pick(0, on, 0.1) };
    let rows = |missing: f64| {
        vec![counted(50, 1.9, Some(16.0)), cull(50, 4.0), counted(53, missing, None), cull(53, 9.0), counted(56, 2.0, Some(14.0))]
    };
    let site_of = |missing| picked(site("a", vec![unit("u1", &[])]), rows(missing));
    let told = trial(vec![site_of(0.4)]).sites[0].units[0].clone();
    let fruit = told.counted["fruit-count-per-plant"];
    near(fruit.number, 34.0, 0.0);
    near(fruit.of, 2.0 * 4.0 / 4.5, 1e-12);
    near(response(&told, "fruit-count-per-plant"), 34.0 / (2.0 * 4.0 / 4.5), 1e-12);
    let culls = told.counted["cull-share-by-number"];
    assert_eq!((culls.number, culls.of), (4.0, 34.0));
    // 1.3 kg of 5.3 were not counted: a quarter.
    let untold = trial(vec![site_of(1.2)]);
    assert!(!untold.sites[0].units[0].counted.contains_key("fruit-count-per-plant"));
    assert!(untold.not_given.iter().any(|n| n.what == "fruit-count-per-plant" && n.why.contains("u1")));
}

#[test]
fn plants_lost_are_those_of_the_diary_and_unknown_without_one_or_with_a_death_of_no_unit() {
    let make = |diary: Vec<DiaryEntry>| {
        let mut site = picked(site("a", vec![unit("u1", &[]), unit("u2", &[])]), vec![pick(0, 50, 1.0), pick(1, 50, 1.0)]);
        site.diary = diary;
        trial(vec![site])
    };
    let told = make(vec![death(60, 0)]);
    let lost = |t: &TrialTables, i: usize| t.sites[0].units[i].counted.get("plants-lost").map(|c| (c.number, c.of));
    assert_eq!((lost(&told, 0), lost(&told, 1)), (Some((1.0, 2.0)), Some((0.0, 2.0))));
    assert_eq!(lost(&make(vec![]), 0), None);
    let nowhere = DiaryEntry { plants: Some(1), ..entry(Event::PlantDeath, 60, 60, None) };
    assert_eq!(lost(&make(vec![nowhere]), 0), None);
}
