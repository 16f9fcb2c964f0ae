//! A normal tail kept as polynomials, so that averaging it over the scale is cheap.

use std::f64::consts::PI;
use std::sync::OnceLock;

use super::scale::Tail;

/// Chebyshev points of a panel.
const POINTS: usize = 14;
/// Panels of a unit of w.
const PANELS_PER_UNIT: f64 = 2.0;
/// exp(−LAST_EXPONENT) is still an ordinary number; tails beyond are zero.
const LAST_EXPONENT: f64 = 690.0;

/// The upper tail of a statistic of standard normal deviates.
pub(super) trait NormalTail: Send + Sync {
    /// P(statistic > w), w ≥ 0.
    fn upper(&self, w: f64) -> f64;
    /// The c of the tail's fall, about exp(−c·w²/2).
    fn decay(&self) -> f64;
}

/// `exact`, and its tail times exp(c·w²/2) as Chebyshev series on panels of w. A panel is
/// computed the first time it is asked for; what it holds depends on nothing else.
///
/// # Source
/// Trefethen (2013), Approximation Theory and Approximation Practice, SIAM.
pub(super) struct Tabulated<T> {
    pub(super) exact: T,
    panels: Vec<OnceLock<[f64; POINTS]>>,
}

impl<T: NormalTail> Tabulated<T> {
    pub(super) fn new(exact: T) -> Self {
        let last = (2.0 * LAST_EXPONENT / exact.decay()).sqrt();
        let count = (last * PANELS_PER_UNIT) as usize;
        let panels = (0..count).map(|_| OnceLock::new()).collect();
        Self { exact, panels }
    }

    /// P(statistic > w), relative error about 1e-12.
    pub(super) fn upper(&self, w: f64) -> Tail {
        let place = w * PANELS_PER_UNIT;
        let index = place as usize;
        let Some(panel) = self.panels.get(index) else { return Tail::plain(0.0) };
        let series = panel.get_or_init(|| self.series(index));
        let x = 2.0 * (place - index as f64) - 1.0;
        Tail { factor: clenshaw(series, x), exponent: -0.5 * self.exact.decay() * w * w }
    }

    fn series(&self, index: usize) -> [f64; POINTS] {
        let mut values = [0.0; POINTS];
        for (j, value) in values.iter_mut().enumerate() {
            let x = (PI * (j as f64 + 0.5) / POINTS as f64).cos();
            let w = (index as f64 + 0.5 * (x + 1.0)) / PANELS_PER_UNIT;
            *value = self.exact.upper(w) * (0.5 * self.exact.decay() * w * w).exp();
        }
        chebyshev_coefficients(&values)
    }
}

/// Coefficients of the polynomial through `values` at the Chebyshev points of the first
/// kind, cos(π(j + ½)/n); the first is already halved.
fn chebyshev_coefficients(values: &[f64; POINTS]) -> [f64; POINTS] {
    let mut series = [0.0; POINTS];
    for (k, coefficient) in series.iter_mut().enumerate() {
        let mut sum = 0.0;
        for (j, value) in values.iter().enumerate() {
            sum += value * (PI * k as f64 * (j as f64 + 0.5) / POINTS as f64).cos();
        }
        *coefficient = sum * if k == 0 { 1.0 } else { 2.0 } / POINTS as f64;
    }
    series
}

/// Σ cₖ Tₖ(x) by Clenshaw's recurrence.
fn clenshaw(series: &[f64; POINTS], x: f64) -> f64 {
    let (mut one_on, mut two_on) = (0.0, 0.0);
    for coefficient in series.iter().skip(1).rev() {
        (one_on, two_on) = (coefficient + 2.0 * x * one_on - two_on, one_on);
    }
    series[0] + x * one_on - two_on
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::multiplicity::normal;

    struct Single;

    fn value(tail: Tail) -> f64 {
        tail.factor * tail.exponent.exp()
    }

    impl NormalTail for Single {
        fn upper(&self, w: f64) -> f64 {
            normal::two_sided(w)
        }
        fn decay(&self) -> f64 {
            1.0
        }
    }

    #[test]
    fn the_table_repeats_the_tail_it_was_made_of() {
        let table = Tabulated::new(Single);
        for step in 0..700 {
            let w = 0.0513 * f64::from(step);
            let ratio = value(table.upper(w)) / normal::two_sided(w);
            assert!((ratio - 1.0).abs() < 1e-12, "at {w}: {ratio}");
        }
    }

    #[test]
    fn beyond_the_last_panel_the_tail_is_zero() {
        assert_eq!(value(Tabulated::new(Single).upper(1e6)), 0.0);
    }
}
