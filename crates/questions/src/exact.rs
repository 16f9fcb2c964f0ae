//! Exact limits of a number as counted: for a portion by Clopper & Pearson (1934), Biometrika 26:404–413; for a count
//! by the Poisson distribution (Garwood 1936, Biometrika 28:437–442). Both take every event as independent.
use statrs::function::beta::beta_reg;
use statrs::function::gamma::gamma_lr;

/// Risk of both sides together.
const RISK: f64 = 0.05;

/// 95 % limits of the share behind `number` out of `of`.
pub fn portion(number: f64, of: f64) -> (f64, f64) {
    // P(X ≥ k) at share p is the incomplete beta function I_p(k, n − k + 1).
    let low = if number <= 0.0 { 0.0 } else { solved(1.0, |p| beta_reg(number, of - number + 1.0, p), RISK / 2.0) };
    let high = if number >= of { 1.0 } else { solved(1.0, |p| beta_reg(number + 1.0, of - number, p), 1.0 - RISK / 2.0) };
    (low, high)
}

/// 95 % limits of the rate behind `number` over an exposure of `of`.
pub fn rate(number: f64, of: f64) -> (f64, f64) {
    // P(X ≥ k) at mean m is the incomplete gamma function P(k, m).
    let most = 2.0 * number + 40.0;
    let low = if number <= 0.0 { 0.0 } else { solved(most, |m| gamma_lr(number, m), RISK / 2.0) };
    let high = solved(most, |m| gamma_lr(number + 1.0, m), 1.0 - RISK / 2.0);
    (low / of, high / of)
}

/// Where a rising function between 0 and `most` reaches `value`.
fn solved(most: f64, rising: impl Fn(f64) -> f64, value: f64) -> f64 {
    let (mut low, mut high) = (0.0, most);
    for _ in 0..200 {
        let middle = 0.5 * (low + high);
        if middle > 0.0 && middle < most && rising(middle) < value { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(found: (f64, f64), expected: (f64, f64), tolerance: f64) {
        assert!((found.0 - expected.0).abs() < tolerance && (found.1 - expected.1).abs() < tolerance, "{found:?}, not {expected:?}");
    }

    #[test]
    fn nothing_out_of_n_has_the_closed_form() {
        // 1 − 0.025^(1/n), by the definition.
        near(portion(0.0, 12.0), (0.0, 1.0 - 0.025_f64.powf(1.0 / 12.0)), 1e-12);
        near(portion(12.0, 12.0), (0.025_f64.powf(1.0 / 12.0), 1.0), 1e-12);
        near(rate(0.0, 4.0), (0.0, -(0.025_f64.ln()) / 4.0), 1e-12);
    }

    #[test]
    fn one_of_two_has_limits_that_square_roots_give() {
        // P(X ≥ 1) = 1 − (1 − p)² = 0.025 and P(X ≤ 1) = 1 − p² = 0.025.
        near(portion(1.0, 2.0), (1.0 - 0.975_f64.sqrt(), 0.975_f64.sqrt()), 1e-12);
    }

    #[test]
    fn limits_leave_the_stated_tails() {
        // Sums of the binomial and Poisson probabilities themselves, not the functions that the limits come from.
        let choose = |n: u32, k: u32| (1..=k).fold(1.0, |c, i| c * f64::from(n + 1 - i) / f64::from(i));
        let (n, k) = (30, 7);
        let (low, high) = portion(f64::from(k), f64::from(n));
        let at_least = |p: f64| (k..=n).map(|j| choose(n, j) * p.powi(j as i32) * (1.0 - p).powi((n - j) as i32)).sum::<f64>();
        let at_most = |p: f64| (0..=k).map(|j| choose(n, j) * p.powi(j as i32) * (1.0 - p).powi((n - j) as i32)).sum::<f64>();
        assert!((at_least(low) - 0.025).abs() < 1e-10 && (at_most(high) - 0.025).abs() < 1e-10);
        let (low, high) = rate(5.0, 2.0);
        let poisson = |m: f64, k: i32| (0..=k).fold((0.0, (-m).exp()), |(sum, p), j| (sum + p, p * m / f64::from(j + 1))).0;
        assert!((1.0 - poisson(2.0 * low, 4) - 0.025).abs() < 1e-10 && (poisson(2.0 * high, 5) - 0.025).abs() < 1e-10);
    }
}
