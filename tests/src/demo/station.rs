//! The four stations: dates, place on the globe, scale, and what they pick when. All invented.
use jiff::civil::{Date, Weekday, date};
use jiff::tz::TimeZone;
use serde::Serialize;

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Station {
    TarnHollow,
    SedgeFlats,
    MarlRidge,
    WithyEnd,
}

impl Station {
    pub const ALL: [Station; 4] = [Station::TarnHollow, Station::SedgeFlats, Station::MarlRidge, Station::WithyEnd];
    /// The stations that grew both media.
    pub const COMPARABLE: [Station; 3] = [Station::TarnHollow, Station::SedgeFlats, Station::MarlRidge];

    pub fn id(self) -> &'static str {
        match self {
            Station::TarnHollow => "tarn-hollow",
            Station::SedgeFlats => "sedge-flats",
            Station::MarlRidge => "marl-ridge",
            Station::WithyEnd => "withy-end",
        }
    }

    pub fn facts(self) -> Facts {
        match self {
            Station::TarnHollow => TARN_HOLLOW,
            Station::SedgeFlats => SEDGE_FLATS,
            Station::MarlRidge => MARL_RIDGE,
            Station::WithyEnd => WITHY_END,
        }
    }
}

/// One ounce and one gram in kg.
pub const OUNCE: f64 = 0.028_349_523_125;
const GRAM: f64 = 0.001;

/// What is fixed for a station.
#[derive(Debug, Clone, Copy)]
pub struct Facts {
    pub zone: &'static str,
    /// ° north, ° east
    pub latitude: f64,
    pub longitude: f64,
    pub seeded: Date,
    pub transplanted: Date,
    /// Last day of the trial: the plants are stripped at the last visit.
    pub ended: Date,
    /// First visit with anything ripe, days after transplanting (nominal).
    pub first_ripe: i64,
    pub visits: &'static [Weekday],
    /// Resolution of the scale, kg.
    pub tick: f64,
    /// Cover's transmission of light, 0–1.
    pub cover: f64,
    pub heated: bool,
    /// Yearly mean and half the yearly swing of the outside air, °C.
    pub outside: (f64, f64),
}

impl Facts {
    pub fn time_zone(&self) -> Result<TimeZone, jiff::Error> {
        TimeZone::get(self.zone)
    }

    /// Seconds that the station's standard time (no daylight saving) is ahead of UTC.
    pub fn standard_offset(&self) -> i64 {
        match self.zone {
            "CST6CDT" => -6 * 3600,
            "EST5EDT" => -5 * 3600,
            _ => 3600,
        }
    }

    /// Every day on which the station means to pick.
    pub fn visit_days(&self) -> Vec<Date> {
        let days = self.first_ripe..=days_between(self.transplanted, self.ended);
        days.map(|n| day_after(self.transplanted, n)).filter(|d| self.visits.contains(&d.weekday())).collect()
    }
}

pub fn days_between(from: Date, to: Date) -> i64 {
    from.duration_until(to).as_hours() / 24
}

pub fn day_after(day: Date, days: i64) -> Date {
    day.saturating_add(jiff::Span::new().days(days))
}

const TARN_HOLLOW: Facts = Facts {
    zone: "CST6CDT",
    latitude: 46.9,
    longitude: -95.1,
    seeded: date(2031, 1, 6),
    transplanted: date(2031, 3, 3),
    ended: date(2031, 7, 22),
    first_ripe: 60,
    visits: &[Weekday::Tuesday],
    tick: OUNCE,
    cover: 0.62,
    heated: true,
    outside: (6.0, 16.0),
};

const SEDGE_FLATS: Facts = Facts {
    zone: "EST5EDT",
    latitude: 42.3,
    longitude: -76.8,
    seeded: date(2031, 3, 10),
    transplanted: date(2031, 5, 5),
    ended: date(2031, 9, 18),
    first_ripe: 59,
    visits: &[Weekday::Monday, Weekday::Thursday],
    tick: OUNCE / 2.0,
    cover: 0.70,
    heated: false,
    outside: (9.5, 12.5),
};

const MARL_RIDGE: Facts = Facts {
    zone: "CET",
    latitude: 51.6,
    longitude: 8.2,
    seeded: date(2031, 1, 20),
    transplanted: date(2031, 3, 17),
    ended: date(2031, 8, 1),
    first_ripe: 60,
    visits: &[Weekday::Tuesday, Weekday::Friday],
    tick: GRAM,
    cover: 0.66,
    heated: true,
    outside: (10.0, 9.0),
};

const WITHY_END: Facts = Facts {
    zone: "EST5EDT",
    latitude: 38.4,
    longitude: -82.7,
    seeded: date(2031, 4, 28),
    transplanted: date(2031, 6, 23),
    ended: date(2031, 11, 6),
    first_ripe: 56,
    visits: &[Weekday::Thursday],
    tick: 5.0 * GRAM,
    cover: 0.64,
    heated: true,
    outside: (12.5, 12.0),
};
