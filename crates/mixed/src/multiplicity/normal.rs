//! The standard normal distribution and the length of a normal vector, as upper tails
//! that keep their relative accuracy.

use std::f64::consts::{FRAC_1_PI, FRAC_1_SQRT_2, FRAC_2_SQRT_PI, PI};

/// exp(−n²h²) for n = 1, 2, …, h = ½; what follows is below 1e-18.
const FALL: [f64; 12] = [
    0.7788007830714049,
    0.36787944117144233,
    0.10539922456186433,
    0.01831563888873418,
    0.0019304541362277093,
    0.00012340980408667956,
    4.785117392129009e-6,
    1.1253517471925912e-7,
    1.6052280551856116e-9,
    1.3887943864964021e-11,
    7.287724095819693e-14,
    2.3195228302435696e-16,
];

/// erfc to 15 figures, relative. The function of that name in the library used elsewhere
/// is good to 11 only.
///
/// The trapezoidal rule with step ½ on the integral
/// erfc x = (2x/π) e^(−x²) ∫₀^∞ e^(−u²)/(u² + x²) du, less the term of its pole where
/// that is passed (x < 2π; it counts below 6); near zero the series of erf.
///
/// # Source
/// Matta & Reichel (1971), Mathematics of Computation 25:339–344.
fn erfc(x: f64) -> f64 {
    if x < 0.0 {
        return 2.0 - erfc(-x);
    }
    if x < 0.5 {
        return 1.0 - erf_series(x);
    }
    let square = x * x;
    let mut sum = 0.5 / square;
    for (index, fall) in FALL.iter().enumerate() {
        let u = 0.5 * (index as f64 + 1.0);
        sum += fall / (u * u + square);
    }
    let pole = if x < 6.0 { 2.0 / (4.0 * PI * x).exp_m1() } else { 0.0 };
    FRAC_1_PI * x * (-square).exp() * sum - pole
}

/// erf x = (2/√π) e^(−x²) Σ 2ⁿ x²ⁿ⁺¹ / (1·3·5 … (2n+1)), for small x ≥ 0.
fn erf_series(x: f64) -> f64 {
    let (mut term, mut sum, mut odd) = (x, x, 1.0);
    while term > 1e-17 * sum {
        odd += 2.0;
        term *= 2.0 * x * x / odd;
        sum += term;
    }
    FRAC_2_SQRT_PI * (-x * x).exp() * sum
}

/// Standard normal density at `z`.
pub(super) fn density(z: f64) -> f64 {
    (-0.5 * z * z).exp() / (2.0 * PI).sqrt()
}

/// P(Z ≤ z) of a standard normal Z; small values keep their relative accuracy.
pub(super) fn lower(z: f64) -> f64 {
    0.5 * erfc(-z * FRAC_1_SQRT_2)
}

/// P(Z > z) of a standard normal Z.
pub(super) fn upper(z: f64) -> f64 {
    0.5 * erfc(z * FRAC_1_SQRT_2)
}

/// P(|Z| > w), w ≥ 0.
pub(super) fn two_sided(w: f64) -> f64 {
    erfc(w * FRAC_1_SQRT_2)
}

/// The w with P(|Z| > w) = `alpha`, 0 < alpha < 1.
///
/// Newton's method on ln P, which falls ever more steeply: from exp(−w²/2) = alpha, a point
/// beyond w, it comes down to w without passing it.
pub(super) fn two_sided_quantile(alpha: f64) -> f64 {
    let alpha = alpha.max(1e-300);
    let mut w = (-2.0 * alpha.ln()).sqrt();
    for _ in 0..50 {
        let tail = two_sided(w);
        let step = (tail / alpha).ln() * tail / (2.0 * density(w));
        w += step;
        if step.abs() < 1e-15 * w {
            break;
        }
    }
    w
}

/// P(R > x) for the length R of `rank` independent standard normal deviates, x ≥ 0.
///
/// With y = x²/2 this is Γ(rank/2, y)/Γ(rank/2); for whole `rank` it is a finite sum of
/// positive terms that starts from e⁻ʸ (even) or from erfc(√y) (odd).
pub(super) fn length_upper(rank: usize, x: f64) -> f64 {
    let y = 0.5 * x * x;
    let fall = (-y).exp();
    if fall == 0.0 {
        return 0.0;
    }
    let (mut sum, mut term, mut order) = if rank.is_multiple_of(2) {
        (fall, fall, 1.0)
    } else {
        let first = 2.0 * fall * (y / PI).sqrt();
        (two_sided(x) + if rank > 1 { first } else { 0.0 }, first, 1.5)
    };
    while order < 0.5 * rank as f64 {
        term *= y / order;
        sum += term;
        order += 1.0;
    }
    sum.min(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(found: f64, expected: f64, relative: f64) {
        assert!((found / expected - 1.0).abs() < relative, "{found} is not {expected}");
    }

    #[test]
    fn far_normal_tails_keep_their_relative_accuracy() {
        // Multiprecision erfc (mpmath 1.3.0), 15 digits and more.
        close(upper(6.0), 9.86587645037698e-10, 1e-14);
        close(lower(-10.0), 7.619853024160525e-24, 1e-14);
        close(two_sided(1.959963984540054), 0.05, 1e-14);
        close(erfc(0.1), 0.8875370839817152, 1e-15);
        close(erfc(0.49), 0.4883317388114769, 1e-15);
        close(erfc(0.51), 0.4707563801588296, 1e-15);
        close(erfc(2.5), 4.06952017444959e-4, 1e-14);
        close(erfc(12.0), 1.356261169205904e-64, 1e-13);
        close(erfc(26.0), 5.663192408856143e-296, 2e-13);
    }

    #[test]
    fn a_normal_quantile_turns_its_tail_back() {
        for alpha in [0.999, 0.9, 0.5, 0.05, 1e-3, 1e-9, 1e-100] {
            close(two_sided(two_sided_quantile(alpha)), alpha, 1e-12);
        }
    }

    #[test]
    fn length_of_two_normal_deviates_has_a_rayleigh_tail() {
        close(length_upper(2, 3.0), (-4.5_f64).exp(), 1e-15);
        close(length_upper(1, 3.0), two_sided(3.0), 1e-15);
    }

    #[test]
    fn length_of_several_normal_deviates_agrees_with_the_incomplete_gamma_function() {
        for rank in 2..40 {
            for x in [0.3, 1.0, 4.0, 9.0] {
                let gamma = statrs::function::gamma::gamma_ur(0.5 * rank as f64, 0.5 * x * x);
                close(length_upper(rank, x), gamma, 1e-11);
            }
        }
    }
}
