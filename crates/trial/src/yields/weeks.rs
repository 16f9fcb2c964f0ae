//! Trial weeks. Masses stand in the week of their pick; nothing is spread over the days before it.
use super::Grown;
use super::plants::Plants;
use super::season::Sums;
use crate::calendar::{after, trial_week, week_start};
use crate::tables::UnitWeek;
use crosshouse_logs::tables::Unit;
use jiff::civil::Date;

/// Every unit and week from the site's first pick day to its last, weeks in order within a unit.
pub(super) fn unit_weeks(grown: &Grown<'_>) -> Vec<UnitWeek> {
    let (Some(start), Some((first, last))) = (grown.start(), grown.states.span()) else { return Vec::new() };
    let weeks = trial_week(start, first)..=trial_week(start, last);
    grown.units().flat_map(|(index, unit)| weeks.clone().map(move |week| unit_week(grown, index, unit, start, week))).collect()
}

fn unit_week(grown: &Grown<'_>, index: usize, unit: &Unit, start: Date, week: i32) -> UnitWeek {
    let (from, to) = (week_start(start, week), week_start(start, week + 1));
    let within = |day: Date| day >= from && day < to;
    let sums = Sums::of(Grown::days_of(&grown.all, index).iter().filter(|d| within(d.day)));
    let (picks, picks_missed) = grown.states.picked_and_missed(index, within);
    UnitWeek {
        unit: unit.id.clone(),
        week,
        from,
        total: sums.total(),
        marketable: sums.marketable,
        fruit: (grown.logs_count && sums.uncounted == 0).then_some(sums.fruit),
        picks,
        picks_missed,
        mean_fruit_mass_g: sums.fruit_mass_g(),
        cull_share: sums.cull_share().filter(|_| grown.logs_grades),
        plant_days: Plants::of(grown.tables, index).plant_days(within_season(grown, from), within_season(grown, to)),
    }
}

/// A day held within transplanting and the end, where they are stated.
fn within_season(grown: &Grown<'_>, day: Date) -> Date {
    let site = &grown.tables.site;
    let from = site.transplanted.map_or(day, |from| day.max(from));
    site.ended.map_or(from, |end| from.min(after(end, 0)))
}
