//! Days and trial weeks. Days are counted from dates, never from 24-hour blocks of local time.
use jiff::civil::Date;
use jiff::{Span, Unit};

/// Whole days from `from` to `to`, negative backwards.
pub(crate) fn days(from: Date, to: Date) -> i32 {
    from.until((Unit::Day, to)).map_or(0, |span| span.get_days())
}

/// The day `n` days after `day`; the calendar's end holds it back.
pub(crate) fn after(day: Date, n: i32) -> Date {
    day.saturating_add(Span::new().days(n.clamp(-3_000_000, 3_000_000)))
}

/// Days since 1970-01-01.
pub(crate) fn day_number(day: Date) -> i32 {
    days(jiff::civil::date(1970, 1, 1), day)
}

pub(crate) fn from_day_number(n: i32) -> Date {
    after(jiff::civil::date(1970, 1, 1), n)
}

/// Trial week of `day`: days 0–6 after `start` are week 1, the seven days before it week 0.
pub(crate) fn trial_week(start: Date, day: Date) -> i32 {
    days(start, day).div_euclid(7) + 1
}

/// First day of a trial week.
pub(crate) fn week_start(start: Date, week: i32) -> Date {
    after(start, (week - 1) * 7)
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    #[test]
    fn days_are_counted_from_dates() {
        assert_eq!(days(date(2025, 3, 3), date(2025, 4, 28)), 56);
        assert_eq!(days(date(2025, 3, 24), date(2025, 4, 28)), 35);
        assert_eq!(days(date(2024, 2, 25), date(2024, 3, 1)), 5);
        assert_eq!(days(date(2025, 2, 25), date(2025, 3, 1)), 4);
        assert_eq!(days(date(2025, 3, 1), date(2025, 2, 25)), -4);
        assert_eq!(from_day_number(day_number(date(2031, 3, 24))), date(2031, 3, 24));
    }

    #[test]
    fn the_week_of_transplanting_is_week_one() {
        let start = date(2031, 3, 24);
        let weeks = [0, 6, 7, -1, -7, -8].map(|n| trial_week(start, after(start, n)));
        assert_eq!(weeks, [1, 1, 2, 0, 0, -1]);
        assert_eq!(week_start(start, 2), after(start, 7));
    }
}
