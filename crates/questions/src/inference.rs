//! A fit of counts or shares with the freedom that its design has, and every fit's numbers on the response's scale.
use crate::answers::{Difference, Mean, Quantity, Shown};
use crate::freedom::Judged;
use crate::likelihood::{Law, Link};
use crosshouse_mixed::multiplicity::{Adjusted, Compared, adjust, letters, studentized_range_upper};
use crosshouse_mixed::{Adjust, AdjustedMean, Compare, Fit, Levels, Model, Pairs};
use std::f64::consts::SQRT_2;

/// The fit with Student's t on the design's freedom in place of large-sample quantiles; estimates stay.
pub fn restated(fit: &Fit, model: &Model, judged: &Judged) -> Fit {
    let mut fit = fit.clone();
    let level = model.estimation.level;
    let half = multiplier(level, judged.df_means);
    for mean in &mut fit.adjusted_means {
        mean.se *= judged.widening;
        mean.df = Some(judged.df_means);
        (mean.low, mean.high) = (mean.estimate - half * mean.se, mean.estimate + half * mean.se);
        (mean.response_low, mean.response_high) = (None, None);
    }
    let half = multiplier(level, judged.df);
    for d in &mut fit.differences {
        d.se *= judged.widening;
        d.df = Some(judged.df);
        d.t = d.estimate / d.se;
        // The range of two means is √2 times the absolute t.
        d.p = studentized_range_upper(d.t.abs() * SQRT_2, 2, d.df);
        (d.low, d.high) = (d.estimate - half * d.se, d.estimate + half * d.se);
    }
    if let Some(compare) = model.compare.first() {
        adjust_families(&mut fit, compare, level);
    }
    fit
}

fn multiplier(level: f64, df: f64) -> f64 {
    let one = Compared { t: 0.0, df: Some(df), p: 1.0 };
    adjust(&[one], Adjust::None, level, 2, &[]).first().and_then(|a| a.multiplier).unwrap_or(f64::NAN)
}

/// The family at every combination of `within`, adjusted anew.
fn adjust_families(fit: &mut Fit, compare: &Compare, level: f64) {
    let mut at: Vec<Levels> = fit.differences.iter().map(|d| d.within.clone()).collect();
    at.sort();
    at.dedup();
    for within in at {
        let family = Family::at(fit, compare, &within);
        let adjusted = family.adjusted(fit, compare, level);
        for (index, adjusted) in family.members.iter().zip(adjusted) {
            if let Some(d) = fit.differences.get_mut(*index).filter(|_| compare.adjust != Adjust::None) {
                d.p_adjusted = Some(adjusted.p);
                d.low_adjusted = adjusted.multiplier.map(|m| d.estimate - m * d.se);
                d.high_adjusted = adjusted.multiplier.map(|m| d.estimate + m * d.se);
            }
        }
        if compare.letters && compare.pairs == Pairs::All {
            family.letter(fit, level);
        }
    }
}

/// The means and differences of one family, by their places in the fit.
struct Family {
    means: Vec<usize>,
    members: Vec<usize>,
}

impl Family {
    fn at(fit: &Fit, compare: &Compare, within: &Levels) -> Self {
        let mut members: Vec<usize> = Vec::new();
        for (i, d) in fit.differences.iter().enumerate().filter(|(_, d)| d.within == *within && d.adjust == compare.adjust) {
            let known = |j: &usize| fit.differences.get(*j).is_some_and(|o| same_pair(&o.of, &o.minus, &d.of, &d.minus));
            if !members.iter().any(known) {
                members.push(i);
            }
        }
        let mut means: Vec<usize> = Vec::new();
        let sized = |m: &&AdjustedMean| m.within == *within && m.of.0.len() == compare.means_of.len();
        for (i, m) in fit.adjusted_means.iter().enumerate().filter(|(_, m)| sized(m)) {
            if !means.iter().any(|j| fit.adjusted_means.get(*j).is_some_and(|o| o.of == m.of)) {
                means.push(i);
            }
        }
        Family { means, members }
    }

    fn adjusted(&self, fit: &Fit, compare: &Compare, level: f64) -> Vec<Adjusted> {
        let of = |i: &usize| fit.differences.get(*i).map(|d| Compared { t: d.t, df: d.df, p: d.p });
        let compared: Vec<Compared> = self.members.iter().filter_map(of).collect();
        let joint = matches!(compare.adjust, Adjust::Dunnett | Adjust::Joint);
        let correlation = if joint { self.correlation(fit) } else { Vec::new() };
        adjust(&compared, compare.adjust, level, self.means.len(), &correlation)
    }

    /// Correlations of the differences, from the covariances of the means: (a² + b² − (a − b)²) / 2 of standard errors.
    fn correlation(&self, fit: &Fit) -> Vec<f64> {
        let mean = |i: usize| self.means.get(i).and_then(|m| fit.adjusted_means.get(*m));
        let covariance = |i: usize, j: usize| {
            let (Some(a), Some(b)) = (mean(i), mean(j)) else { return f64::NAN };
            if i == j { a.se * a.se } else { covariance(fit, a, b).unwrap_or(f64::NAN) }
        };
        let weights: Vec<Vec<f64>> = self.members.iter().filter_map(|d| fit.differences.get(*d)).map(|d| self.weights(fit, d)).collect();
        let product = |a: &[f64], b: &[f64]| -> f64 {
            let rows = a.iter().enumerate().filter(|(_, x)| **x != 0.0);
            rows.map(|(i, x)| b.iter().enumerate().filter(|(_, y)| **y != 0.0).map(|(j, y)| x * y * covariance(i, j)).sum::<f64>()).sum()
        };
        let spread: Vec<f64> = weights.iter().map(|w| product(w, w).sqrt()).collect();
        let mut all = Vec::with_capacity(weights.len() * weights.len());
        for (i, (a, sa)) in weights.iter().zip(&spread).enumerate() {
            for (j, (b, sb)) in weights.iter().zip(&spread).enumerate() {
                all.push(if i == j { 1.0 } else { (product(a, b) / (sa * sb)).clamp(-1.0, 1.0) });
            }
        }
        all
    }

    /// The difference as weights of the family's means.
    fn weights(&self, fit: &Fit, d: &crosshouse_mixed::Difference) -> Vec<f64> {
        let average = if d.minus.is_empty() { 1.0 / self.means.len() as f64 } else { 0.0 };
        let weight = |m: &AdjustedMean| f64::from(m.of == d.of) - f64::from(m.of == d.minus) - average;
        self.means.iter().filter_map(|i| fit.adjusted_means.get(*i)).map(weight).collect()
    }

    fn letter(&self, fit: &mut Fit, level: f64) {
        let of: Vec<Levels> = self.means.iter().filter_map(|i| fit.adjusted_means.get(*i)).map(|m| m.of.clone()).collect();
        let estimates: Vec<f64> = self.means.iter().filter_map(|i| fit.adjusted_means.get(*i)).map(|m| m.estimate).collect();
        let p = |i: usize, j: usize| {
            let (a, b) = (of.get(i)?, of.get(j)?);
            let members = self.members.iter().filter_map(|d| fit.differences.get(*d));
            members.clone().find(|d| same_pair(&d.of, &d.minus, a, b)).and_then(|d| d.p_adjusted.or(Some(d.p)))
        };
        let drawn = letters(&estimates, p, level);
        for (place, index) in self.means.iter().enumerate() {
            if let Some(mean) = fit.adjusted_means.get_mut(*index) {
                mean.letters = drawn.as_ref().and_then(|l| l.get(place).cloned());
            }
        }
    }
}

fn same_pair(a: &Levels, b: &Levels, c: &Levels, d: &Levels) -> bool {
    (a == c && b == d) || (a == d && b == c)
}

/// Covariance of two means of a fit, from the standard errors of both and of their difference.
fn covariance(fit: &Fit, a: &AdjustedMean, b: &AdjustedMean) -> Option<f64> {
    let d = fit.differences.iter().find(|d| d.within == a.within && same_pair(&d.of, &d.minus, &a.of, &b.of))?;
    Some(0.5 * (a.se * a.se + b.se * b.se - d.se * d.se))
}

/// A mean on the response's scale: its limits turned back, its standard error by the delta method.
pub fn mean_shown(law: Law, m: &Mean) -> Option<Shown> {
    let link = law.link();
    (link != Link::Identity).then(|| Shown {
        quantity: law.mean_quantity(),
        estimate: link.back(m.estimate),
        se: (link.slope(m.estimate) * m.se).abs(),
        low: link.back(m.low),
        high: link.back(m.high),
        low_adjusted: None,
        high_adjusted: None,
    })
}

/// What a difference is published as; `means` are those it is of.
pub fn difference_shown(law: Law, d: &Difference, means: Option<(&AdjustedMean, &AdjustedMean)>) -> Vec<Shown> {
    match law.link() {
        Link::Identity => Vec::new(),
        Link::Log => vec![ratio(Quantity::Ratio, d)],
        Link::Logit => {
            let shares = means.map(|(a, b)| of_shares(Quantity::DifferenceOfShares, Link::Logit, d, a, b));
            shares.into_iter().chain([ratio(Quantity::OddsRatio, d)]).collect()
        }
        Link::Sqrt => means.map(|(a, b)| of_shares(Quantity::DifferenceOfSquaredRoots, Link::Sqrt, d, a, b)).into_iter().collect(),
    }
}

fn ratio(quantity: Quantity, d: &Difference) -> Shown {
    Shown {
        quantity,
        estimate: d.estimate.exp(),
        se: d.estimate.exp() * d.se,
        low: d.low.exp(),
        high: d.high.exp(),
        low_adjusted: d.low_adjusted.map(f64::exp),
        high_adjusted: d.high_adjusted.map(f64::exp),
    }
}

/// The difference of two means turned back, with limits by the method of variance estimates recovery.
///
/// # Source
/// Zou & Donner (2008), Statistics in Medicine 27:1693–1702; with the correlation of the two as in Zou (2008),
/// American Journal of Epidemiology 168:212–224.
fn of_shares(quantity: Quantity, link: Link, d: &Difference, a: &AdjustedMean, b: &AdjustedMean) -> Shown {
    let together = 2.0 * a.se * b.se;
    let correlation = if together > 0.0 { ((a.se * a.se + b.se * b.se - d.se * d.se) / together).clamp(-1.0, 1.0) } else { 0.0 };
    let recovered = |half: f64| {
        let multiplier = half / d.se;
        let limits = |m: &AdjustedMean| (link.back(m.estimate - multiplier * m.se), link.back(m.estimate + multiplier * m.se));
        recovered(link.back(a.estimate), limits(a), link.back(b.estimate), limits(b), correlation)
    };
    let (low, high) = recovered(d.high - d.estimate);
    let adjusted = d.high_adjusted.map(|high| recovered(high - d.estimate));
    let (sa, sb) = (link.slope(a.estimate) * a.se, link.slope(b.estimate) * b.se);
    Shown {
        quantity,
        estimate: link.back(a.estimate) - link.back(b.estimate),
        se: (sa * sa + sb * sb - 2.0 * correlation * sa * sb).max(0.0).sqrt(),
        low,
        high,
        low_adjusted: adjusted.map(|a| a.0),
        high_adjusted: adjusted.map(|a| a.1),
    }
}

/// Limits of a − b from the limits of each and their correlation.
fn recovered(a: f64, (al, au): (f64, f64), b: f64, (bl, bu): (f64, f64), correlation: f64) -> (f64, f64) {
    let reach = |x: f64, y: f64| (x * x + y * y - 2.0 * correlation * x * y).max(0.0).sqrt();
    (a - b - reach(a - al, bu - b), a - b + reach(au - a, b - bl))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn symmetric_limits_are_recovered_as_those_of_the_difference() {
        // With limits a ± z·sa and b ± z·sb the method is the usual interval: ± z·√(sa² + sb² − 2ρ·sa·sb), by its definition.
        let (low, high) = recovered(3.0, (2.0, 4.0), 1.0, (0.5, 1.5), 0.3);
        let half = (1.0f64 + 0.25 - 2.0 * 0.3 * 0.5).sqrt();
        assert!((low - (2.0 - half)).abs() < 1e-14 && (high - (2.0 + half)).abs() < 1e-14);
    }

    #[test]
    fn newcombes_interval_of_two_independent_shares_is_recovered_from_their_score_limits() {
        // Newcombe (1998), Statistics in Medicine 17:873–890, table II, method 10, for 56/70 − 48/80: 0.0524 to 0.3339.
        let wilson = |x: f64, n: f64| {
            let (p, z) = (x / n, 1.959_963_984_540_054_f64);
            let (middle, half) = (p + z * z / (2.0 * n), z * (p * (1.0 - p) / n + z * z / (4.0 * n * n)).sqrt());
            ((middle - half) / (1.0 + z * z / n), (middle + half) / (1.0 + z * z / n))
        };
        let (low, high) = recovered(0.8, wilson(56.0, 70.0), 0.6, wilson(48.0, 80.0), 0.0);
        assert!((low - 0.0524).abs() < 5e-5 && (high - 0.3339).abs() < 5e-5, "{low} {high}");
    }

    #[test]
    fn students_t_on_20_degrees_is_2_085963() {
        // Any printed table of Student's t, two-sided 5 %.
        assert!((multiplier(0.95, 20.0) - 2.085_963).abs() < 5e-7);
    }
}
