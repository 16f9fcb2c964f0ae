//! Successive records of one logger, column by column, with what is known of all of them at once: most
//! batches of a sound log hold nothing that a rule looks for, and a rule sees that from a few numbers.
use super::climate::{Column, Reading};
use super::marks::{Marks, Spot};
use crate::loggers::Records;
use std::ops::Range;

/// Values looked at side by side.
const LANES: usize = 8;

/// What the values of one column of a batch span.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Extent {
    /// Lowest and highest value; infinite the wrong way where there is none.
    pub low: f64,
    pub high: f64,
    /// Whether a value is missing.
    pub gaps: bool,
    /// The greatest difference between two values of neighbouring records.
    pub jump: f64,
}

impl Extent {
    pub fn of(values: &[f64]) -> Extent {
        let (mut low, mut high, mut sum) = ([f64::INFINITY; LANES], [f64::NEG_INFINITY; LANES], [0.0; LANES]);
        let mut see = |piece: &[f64]| {
            for (((x, low), high), sum) in piece.iter().zip(&mut low).zip(&mut high).zip(&mut sum) {
                *low = if *x < *low { *x } else { *low };
                *high = if *x > *high { *x } else { *high };
                // Values are finite: the sum is not a number where one of them is none.
                *sum += *x;
            }
        };
        let pieces = values.chunks_exact(LANES);
        let rest = pieces.remainder();
        pieces.for_each(&mut see);
        see(rest);
        Extent {
            low: low.into_iter().fold(f64::INFINITY, f64::min),
            high: high.into_iter().fold(f64::NEG_INFINITY, f64::max),
            gaps: sum.into_iter().sum::<f64>().is_nan(),
            jump: jump(values),
        }
    }

    pub fn is_empty(&self) -> bool {
        self.low > self.high
    }
}

fn jump(values: &[f64]) -> f64 {
    let mut most = [0.0; LANES];
    let after = values.get(1..).unwrap_or_default();
    let mut see = |before: &[f64], after: &[f64]| {
        for ((a, b), most) in before.iter().zip(after).zip(&mut most) {
            let step = (b - a).abs();
            *most = if step > *most { step } else { *most };
        }
    };
    let (pieces, others) = (after.chunks_exact(LANES), values.chunks_exact(LANES));
    let (rest, whole) = (pieces.remainder(), after.len() - pieces.remainder().len());
    others.zip(pieces).for_each(|(before, after)| see(before, after));
    see(values.get(whole..).unwrap_or_default(), rest);
    most.into_iter().fold(0.0, f64::max)
}

/// Records of one logger with the doubts that their reading raised.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Rows<'r> {
    /// Place of the first one among all records of the logger.
    pub first: usize,
    pub records: Records<'r>,
    /// Places in the batch, rising: the doubled hour not settled; a humidity written above 100.
    pub open: &'r [usize],
    pub above_100: &'r [usize],
}

/// A batch as the rules see it.
pub(crate) struct Batch<'b> {
    pub rows: Rows<'b>,
    /// The instant of the record before the first.
    before: Option<i64>,
    longest_step: i64,
    extents: [Extent; 4],
    /// Shortest and longest step between the records, the one to the first included; s.
    pub steps: (i64, i64),
    /// Every record comes from one file, in the order of its rows.
    in_row: bool,
}

impl<'b> Batch<'b> {
    /// `longest_step`: of records that hang together, s.
    pub fn new(rows: Rows<'b>, before: Option<i64>, longest_step: i64) -> Batch<'b> {
        let r = &rows.records;
        let extents = [r.temperature, r.humidity, r.light, r.co2].map(Extent::of);
        let within = steps(r.instant);
        let to_first = before.zip(r.instant.first()).map(|(before, first)| first - before);
        let steps = to_first.map_or(within, |s| (within.0.min(s), within.1.max(s)));
        let in_row = r.source.iter().zip(r.source.iter().skip(1)).fold(true, |row, (a, b)| row & (a.file == b.file) & (a.row < b.row));
        Batch { rows, before, longest_step, extents, steps, in_row }
    }

    pub fn len(&self) -> usize {
        self.rows.records.instant.len()
    }

    pub fn instants(&self) -> &'b [i64] {
        self.rows.records.instant
    }

    pub fn values(&self, of: Column) -> &'b [f64] {
        match of {
            Column::Temperature => self.rows.records.temperature,
            Column::Humidity => self.rows.records.humidity,
            Column::Light => self.rows.records.light,
            Column::Co2 => self.rows.records.co2,
        }
    }

    pub fn extent(&self, of: Column) -> Extent {
        let [temperature, humidity, light, co2] = self.extents;
        match of {
            Column::Temperature => temperature,
            Column::Humidity => humidity,
            Column::Light => light,
            Column::Co2 => co2,
        }
    }

    /// Whether every record follows the one before without a gap.
    pub fn all_joined(&self) -> bool {
        self.before.is_some() && self.steps.1 <= self.longest_step
    }

    /// The longest step between two records that hang together.
    pub fn longest_joined(&self) -> i64 {
        self.steps.1.min(self.longest_step)
    }

    fn step(&self, i: usize) -> Option<i64> {
        let before = i.checked_sub(1).map_or(self.before, |k| self.instants().get(k).copied())?;
        Some(self.instants().get(i)? - before)
    }

    /// Every record with its step, but the very first of a logger.
    pub fn each_step(&self) -> impl Iterator<Item = (usize, i64)> + '_ {
        let mut last = self.before;
        let with_steps = move |(i, instant): (usize, &i64)| last.replace(*instant).map(|before| (i, instant - before));
        self.instants().iter().enumerate().filter_map(with_steps)
    }

    pub fn joined(&self, i: usize) -> bool {
        self.step(i).is_some_and(|step| step <= self.longest_step)
    }

    pub fn spot(&self, i: usize) -> Option<Spot> {
        let (instant, source) = (*self.instants().get(i)?, *self.rows.records.source.get(i)?);
        Some(Spot { record: self.rows.first + i, instant, source })
    }

    /// One record by itself.
    pub fn reading(&self, i: usize) -> Option<Reading> {
        let value = |of| self.values(of).get(i).copied().unwrap_or(f64::NAN);
        Some(Reading {
            spot: self.spot(i)?,
            temperature: value(Column::Temperature),
            humidity: value(Column::Humidity),
            light: value(Column::Light),
            co2: value(Column::Co2),
            hour_open: self.rows.open.binary_search(&i).is_ok(),
            above_100: self.rows.above_100.binary_search(&i).is_ok(),
            step: self.step(i).unwrap_or(0),
            joined: self.joined(i),
        })
    }

    /// The records of a range, one by one.
    pub fn readings(&self, range: Range<usize>) -> impl Iterator<Item = Reading> + '_ {
        range.filter_map(|i| self.reading(i))
    }

    /// Marks the records of a range.
    pub fn mark(&self, range: Range<usize>, marks: &mut Marks) {
        let ends = range.end.checked_sub(1).and_then(|last| Some((self.spot(range.start)?, self.spot(last)?)));
        match ends.filter(|_| self.in_row && !range.is_empty()) {
            Some((first, last)) => marks.add_row(&first, &last),
            None => range.filter_map(|i| self.spot(i)).for_each(|spot| marks.add(&spot)),
        }
    }

    /// Where the records from `from` on reach `instant`.
    pub fn until(&self, from: usize, instant: i64) -> usize {
        let rest = self.instants().get(from..).unwrap_or_default();
        from + rest.partition_point(|t| *t < instant)
    }
}

fn steps(instants: &[i64]) -> (i64, i64) {
    let after = instants.get(1..).unwrap_or_default();
    instants.iter().zip(after).fold((i64::MAX, i64::MIN), |(low, high), (a, b)| (low.min(b - a), high.max(b - a)))
}

#[cfg(test)]
mod tests {
    use super::super::climate::Logger;
    use super::super::sample::Log;
    use super::*;
    use proptest::prelude::*;

    /// A stretch of a log: records, the step between them, the start and the change a record of temperature,
    /// humidity and light, and which of them is missing.
    type Stretch = (usize, i64, [(f64, f64); 3], u8);

    fn stretch() -> impl Strategy<Value = Stretch> {
        let value = |low: i32, high: i32, change: i32| {
            let change = prop_oneof![2 => Just(0), 1 => -change..change];
            (low..high, change).prop_map(|(x, change)| (f64::from(x), f64::from(change) / 10.0))
        };
        let step = prop_oneof![8 => Just(600i64), 1 => Just(300), 1 => 1i64..9000, 1 => 80_000i64..200_000];
        let values = [value(-5, 120, 40).boxed(), value(0, 104, 30).boxed(), value(-2, 1200, 900).boxed()];
        let length = prop_oneof![3 => 1usize..4, 2 => 4usize..40, 1 => 40usize..400];
        (length, step, values, prop_oneof![6 => Just(0u8), 1 => 1u8..8])
    }

    fn log(stretches: &[Stretch]) -> Log {
        let mut log = Log::of(600, &[]);
        let mut at = 1_900_000_000;
        for (records, step, values, missing) in stretches {
            for i in 0..*records {
                at += step;
                log.instant.push(at);
                let columns = [&mut log.temperature, &mut log.humidity, &mut log.light];
                for (k, (column, (from, change))) in columns.into_iter().zip(values).enumerate() {
                    let x = from + change * i as f64;
                    column.push(if missing >> k & 1 == 1 {
                        f64::NAN
                    } else if k == 1 {
                        x.clamp(0.0, 100.0)
                    } else {
                        x
                    });
                }
            }
        }
        log
    }

    proptest::proptest! {
        #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

        /// [`Log::told`] holds batches of several sizes against the records one by one.
        #[test]
        fn what_is_found_does_not_depend_on_how_records_are_handed_on(
            stretches in proptest::collection::vec(stretch(), 1..30),
            (placed, mean, offset) in (any::<bool>(), any::<bool>(), -10i64..12),
        ) {
            let log = log(&stretches);
            let place = placed.then_some((52.0, 6.0));
            log.told(Logger { place, light_is_mean: mean, standard_offset_s: offset * 3600, ..log.logger() });
        }

        #[test]
        fn an_extent_is_that_of_the_values_one_by_one(mut values in proptest::collection::vec(-50i32..50, 0..40), gap in 0usize..80) {
            let mut x: Vec<f64> = values.drain(..).map(f64::from).collect();
            if let Some(slot) = x.get_mut(gap) {
                *slot = f64::NAN;
            }
            let extent = Extent::of(&x);
            proptest::prop_assert_eq!(extent.low, x.iter().copied().fold(f64::INFINITY, f64::min));
            proptest::prop_assert_eq!(extent.high, x.iter().copied().fold(f64::NEG_INFINITY, f64::max));
            proptest::prop_assert_eq!(extent.gaps, x.iter().any(|x| x.is_nan()));
            proptest::prop_assert_eq!(extent.jump, x.windows(2).map(|w| (w[1] - w[0]).abs()).fold(0.0, f64::max));
        }
    }
}
