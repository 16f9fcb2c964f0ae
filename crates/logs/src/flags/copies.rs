//! Entries that stand there twice: word for word (told by reading), nearly so, or a whole day under another
//! date.
use super::{Doubt, Picks, Setting};
use crate::tables::Pick;
use jiff::civil::Date;
use std::collections::BTreeMap;

/// Code that reading itself puts on a pick that stands word for word in two files.
pub(crate) const SAME_ROW_IN_TWO_FILES: &str = "same-row-in-two-files";
/// The same of a pick that stands word for word twice in one file.
pub(crate) const SAME_ROW_TWICE: &str = "same-row-twice";

pub(super) fn of(picks: &Picks<'_>, setting: &Setting<'_>) -> Vec<Doubt> {
    let told = |code: &'static str, place: &str| {
        let copied = picks.those(|p| p.flags.iter().any(|f| f == code));
        Doubt::new(code, format!("{{n}} word for word as {place}: added, as same_day = \"add\" says, though it may be a copy"), copied)
    };
    vec![
        told(SAME_ROW_IN_TWO_FILES, "in an earlier file of the same log"),
        told(SAME_ROW_TWICE, "in an earlier row of the file"),
        nearly_same(picks, setting),
        day_twice(picks, setting),
    ]
}

fn is_copy(pick: &Pick) -> bool {
    pick.flags.iter().any(|f| f == SAME_ROW_IN_TWO_FILES || f == SAME_ROW_TWICE)
}

/// A second row of one unit, day and grade with the same fruit and nearly the same mass.
fn nearly_same(picks: &Picks<'_>, setting: &Setting<'_>) -> Doubt {
    let limit = setting.limit("nearly-same-row", "apart");
    let mut groups: BTreeMap<(usize, Date, Option<&str>), Vec<usize>> = BTreeMap::new();
    for (i, p) in picks.picks.iter().enumerate().filter(|(_, p)| !is_copy(p) && p.mass.is_some_and(|m| m > 0.0)) {
        groups.entry((p.unit, p.day, p.grade.as_deref())).or_default().push(i);
    }
    let mass = |i: &usize| picks.picks.get(*i).and_then(|p| p.mass).unwrap_or(f64::NAN);
    let count = |i: &usize| picks.picks.get(*i).and_then(|p| p.count);
    let alike = |a: &usize, b: &usize| {
        // Without a count only the very same mass is no chance.
        let apart = if count(a).is_some() { limit.value } else { 0.0 };
        count(a) == count(b) && (mass(a) - mass(b)).abs() <= apart * mass(a).max(mass(b))
    };
    let mut rows: Vec<usize> = Vec::new();
    for group in groups.values_mut() {
        // By mass, so that the order in which the rows stand there does not matter.
        group.sort_by(|a, b| mass(a).total_cmp(&mass(b)));
        rows.extend(group.iter().enumerate().filter(|(n, i)| group.iter().take(*n).any(|j| alike(j, i))).map(|(_, i)| *i));
    }
    rows.sort_unstable();
    let text = format!(
        "{{n}} nearly as another row of the same unit, day and grade: the same fruit, and a mass within {} % ({})",
        limit.value * 100.0,
        limit.source
    );
    Doubt::new("nearly-same-row", text, rows)
}

/// What a row of a day says, without its date: unit, grade, mass and count to the last digit.
type Said<'p> = (usize, Option<&'p str>, u64, u64);

fn said(pick: &Pick) -> Option<Said<'_>> {
    let mass = pick.mass.filter(|m| *m > 0.0)?;
    Some((pick.unit, pick.grade.as_deref(), mass.to_bits(), pick.count.map_or(0, f64::to_bits)))
}

/// A day whose rows stand there again under another date.
fn day_twice(picks: &Picks<'_>, setting: &Setting<'_>) -> Doubt {
    let limit = |name| setting.limit("day-entered-twice", name);
    let (share, least) = (limit("share"), limit("rows").value);
    let mut days: BTreeMap<Date, BTreeMap<Said<'_>, Vec<usize>>> = BTreeMap::new();
    for (i, pick) in picks.picks.iter().enumerate() {
        if let Some(words) = said(pick) {
            days.entry(pick.day).or_default().entry(words).or_default().push(i);
        }
    }
    let days: Vec<(Date, BTreeMap<Said<'_>, Vec<usize>>)> = days.into_iter().collect();
    let mut rows = Vec::new();
    let mut named = None;
    for (n, (day, later)) in days.iter().enumerate() {
        let same = |earlier: &BTreeMap<Said<'_>, Vec<usize>>| {
            later.iter().filter(|(k, _)| earlier.contains_key(*k)).map(|(_, v)| v.len()).sum::<usize>()
        };
        let all: usize = later.values().map(Vec::len).sum();
        let enough = |k: usize| k as f64 >= least && k as f64 >= share.value * all as f64;
        if let Some((first, _)) = days.iter().take(n).find(|(_, earlier)| enough(same(earlier))) {
            named.get_or_insert((*day, *first));
            rows.extend(later.values().flatten().copied());
        }
    }
    rows.sort_unstable();
    let which = named.map_or(String::new(), |(day, first)| format!(", such as {day} as {first}"));
    let text = format!("{{n}} of days that stand there again under another date{which}: entered twice? ({})", share.source);
    Doubt::new("day-entered-twice", text, rows)
}

#[cfg(test)]
mod tests {
    use super::super::sample::{facts, pick, unit};
    use super::*;
    use jiff::civil::date;

    fn rows(picks: &[Pick], code: &str) -> Vec<usize> {
        let units = [unit(2), unit(2), unit(2), unit(2), unit(2)];
        of(&facts(&units, &[], picks), &Setting::default()).into_iter().find(|d| d.code == code).unwrap().rows
    }

    #[test]
    fn a_second_tray_with_the_same_fruit_and_nearly_the_same_mass_is_doubted() {
        let day = date(2031, 6, 3);
        let picks = [pick(0, day, 1.00, 25.0), pick(0, day, 1.01, 25.0), pick(1, day, 1.0, 25.0), pick(0, date(2031, 6, 6), 1.0, 25.0)];
        assert_eq!(rows(&picks, "nearly-same-row"), [1]);
    }

    #[test]
    fn a_second_tray_with_other_fruit_or_another_mass_is_a_second_tray() {
        let day = date(2031, 6, 3);
        assert!(rows(&[pick(0, day, 1.00, 25.0), pick(0, day, 1.01, 26.0)], "nearly-same-row").is_empty());
        assert!(rows(&[pick(0, day, 1.00, 25.0), pick(0, day, 1.10, 25.0)], "nearly-same-row").is_empty());
    }

    #[test]
    fn a_day_that_stands_there_under_two_dates_is_doubted_at_the_later_one() {
        let of_day =
            |d: i8, odd: f64| (0..5).map(move |u| pick(u, date(2031, 6, d), 1.0 + u as f64 / 7.0 + if u == 0 { odd } else { 0.0 }, 25.0));
        let picks: Vec<Pick> = of_day(3, 0.0).chain(of_day(6, 0.1)).collect();
        assert_eq!(rows(&picks, "day-entered-twice"), [5, 6, 7, 8, 9]);
    }

    #[test]
    fn a_few_equal_rows_on_two_days_are_chance() {
        let mut picks: Vec<Pick> = (0..5).map(|u| pick(u, date(2031, 6, 3), 1.0 + u as f64 / 7.0, 25.0)).collect();
        picks.extend((0..5).map(|u| pick(u, date(2031, 6, 6), if u < 3 { 1.0 + u as f64 / 7.0 } else { 0.4 }, 25.0)));
        assert!(rows(&picks, "day-entered-twice").is_empty());
    }
}
