//! log Γ(x + k) − log Γ(x) for whole k, and its derivatives by x, without the cancellation of two log gammas.
//!
//! Short runs are summed term by term; long ones by Stirling's series (Abramowitz & Stegun 1964, 6.1.40,
//! 6.3.18, 6.4.12 and the derivative of the last) from where it holds to rounding.

/// The rising factorial's logarithm and its first three derivatives by x.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Rising(pub [f64; 4]);

/// Runs up to this length are summed.
const SUMMED_UP_TO: f64 = 32.0;

/// From here on six terms of Stirling's series are exact to rounding.
const STIRLING_FROM: f64 = 16.0;

/// log Γ(x + k) − log Γ(x) and derivatives, x > 0, k ≥ 0 whole.
pub fn rising(x: f64, k: f64) -> Rising {
    if k <= SUMMED_UP_TO {
        return summed(x, k);
    }
    let short = (STIRLING_FROM - x).ceil().max(0.0);
    let Rising(mut total) = summed(x, short);
    let (high, low) = (stirling(x + k), stirling(x + short));
    total.iter_mut().zip(high.iter().zip(&low)).for_each(|(t, (h, l))| *t += h - l);
    Rising(total)
}

fn summed(x: f64, k: f64) -> Rising {
    let mut sums = [0.0; 4];
    let (mut product, mut j) = (1.0, 0.0);
    while j < k {
        let inverse = 1.0 / (x + j);
        product *= x + j;
        // One logarithm for several factors, before the product leaves the range.
        if !(1e-200..1e200).contains(&product) {
            sums[0] += product.ln();
            product = 1.0;
        }
        sums[1] += inverse;
        sums[2] -= inverse * inverse;
        sums[3] += 2.0 * inverse * inverse * inverse;
        j += 1.0;
    }
    sums[0] += product.ln();
    Rising(sums)
}

/// log Γ(x) and its derivatives, up to a constant, for large x.
fn stirling(x: f64) -> [f64; 4] {
    // Bernoulli numbers B₂ … B₁₂.
    const B: [f64; 6] = [1.0 / 6.0, -1.0 / 30.0, 1.0 / 42.0, -1.0 / 30.0, 5.0 / 66.0, -691.0 / 2730.0];
    let inverse = 1.0 / x;
    let mut out = [(x - 0.5) * x.ln() - x, x.ln() - 0.5 * inverse, inverse + 0.5 * inverse * inverse, -inverse * inverse * (1.0 + inverse)];
    let mut power = inverse;
    for (index, b) in B.iter().enumerate() {
        let m = 2.0 * (index as f64 + 1.0);
        out[0] += b * power / (m * (m - 1.0));
        out[1] -= b * power * inverse / m;
        out[2] += b * power * inverse * inverse;
        out[3] -= b * (m + 1.0) * power * inverse * inverse * inverse;
        power *= inverse * inverse;
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_runs_agree_with_their_sums() {
        for (x, k) in [(0.3, 40.0), (2.5, 700.0), (30.0, 5000.0), (1e5, 33.0)] {
            let (Rising(a), Rising(b)) = (rising(x, k), summed(x, k));
            for (a, b) in a.iter().zip(&b) {
                assert!((a - b).abs() <= 1e-12 * b.abs().max(1e-3) + 1e-13 * f64::max(1.0, x.ln() * x * 1e-3), "{x} {k}: {a} {b}");
            }
        }
    }

    #[test]
    fn the_rising_factorial_of_one_is_the_factorial() {
        // 10! = 3 628 800; digamma(11) − digamma(1) = 1 + 1/2 + … + 1/10 = 7381/2520.
        let Rising(r) = rising(1.0, 10.0);
        assert!((r[0] - 3_628_800.0_f64.ln()).abs() < 1e-13);
        assert!((r[1] - 7381.0 / 2520.0).abs() < 1e-14);
    }
}
