//! Stretches between records: where a quantity is taken to run straight, cut at midnight.

pub(super) const DAY: i64 = 86_400;

/// Part of one day between two neighbouring values, on which the quantity runs from `from` to `to`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Stretch {
    /// Seconds of the standard day.
    pub start: f64,
    pub end: f64,
    pub from: f64,
    pub to: f64,
}

impl Stretch {
    pub fn seconds(&self) -> f64 {
        self.end - self.start
    }

    pub fn mean(&self) -> f64 {
        (self.from + self.to) / 2.0
    }

    /// Seconds within [`from`, `to`) of the day.
    #[inline]
    pub fn seconds_within(&self, from: f64, to: f64) -> f64 {
        let (start, end) = (self.start.max(from), self.end.min(to));
        if start < end { end - start } else { 0.0 }
    }

    /// The part within [`from`, `to`) seconds of the day, if any.
    pub fn within(&self, from: f64, to: f64) -> Option<Stretch> {
        let (start, end) = (self.start.max(from), self.end.min(to));
        let at = |s: f64| self.from + (self.to - self.from) * (s - self.start) / self.seconds();
        (start < end).then(|| Stretch { start, end, from: at(start), to: at(end) })
    }
}

/// A value and the second of standard time that it is of.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Value {
    pub at: i64,
    pub value: f64,
}

/// Cuts the stretch between two values at midnights: each part with the number of its day.
pub(super) fn cut(a: Value, b: Value, mut each: impl FnMut(i64, &Stretch)) {
    let gap = b.at - a.at;
    let value = |time: i64| a.value + (b.value - a.value) * (time - a.at) as f64 / gap as f64;
    let mut start = a.at;
    while start < b.at {
        let number = start.div_euclid(DAY);
        let end = b.at.min((number + 1) * DAY);
        let (from, to) = (if start == a.at { a.value } else { value(start) }, if end == b.at { b.value } else { value(end) });
        let second = |time: i64| (time - number * DAY) as f64;
        each(number, &Stretch { start: second(start), end: second(end), from, to });
        start = end;
    }
}

/// Time on record and integral of one quantity over one day.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct DayMeans {
    pub seconds: f64,
    pub integral: f64,
}

impl DayMeans {
    #[inline]
    pub fn add(&mut self, seconds: f64, mean: f64) {
        self.seconds += seconds;
        self.integral += seconds * mean;
    }

    pub fn mean(&self) -> Option<f64> {
        (self.seconds > 0.0).then(|| self.integral / self.seconds)
    }

    /// Share of the day on record.
    pub fn share(&self) -> f64 {
        (self.seconds / DAY as f64).min(1.0)
    }
}
