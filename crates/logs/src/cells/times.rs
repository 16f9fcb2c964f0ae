//! A written time of day, in 24 or twice 12 hours, and the offset that may follow it.

/// Seconds since midnight and the offset from UTC in seconds, where one is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Time {
    pub seconds: i64,
    pub offset: Option<i32>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum TimeFault {
    NotATime,
    /// No am or pm where the log declares 12 hours.
    HalfMissing,
    /// am or pm where the log declares 24 hours.
    HalfUndeclared,
}

/// Reads `6:30`, `06:30:15.5`, `6:30 PM`, `24:00`, each with `Z` or `-06:00` behind it.
pub(crate) fn time_of_day(text: &str, twelve_hour: bool) -> Result<Time, TimeFault> {
    let text = text.trim();
    let length = text.find(|c: char| !(c.is_ascii_digit() || c == ':' || c == '.' || c == ',')).unwrap_or(text.len());
    let (clock, tail) = text.split_at_checked(length).ok_or(TimeFault::NotATime)?;
    let (hours, rest) = clock_parts(clock).ok_or(TimeFault::NotATime)?;
    let (half, tail) = half_of_day(tail.trim());
    let offset = match tail.trim() {
        "" => None,
        written => Some(offset(written).ok_or(TimeFault::NotATime)?),
    };
    let hours = match (half, twelve_hour) {
        (Some(_), false) => return Err(TimeFault::HalfUndeclared),
        (None, true) => return Err(TimeFault::HalfMissing),
        (Some(later), true) if (1..=12).contains(&hours) => hours % 12 + if later { 12 } else { 0 },
        (None, false) if hours < 24 || (hours == 24 && rest == 0) => hours,
        _ => return Err(TimeFault::NotATime),
    };
    Ok(Time { seconds: hours * 3600 + rest, offset })
}

/// Hours, and the seconds of the rest.
fn clock_parts(clock: &str) -> Option<(i64, i64)> {
    let mut parts = clock.split(':');
    let two = |text: &str| -> Option<i64> { (1..=2).contains(&text.len()).then(|| text.parse().ok())? };
    let hours = two(parts.next()?)?;
    let minutes = match parts.next() {
        Some(text) => two(text)?,
        None => 0,
    };
    let seconds = match parts.next() {
        Some(text) => {
            let (whole, fraction) = text.split_once(['.', ',']).unwrap_or((text, ""));
            let sound = fraction.bytes().all(|b| b.is_ascii_digit());
            two(whole).filter(|_| sound)?
        }
        None => 0,
    };
    let sound = minutes < 60 && seconds < 60 && parts.next().is_none();
    sound.then_some((hours, minutes * 60 + seconds))
}

/// `Some(true)` for pm, and what follows.
fn half_of_day(text: &str) -> (Option<bool>, &str) {
    for (word, later) in [("am", false), ("a.m.", false), ("pm", true), ("p.m.", true), ("a", false), ("p", true)] {
        let head = text.get(..word.len());
        if head.is_some_and(|h| h.eq_ignore_ascii_case(word)) {
            let rest = text.get(word.len()..).unwrap_or("");
            if !rest.starts_with(|c: char| c.is_alphabetic()) {
                return (Some(later), rest);
            }
        }
    }
    (None, text)
}

/// `Z`, `+02`, `-06:00`, `+0530` in seconds.
pub(super) fn offset(text: &str) -> Option<i32> {
    let text = text.trim();
    if matches!(text, "Z" | "z") {
        return Some(0);
    }
    let (sign, digits) = match text.strip_prefix(['-', '\u{2212}']) {
        Some(rest) => (-1, rest),
        None => (1, text.strip_prefix('+')?),
    };
    let (hours, minutes) = match digits.split_once(':') {
        Some((h, m)) => (h, m),
        None if digits.len() == 4 => digits.split_at_checked(2)?,
        None => (digits, "00"),
    };
    let two = |t: &str| -> Option<i32> { (t.len() == 2 && t.bytes().all(|b| b.is_ascii_digit())).then(|| t.parse().ok())? };
    let (hours, minutes) = (two(hours)?, two(minutes)?);
    (hours <= 14 && minutes < 60).then_some(sign * (hours * 3600 + minutes * 60))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn seconds(text: &str, twelve: bool) -> Result<i64, TimeFault> {
        time_of_day(text, twelve).map(|t| t.seconds)
    }

    #[test]
    fn ok_24_hours() {
        assert_eq!(seconds("6:30", false), Ok(23_400));
        assert_eq!(seconds("06:30:15.250", false), Ok(23_415));
        assert_eq!(seconds("24:00", false), Ok(86_400));
    }

    #[test]
    fn ok_noon_and_midnight_of_12_hours() {
        assert_eq!(seconds("12:00 AM", true), Ok(0));
        assert_eq!(seconds("12:05 pm", true), Ok(43_500));
        assert_eq!(seconds("1:30p.m.", true), Ok(48_600));
        assert_eq!(seconds("6 pm", true), Ok(64_800));
    }

    #[test]
    fn ok_offsets() {
        assert_eq!(time_of_day("06:00:00Z", false).unwrap().offset, Some(0));
        assert_eq!(time_of_day("06:00-06:00", false).unwrap().offset, Some(-21_600));
        assert_eq!(offset("+0530"), Some(19_800));
    }

    #[test]
    fn err_times_that_are_none() {
        for text in ["", "25:00", "24:01", "6:60", "6:3x", "1:2:3:4", "noon", "6:30 CST", "6:30+2"] {
            assert_eq!(seconds(text, false), Err(TimeFault::NotATime), "{text}");
        }
        assert_eq!(seconds("13:00 PM", true), Err(TimeFault::NotATime));
        assert_eq!(seconds("6:30", true), Err(TimeFault::HalfMissing));
        assert_eq!(seconds("6:30 pm", false), Err(TimeFault::HalfUndeclared));
    }
}
