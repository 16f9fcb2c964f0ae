//! Differences of rank two: P(max |Z_i| > w) exactly.

use std::f64::consts::{FRAC_2_PI, PI};

use crate::multiplicity::gauss_legendre;

/// tan θ beyond FARTHEST/w adds less than 1e-17 of the whole.
const FARTHEST: f64 = 9.0;

/// Deviates Z_i = a_i·Z along lines a_i of a plane.
///
/// In direction θ from the nearest line the largest |Z_i| is R·cos θ, and the length R of
/// Z passes w/cos θ with probability exp(−w²/(2 cos² θ)). So the lines count only by the
/// angles between neighbours:
///
/// ```text
/// P(max |Z_i| > w) = (2/π) Σ ∫₀^{γ/2} exp(−w²/(2 cos² θ)) dθ   over the gaps γ, Σγ = π
/// ```
///
/// # Source
/// Each integral is 2π times the T function of Owen (1956), Annals of Mathematical
/// Statistics 27:1075–1090.
pub(super) struct Circle {
    /// Half the angle between neighbouring lines, radians.
    half_gaps: Vec<f64>,
}

impl Circle {
    /// `rows`: unit vectors of the plane, at least two, no two on one line.
    pub(super) fn new(rows: &[Vec<f64>]) -> Self {
        let angle = |row: &Vec<f64>| match row.as_slice() {
            [x, y] => y.atan2(*x).rem_euclid(PI),
            _ => 0.0,
        };
        let mut angles: Vec<f64> = rows.iter().map(angle).collect();
        angles.sort_by(f64::total_cmp);
        let again = angles.first().map(|first| first + PI);
        let next = angles.iter().skip(1).copied().chain(again);
        let half_gaps = angles.iter().zip(next).map(|(one, next)| 0.5 * (next - one)).collect();
        Self { half_gaps }
    }

    pub(super) fn upper(&self, w: f64) -> f64 {
        let reach = (FARTHEST / w).atan();
        let sum: f64 = self.half_gaps.iter().map(|gap| half_gap(w, gap.min(reach))).sum();
        (FRAC_2_PI * sum).min(1.0)
    }
}

/// ∫₀^end exp(−w²/(2 cos² θ)) dθ in two panels.
fn half_gap(w: f64, end: f64) -> f64 {
    let value = |theta: f64| (-0.5 * (w / theta.cos()).powi(2)).exp();
    let near = gauss_legendre::on(0.0, 0.5 * end);
    let far = gauss_legendre::on(0.5 * end, end);
    near.chain(far).map(|(theta, weight)| weight * value(theta)).sum()
}
