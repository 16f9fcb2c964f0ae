//! A pick heavier (or lighter) than its count allows: the mean fruit mass against the crop's
//! limits, and against the site's own picks.
use super::{Doubt, Picks};
use crate::tables::Pick;

/// Fruit mass in g, outside which a mean is doubted. From memory of trade sheets, except long
/// cucumber (about 454 g: extension bulletins on greenhouse cucumber).
const CROPS: [(&str, f64, f64); 10] = [
    ("mini cucumber", 20.0, 250.0),
    ("slicing cucumber", 100.0, 700.0),
    ("cucumber", 150.0, 900.0),
    ("cherry tomato", 4.0, 45.0),
    ("cluster tomato", 40.0, 250.0),
    ("beefsteak tomato", 60.0, 700.0),
    ("tomato", 4.0, 700.0),
    ("snack pepper", 5.0, 120.0),
    ("mini pepper", 5.0, 120.0),
    ("pepper", 50.0, 500.0),
];
/// A mean of more than so many times the site's median: a lost count or a wrong unit (common practice).
const TIMES_MEDIAN: f64 = 4.0;
const ENOUGH: usize = 20;

fn mean_g(pick: &Pick) -> Option<f64> {
    let (mass, count) = (pick.mass?, pick.count?);
    (count > 0.0 && mass > 0.0).then(|| 1000.0 * mass / count)
}

pub(super) fn of(picks: &Picks<'_>) -> Vec<Doubt> {
    let crop = picks.crop.to_lowercase();
    let limits = CROPS.iter().find(|(name, _, _)| crop.contains(name));
    let mut means: Vec<f64> = picks.picks.iter().filter_map(mean_g).collect();
    means.sort_by(f64::total_cmp);
    let median = (means.len() >= ENOUGH).then(|| means.get(means.len() / 2).copied()).flatten();
    let own = median.map(|m| TIMES_MEDIAN * m);
    let upper = match (limits.map(|(_, _, high)| *high), own) {
        (Some(a), Some(b)) => Some(a.min(b)),
        (a, b) => a.or(b),
    };
    let mut doubts = Vec::new();
    if let Some(upper) = upper {
        let rows = picks.those(|p| mean_g(p).is_some_and(|m| m > upper));
        let limit = if limits.is_some_and(|(_, _, high)| *high <= upper) {
            "the usual upper limit of this crop, from memory"
        } else {
            "4 times the site's median, common practice"
        };
        doubts.push(Doubt::marking(
            "heavier-than-count",
            format!("{{n}} heavier than the count allows: a mean fruit above {upper:.0} g ({limit})"),
            rows,
        ));
    }
    if let Some((_, low, _)) = limits {
        let rows = picks.those(|p| mean_g(p).is_some_and(|m| m < *low));
        doubts.push(Doubt::marking(
            "lighter-than-count",
            format!("{{n}} lighter than the count allows: a mean fruit below {low} g (the usual lower limit of this crop, from memory)"),
            rows,
        ));
    }
    let rows = picks.those(|p| matches!((p.mass, p.count), (Some(m), Some(c)) if (m > 0.0) != (c > 0.0)));
    doubts.push(Doubt::marking("mass-and-count-disagree", "{n} with a mass and no fruit, or fruit and no mass".to_owned(), rows));
    doubts
}

#[cfg(test)]
mod tests {
    use super::super::sample::{facts, pick, unit};
    use super::*;
    use jiff::civil::date;

    #[test]
    fn two_snack_peppers_do_not_weigh_a_kilogram() {
        let day = date(2031, 6, 3);
        let (units, picks) = ([unit(2)], [pick(0, day, 1.0, 2.0), pick(0, day, 0.9, 25.0), pick(0, day, 0.0, 3.0), pick(0, day, 0.0, 0.0)]);
        let doubts = of(&facts(&units, &[], &picks));
        assert_eq!((doubts[0].code, doubts[0].rows.as_slice()), ("heavier-than-count", [0].as_slice()));
        assert_eq!((doubts[2].code, doubts[2].rows.as_slice()), ("mass-and-count-disagree", [2].as_slice()));
    }

    #[test]
    fn a_site_of_small_fruit_sets_its_own_limit() {
        let day = date(2031, 6, 3);
        let mut picks: Vec<Pick> = (0..30).map(|_| pick(0, day, 0.4, 20.0)).collect();
        picks.push(pick(0, day, 2.0, 20.0));
        let units = [unit(2)];
        assert_eq!(of(&facts(&units, &[], &picks))[0].rows, [30]);
    }
}
