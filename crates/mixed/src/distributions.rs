//! Tails and quantiles of the t, F, chi-squared and normal distributions.
//!
//! The incomplete beta function is the continued fraction of Abramowitz & Stegun (1964), 26.5.8.

use statrs::function::erf::{erfc, erfc_inv};
use statrs::function::gamma::{checked_gamma_ur, ln_gamma};

/// P(|T| > |t|); `None` for the normal distribution.
pub fn t_two_sided(t: f64, df: Option<f64>) -> f64 {
    let square = t * t;
    match df {
        None => erfc(t.abs() / std::f64::consts::SQRT_2),
        Some(df) => incomplete_beta(0.5 * df, 0.5, df / (df + square), square / (df + square)),
    }
}

/// P(T > t)
pub fn t_upper(t: f64, df: Option<f64>) -> f64 {
    let half = 0.5 * t_two_sided(t, df);
    if t >= 0.0 { half } else { 1.0 - half }
}

/// The t whose two-sided tail is 1 − `level`.
pub fn t_quantile(level: f64, df: Option<f64>) -> f64 {
    let tail = 1.0 - level;
    let normal = std::f64::consts::SQRT_2 * erfc_inv(tail);
    let Some(df) = df else { return normal };
    let (mut low, mut high) = (0.0, f64::INFINITY);
    let mut t = near_t_quantile(normal, df);
    for _ in 0..400 {
        let at = t_two_sided(t, Some(df));
        if at > tail {
            low = t
        } else {
            high = t
        }
        // Newton's step on ln P by t, which ends at once where it is short: its error is of the square's size.
        let step = (at / tail).ln() * at / (2.0 * t_density(t, df));
        let next = t + step;
        if step.abs() <= 1e-9 * t {
            return next;
        }
        t = if next > low && next < high {
            next
        } else if high.is_finite() {
            0.5 * (low + high)
        } else {
            2.0 * t
        };
    }
    t
}

/// A point near Student's t of the same tail as the normal deviate `z`: its expansion in 1/df.
///
/// Source: Abramowitz & Stegun (1964), 26.7.5.
pub fn near_t_quantile(z: f64, df: f64) -> f64 {
    let (s, v) = (z * z, 1.0 / df.max(1.0));
    let one = (s + 1.0) / 4.0;
    let two = ((5.0 * s + 16.0) * s + 3.0) / 96.0;
    let three = (((3.0 * s + 19.0) * s + 17.0) * s - 15.0) / 384.0;
    let four = ((((79.0 * s + 776.0) * s + 1482.0) * s - 1920.0) * s - 945.0) / 92160.0;
    let t = z * (1.0 + v * (one + v * (two + v * (three + v * four))));
    if t.is_finite() && t > 0.0 { t } else { z.max(1e-3) }
}

/// Density of Student's t.
pub fn t_density(t: f64, df: f64) -> f64 {
    let constant = ln_gamma_ratio(0.5 * df) - 0.5 * (df * std::f64::consts::PI).ln();
    (constant - 0.5 * (df + 1.0) * (t * t / df).ln_1p()).exp()
}

/// P(F > f) with `df_den` degrees of freedom below; `None` for chi-squared / `df_num`.
pub fn f_upper(f: f64, df_num: f64, df_den: Option<f64>) -> f64 {
    if f.is_nan() || f <= 0.0 {
        return 1.0;
    }
    match df_den {
        None => {
            let (a, x) = (0.5 * df_num, 0.5 * df_num * f);
            // Chernoff's bound of the tail: below the least positive number there is nothing to sum.
            let log_bound = a - x + a * (x / a).ln();
            if x > a && log_bound < -746.0 { 0.0 } else { checked_gamma_ur(a, x).unwrap_or(0.0) }
        }
        Some(df) => {
            let total = df + df_num * f;
            incomplete_beta(0.5 * df, 0.5 * df_num, df / total, df_num * f / total)
        }
    }
}

/// log Γ(a + ½) − log Γ(a), by its asymptotic series where the difference would cancel.
fn ln_gamma_ratio(a: f64) -> f64 {
    if a < 1e3 {
        return ln_gamma(a + 0.5) - ln_gamma(a);
    }
    let inverse = 1.0 / a;
    0.5 * a.ln() - inverse * (1.0 / 8.0 - inverse * inverse / 192.0)
}

fn ln_beta(a: f64, b: f64) -> f64 {
    if b == 0.5 {
        return 0.5 * std::f64::consts::PI.ln() - ln_gamma_ratio(a);
    }
    ln_gamma(a) + ln_gamma(b) - ln_gamma(a + b)
}

/// Iₓ(a, b) with y = 1 − x given apart, so that neither end loses digits.
fn incomplete_beta(a: f64, b: f64, x: f64, y: f64) -> f64 {
    if x <= 0.0 {
        return 0.0;
    }
    if y <= 0.0 {
        return 1.0;
    }
    let front = (a * x.ln() + b * y.ln() - ln_beta(a, b)).exp();
    if x < (a + 1.0) / (a + b + 2.0) { front * fraction(a, b, x) / a } else { 1.0 - front * fraction(b, a, y) / b }
}

/// The continued fraction of Iₓ(a, b), from the front (Lentz).
fn fraction(a: f64, b: f64, x: f64) -> f64 {
    const TINY: f64 = 1e-300;
    let guard = |value: f64| if value.abs() < TINY { TINY } else { value };
    let mut c = 1.0;
    let mut d = 1.0 / guard(1.0 - (a + b) * x / (a + 1.0));
    let mut value = d;
    for step in 1..100_000 {
        let m = f64::from(step);
        let even = m * (b - m) * x / ((a + 2.0 * m - 1.0) * (a + 2.0 * m));
        d = 1.0 / guard(1.0 + even * d);
        c = guard(1.0 + even / c);
        value *= d * c;
        let odd = -(a + m) * (a + b + m) * x / ((a + 2.0 * m) * (a + 2.0 * m + 1.0));
        d = 1.0 / guard(1.0 + odd * d);
        c = guard(1.0 + odd / c);
        value *= d * c;
        if (d * c - 1.0).abs() < 1e-16 {
            break;
        }
    }
    value
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(found: f64, expected: f64, relative: f64) {
        assert!((found - expected).abs() <= relative * expected.abs(), "{found} is not {expected}");
    }

    #[test]
    fn t_quantiles_agree_with_the_printed_table() {
        // Student's t, two-sided 95 %: 12.706 (1), 2.776 (4), 2.0860 (20), 1.959964 (normal), standard tables.
        near(t_quantile(0.95, Some(1.0)), 12.706_204_736, 1e-9);
        near(t_quantile(0.95, Some(4.0)), 2.776_445_105, 1e-9);
        near(t_quantile(0.95, Some(20.0)), 2.085_963_447, 1e-9);
        near(t_quantile(0.95, None), 1.959_963_985, 1e-9);
        near(t_quantile(0.95, Some(1e9)), 1.959_963_985, 1e-8);
    }

    #[test]
    fn with_two_degrees_below_the_f_tail_has_a_closed_form() {
        // P(F(2, d) > f) = (1 + 2 f/d)^(−d/2), exact.
        for (f, d) in [(0.3, 3.0), (4.0, 7.5), (2.0, 40.0), (1.1, 5000.0)] {
            near(f_upper(f, 2.0, Some(d)), (1.0_f64 + 2.0 * f / d).powf(-0.5 * d), 1e-10);
        }
        near(f_upper(1.5, 2.0, None), (-1.5_f64).exp(), 1e-13);
    }

    #[test]
    fn with_one_degree_of_freedom_t_is_cauchy() {
        // P(|T| > t) = 1 − 2 atan(t)/π, exact.
        for t in [0.01, 1.0, 63.0] {
            let exact = 2.0 * (1.0_f64 / t).atan() / std::f64::consts::PI;
            near(t_two_sided(t, Some(1.0)), exact, 1e-12);
        }
    }

    #[test]
    fn two_published_f_tests_are_met() {
        // Gomez & Gomez (1984) seeding rates: F 2.1678 on 5 and 15, p 0.1128; Yates (1935) oats: 1.4853 on 2 and 10, p 0.2724.
        assert!((f_upper(2.1678, 5.0, Some(15.0)) - 0.1128).abs() < 1e-4);
        assert!((f_upper(1.4853, 2.0, Some(10.0)) - 0.2724).abs() < 1e-4);
    }
}
