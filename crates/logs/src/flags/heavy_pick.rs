//! A single pick far above the site's others, and one that is a usual pick in another unit: grams among
//! kilograms, or kilograms among grams.
use super::{Doubt, Picks, Setting};

pub(super) fn of(picks: &Picks<'_>, setting: &Setting<'_>) -> Vec<Doubt> {
    let mut masses: Vec<f64> = picks.picks.iter().filter_map(|p| p.mass).filter(|m| *m > 0.0).collect();
    masses.sort_by(f64::total_cmp);
    let (times, enough) = (setting.limit("heavy-pick", "times"), setting.value("heavy-pick", "picks"));
    let at = |percent: usize| masses.get(((masses.len() * percent).div_ceil(100)).saturating_sub(1)).copied();
    let (Some(low), Some(median), Some(high)) = (at(1), at(50), at(95)) else { return Vec::new() };
    if (masses.len() as f64) < enough {
        return Vec::new();
    }
    let usual = |m: f64| m >= low / 2.0 && m <= high * 2.0;
    let (grams, kilograms) = (setting.limit("mass-like-grams", "times"), setting.limit("mass-like-kilograms", "times"));
    let like_grams = |m: f64| m > grams.value * median && usual(m / 1000.0);
    let like_kilograms = |m: f64| m > 0.0 && m * kilograms.value < median && usual(m * 1000.0);
    let those = |wanted: &dyn Fn(f64) -> bool| picks.those(|p| p.mass.is_some_and(wanted));
    vec![
        Doubt::new(
            "heavy-pick",
            format!("{{n}} above {:.2} kg, {} times the site's 95th percentile ({})", times.value * high, times.value, times.source),
            those(&|m| m > times.value * high && !like_grams(m)),
        ),
        Doubt::new(
            "mass-like-grams",
            format!("{{n}} of a mass that would be a usual pick if it was written in grams in a column of kilograms ({})", grams.source),
            those(&like_grams),
        ),
        Doubt::new(
            "mass-like-kilograms",
            format!(
                "{{n}} of a mass that would be a usual pick if it was written in kilograms in a column of grams ({})",
                kilograms.source
            ),
            those(&like_kilograms),
        ),
    ]
}

#[cfg(test)]
mod tests {
    use super::super::sample::{facts, pick, unit};
    use super::*;
    use jiff::civil::date;

    fn found(odd: f64) -> Vec<(&'static str, Vec<usize>)> {
        let mut picks: Vec<_> = (0..40).map(|i| pick(0, date(2031, 6, 3), 0.3 + f64::from(i) / 40.0, 25.0)).collect();
        picks.push(pick(0, date(2031, 6, 3), odd, 25.0));
        let units = [unit(2)];
        of(&facts(&units, &[], &picks), &Setting::default()).into_iter().filter(|d| !d.rows.is_empty()).map(|d| (d.code, d.rows)).collect()
    }

    #[test]
    fn a_pick_ten_times_the_others_is_doubted() {
        assert_eq!(found(12.0), [("heavy-pick", vec![40])]);
    }

    #[test]
    fn grams_among_kilograms_are_told_as_a_unit() {
        assert_eq!(found(850.0), [("mass-like-grams", vec![40])]);
    }

    #[test]
    fn kilograms_among_grams_are_told_as_a_unit() {
        assert_eq!(found(0.00085), [("mass-like-kilograms", vec![40])]);
    }

    #[test]
    fn a_real_pick_of_2_4_kg_one_small_fruit_and_an_empty_tray_are_no_doubt() {
        for mass in [2.4, 0.02, 0.0] {
            assert!(found(mass).is_empty(), "{mass}");
        }
    }
}
