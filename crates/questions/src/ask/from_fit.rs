//! From a fit of the engine to means and differences of the answer.
use super::{Asked, Case};
use crate::answers::{Difference, Levels, Mean, Residual};
use crate::cells::Combination;
use crate::freedom::{Judged, judged};
use crate::inference::{difference_shown, mean_shown, restated};
use crate::likelihood::Law;
use crate::records::{self, Record};
use crosshouse_mixed::{AdjustedMean, CannotFit, Fit, FitDetails, Model, Prepared, quantile_residuals};

/// A fit with its fitted values and residuals.
pub(super) struct Fitted {
    /// As the engine gives it.
    pub fit: Fit,
    /// With the freedom of the design, where the engine's is that of large samples: what is answered from.
    pub told: Fit,
    pub judged: Option<Judged>,
    pub residuals: Vec<Residual>,
}

impl Case<'_> {
    pub(super) fn combination(&self, names: &[String], levels: &crosshouse_mixed::Levels) -> Combination {
        names.iter().filter_map(|n| levels.get(n).map(str::to_owned)).collect()
    }

    pub(super) fn differences(&self, fit: &Fit, keep: impl Fn(&Asked) -> bool) -> Vec<Difference> {
        let asked = |d: &crosshouse_mixed::Difference| Asked {
            of: self.combination(&self.q.compare, &d.of),
            minus: self.combination(&self.q.compare, &d.minus),
            within: self.combination(&self.q.within, &d.within),
        };
        let mut list: Vec<Difference> = Vec::new();
        for d in fit.differences.iter().filter(|d| keep(&asked(d))) {
            let mut told = difference(d);
            if list.iter().any(|o| o.of == told.of && o.minus == told.minus && o.within == told.within) {
                continue;
            }
            let mean = |of: &crosshouse_mixed::Levels| fit.adjusted_means.iter().find(|m| m.of == *of && m.within == d.within);
            told.shown = difference_shown(self.law, &told, mean(&d.of).zip(mean(&d.minus)));
            list.push(told);
        }
        list
    }

    pub(super) fn means(&self, fit: &Fit, records: &[Record], keep: impl Fn(&Combination, &Combination) -> bool) -> Vec<Mean> {
        let of_question = |m: &&AdjustedMean| m.of.0.len() == self.q.compare.len() && m.within.0.len() == self.varying_within().len();
        let kept = |m: &&AdjustedMean| keep(&self.combination(&self.q.compare, &m.of), &self.combination(&self.q.within, &m.within));
        let mut list: Vec<Mean> = Vec::new();
        for m in fit.adjusted_means.iter().filter(of_question).filter(kept) {
            let mean = self.mean(m, records);
            if !list.iter().any(|other| other.of == mean.of && other.within == mean.within) {
                list.push(mean);
            }
        }
        list
    }

    /// The means of single cells, from the family that the site's model adds.
    pub(super) fn cell_means(&self, fit: &Fit, records: &[Record]) -> Vec<Mean> {
        let most = fit.adjusted_means.iter().map(|m| m.of.0.len()).max().unwrap_or(0);
        let cells = fit.adjusted_means.iter().filter(|m| m.of.0.len() == most && m.within.is_empty());
        let mut list: Vec<Mean> = Vec::new();
        for mut m in cells.map(|m| self.mean(m, records)).filter(|m| m.units > 0) {
            for f in self.factors.iter().filter(|f| !m.of.contains_key(&f.name)).collect::<Vec<_>>() {
                // A factor of one level here is part of the cell's name all the same.
                m.of.extend(records.first().map(|r| (f.name.clone(), r.category(&f.name).to_owned())));
            }
            if !list.iter().any(|other| other.of == m.of) {
                list.push(m);
            }
        }
        list
    }

    fn mean(&self, m: &AdjustedMean, records: &[Record]) -> Mean {
        let mut told = mean(m, records);
        told.shown = mean_shown(self.law, &told);
        told
    }

    pub(super) fn run(&self, model: &Model, records: &[Record]) -> Result<Fitted, String> {
        let columns = records::columns(records, model).map_err(|e| e.to_string())?;
        let said = |e: CannotFit| said(&e, records);
        let mut prepared = Prepared::new(&columns, model).map_err(said)?;
        let (fit, details) = prepared.fit().map_err(said)?;
        let law = self.law.by(model.family);
        if !law.counts() {
            let residuals = residuals(&details, records);
            return Ok(Fitted { told: fit.clone(), fit, judged: None, residuals });
        }
        let judged = judged(records, model, &fit, &self.q.compare)?;
        let told = restated(&fit, model, &judged);
        let places = quantile_residuals(&prepared, &fit, &details, self.seed).unwrap_or_default();
        let residuals = placed(&details, &places, records, law);
        Ok(Fitted { fit, told, judged: Some(judged), residuals })
    }
}

/// Fitted values on the response's scale, for one unit of exposure, with randomised quantile residuals.
fn placed(details: &FitDetails, places: &[f64], records: &[Record], law: Law) -> Vec<Residual> {
    let one = |((row, eta), place): ((&usize, &f64), &f64)| {
        let r = records.get(*row)?;
        let offset = if law.family.has_trials() { 0.0 } else { r.counted.map_or(0.0, |c| c.of.ln()) };
        Some(Residual { site: r.site.clone(), unit: r.unit.clone(), fitted: law.link().back(eta - offset), residual: *place })
    };
    details.rows.iter().zip(&details.predicted).zip(places).filter_map(one).collect()
}

/// The engine's reason in words of the trial.
fn said(error: &CannotFit, records: &[Record]) -> String {
    match error.code() {
        "no-freedom" => format!(
            "{} units are no more than the treatments, blocks and sites that they stand for: none is left over to judge a difference by",
            records.len()
        ),
        "no-residual-variation" => "all units of a treatment have the same value: nothing is left to judge a difference by".to_owned(),
        _ => error.to_string(),
    }
}

fn residuals(details: &FitDetails, records: &[Record]) -> Vec<Residual> {
    let one = |((row, fitted), residual): ((&usize, &f64), &f64)| {
        records.get(*row).map(|r| Residual { site: r.site.clone(), unit: r.unit.clone(), fitted: *fitted, residual: *residual })
    };
    details.rows.iter().zip(&details.predicted).zip(&details.residuals).filter_map(one).collect()
}

fn levels(of: &crosshouse_mixed::Levels) -> Levels {
    of.0.iter().cloned().collect()
}

fn mean(m: &AdjustedMean, records: &[Record]) -> Mean {
    let (of, within) = (levels(&m.of), levels(&m.within));
    let behind: Vec<f64> =
        records.iter().filter(|r| of.iter().chain(&within).all(|(f, l)| r.category(f) == l)).map(|r| r.response).collect();
    let raw_mean = (!behind.is_empty()).then(|| behind.iter().sum::<f64>() / behind.len() as f64);
    Mean {
        of,
        within,
        estimate: m.estimate,
        se: m.se,
        df: m.df,
        low: m.low,
        high: m.high,
        letters: m.letters.clone(),
        units: behind.len() as u32,
        raw_mean,
        shown: None,
    }
}

fn difference(d: &crosshouse_mixed::Difference) -> Difference {
    let adjust = serde_json::to_value(d.adjust).ok().and_then(|v| v.as_str().map(str::to_owned)).unwrap_or_default();
    Difference {
        of: levels(&d.of),
        minus: levels(&d.minus),
        within: levels(&d.within),
        estimate: d.estimate,
        se: d.se,
        df: d.df,
        low: d.low,
        high: d.high,
        p: Some(d.p),
        p_adjusted: d.p_adjusted,
        low_adjusted: d.low_adjusted,
        high_adjusted: d.high_adjusted,
        adjust,
        margin: d.margin,
        p_equivalent: d.p_equivalent,
        shown: Vec::new(),
    }
}
