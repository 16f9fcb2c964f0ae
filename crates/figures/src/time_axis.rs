//! Days across a panel: months below, lines broken where days are missing.
use crate::axes::{Area, TICK_ROOM};
use crate::canvas::{Anchor, Canvas, text_width};
use crate::look::{GRID, HAIRLINE, RULE_INK};
use jiff::ToSpan;
use jiff::civil::Date;

const MONTHS: [&str; 12] = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];

/// First to last day; a day takes its whole width, its mark stands in the middle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DayAxis {
    pub first: Date,
    pub last: Date,
    pub from: f64,
    pub to: f64,
}

/// Days from `a` to `b`.
pub fn days_between(a: Date, b: Date) -> i32 {
    a.until(b).map_or(0, |span| span.get_days())
}

impl DayAxis {
    pub fn over(self, from: f64, to: f64) -> Self {
        DayAxis { from, to, ..self }
    }

    /// Width of a day, mm.
    pub fn day_width(&self) -> f64 {
        (self.to - self.from) / f64::from(days_between(self.first, self.last) + 1).max(1.0)
    }

    /// Left edge of a day.
    pub fn start(&self, day: Date) -> f64 {
        self.from + f64::from(days_between(self.first, day)) * self.day_width()
    }

    pub fn middle(&self, day: Date) -> f64 {
        self.start(day) + self.day_width() / 2.0
    }

    /// Grid, ticks and labels: month names where there is room, days of the month in short spans.
    pub fn draw(&self, canvas: &mut Canvas, area: Area, labelled: bool) {
        let mut free = f64::NEG_INFINITY;
        let year = days_between(self.first, self.last) > 366;
        for (day, text) in self.marks(year) {
            let x = self.start(day);
            canvas.line((x, area.top), (x, area.bottom), GRID, HAIRLINE);
            let wide = text_width(&text, false);
            let left = x + 0.4;
            if labelled && left >= free && left + wide <= area.right + 0.5 {
                canvas.line((x, area.bottom), (x, area.bottom + 1.6), RULE_INK, HAIRLINE);
                canvas.text((left, area.bottom + TICK_ROOM - 0.7), &text, Anchor::Start);
                free = left + wide + 2.0;
            }
        }
        if labelled {
            canvas.line((area.left, area.bottom), (area.right, area.bottom), RULE_INK, HAIRLINE);
        }
    }

    /// Month starts; Mondays where there are fewer than two months; every day's start of at most a week.
    fn marks(&self, year: bool) -> Vec<(Date, String)> {
        let long = days_between(self.first, self.last) >= 62;
        let month = |d: Date| MONTHS.get(usize::from(d.month().unsigned_abs()) - 1).copied().unwrap_or("");
        let mut marks = Vec::new();
        let mut day = self.first;
        while day <= self.last && marks.len() < 400 {
            if long && day.day() == 1 {
                let text = if year { format!("{} {}", month(day), day.year()) } else { month(day).to_string() };
                marks.push((day, text));
            } else if !long && days_between(self.first, day) % 7 == 0 {
                marks.push((day, format!("{} {}", day.day(), month(day))));
            }
            let Ok(next) = day.checked_add(1.day()) else { break };
            day = next;
        }
        marks
    }
}

/// Runs of values without a gap: a gap is a step of more than `bridged` days and of more than one and a half usual steps.
pub fn runs<T: Copy>(values: &[(Date, T)], bridged: i32) -> Vec<Vec<(Date, T)>> {
    let mut steps: Vec<i32> = values.windows(2).filter_map(|w| Some(days_between(w.first()?.0, w.get(1)?.0))).collect();
    steps.sort_unstable();
    let usual = f64::from(steps.get(steps.len().saturating_sub(1) / 2).copied().unwrap_or(1).max(1));
    broken(values, (1.5 * usual).max(f64::from(bridged)))
}

/// Runs of days next to each other.
pub fn days_in_a_row<T: Copy>(values: &[(Date, T)]) -> Vec<Vec<(Date, T)>> {
    broken(values, 1.0)
}

fn broken<T: Copy>(values: &[(Date, T)], reach: f64) -> Vec<Vec<(Date, T)>> {
    let mut runs: Vec<Vec<(Date, T)>> = Vec::new();
    for value in values {
        match runs.last_mut() {
            Some(run) if run.last().is_some_and(|l| f64::from(days_between(l.0, value.0)) <= reach) => run.push(*value),
            _ => runs.push(vec![*value]),
        }
    }
    runs
}

/// Days of the axis on which none of `seen` (sorted) falls, as runs.
pub fn gaps(first: Date, last: Date, seen: &[Date]) -> Vec<(Date, Date)> {
    let mut gaps = Vec::new();
    let mut next = first;
    for day in seen {
        if let Ok(before) = day.checked_sub(1.day())
            && before >= next
        {
            gaps.push((next, before));
        }
        if let Ok(after) = day.checked_add(1.day()) {
            next = next.max(after);
        }
    }
    if next <= last {
        gaps.push((next, last));
    }
    gaps
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    #[test]
    fn a_missing_day_breaks_a_daily_line_but_a_weekend_does_not_break_one_of_every_second_day() {
        let daily = [(date(2031, 5, 1), 1.0), (date(2031, 5, 2), 1.0), (date(2031, 5, 4), 1.0)];
        assert_eq!(runs(&daily, 1).len(), 2);
        let second = [2, 4, 7, 9, 11].map(|d| (date(2031, 5, d), 1.0));
        assert_eq!(runs(&second, 1).len(), 1);
    }

    #[test]
    fn days_without_a_record_are_found_at_both_ends_and_between() {
        let seen = [date(2031, 5, 2), date(2031, 5, 5)];
        let found = gaps(date(2031, 5, 1), date(2031, 5, 6), &seen);
        assert_eq!(
            found,
            [(date(2031, 5, 1), date(2031, 5, 1)), (date(2031, 5, 3), date(2031, 5, 4)), (date(2031, 5, 6), date(2031, 5, 6))]
        );
    }
}
