//! How a log's text is written: marks, encoding, lines that are no rows, dates.
use crate::cells::DateStyle;
use crosshouse_readings::declared::Table;
use serde::{Deserialize, Serialize};

/// How a log's text is written. `None` = not declared.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Layout {
    pub delimiter: Option<char>,
    pub decimal: Option<char>,
    pub thousands: Option<char>,
    pub encoding: Option<String>,
    pub skip_lines: u32,
    pub unit_row: bool,
    pub comment: Option<String>,
    pub totals: Vec<String>,
    pub missing: Vec<String>,
    pub date_style: Option<String>,
    /// True: `1:30 pm`.
    pub twelve_hour: bool,
    /// Lines that make the header, the first included.
    pub header_lines: u32,
    /// Lines at the end of the file that are no rows.
    pub trailer_lines: u32,
    /// First word of the line from which on nothing is a row.
    pub ends_at: Option<String>,
    /// Year of dates that are written without one.
    pub year: Option<i16>,
    /// Day of the week (Monday 1) that a row of a week stands for.
    pub week_day: Option<i8>,
}

impl Layout {
    /// The declared date style, if there is one and it can be read.
    pub fn style(&self) -> Option<DateStyle> {
        DateStyle::completed(self.date_style.as_ref()?, self.year, self.week_day).ok()
    }
}

const WEEK: [&str; 7] = ["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"];

fn character(table: &Table<'_, '_>, key: &str, allowed: &[&'static str]) -> Option<char> {
    match table.one_of(key, allowed)? {
        "tab" => Some('\t'),
        word => word.chars().next(),
    }
}

fn lines(table: &Table<'_, '_>, key: &str) -> Option<u32> {
    table.count(key).and_then(|n| u32::try_from(n).ok())
}

pub(super) fn read_layout(table: &Table<'_, '_>) -> Layout {
    let layout = Layout {
        delimiter: character(table, "delimiter", &[",", ";", "tab", "|"]),
        decimal: character(table, "decimal", &[".", ","]),
        thousands: character(table, "thousands", &["", ",", ".", " ", "'"]),
        encoding: table.text("encoding"),
        skip_lines: lines(table, "skip_lines").unwrap_or(0),
        unit_row: table.flag("unit_row").unwrap_or(false),
        comment: table.text("comment").filter(|c| !c.is_empty()),
        totals: table.texts("totals").unwrap_or_default(),
        missing: table.texts("missing").unwrap_or_default(),
        date_style: table.text("date_style"),
        twelve_hour: table.one_of("time_style", &["24-hour", "12-hour"]) == Some("12-hour"),
        header_lines: lines(table, "header_lines").filter(|n| *n > 0).unwrap_or(1),
        trailer_lines: lines(table, "trailer_lines").unwrap_or(0),
        ends_at: table.text("ends_at").filter(|word| !word.trim().is_empty()),
        year: table.count("year").and_then(|y| i16::try_from(y).ok()),
        week_day: table.one_of("week_day", &WEEK).and_then(|day| WEEK.iter().position(|d| *d == day)).map(|i| i as i8 + 1),
    };
    check_layout(table, &layout);
    layout
}

fn check_layout(table: &Table<'_, '_>, layout: &Layout) {
    if let Some(label) = &layout.encoding
        && encoding_rs::Encoding::for_label(label.as_bytes()).is_none()
    {
        table.fault(
            "encoding",
            "encoding-unknown",
            "not an encoding",
            &format!("\"{label}\""),
            "such as utf-8, utf-16le, windows-1252",
            "correct the name, or leave the key out",
        );
    }
    if let Some(style) = &layout.date_style
        && let Err(why) = DateStyle::completed(style, layout.year, layout.week_day)
    {
        table.fault(
            "date_style",
            "date-style-unreadable",
            "not a date style",
            &format!("\"{style}\""),
            "the words year, month (or month-name) and day with their separators, such as \"day.month.year\", weeks such as \"year-week\", or \"workbook\"",
            &why,
        );
    }
    if layout.thousands.is_some() && layout.thousands == Some(layout.decimal.unwrap_or('.')) {
        table.fault(
            "thousands",
            "marks-collide",
            "thousands and decimals share one mark",
            &format!("\"{}\" for both", layout.decimal.unwrap_or('.')),
            "two different marks",
            "declare decimal and thousands so that they differ",
        );
    }
}
