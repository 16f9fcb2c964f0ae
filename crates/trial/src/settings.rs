//! The `[trial]` table of a season file: windows, thresholds and bands, each with its default.
use crosshouse_readings::Fault;
use crosshouse_readings::declared::{Declared, Table};

/// When day and night means part.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum DayStarts {
    /// Day is where PPFD is above 5 µmol m⁻² s⁻¹.
    Light,
    /// Day is from one clock time to another, in seconds of the site's standard day.
    Clock { from: f64, to: f64 },
}

/// Settings of a season. All are common practice without a source, hence settings and not constants.
#[derive(Debug, Clone, PartialEq)]
pub struct Settings {
    /// Early yield: [first pick of any unit at the site, + early days).
    pub early_days: i32,
    /// °C
    pub degree_day_base: f64,
    /// °C
    pub degree_day_ceiling: f64,
    /// °C; hours outside are counted
    pub temperature_band: (f64, f64),
    pub day_starts: DayStarts,
    /// Longest gap between records that is bridged; two nominal intervals are bridged in any case.
    pub max_gap_s: i64,
    pub drain_fraction_band: (f64, f64),
    /// dS/m
    pub feed_ec_band: (f64, f64),
    pub ph_band: (f64, f64),
}

impl Default for Settings {
    fn default() -> Self {
        Settings {
            early_days: 28,
            degree_day_base: 10.0,
            degree_day_ceiling: 30.0,
            temperature_band: (15.0, 32.0),
            day_starts: DayStarts::Light,
            max_gap_s: 30 * 60,
            drain_fraction_band: (0.10, 0.30),
            feed_ec_band: (2.0, 3.0),
            ph_band: (5.5, 6.5),
        }
    }
}

impl Settings {
    /// Reads `[trial]` of the season file `file` with the text `text`; absent keys keep their defaults.
    ///
    /// # Errors
    /// Every fault of the table at once, each with its line. Broken TOML is told by whoever reads the season.
    pub fn from_toml(file: &str, text: &str) -> Result<Settings, Vec<Fault>> {
        let declared = Declared::new(file, text);
        let settings = declared.root().table("trial").map_or_else(Settings::default, |table| read(&table));
        let mut faults = declared.into_faults();
        faults.retain(|fault| fault.code != "toml-syntax");
        if faults.is_empty() { Ok(settings) } else { Err(faults) }
    }
}

fn read(table: &Table<'_, '_>) -> Settings {
    let default = Settings::default();
    let degrees = "degrees Celsius between -50 and 80";
    let settings = Settings {
        early_days: within(table, "early_days", 1.0, 366.0, "whole days between 1 and 366").map_or(default.early_days, |x| x as i32),
        degree_day_base: within(table, "degree_day_base", -50.0, 80.0, degrees).unwrap_or(default.degree_day_base),
        degree_day_ceiling: within(table, "degree_day_ceiling", -50.0, 80.0, degrees).unwrap_or(default.degree_day_ceiling),
        temperature_band: band(table, "temperature_band").unwrap_or(default.temperature_band),
        day_starts: day_starts(table).unwrap_or(default.day_starts),
        max_gap_s: within(table, "max_gap_minutes", 1.0, 720.0, "minutes between 1 and 720")
            .map_or(default.max_gap_s, |x| (x * 60.0) as i64),
        drain_fraction_band: band(table, "drain_fraction_band").unwrap_or(default.drain_fraction_band),
        feed_ec_band: band(table, "feed_ec_band").unwrap_or(default.feed_ec_band),
        ph_band: band(table, "ph_band").unwrap_or(default.ph_band),
    };
    if settings.degree_day_ceiling <= settings.degree_day_base {
        let found = format!("base {}, ceiling {}", settings.degree_day_base, settings.degree_day_ceiling);
        table.fault(
            "degree_day_ceiling",
            "trial-band",
            "the ceiling is not above the base",
            &found,
            "a ceiling above the base",
            "correct one of the two",
        );
    }
    table.finish();
    settings
}

fn within(table: &Table<'_, '_>, key: &str, low: f64, high: f64, expected: &str) -> Option<f64> {
    let x = table.number(key)?;
    let whole = !expected.starts_with("whole") || x.fract() == 0.0;
    if whole && (low..=high).contains(&x) {
        return Some(x);
    }
    table.fault(key, "trial-setting", "a value that cannot be", &x.to_string(), expected, "correct the number");
    None
}

fn band(table: &Table<'_, '_>, key: &str) -> Option<(f64, f64)> {
    let list = table.numbers(key)?;
    if let [low, high] = list[..]
        && low < high
    {
        return Some((low, high));
    }
    table.fault(
        key,
        "trial-band",
        "not a band",
        &format!("{list:?}"),
        "two numbers, the lower first, such as [15, 32]",
        "write the two limits",
    );
    None
}

fn day_starts(table: &Table<'_, '_>) -> Option<DayStarts> {
    let text = table.text("day_starts")?;
    if text == "light" {
        return Some(DayStarts::Light);
    }
    let hours = text.split_once('-').and_then(|(from, to)| Some((clock(from)?, clock(to)?))).filter(|(from, to)| from < to);
    if hours.is_none() {
        let expected = "\"light\", or hours of standard time such as \"06:00-20:00\"";
        table.fault(
            "day_starts",
            "trial-setting",
            "not a way to part day and night",
            &format!("\"{text}\""),
            expected,
            "write one of the two",
        );
    }
    hours.map(|(from, to)| DayStarts::Clock { from, to })
}

/// Seconds of the day of "06:00"; "24:00" is its end.
fn clock(text: &str) -> Option<f64> {
    let (hour, minute) = text.trim().split_once(':')?;
    let digits = |s: &str| if s.len() == 2 && s.bytes().all(|b| b.is_ascii_digit()) { s.parse::<u32>().ok() } else { None };
    let minutes = digits(hour)? * 60 + digits(minute).filter(|m| *m < 60)?;
    (minutes <= 24 * 60).then(|| f64::from(minutes) * 60.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_season_without_the_table_has_the_defaults() {
        assert_eq!(Settings::from_toml("season.toml", "[season]\ntitle = \"x\"\n"), Ok(Settings::default()));
    }

    #[test]
    fn every_key_is_read() {
        let text = "[trial]\nearly_days = 21\ndegree_day_base = 12\ndegree_day_ceiling = 32.5\ntemperature_band = [16, 30]\nday_starts = \"06:00-20:30\"\nmax_gap_minutes = 60\ndrain_fraction_band = [0.2, 0.4]\nfeed_ec_band = [1.8, 2.6]\nph_band = [5.4, 6.2]\n";
        let expected = Settings {
            early_days: 21,
            degree_day_base: 12.0,
            degree_day_ceiling: 32.5,
            temperature_band: (16.0, 30.0),
            day_starts: DayStarts::Clock { from: 21_600.0, to: 73_800.0 },
            max_gap_s: 3600,
            drain_fraction_band: (0.2, 0.4),
            feed_ec_band: (1.8, 2.6),
            ph_band: (5.4, 6.2),
        };
        assert_eq!(Settings::from_toml("season.toml", text), Ok(expected));
    }

    #[test]
    fn all_faults_of_the_table_are_told_at_once_with_their_lines() {
        let text = "[trial]\nearly_days = 0\nday_starts = \"dawn\"\ntemperature_band = [32, 15]\nmax_gap = 30\nearlydays = 3\ndegree_day_base = 35\n";
        let faults = Settings::from_toml("season.toml", text).unwrap_err();
        let found: Vec<_> = faults.iter().map(|f| (f.place.row.unwrap(), f.code.as_str())).collect();
        let expected =
            [(1, "trial-band"), (2, "trial-setting"), (3, "trial-setting"), (4, "trial-band"), (5, "key-unknown"), (6, "key-unknown")];
        assert_eq!(found, expected);
        assert!(faults.iter().all(|f| !f.mend.is_empty()));
    }
}
