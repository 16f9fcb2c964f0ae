//! From the text of a cell to a date, a time, a number, a unit of the plan.
mod clock;
mod date_style;
mod dates;
mod fold;
mod ids;
mod stamps;
mod times;
mod values;

pub(crate) use clock::{Local, Timeline, offset_seconds, standard_offset};
pub use date_style::DateStyle;
pub(crate) use dates::{DateFault, days_of};
pub(crate) use fold::{Settled, resolve as resolve_hours};
pub(crate) use ids::{Resolved, UnitIndex, normal};
pub(crate) use stamps::{Dating, Search as StyleSearch, Stamp, StampFault, search as search_style};
pub(crate) use times::TimeFault;
pub(crate) use values::{Undeclared, Values, is_missing};

/// The date styles tried where none is declared.
pub(crate) fn styles_tried() -> &'static [&'static str] {
    &date_style::TRIED
}

/// A serial date of a workbook in ISO 8601, for messages and set-aside lists.
pub(crate) fn serial_text(days: f64) -> String {
    let seconds = (days * 86_400.0).round() as i64;
    let (day, time) = (seconds.div_euclid(86_400), seconds.rem_euclid(86_400));
    let clock = match time % 60 {
        0 => format!("{:02}:{:02}", time / 3600, time / 60 % 60),
        s => format!("{:02}:{:02}:{s:02}", time / 3600, time / 60 % 60),
    };
    match dates::serial_date(day) {
        _ if !days.is_finite() => days.to_string(),
        Some(_) if (0.0..1.0).contains(&days) => clock,
        Some(date) if time == 0 => date.to_string(),
        Some(date) => format!("{date} {clock}"),
        None => days.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::serial_text;

    #[test]
    fn a_serial_day_beyond_all_calendars_is_shown_as_its_number() {
        assert_eq!(serial_text(48_033.25), "2031-07-04 06:00");
        assert_eq!((serial_text(-1e300), serial_text(f64::NAN)), ((-1e300).to_string(), "NaN".to_owned()));
    }
}
