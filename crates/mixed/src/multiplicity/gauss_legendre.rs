//! Gauss–Legendre nodes on [−1, 1].

use std::f64::consts::PI;
use std::sync::OnceLock;

/// Nodes of the one rule used here; exact for polynomials up to degree 47.
const COUNT: usize = 24;

/// `(node, weight)` of the 24-point rule on [−1, 1].
pub(super) fn rule() -> &'static [(f64, f64)] {
    static RULE: OnceLock<Vec<(f64, f64)>> = OnceLock::new();
    RULE.get_or_init(|| (0..COUNT).map(node).collect())
}

/// The rule moved to [from, to].
pub(super) fn on(from: f64, to: f64) -> impl Iterator<Item = (f64, f64)> {
    let (middle, half) = (0.5 * (from + to), 0.5 * (to - from));
    rule().iter().map(move |(x, weight)| (middle + half * x, half * weight))
}

/// A root of the Legendre polynomial by Newton's method from its asymptotic place, and
/// its weight 2/((1 − x²) P′(x)²).
fn node(index: usize) -> (f64, f64) {
    let mut x = (PI * (index as f64 + 0.75) / (COUNT as f64 + 0.5)).cos();
    for _ in 0..20 {
        let (value, slope) = legendre(x);
        x -= value / slope;
    }
    let (_, slope) = legendre(x);
    (x, 2.0 / ((1.0 - x * x) * slope * slope))
}

/// The Legendre polynomial of degree COUNT and its derivative, by the three-term
/// recurrence.
fn legendre(x: f64) -> (f64, f64) {
    let (mut before, mut here) = (1.0, x);
    for degree in 2..=COUNT {
        let n = degree as f64;
        (before, here) = (here, ((2.0 * n - 1.0) * x * here - (n - 1.0) * before) / n);
    }
    (here, COUNT as f64 * (before - x * here) / (1.0 - x * x))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_rule_integrates_even_powers_exactly() {
        for power in [0, 2, 10, 30, 46] {
            let sum: f64 = on(-1.0, 1.0).map(|(x, weight)| weight * x.powi(power)).sum();
            assert!((sum - 2.0 / f64::from(power + 1)).abs() < 1e-14);
        }
    }
}
