//! Instants as a logger's clock shows them.
use jiff::Timestamp;
use jiff::civil::{Date, DateTime};
use jiff::tz::{Offset, TimeZone};

/// The wall clock in a zone.
pub fn on_clock(second: i64, zone: &TimeZone) -> Result<DateTime, jiff::Error> {
    Ok(zone.to_datetime(Timestamp::from_second(second)?))
}

/// Standard time all year.
pub fn standard(offset: i64) -> Result<TimeZone, jiff::Error> {
    Ok(TimeZone::fixed(Offset::from_seconds(offset as i32)?))
}

/// "03/09/2031"
pub fn month_day_year(day: Date) -> String {
    format!("{:02}/{:02}/{}", day.month(), day.day(), day.year())
}

/// "09.03.2031"
pub fn day_month_year(day: Date) -> String {
    format!("{:02}.{:02}.{}", day.day(), day.month(), day.year())
}

/// "9-Mar-2031"
pub fn day_name_year(day: Date) -> String {
    const NAMES: [&str; 12] = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];
    let name = NAMES.get(usize::from(day.month() as u8) - 1).copied().unwrap_or_default();
    format!("{}-{name}-{}", day.day(), day.year())
}

/// "2031-03-09 01:55"
pub fn year_month_day_24(time: DateTime) -> String {
    format!("{} {:02}:{:02}", time.date(), time.hour(), time.minute())
}

/// "03/09/2031 1:55 AM"
pub fn month_day_year_12(time: DateTime) -> String {
    let half = if time.hour() < 12 { "AM" } else { "PM" };
    let hour = (time.hour() + 11) % 12 + 1;
    format!("{} {hour}:{:02} {half}", month_day_year(time.date()), time.minute())
}

pub fn fahrenheit(celsius: f64) -> f64 {
    celsius * 1.8 + 32.0
}
