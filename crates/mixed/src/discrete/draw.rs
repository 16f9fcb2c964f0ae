//! Counts and successes drawn from a family, and the place of a record in its distribution.
//!
//! Gamma deviates: Marsaglia & Tsang (2000), ACM Trans. Math. Softw. 26:363–372. Randomised quantile residuals:
//! Dunn & Smyth (1996), J. Comput. Graph. Stat. 5:236–244.

use rand::Rng;
use rand_chacha::ChaCha8Rng;
use statrs::function::erf::erfc_inv;

use crate::model::Family;

/// A family with its dispersion parameter s, as a source of records.
#[derive(Debug, Clone, Copy)]
pub struct Source {
    /// The family.
    pub family: Family,
    /// Negative binomial: the size. Beta-binomial: a + b.
    pub s: f64,
}

/// Means above this are drawn as rounded normal deviates: the distance from the exact law is not to be seen.
const LARGE: f64 = 1e6;

/// A piece of a Poisson mean small enough for its probability of zero to be a number.
const PIECE: f64 = 500.0;

/// A number above 0 and below 1.
pub fn uniform(stream: &mut ChaCha8Rng) -> f64 {
    ((stream.next_u64() >> 11) as f64 + 0.5) / (1u64 << 53) as f64
}

/// A standard normal deviate.
pub fn normal(stream: &mut ChaCha8Rng) -> f64 {
    quantile(uniform(stream))
}

/// The standard normal quantile.
fn quantile(p: f64) -> f64 {
    -std::f64::consts::SQRT_2 * erfc_inv(2.0 * p)
}

impl Source {
    /// A record with predictor `eta` and, where the family has them, `n` trials.
    pub fn draw(&self, eta: f64, n: f64, stream: &mut ChaCha8Rng) -> f64 {
        let share = 1.0 / (1.0 + (-eta).exp());
        match self.family {
            Family::Poisson | Family::Normal => poisson(eta.exp(), stream),
            Family::NegativeBinomial => poisson(eta.exp() * gamma(self.s, stream) / self.s, stream),
            Family::Binomial => successes(share, n, stream),
            Family::BetaBinomial => {
                let (a, b) = (gamma(share * self.s, stream), gamma((1.0 - share) * self.s, stream));
                let p = if a + b > 0.0 { a / (a + b) } else { f64::from(u8::from(uniform(stream) < share)) };
                successes(p, n, stream)
            }
        }
    }

    /// log of P(k + 1)/P(k).
    fn ratio(&self, k: f64, eta: f64, n: f64) -> f64 {
        let (s, share) = (self.s, 1.0 / (1.0 + (-eta).exp()));
        match self.family {
            Family::Poisson | Family::Normal => eta - (k + 1.0).ln(),
            Family::NegativeBinomial => ((k + s) / (k + 1.0)).ln() - (s / eta.exp()).ln_1p(),
            Family::Binomial => ((n - k) / (k + 1.0)).ln() + eta,
            Family::BetaBinomial => ((n - k) / (k + 1.0) * (share * s + k) / ((1.0 - share) * s + n - k - 1.0)).ln(),
        }
    }

    fn log_zero(&self, eta: f64, n: f64) -> f64 {
        let (s, share) = (self.s, 1.0 / (1.0 + (-eta).exp()));
        match self.family {
            Family::Poisson | Family::Normal => -eta.exp(),
            Family::NegativeBinomial => -s * (eta.exp() / s).ln_1p(),
            Family::Binomial => n * (-share).ln_1p(),
            Family::BetaBinomial => {
                let super::rising::Rising(fails) = super::rising::rising((1.0 - share) * s, n);
                let super::rising::Rising(all) = super::rising::rising(s, n);
                fails[0] - all[0]
            }
        }
    }

    /// The normal quantile of a place drawn at random within a record's step of the distribution function.
    pub fn quantile_residual(&self, y: f64, eta: f64, n: f64, u: f64) -> f64 {
        let (mut log, mut below, mut k) = (self.log_zero(eta, n), 0.0, 0.0);
        while k < y {
            below += log.exp();
            log += self.ratio(k, eta, n);
            k += 1.0;
        }
        let place = below + u * log.exp();
        // The ends are kept off: beyond eight standard deviations the sum holds no digits.
        quantile(place.clamp(1e-15, 1.0 - 1e-15))
    }
}

fn poisson(mean: f64, stream: &mut ChaCha8Rng) -> f64 {
    if mean > LARGE {
        return (mean + mean.sqrt() * normal(stream)).round().max(0.0);
    }
    let (mut rest, mut count) = (mean, 0.0);
    while rest > 0.0 {
        let piece = rest.min(PIECE);
        let (least, mut product) = ((-piece).exp(), uniform(stream));
        while product > least {
            count += 1.0;
            product *= uniform(stream);
        }
        rest -= piece;
    }
    count
}

fn successes(p: f64, n: f64, stream: &mut ChaCha8Rng) -> f64 {
    if n > LARGE {
        return (n * p + (n * p * (1.0 - p)).sqrt() * normal(stream)).round().clamp(0.0, n);
    }
    (0..n as u64).filter(|_| uniform(stream) < p).count() as f64
}

fn gamma(shape: f64, stream: &mut ChaCha8Rng) -> f64 {
    if shape < 1.0 {
        return gamma(shape + 1.0, stream) * uniform(stream).powf(1.0 / shape);
    }
    let d = shape - 1.0 / 3.0;
    let c = 1.0 / (9.0 * d).sqrt();
    loop {
        let x = normal(stream);
        let v = (1.0 + c * x).powi(3);
        if v > 0.0 && uniform(stream).ln() < 0.5 * x * x + d * (1.0 - v + v.ln()) {
            return d * v;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;

    const SOURCES: [Source; 4] = [
        Source { family: Family::Poisson, s: 1.0 },
        Source { family: Family::NegativeBinomial, s: 2.5 },
        Source { family: Family::Binomial, s: 1.0 },
        Source { family: Family::BetaBinomial, s: 3.0 },
    ];

    #[test]
    fn draws_have_the_mean_and_variance_of_the_family() {
        // Poisson μ, μ; negative binomial μ, μ + μ²/s; binomial np, np(1 − p); beta-binomial × (1 + (n − 1)/(1 + s)).
        let (eta, n, count) = (0.9_f64, 12.0, 40_000);
        let (mu, p) = (eta.exp(), 1.0 / (1.0 + (-eta).exp()));
        let binomial = n * p * (1.0 - p);
        let exact = [(mu, mu), (mu, mu + mu * mu / 2.5), (n * p, binomial), (n * p, binomial * (1.0 + 11.0 / 4.0))];
        for (source, (mean, variance)) in SOURCES.iter().zip(exact) {
            let mut stream = ChaCha8Rng::seed_from_u64(5);
            let draws: Vec<f64> = (0..count).map(|_| source.draw(eta, n, &mut stream)).collect();
            let found = draws.iter().sum::<f64>() / f64::from(count);
            let spread = draws.iter().map(|y| (y - found).powi(2)).sum::<f64>() / f64::from(count);
            assert!((found - mean).abs() < 5.0 * (variance / f64::from(count)).sqrt(), "{source:?} {found} {mean}");
            assert!((spread / variance - 1.0).abs() < 0.05, "{source:?} {spread} {variance}");
        }
    }

    #[test]
    fn quantile_residuals_of_draws_are_standard_normal() {
        for source in SOURCES {
            let mut stream = ChaCha8Rng::seed_from_u64(11);
            let residuals: Vec<f64> = (0..20_000)
                .map(|_| {
                    let y = source.draw(0.4, 9.0, &mut stream);
                    source.quantile_residual(y, 0.4, 9.0, uniform(&mut stream))
                })
                .collect();
            let mean = residuals.iter().sum::<f64>() / 20_000.0;
            let square = residuals.iter().map(|r| r * r).sum::<f64>() / 20_000.0;
            let within = residuals.iter().filter(|r| r.abs() < 1.959_964).count() as f64 / 20_000.0;
            assert!(
                mean.abs() < 0.035 && (square - 1.0).abs() < 0.05 && (within - 0.95).abs() < 0.008,
                "{source:?} {mean} {square} {within}"
            );
        }
    }
}
