//! Adjusted means and differences with their intervals, and the adjustment of each family.

use super::Fixed;
use super::family::{Family, families};
use crate::cannot_fit::CannotFit;
use crate::discrete::Law;
use crate::distributions::{t_quantile, t_two_sided, t_upper};
use crate::freedom::Inference;
use crate::model::{self, Compare, Model, Pairs, ResponseScale};
use crate::multiplicity::{Adjust, Adjusted, Compared, adjust, letters};
use crate::notice::{Notice, NoticeCode};
use crate::result::{AdjustedMean, Difference, NotEstimable};

/// Below this many degrees of freedom a difference says nothing, and its family is not adjusted: the distributions'
/// tails would fall over hundreds of orders of magnitude.
const LEAST_FREEDOM: f64 = 0.05;

/// What comparisons add to a fit.
#[derive(Default)]
pub struct Comparisons {
    /// The means.
    pub means: Vec<AdjustedMean>,
    /// The differences.
    pub differences: Vec<Difference>,
    /// What cannot be estimated.
    pub not_estimable: Vec<NotEstimable>,
}

/// Estimate, standard error and interval of one combination.
struct Row {
    estimate: f64,
    se: f64,
    df: Option<f64>,
    low: f64,
    high: f64,
}

/// Carries out all comparisons of a model.
pub fn comparisons(fixed: &Fixed<'_>, inference: &Inference, model: &Model, notices: &mut Vec<Notice>) -> Result<Comparisons, CannotFit> {
    let mut all = Comparisons::default();
    for compare in &model.compare {
        let one = One { fixed, inference, model, compare };
        for family in families(fixed, compare)? {
            one.family(&family, &mut all, notices);
        }
    }
    Ok(all)
}

struct One<'c> {
    fixed: &'c Fixed<'c>,
    inference: &'c Inference,
    model: &'c Model,
    compare: &'c Compare,
}

impl One<'_> {
    fn level(&self) -> f64 {
        self.model.estimation.level
    }

    fn family(&self, family: &Family, all: &mut Comparisons, notices: &mut Vec<Notice>) {
        let differences = self.differences(family);
        let letters = self.letters(family, &differences, notices);
        if self.compare.adjust != Adjust::None && differences.iter().any(|difference| difference.p_adjusted.is_none()) {
            let of = self.compare.means_of.join(" × ");
            notices.push(NoticeCode::FreedomUndefined.says(format!(
                "the differences of {of} are not adjusted for their number: one of them has less than {LEAST_FREEDOM} degrees of freedom"
            )));
        }
        for (index, mean) in family.means.iter().enumerate().filter(|(_, mean)| mean.is_estimable) {
            let row = self.row(&self.fixed.kept(&mean.contrast));
            let back = back(self.model);
            let back = back.as_ref();
            all.means.push(AdjustedMean {
                of: mean.of.clone(),
                within: family.within.clone(),
                response: back.map(|back| back(row.estimate)),
                response_low: back.map(|back| back(row.low)),
                response_high: back.map(|back| back(row.high)),
                letters: letters.as_ref().and_then(|letters| letters.get(index).cloned()),
                estimate: row.estimate,
                se: row.se,
                df: row.df,
                low: row.low,
                high: row.high,
            });
        }
        all.not_estimable.extend(family.not_estimable(self.fixed, self.compare));
        all.differences.extend(differences);
    }

    fn row(&self, contrast: &[f64]) -> Row {
        let estimate = self.inference.estimate(contrast);
        let se = self.inference.covariance(contrast, contrast).max(0.0).sqrt();
        let df = self.inference.freedom(contrast);
        let half = t_quantile(self.level(), df) * se;
        Row { estimate, se, df, low: estimate - half, high: estimate + half }
    }

    fn differences(&self, family: &Family) -> Vec<Difference> {
        let estimable: Vec<_> = family.pairs.iter().filter(|pair| pair.is_estimable).collect();
        let contrasts: Vec<Vec<f64>> = estimable.iter().map(|pair| self.fixed.kept(&pair.contrast)).collect();
        let mut differences: Vec<Difference> = estimable
            .iter()
            .zip(&contrasts)
            .map(|(pair, contrast)| {
                let row = self.row(contrast);
                let t = row.estimate / row.se;
                Difference {
                    of: family.means[pair.first].of.clone(),
                    minus: family.minus(pair),
                    within: family.within.clone(),
                    estimate: row.estimate,
                    se: row.se,
                    df: row.df,
                    t,
                    p: t_two_sided(t, row.df),
                    low: row.low,
                    high: row.high,
                    adjust: self.compare.adjust,
                    p_adjusted: None,
                    low_adjusted: None,
                    high_adjusted: None,
                    margin: self.compare.margin,
                    p_equivalent: self.compare.margin.map(|margin| p_equivalent(&row, margin)),
                }
            })
            .collect();
        let bears = differences.iter().all(|difference| difference.df.is_none_or(|df| df >= LEAST_FREEDOM));
        if self.compare.adjust != Adjust::None && !differences.is_empty() && bears {
            let adjusted = self.adjusted(&differences, &contrasts, family.means.len());
            for (difference, adjusted) in differences.iter_mut().zip(adjusted) {
                difference.p_adjusted = Some(adjusted.p);
                difference.low_adjusted = adjusted.multiplier.map(|m| difference.estimate - m * difference.se);
                difference.high_adjusted = adjusted.multiplier.map(|m| difference.estimate + m * difference.se);
            }
        }
        differences
    }

    fn adjusted(&self, differences: &[Difference], contrasts: &[Vec<f64>], means: usize) -> Vec<Adjusted> {
        let family: Vec<Compared> = differences.iter().map(|d| Compared { t: d.t, df: d.df, p: d.p }).collect();
        let correlation = if matches!(self.compare.adjust, Adjust::Dunnett | Adjust::Joint) {
            self.correlation(differences, contrasts)
        } else {
            Vec::new()
        };
        adjust(&family, self.compare.adjust, self.level(), means, &correlation)
    }

    fn correlation(&self, differences: &[Difference], contrasts: &[Vec<f64>]) -> Vec<f64> {
        let mut all = Vec::with_capacity(contrasts.len() * contrasts.len());
        for (i, one) in contrasts.iter().enumerate() {
            for (j, other) in contrasts.iter().enumerate() {
                let value = self.inference.covariance(one, other) / (differences[i].se * differences[j].se);
                all.push(if i == j { 1.0 } else { value.clamp(-1.0, 1.0) });
            }
        }
        all
    }

    fn letters(&self, family: &Family, differences: &[Difference], notices: &mut Vec<Notice>) -> Option<Vec<String>> {
        if !self.compare.letters {
            return None;
        }
        let n = family.means.len();
        let complete = self.compare.pairs == Pairs::All && differences.len() == n * (n - 1) / 2;
        let estimable = family.means.iter().all(|mean| mean.is_estimable);
        let mut p = vec![None; n * n];
        for (pair, difference) in family.pairs.iter().filter(|pair| pair.is_estimable).zip(differences) {
            if let Some(second) = pair.second {
                p[pair.first * n + second] = Some(difference.p_adjusted.unwrap_or(difference.p));
            }
        }
        let estimates: Vec<f64> = family.means.iter().map(|mean| self.inference.estimate(&self.fixed.kept(&mean.contrast))).collect();
        let drawn = (complete && estimable).then(|| letters(&estimates, |i, j| p[i.min(j) * n + i.max(j)], self.level())).flatten();
        if drawn.is_none() {
            let of = self.compare.means_of.join(" × ");
            let at = if family.within.is_empty() { String::new() } else { format!(" at {}", family.within) };
            notices.push(
                NoticeCode::LettersLeftOut
                    .says(format!("no letters for the means of {of}{at}: they need every pair of the family, and each estimable")),
            );
        }
        drawn
    }
}

fn p_equivalent(row: &Row, margin: f64) -> f64 {
    let above = t_upper((row.estimate + margin) / row.se, row.df);
    let below = t_upper(-(row.estimate - margin) / row.se, row.df);
    above.max(below)
}

fn back(model: &Model) -> Option<Box<dyn Fn(f64) -> f64>> {
    if model.family != model::Family::Normal {
        let family = model.family;
        return Some(Box::new(move |eta| Law::inverse_link(family, eta)));
    }
    match model.response_scale {
        ResponseScale::Identity => None,
        ResponseScale::Log => Some(Box::new(f64::exp)),
        ResponseScale::Sqrt => Some(Box::new(|x| x * x)),
    }
}
