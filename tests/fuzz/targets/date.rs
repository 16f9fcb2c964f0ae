//! Text and style → day and time; a civil second → instants of a clock.
#![no_main]
use crosshouse_fuzz::{chosen, first};
use crosshouse_logs::fuzzing::{Read, Stamps, Zone, search, serial_text};
use crosshouse_logs::raw::{RawCell, RawKind};
use jiff::civil::Date;
use jiff::tz::{AmbiguousOffset, TimeZone};
use libfuzzer_sys::fuzz_target;
use std::cell::RefCell;

const STYLES: [&str; 18] = [
    "year-month-day",
    "yearmonthday",
    "day.month.year",
    "month/day/year",
    "day-month-name-year",
    "day month-name year",
    "month-name day, year",
    "year-week",
    "year-week-weekday",
    "week/year",
    "week",
    "month/day",
    "day.month.",
    "workbook",
    "dayyearmonth",
    "yearweekweekday",
    "weekday.week.year",
    "monthdayyear",
];

const ZONES: [&str; 6] = ["CST6CDT", "CET", "Australia/Lord_Howe", "America/St_Johns", "Africa/Casablanca", "Asia/Kolkata"];

thread_local! {
    static CLOCKS: RefCell<Vec<(TimeZone, Zone)>> = RefCell::new(
        ZONES.iter().map(|name| TimeZone::get(name).expect("a zone")).map(|zone| (zone.clone(), Zone::of(&zone))).collect()
    );
}

fuzz_target!(|data: &[u8]| {
    let (style, data) = first(data);
    let (switches, data) = first(data);
    let Ok(text) = std::str::from_utf8(data) else { return };
    let (words, text) = if style < 200 { (chosen(&STYLES, style), text) } else { text.split_once('\n').unwrap_or((text, "")) };
    let twelve_hour = switches & 1 == 1;
    let year = (switches & 2 == 2).then_some(2031 + (switches >> 4) as i16);
    let week_day = (switches & 4 == 4).then_some((switches >> 4) as i8 % 7 + 1);
    let text = text.trim();
    let texts: Vec<&str> = text.lines().take(8).collect();
    search(&texts, twelve_hour);
    let Some(stamps) = Stamps::of(words, year, week_day, twelve_hour, switches & 8 == 8) else { return };
    let number: f64 = text.parse().unwrap_or(f64::from(switches as u32) * 371.3);
    for is in [RawKind::Text, RawKind::Number(number), RawKind::Serial(number), RawKind::Error] {
        let cell = RawCell { text, is };
        if let Some(read) = stamps.read(cell) {
            assert!(read.1.is_none_or(|s| (0..=86_400).contains(&s)), "{cell:?} is {:?} s", read.1);
            if is == RawKind::Text {
                written_again(&stamps, words, year, twelve_hour, read);
            }
            on_clocks(read);
        }
        if let Some((seconds, offset)) = stamps.time(cell) {
            assert!((0..=86_400).contains(&seconds), "{cell:?} is {seconds} s");
            assert!(offset.is_none_or(|o| o.abs() < 15 * 3600));
        }
    }
    serial_text(number);
});

/// The day and time as the style writes them, read again.
fn written_again(stamps: &Stamps, words: &str, year: Option<i16>, twelve_hour: bool, read: Read) {
    let (day, seconds, _) = read;
    if words.trim() == "workbook" || !(1000..=9999).contains(&day.year()) {
        return;
    }
    let text = written(day, words);
    let again = stamps.read(RawCell { text: &text, is: RawKind::Text });
    assert_eq!(again.map(|r| r.0), Some(day), "{day} by {words} with {year:?} is {text}");
    let Some(seconds) = seconds.filter(|s| *s < 86_400) else { return };
    let clock = clock(seconds, twelve_hour);
    let again = stamps.read(RawCell { text: &format!("{text} {clock}"), is: RawKind::Text });
    assert_eq!(again, Some((day, Some(seconds), None)), "{text} {clock}");
}

fn written(day: Date, words: &str) -> String {
    let week = day.iso_week_date();
    let year = if words.contains("week") { week.year() } else { day.year() };
    let name = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"][day.month() as usize - 1];
    let words = words.trim().replace("month-name", "\u{1}").replace("month_name", "\u{1}").replace("weekday", "\u{2}");
    let words = words.replace("week", &format!("{:02}", week.week())).replace("year", &format!("{year:04}"));
    let words = words.replace("month", &format!("{:02}", day.month())).replace("day", &format!("{:02}", day.day()));
    words.replace('\u{1}', name).replace('\u{2}', &week.weekday().to_monday_one_offset().to_string())
}

fn clock(seconds: i64, twelve_hour: bool) -> String {
    let (hour, minute, second) = (seconds / 3600, seconds / 60 % 60, seconds % 60);
    if twelve_hour {
        let half = if hour < 12 { "am" } else { "PM" };
        return format!("{}:{minute:02}:{second:02} {half}", (hour + 11) % 12 + 1);
    }
    format!("{hour:02}:{minute:02}:{second:02}")
}

/// What the time-zone library says of a civil second, our clock says too, from 1991 to 2099.
fn on_clocks((day, seconds, _): Read) {
    let seconds = seconds.unwrap_or(43_200).min(86_399);
    if !(1991..2100).contains(&day.year()) {
        return;
    }
    let civil = day.at((seconds / 3600) as i8, (seconds / 60 % 60) as i8, (seconds % 60) as i8, 0);
    let local = jiff::tz::Offset::UTC.to_timestamp(civil).expect("in range").as_second();
    let at = |offset: jiff::tz::Offset| local - i64::from(offset.seconds());
    CLOCKS.with_borrow_mut(|clocks| {
        for (zone, clock) in clocks {
            let expected = match zone.to_ambiguous_timestamp(civil).offset() {
                AmbiguousOffset::Unambiguous { offset } => vec![at(offset)],
                AmbiguousOffset::Fold { before, after } => vec![at(before), at(after)],
                AmbiguousOffset::Gap { .. } => Vec::new(),
            };
            assert_eq!(clock.instants(local), expected, "{civil} in {zone:?}");
        }
    });
}
