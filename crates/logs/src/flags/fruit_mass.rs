//! A pick heavier (or lighter) than its count allows: the mean fruit mass against the crop's
//! limits, and against the site's own picks.
use super::rules::Limit;
use super::{Doubt, Picks, Setting};
use crate::tables::Pick;

const ENOUGH: usize = 20;

fn mean_g(pick: &Pick) -> Option<f64> {
    let (mass, count) = (pick.mass?, pick.count?);
    (count > 0.0 && mass > 0.0).then(|| 1000.0 * mass / count)
}

fn median_g(picks: &Picks<'_>) -> Option<f64> {
    let mut means: Vec<f64> = picks.picks.iter().filter_map(mean_g).collect();
    means.sort_by(f64::total_cmp);
    (means.len() >= ENOUGH).then(|| means.get(means.len() / 2).copied()).flatten()
}

/// The lower of the crop's limit and the site's own, g, with its words.
fn upper(picks: &Picks<'_>, setting: &Setting<'_>) -> Option<(f64, String)> {
    let (of_crop, times) = (setting.limit("heavier-than-count", "fruit"), setting.limit("heavier-than-count", "times-median"));
    let by_crop = |l: &Limit| (l.value, format!("the usual upper limit of this crop: {}", l.source));
    let by_site = |m: f64| (times.value * m, format!("{} times the site's median: {}", times.value, times.source));
    let crop = Some(by_crop(&of_crop)).filter(|(g, _)| g.is_finite());
    match (crop, median_g(picks).map(by_site)) {
        (Some(a), Some(b)) => Some(if b.0 < a.0 { b } else { a }),
        (a, b) => a.or(b),
    }
}

pub(super) fn of(picks: &Picks<'_>, setting: &Setting<'_>) -> Vec<Doubt> {
    let mut doubts = Vec::new();
    if let Some((upper, words)) = upper(picks, setting) {
        let rows = picks.those(|p| mean_g(p).is_some_and(|m| m > upper));
        let text = format!("{{n}} heavier than the count allows: a mean fruit above {upper:.0} g ({words})");
        doubts.push(Doubt::new("heavier-than-count", text, rows));
    }
    let low = setting.limit("lighter-than-count", "fruit");
    let rows = picks.those(|p| mean_g(p).is_some_and(|m| m < low.value));
    let text = format!(
        "{{n}} lighter than the count allows: a mean fruit below {} g (the usual lower limit of this crop: {})",
        low.value, low.source
    );
    doubts.push(Doubt::new("lighter-than-count", text, rows));
    let rows = picks.those(|p| matches!((p.mass, p.count), (Some(m), Some(c)) if (m > 0.0) != (c > 0.0)));
    doubts.push(Doubt::new("mass-and-count-disagree", "{n} with a mass and no fruit, or fruit and no mass".to_owned(), rows));
    doubts
}

#[cfg(test)]
mod tests {
    use super::super::sample::{facts, pick, unit};
    use super::*;
    use jiff::civil::date;

    const SNACK: Setting<'_> = Setting { changes: &[], crop: "snack pepper", site: "", house: "" };

    #[test]
    fn two_snack_peppers_do_not_weigh_a_kilogram() {
        let day = date(2031, 6, 3);
        let (units, picks) = ([unit(2)], [pick(0, day, 1.0, 2.0), pick(0, day, 0.9, 25.0), pick(0, day, 0.0, 3.0), pick(0, day, 0.0, 0.0)]);
        let doubts = of(&facts(&units, &[], &picks), &SNACK);
        assert_eq!((doubts[0].code, doubts[0].rows.as_slice()), ("heavier-than-count", [0].as_slice()));
        assert_eq!((doubts[2].code, doubts[2].rows.as_slice()), ("mass-and-count-disagree", [2].as_slice()));
    }

    #[test]
    fn a_site_of_small_fruit_sets_its_own_limit() {
        let day = date(2031, 6, 3);
        let mut picks: Vec<Pick> = (0..30).map(|_| pick(0, day, 0.4, 20.0)).collect();
        picks.push(pick(0, day, 2.0, 20.0));
        let units = [unit(2)];
        assert_eq!(of(&facts(&units, &[], &picks), &SNACK)[0].rows, [30]);
    }
}
