//! Data to millimetres, and ticks a reader would have chosen.

/// A straight scale.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scale {
    pub low: f64,
    pub high: f64,
    /// mm at `low` and at `high`
    pub from: f64,
    pub to: f64,
}

impl Scale {
    pub fn at(&self, value: f64) -> f64 {
        let span = self.high - self.low;
        if span == 0.0 { (self.from + self.to) / 2.0 } else { self.from + (value - self.low) / span * (self.to - self.from) }
    }

    /// The same data range over another stretch of paper.
    pub fn over(&self, from: f64, to: f64) -> Scale {
        Scale { from, to, ..*self }
    }
}

/// Least and greatest finite value.
pub fn extent(values: impl IntoIterator<Item = f64>) -> Option<(f64, f64)> {
    values.into_iter().filter(|v| v.is_finite()).fold(None, |seen, v| match seen {
        None => Some((v, v)),
        Some((low, high)) => Some((low.min(v), high.max(v))),
    })
}

/// The range with `share` of its span added at both ends; a single value gets room of its own size.
pub fn padded((low, high): (f64, f64), share: f64) -> (f64, f64) {
    let span = if high > low { high - low } else { (low.abs() * 0.2).max(1e-6) };
    (low - span * share, high + span * share)
}

/// Round values inside a range.
#[derive(Debug, Clone, PartialEq)]
pub struct Ticks {
    pub values: Vec<f64>,
    pub decimals: usize,
    /// The values are logarithms of the numbers on the labels.
    pub logarithms: bool,
}

impl Ticks {
    pub fn label(&self, value: f64) -> String {
        crate::numbers::fixed(if self.logarithms { value.exp() } else { value }, self.decimals)
    }

    /// Width of the widest label, mm.
    pub fn widest(&self) -> f64 {
        self.values.iter().map(|v| crate::canvas::text_width(&self.label(*v), false)).fold(0.0, f64::max)
    }
}

/// Ticks at 1, 2 or 5 times a power of ten, at most `most` of them (at least two where the range allows).
pub fn ticks(low: f64, high: f64, most: usize) -> Ticks {
    let span = high - low;
    if span.is_nan() || span <= 0.0 || !span.is_finite() {
        return Ticks { values: vec![low], decimals: 1, logarithms: false };
    }
    let raw = span / most.max(1) as f64;
    let power = raw.log10().floor() as i32;
    let steps = [1.0, 2.0, 5.0, 10.0, 20.0].map(|m| m * 10f64.powi(power));
    let step = steps.into_iter().find(|s| count(low, high, *s) <= most.max(2)).unwrap_or(span);
    let (first, last) = ((low / step - 1e-9).ceil() as i64, (high / step + 1e-9).floor() as i64);
    let decimals = (-step.log10()).ceil().clamp(0.0, 8.0) as usize;
    Ticks { values: (first..=last).map(|k| k as f64 * step).collect(), decimals, logarithms: false }
}

/// As many ticks as their labels leave air between, `room` mm wide, at most eight.
pub fn ticks_across(low: f64, high: f64, room: f64) -> Ticks {
    const AIR: f64 = 3.5;
    let fits = |t: &Ticks| t.values.len() as f64 * (t.widest() + AIR) <= room;
    (3..=8).rev().map(|most| ticks(low, high, most)).find(fits).unwrap_or_else(|| ticks(low, high, 2))
}

/// Ticks at round ratios between two logarithms; over a wide range at 1, 2 and 5 times powers of ten.
pub fn ratio_ticks_across(low: f64, high: f64, room: f64) -> Ticks {
    if high - low < 2.0 {
        let plain = ticks_across(low.exp(), high.exp(), room);
        return Ticks { values: plain.values.iter().filter(|v| **v > 0.0).map(|v| v.ln()).collect(), logarithms: true, ..plain };
    }
    let (first, last) = ((low / std::f64::consts::LN_10).floor() as i32, (high / std::f64::consts::LN_10).ceil() as i32);
    let round: &[f64] = if high - low < 6.0 { &[1.0, 2.0, 5.0] } else { &[1.0] };
    let all = (first..=last).flat_map(|power| round.iter().map(move |m| (m * 10f64.powi(power)).ln()));
    let decimals = (-low / std::f64::consts::LN_10).ceil().clamp(0.0, 4.0) as usize;
    Ticks { values: all.filter(|v| (low..=high).contains(v)).collect(), decimals, logarithms: true }
}

fn count(low: f64, high: f64, step: f64) -> usize {
    let count = (high / step + 1e-9).floor() - (low / step - 1e-9).ceil() + 1.0;
    count.max(0.0) as usize
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_round_and_inside() {
        assert_eq!(ticks(0.13, 1.74, 5).values.len(), 3);
        let t = ticks(3.9, 6.2, 5);
        assert_eq!(t.values, vec![4.0, 4.5, 5.0, 5.5, 6.0]);
        assert_eq!(t.label(4.5), "4.5");
    }

    #[test]
    fn an_empty_range_gives_one_tick_and_no_endless_loop() {
        assert_eq!(ticks(2.0, 2.0, 5).values, vec![2.0]);
        assert_eq!(ticks(f64::NAN, 2.0, 5).values.len(), 1);
    }

    #[test]
    fn values_that_are_not_finite_have_no_extent() {
        assert_eq!(extent([f64::NAN, f64::INFINITY]), None);
        assert_eq!(extent([2.0, f64::NAN, 1.0]), Some((1.0, 2.0)));
    }
}
