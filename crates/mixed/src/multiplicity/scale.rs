//! Averaging a normal tail over the scale of an estimated standard error, and the plain
//! t distribution as the smallest case of it.

use std::f64::consts::{LN_2, PI};

use statrs::function::gamma::ln_gamma;

use super::normal;
use super::root::falling_root_near;
use crate::distributions;

/// Step of the trapezoidal rule in ln s; 0.7 standard deviations where ln s is narrow.
const WIDEST_STEP: f64 = 0.05;

/// Terms below this share of the sum end the sum.
const NEGLIGIBLE: f64 = 1e-18;

/// A tail kept as factor × e^exponent, so that its exponential joins that of the scale's density.
#[derive(Debug, Clone, Copy)]
pub(super) struct Tail {
    pub(super) factor: f64,
    pub(super) exponent: f64,
}

impl Tail {
    /// A tail as a plain number.
    pub(super) fn plain(value: f64) -> Self {
        Self { factor: value, exponent: 0.0 }
    }
}

/// ∫ tail(t·s) f(s) ds, where s = χ_df/√df has density f.
///
/// * `tail`: upper tail of a normal statistic, falling about like exp(−decay·w²/2)
/// * `t`: positive, finite
/// * `df`: positive, finite; need not be whole
///
/// The integrand in x = ln s is smooth, has one peak and dies away on both sides, where
/// the trapezoidal rule converges geometrically. All terms are positive, so far tails keep
/// their relative accuracy.
///
/// # Source
/// Trefethen & Weideman (2014), SIAM Review 56:385–458, for the rule.
pub(super) fn averaged_over_scale(tail: impl Fn(f64) -> Tail, t: f64, df: f64, decay: f64) -> f64 {
    let constant = ln_density_at_one(df);
    let peak = -0.5 * (decay * t * t / df).ln_1p();
    let step = f64::min(WIDEST_STEP, 0.7 / (2.0 * df).sqrt());
    let term = |index: i64| {
        let x = peak + step * index as f64;
        let s = x.exp();
        let Tail { factor, exponent } = tail(t * s);
        factor * (constant - 0.5 * df * exponential_beyond_line(2.0 * x, s * s) + exponent).exp()
    };
    let sum = sum_until_negligible(&term, 0, 1, 0.0);
    let flat = (FLAT / t.max(1.0)).ln();
    let last = ((flat - peak) / step).floor().min(-1.0) as i64;
    step * sum_downwards(&term, last, (df * step).exp_m1(), sum)
}

/// Below this value of t·s the tail is its value at 0, and s² is nothing beside 1.
const FLAT: f64 = 1e-17;

/// `sum` and all terms below 0. From `last` on down each is 1/(1 + `fall`) of the one before: with next to no
/// degrees of freedom they fall too slowly to be added one by one, and their sum is that of the series.
fn sum_downwards(term: &impl Fn(i64) -> f64, last: i64, fall: f64, mut sum: f64) -> f64 {
    let (mut before, mut next) = (0.0, 0.0);
    for index in (last..0).rev() {
        next = term(index);
        sum += next;
        if next <= before && next <= NEGLIGIBLE * sum {
            return sum;
        }
        before = next;
    }
    sum + next / fall
}

/// `sum` and the terms from `first` on in one direction, up to where they have passed
/// their peak and no longer count.
pub(super) fn sum_until_negligible(term: &impl Fn(i64) -> f64, first: i64, way: i64, mut sum: f64) -> f64 {
    let mut before = 0.0;
    for count in 0..1_000_000 {
        let next = term(first + way * count);
        sum += next;
        if next <= before && next <= NEGLIGIBLE * sum {
            break;
        }
        before = next;
    }
    sum
}

/// eʸ − 1 − y without loss for small y, given y and eʸ.
fn exponential_beyond_line(y: f64, exponential: f64) -> f64 {
    if y.abs() > 0.1 {
        return exponential - 1.0 - y;
    }
    let ratio = |sum: f64, inverse: &f64| 1.0 + y * inverse * sum;
    0.5 * y * y * INVERSES.iter().rev().fold(1.0, ratio)
}

/// 1/3, 1/4, … 1/11.
const INVERSES: [f64; 9] = [1.0 / 3.0, 0.25, 0.2, 1.0 / 6.0, 1.0 / 7.0, 0.125, 1.0 / 9.0, 0.1, 1.0 / 11.0];

/// ln of the density of x = ln s at x = 0: ln(2 aᵃ e⁻ᵃ/Γ(a)), a = df/2. From a = 20 on by
/// the Stirling series, whose leading terms cancel before rounding.
fn ln_density_at_one(df: f64) -> f64 {
    let a = 0.5 * df;
    if a < 20.0 {
        return LN_2 + a * a.ln() - a - ln_gamma(a);
    }
    let inverse = 1.0 / (a * a);
    let series = (1.0 / 12.0 - inverse * (1.0 / 360.0 - inverse / 1260.0)) / a;
    LN_2 + 0.5 * (a / (2.0 * PI)).ln() - series
}

/// Up to these degrees of freedom the incomplete beta function is the quicker way to Student's t.
const BETA_UP_TO: f64 = 2000.0;

/// P(|T| > t) of Student's t, `None` being infinite degrees of freedom. NaN where `t` is
/// NaN or `df` not positive.
pub(super) fn t_two_sided(t: f64, df: Option<f64>) -> f64 {
    match df {
        Some(df) if df > 0.0 && df <= BETA_UP_TO && t.is_finite() => distributions::t_two_sided(t, Some(df)),
        _ => upper_tail(t.abs(), df, 1.0, normal::two_sided, |w| Tail::plain(normal::two_sided(w))),
    }
}

/// Density of Student's t.
pub(super) fn t_density(t: f64, df: Option<f64>) -> f64 {
    finite(df).map_or_else(|| normal::density(t), |df| distributions::t_density(t, df))
}

/// The t with P(|T| > t) = `alpha`; 0 for alpha ≥ 1, infinite for alpha ≤ 0.
pub(super) fn t_two_sided_quantile(alpha: f64, df: Option<f64>) -> f64 {
    quantile(alpha, df, || {
        let normal_point = normal::two_sided_quantile(alpha);
        let Some(df) = finite(df) else { return normal_point };
        let start = distributions::near_t_quantile(normal_point, df);
        let slope = -2.0 * distributions::t_density(start, df) / t_two_sided(start, Some(df));
        falling_root_near(|t| t_two_sided(t, Some(df)), alpha, start, slope)
    })
}

/// The upper tail at `t` of a statistic divided by its estimated scale: `normal_tail` for
/// infinite `df`, else the average of `tabulated` over the scale.
pub(super) fn upper_tail(t: f64, df: Option<f64>, decay: f64, normal_tail: impl Fn(f64) -> f64, tabulated: impl Fn(f64) -> Tail) -> f64 {
    if t.is_nan() || df.is_some_and(|df| df.is_nan() || df <= 0.0) {
        return f64::NAN;
    }
    if t <= 0.0 {
        return 1.0;
    }
    if t == f64::INFINITY {
        return 0.0;
    }
    match finite(df) {
        None => normal_tail(t).min(1.0),
        Some(df) => averaged_over_scale(tabulated, t, df, decay).min(1.0),
    }
}

/// `search` for a probability strictly inside (0, 1), the ends of the scale outside it.
pub(super) fn quantile(alpha: f64, df: Option<f64>, search: impl Fn() -> f64) -> f64 {
    if alpha.is_nan() || df.is_some_and(|df| df.is_nan() || df <= 0.0) {
        f64::NAN
    } else if alpha >= 1.0 {
        0.0
    } else if alpha <= 0.0 {
        f64::INFINITY
    } else {
        search()
    }
}

fn finite(df: Option<f64>) -> Option<f64> {
    df.filter(|df| df.is_finite())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(found: f64, expected: f64, relative: f64) {
        assert!((found / expected - 1.0).abs() < relative, "{found} is not {expected}");
    }

    #[test]
    fn one_degree_of_freedom_is_the_cauchy_distribution() {
        // P(|T| > t) = 1 − (2/π) arctan t = (2/π) arctan(1/t), exactly.
        for t in [0.01, 0.5, 2.0, 12.7, 1e4, 1e8] {
            close(t_two_sided(t, Some(1.0)), 2.0 / PI * f64::atan(1.0 / t), 1e-12);
        }
    }

    #[test]
    fn two_degrees_of_freedom_have_their_closed_form() {
        // P(|T| > t) = 1 − t/√(2 + t²), exactly.
        for t in [0.1, 1.0, 4.3, 30.0] {
            let root = f64::sqrt(2.0 + t * t);
            close(t_two_sided(t, Some(2.0)), 2.0 / (root * (root + t)), 1e-12);
        }
    }

    #[test]
    fn t_at_0_975_with_20_degrees_of_freedom_is_2_085963() {
        // Any printed table of Student's t; six decimals.
        assert!((t_two_sided_quantile(0.05, Some(20.0)) - 2.085963).abs() < 5e-7);
    }

    #[test]
    fn t_tails_agree_with_the_incomplete_beta_function() {
        for df in [0.7, 3.3, 8.0, 29.07, 37.0, 39.9, 40.1, 120.0, 900.0] {
            for t in [0.02, 0.9, 2.3, 5.0, 9.0] {
                let beta = statrs::function::beta::beta_reg(0.5 * df, 0.5, df / (df + t * t));
                close(t_two_sided(t, Some(df)), beta, 1e-10);
            }
        }
    }

    #[test]
    fn t_tails_of_next_to_no_freedom_agree_with_the_incomplete_beta_function() {
        for df in [1e-12, 1e-6, 1e-4, 7e-4, 0.01, 0.2, 3.0, 60.0] {
            for t in [1e-3, 0.9, 5.0, 1e4] {
                let beta = statrs::function::beta::beta_reg(0.5 * df, 0.5, df / (df + t * t));
                close(averaged_over_scale(|w| Tail::plain(normal::two_sided(w)), t, df, 1.0), beta, 1e-9);
            }
        }
    }

    #[test]
    fn ever_more_degrees_of_freedom_end_in_the_normal_distribution() {
        for df in [1e8, 1e12, 1e15] {
            close(t_two_sided(3.0, Some(df)), normal::two_sided(3.0), 40.0 / df + 1e-12);
        }
        assert_eq!(t_two_sided(3.0, Some(f64::INFINITY)), normal::two_sided(3.0));
    }

    #[test]
    fn a_t_quantile_turns_its_tail_back() {
        for df in [0.8, 1.0, 2.5, 11.3, 200.0, 1e5] {
            for alpha in [0.99, 0.5, 0.05, 1e-4, 1e-10] {
                let t = t_two_sided_quantile(alpha, Some(df));
                close(t_two_sided(t, Some(df)), alpha, 1e-10);
            }
        }
    }

    #[test]
    fn what_is_no_probability_and_no_freedom_gives_no_number() {
        assert!(t_two_sided(f64::NAN, None).is_nan());
        assert!(t_two_sided(1.0, Some(0.0)).is_nan());
        assert!(t_two_sided_quantile(f64::NAN, Some(3.0)).is_nan());
        assert_eq!(t_two_sided_quantile(0.0, Some(3.0)), f64::INFINITY);
        assert_eq!(t_two_sided_quantile(1.0, Some(3.0)), 0.0);
        assert_eq!(t_two_sided(f64::INFINITY, Some(3.0)), 0.0);
    }
}
