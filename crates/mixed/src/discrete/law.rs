//! Log densities of the discrete families with their derivatives by the linear predictor η and by the
//! logarithm κ of the dispersion parameter.
//!
//! Negative binomial: variance μ + μ²/s, κ = log s. Beta-binomial: a = ps, b = (1 − p)s, κ = log s, intraclass
//! correlation 1/(1 + s). Links: log for counts, logit for shares.

use statrs::function::gamma::ln_gamma;

use super::rising::{Rising, rising};
use crate::model::Family;

/// A record's response and what of its density does not change.
#[derive(Debug, Clone, Copy)]
pub struct Record {
    /// The count, or the successes.
    pub y: f64,
    /// The trials; 0 for counts.
    pub n: f64,
    /// −log y!, or the logarithm of the binomial coefficient.
    pub constant: f64,
    /// Place among the distinct counts.
    pub distinct: u32,
}

/// A log density with its first two derivatives by η.
#[derive(Debug, Clone, Copy, Default)]
pub struct Low {
    /// log f
    pub value: f64,
    /// First derivative.
    pub first: f64,
    /// Second derivative.
    pub second: f64,
}

/// What the likelihood's gradient needs besides [`Low`].
#[derive(Debug, Clone, Copy, Default)]
pub struct High {
    /// Third derivative by η.
    pub third: f64,
    /// Derivative by κ.
    pub by_kappa: f64,
    /// Its first derivative by η.
    pub first_by_kappa: f64,
    /// Its second derivative by η.
    pub second_by_kappa: f64,
}

/// A family at one value of κ.
#[derive(Debug, Clone)]
pub struct Law {
    family: Family,
    s: f64,
    /// Negative binomial, by distinct count y: Σ log(1 + j/s) and Σ j/(s + j) over j < y.
    counts: Vec<(f64, f64)>,
}

/// Whether the family has a dispersion parameter.
pub fn has_dispersion(family: Family) -> bool {
    matches!(family, Family::NegativeBinomial | Family::BetaBinomial)
}

impl Record {
    /// A record of a family.
    pub fn new(family: Family, y: f64, n: f64) -> Self {
        let constant = if family.has_trials() { ln_gamma(n + 1.0) - ln_gamma(y + 1.0) - ln_gamma(n - y + 1.0) } else { -ln_gamma(y + 1.0) };
        Self { y, n, constant, distinct: 0 }
    }
}

impl Law {
    /// The family at κ; `distinct` are the counts that occur, ascending.
    pub fn new(family: Family, kappa: f64, distinct: &[f64]) -> Self {
        let s = kappa.exp();
        let counts = if family == Family::NegativeBinomial { count_sums(s, distinct) } else { Vec::new() };
        Self { family, s, counts }
    }

    /// The mean of one unit of exposure, or the share.
    pub fn inverse_link(family: Family, eta: f64) -> f64 {
        if family.has_trials() { logistic(eta) } else { eta.exp() }
    }

    /// log f and two derivatives.
    pub fn low(&self, record: &Record, eta: f64) -> Low {
        let Record { y, n, constant, .. } = *record;
        match self.family {
            Family::Poisson | Family::Normal => poisson(record, eta).0,
            Family::NegativeBinomial => self.overdispersed(record, eta).low(),
            Family::Binomial => {
                let (p, softplus) = logistic_and_softplus(eta);
                Low { value: constant + y * eta - n * softplus, first: y - n * p, second: -n * p * (1.0 - p) }
            }
            Family::BetaBinomial => Share::new(self.s, record, eta).low(constant),
        }
    }

    /// The first derivative alone.
    pub fn first(&self, record: &Record, eta: f64) -> f64 {
        match self.family {
            Family::Poisson | Family::Normal => record.y - eta.exp(),
            Family::NegativeBinomial => record.y - (record.y + self.s) * odds(eta, self.s).1,
            Family::Binomial => record.y - record.n * logistic(eta),
            Family::BetaBinomial => self.low(record, eta).first,
        }
    }

    /// [`low`](Self::low) and the further derivatives, which share their costly parts.
    pub fn both(&self, record: &Record, eta: f64) -> (Low, High) {
        match self.family {
            Family::Poisson | Family::Normal => poisson(record, eta),
            Family::NegativeBinomial => {
                let parts = self.overdispersed(record, eta);
                (parts.low(), parts.high())
            }
            Family::Binomial => {
                let low = self.low(record, eta);
                let p = (record.y - low.first) / record.n;
                (low, High { third: low.second * (1.0 - 2.0 * p), ..High::default() })
            }
            Family::BetaBinomial => {
                let share = Share::new(self.s, record, eta);
                (share.low(record.constant), share.high())
            }
        }
    }

    fn overdispersed(&self, record: &Record, eta: f64) -> Overdispersed {
        let (ratio, r) = odds(eta, self.s);
        let (rise, fall) = self.counts.get(record.distinct as usize).copied().unwrap_or_default();
        let (total, spread) = (record.y + self.s, ratio.ln_1p());
        Overdispersed { value: rise + record.constant + record.y * eta - total * spread, y: record.y, s: self.s, r, spread, fall }
    }

    /// Mean and variance of a record.
    pub fn moments(&self, record: &Record, eta: f64) -> (f64, f64) {
        let (n, s) = (record.n, self.s);
        match self.family {
            Family::Poisson | Family::Normal => (eta.exp(), eta.exp()),
            Family::NegativeBinomial => (eta.exp(), eta.exp() * (1.0 + eta.exp() / s)),
            Family::Binomial => (n * logistic(eta), n * logistic(eta) * logistic(-eta)),
            Family::BetaBinomial => {
                let p = logistic(eta);
                (n * p, n * p * logistic(-eta) * (1.0 + (n - 1.0) / (1.0 + s)))
            }
        }
    }

    /// The probability of a zero count.
    pub fn zero(&self, eta: f64) -> f64 {
        match self.family {
            Family::NegativeBinomial => (-self.s * (eta.exp() / self.s).ln_1p()).exp(),
            _ => (-eta.exp()).exp(),
        }
    }
}

/// μ/s and μ/(μ + s).
fn odds(eta: f64, s: f64) -> (f64, f64) {
    let ratio = eta.exp() / s;
    (ratio, if ratio.is_finite() { ratio / (1.0 + ratio) } else { 1.0 })
}

fn logistic(eta: f64) -> f64 {
    if eta >= 0.0 { 1.0 / (1.0 + (-eta).exp()) } else { eta.exp() / (1.0 + eta.exp()) }
}

/// The share at η, and log(1 + exp η).
fn logistic_and_softplus(eta: f64) -> (f64, f64) {
    let far = (-eta.abs()).exp();
    let (softplus, p) = (eta.max(0.0) + far.ln_1p(), 1.0 / (1.0 + far));
    (if eta >= 0.0 { p } else { far * p }, softplus)
}

fn poisson(record: &Record, eta: f64) -> (Low, High) {
    let mu = eta.exp();
    let low = Low { value: record.y * eta - mu + record.constant, first: record.y - mu, second: -mu };
    (low, High { third: -mu, ..High::default() })
}

/// The parts of a negative-binomial density.
struct Overdispersed {
    value: f64,
    y: f64,
    s: f64,
    /// μ/(μ + s)
    r: f64,
    /// log(1 + μ/s)
    spread: f64,
    /// Σ j/(s + j) over j < y
    fall: f64,
}

impl Overdispersed {
    fn low(&self) -> Low {
        let total = self.y + self.s;
        Low { value: self.value, first: self.y - total * self.r, second: -total * self.r * (1.0 - self.r) }
    }

    fn high(&self) -> High {
        let Self { y, s, r, spread, fall, .. } = *self;
        let (total, g) = (y + s, r * (1.0 - r));
        High {
            third: -total * g * (1.0 - 2.0 * r),
            by_kappa: total * r - s * spread - fall,
            first_by_kappa: total * g - s * r,
            second_by_kappa: total * g * (1.0 - 2.0 * r) - s * g,
        }
    }
}

/// Counts farther apart than this are reached by gamma functions instead of sums.
const FAR: f64 = 256.0;

fn count_sums(s: f64, distinct: &[f64]) -> Vec<(f64, f64)> {
    let (mut rise, mut fall, mut reached) = (0.0, 0.0, 0.0);
    distinct
        .iter()
        .map(|y| {
            if y - reached > FAR {
                let Rising(r) = rising(s + reached, y - reached);
                rise += r[0] - (y - reached) * s.ln();
                fall += (y - reached) - s * r[1];
                reached = *y;
            }
            // One logarithm for several factors, before their product leaves the range.
            let mut product = 1.0;
            while reached < *y {
                product *= 1.0 + reached / s;
                fall += reached / (s + reached);
                reached += 1.0;
                if product > 1e200 {
                    rise += f64::ln(product);
                    product = 1.0;
                }
            }
            rise += if product < 2.0 { f64::ln_1p(product - 1.0) } else { product.ln() };
            (rise, fall)
        })
        .collect()
}

/// The parts of a beta-binomial density.
struct Share {
    s: f64,
    p: f64,
    /// p(1 − p)
    g: f64,
    a: [f64; 4],
    b: [f64; 4],
    c: [f64; 4],
}

impl Share {
    fn new(s: f64, record: &Record, eta: f64) -> Self {
        // Far out a share of exactly 0 or 1 has no density; the predictor is held where it still has one.
        let (p, other) = (logistic(eta).max(1e-300), logistic(-eta).max(1e-300));
        let Rising(a) = rising(p * s, record.y);
        let Rising(b) = rising(other * s, record.n - record.y);
        let Rising(c) = rising(s, record.n);
        Self { s, p, g: p * other, a, b, c }
    }

    fn low(&self, constant: f64) -> Low {
        let Self { s, p, g, a, b, c } = self;
        let sg = s * g;
        let (d1, d2) = (a[1] - b[1], a[2] + b[2]);
        Low { value: constant + a[0] + b[0] - c[0], first: sg * d1, second: sg * (1.0 - 2.0 * p) * d1 + sg * sg * d2 }
    }

    fn high(&self) -> High {
        let Self { s, p, g, a, b, c } = self;
        let (sg, turn) = (s * g, 1.0 - 2.0 * p);
        let (alpha, beta) = (p * s, (1.0 - p) * s);
        let (d1, d2, d3) = (a[1] - b[1], a[2] + b[2], a[3] - b[3]);
        let d1_kappa = d1 + alpha * a[2] - beta * b[2];
        let d2_kappa = 2.0 * d2 + alpha * a[3] + beta * b[3];
        High {
            third: sg * (1.0 - 6.0 * g) * d1 + 3.0 * sg * sg * turn * d2 + sg * sg * sg * d3,
            by_kappa: alpha * a[1] + beta * b[1] - s * c[1],
            first_by_kappa: sg * d1_kappa,
            second_by_kappa: sg * turn * d1_kappa + sg * sg * d2_kappa,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const FAMILIES: [Family; 4] = [Family::Poisson, Family::NegativeBinomial, Family::Binomial, Family::BetaBinomial];

    fn at(family: Family, y: f64, eta: f64, kappa: f64) -> (Low, High) {
        let law = Law::new(family, kappa, &[y]);
        let record = Record::new(family, y, if family.has_trials() { 40.0 } else { 0.0 });
        law.both(&record, eta)
    }

    #[test]
    fn every_derivative_is_the_slope_of_the_one_before() {
        let h = 1e-5;
        for family in FAMILIES {
            for (y, eta, kappa) in [(0.0, -1.3, 0.4), (3.0, 0.7, -0.5), (37.0, 1.9, 2.0)] {
                let (low, high) = at(family, y, eta, kappa);
                let ((up, up_high), (down, down_high)) = (at(family, y, eta + h, kappa), at(family, y, eta - h, kappa));
                let ((more, _), (less, _)) = (at(family, y, eta, kappa + h), at(family, y, eta, kappa - h));
                let slopes = [
                    (low.first, up.value - down.value),
                    (low.second, up.first - down.first),
                    (high.third, up.second - down.second),
                    (high.by_kappa, more.value - less.value),
                    (high.first_by_kappa, up_high.by_kappa - down_high.by_kappa),
                    (high.second_by_kappa, up_high.first_by_kappa - down_high.first_by_kappa),
                ];
                for (which, (found, difference)) in slopes.iter().enumerate() {
                    let slope = difference / (2.0 * h);
                    assert!((found - slope).abs() < 2e-7 * (1.0 + slope.abs()), "{family:?} {which}: {found} {slope}");
                }
            }
        }
    }

    #[test]
    fn densities_sum_to_one() {
        for family in FAMILIES {
            let last = if family.has_trials() { 40 } else { 400 };
            let total: f64 = (0..=last).map(|y| at(family, f64::from(y), 0.4, 0.3).0.value.exp()).sum();
            assert!((total - 1.0).abs() < 1e-10, "{family:?}: {total}");
        }
    }
}
