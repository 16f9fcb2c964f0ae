//! Stretches between records: where a quantity is taken to run straight, cut at midnight.
use crosshouse_logs::tables::Climate;

pub(super) const DAY: i64 = 86_400;

/// The standard days of one logger.
pub(super) struct Days {
    /// Seconds since 1970-01-01T00:00:00 standard time, one a record.
    pub local: Vec<i64>,
    /// Days since 1970-01-01 that have a record, in order.
    pub numbers: Vec<i64>,
}

/// Part of one day between two neighbouring values, on which the quantity runs from `from` to `to`.
pub(super) struct Stretch {
    /// Index into [`Days::numbers`].
    pub day: usize,
    /// Seconds of the standard day.
    pub start: f64,
    pub end: f64,
    pub from: f64,
    pub to: f64,
    /// Indices of the two records.
    pub left: usize,
    pub right: usize,
    /// Seconds between the two records.
    pub gap: i64,
}

impl Stretch {
    pub fn seconds(&self) -> f64 {
        self.end - self.start
    }

    pub fn mean(&self) -> f64 {
        (self.from + self.to) / 2.0
    }

    /// The part within [`from`, `to`) seconds of the day, if any.
    pub fn within(&self, from: f64, to: f64) -> Option<Stretch> {
        let (start, end) = (self.start.max(from), self.end.min(to));
        let at = |s: f64| self.from + (self.to - self.from) * (s - self.start) / self.seconds();
        (start < end).then(|| Stretch { start, end, from: at(start), to: at(end), ..*self })
    }
}

/// Time on record and integral of one quantity over one day.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct DayMeans {
    pub seconds: f64,
    pub integral: f64,
}

impl DayMeans {
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

impl Days {
    pub fn of(logger: &Climate) -> Days {
        let local: Vec<i64> = logger.instant.iter().map(|t| t.saturating_add(i64::from(logger.standard_offset_s))).collect();
        let mut numbers: Vec<i64> = Vec::new();
        for at in &local {
            let day = at.div_euclid(DAY);
            if numbers.last() != Some(&day) {
                numbers.push(day);
            }
        }
        numbers.sort_unstable();
        numbers.dedup();
        Days { local, numbers }
    }

    pub fn index(&self, day: i64) -> Option<usize> {
        self.numbers.binary_search(&day).ok()
    }

    /// Time-weighted daily means of `values`, gaps above `longest` seconds left open.
    pub fn means(&self, values: &[f64], longest: i64) -> Vec<DayMeans> {
        let mut means = vec![DayMeans::default(); self.numbers.len()];
        self.stretches(values, longest, |stretch| {
            if let Some(day) = means.get_mut(stretch.day) {
                day.add(stretch.seconds(), stretch.mean());
            }
        });
        means
    }

    /// Calls `each` for every stretch between neighbouring finite values no further apart than `longest` seconds.
    pub fn stretches(&self, values: &[f64], longest: i64, mut each: impl FnMut(&Stretch)) {
        let mut before: Option<(usize, i64, f64)> = None;
        let mut near = 0;
        for (right, (&at, &value)) in self.local.iter().zip(values).enumerate() {
            if !value.is_finite() {
                continue;
            }
            if let Some((left, then, earlier)) = before
                && at > then
                && at - then <= longest
            {
                self.cut(&mut near, (left, then, earlier), (right, at, value), &mut each);
            }
            before = Some((right, at, value));
        }
    }

    /// Cuts the stretch between two values at midnights.
    fn cut(&self, near: &mut usize, a: (usize, i64, f64), b: (usize, i64, f64), each: &mut impl FnMut(&Stretch)) {
        let gap = b.1 - a.1;
        let at = |time: i64| a.2 + (b.2 - a.2) * (time - a.1) as f64 / gap as f64;
        let mut start = a.1;
        while start < b.1 {
            let number = start.div_euclid(DAY);
            let end = b.1.min((number + 1) * DAY);
            if self.numbers.get(*near) != Some(&number) {
                *near = self.index(number).unwrap_or(usize::MAX);
            }
            let (from, to) = (if start == a.1 { a.2 } else { at(start) }, if end == b.1 { b.2 } else { at(end) });
            let second = |time: i64| (time - number * DAY) as f64;
            each(&Stretch { day: *near, start: second(start), end: second(end), from, to, left: a.0, right: b.0, gap });
            start = end;
        }
    }
}
