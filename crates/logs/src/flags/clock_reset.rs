//! Records more than 400 days before the season or after it: a clock that fell back to its first
//! day, a two-digit year, or a workbook of the other epoch (common practice).
use super::Doubt;
use crate::tables::Climate;
use jiff::civil::Date;

const MARGIN_S: i64 = 400 * 86_400;

pub(super) fn of(climate: &Climate, season: (Option<Date>, Option<Date>)) -> Vec<Doubt> {
    let second = |day: Date| crate::cells::days_of(day) * 86_400;
    let first = season.0.map_or(i64::MIN, |d| second(d) - MARGIN_S);
    let last = season.1.map_or(i64::MAX, |d| second(d) + MARGIN_S);
    let rows: Vec<usize> = climate.instant.iter().enumerate().filter(|(_, t)| **t < first || **t > last).map(|(i, _)| i).collect();
    vec![Doubt::marking("date-outside-season", "{n} more than 400 days from the season: a reset clock, or a wrong year".to_owned(), rows)]
}

#[cfg(test)]
mod tests {
    use super::super::sample::climate;
    use super::*;
    use jiff::civil::date;

    #[test]
    fn a_clock_that_fell_back_to_1970_is_doubted() {
        let c = climate(300, vec![20.0; 3]);
        assert_eq!(of(&c, (Some(date(2031, 3, 24)), None))[0].rows, [0, 1, 2]);
        assert!(of(&c, (Some(date(1970, 3, 24)), Some(date(1970, 8, 1))))[0].rows.is_empty());
    }
}
