//! What the fitted model would say of seasons drawn from itself: are its errors and intervals as good as they look?
use crosshouse_mixed::{CannotFit, Columns, Difference, Fit, Levels, Model, Prepared, Truth, refit, simulate};
use serde::Serialize;
use std::fmt::Write;

/// How many responses are drawn, and from which seed.
#[derive(Debug, Clone, Copy)]
pub struct Draws {
    pub count: usize,
    pub seed: u64,
}

/// A fit's own parametric simulation (Efron and Tibshirani 1993, An Introduction to the Bootstrap, ch. 6).
#[derive(Debug, Serialize)]
pub struct Simulated {
    pub count: usize,
    pub seed: u64,
    /// Responses that could not be fitted; they are in no share below.
    pub failed: usize,
    pub variance_components: Vec<SimulatedVariance>,
    pub differences: Vec<SimulatedDifference>,
}

#[derive(Debug, Serialize)]
pub struct SimulatedVariance {
    pub group: Vec<String>,
    pub truth: f64,
    pub mean: f64,
    /// Share of the responses in which it was estimated as zero.
    pub at_zero: f64,
}

#[derive(Debug, Serialize)]
pub struct SimulatedDifference {
    pub of: Levels,
    pub minus: Levels,
    pub within: Levels,
    pub truth: f64,
    /// Standard deviation of the estimates, to set beside the mean standard error.
    pub spread: f64,
    pub mean_se: f64,
    /// Share of the intervals that hold the truth, unadjusted.
    pub covered: f64,
}

/// Draws responses from the fit of `model` and fits each again.
///
/// # Errors
/// [`CannotFit`] where the table itself cannot be fitted.
pub fn simulated(columns: &Columns, model: &Model, draws: Draws) -> Result<Simulated, CannotFit> {
    let mut prepared = Prepared::new(columns, model)?;
    let (fit, details) = prepared.fit()?;
    let responses = simulate(&prepared, &Truth::of(&fit, &details), draws.seed, draws.count);
    let fits: Vec<Fit> = refit(&prepared, &responses).into_iter().filter_map(Result::ok).collect();
    Ok(Simulated {
        count: draws.count,
        seed: draws.seed,
        failed: draws.count - fits.len(),
        variance_components: (0..fit.variance_components.len()).map(|i| variance(i, &fit, &fits)).collect(),
        differences: fit.differences.iter().map(|d| difference(d, &fits)).collect(),
    })
}

fn variance(index: usize, fit: &Fit, fits: &[Fit]) -> SimulatedVariance {
    let values: Vec<f64> = fits.iter().filter_map(|f| f.variance_components.get(index)).map(|c| c.variance).collect();
    let truth = fit.variance_components.get(index);
    SimulatedVariance {
        group: truth.map_or_else(Vec::new, |c| c.group.clone()),
        truth: truth.map_or(0.0, |c| c.variance),
        mean: mean(&values),
        at_zero: mean(&values.iter().map(|v| f64::from(*v == 0.0)).collect::<Vec<_>>()),
    }
}

fn difference(truth: &Difference, fits: &[Fit]) -> SimulatedDifference {
    let same = |d: &&Difference| d.of == truth.of && d.minus == truth.minus && d.within == truth.within;
    let found: Vec<&Difference> = fits.iter().filter_map(|f| f.differences.iter().find(same)).collect();
    let of = |value: fn(&Difference) -> f64| found.iter().map(|d| value(d)).collect::<Vec<_>>();
    let estimates = of(|d| d.estimate);
    let centre = mean(&estimates);
    let squares: Vec<f64> = estimates.iter().map(|e| (e - centre).powi(2)).collect();
    let holds = |d: &&Difference| f64::from(d.low <= truth.estimate && truth.estimate <= d.high);
    SimulatedDifference {
        of: truth.of.clone(),
        minus: truth.minus.clone(),
        within: truth.within.clone(),
        truth: truth.estimate,
        spread: mean(&squares).sqrt(),
        mean_se: mean(&of(|d| d.se)),
        covered: mean(&found.iter().map(holds).collect::<Vec<_>>()),
    }
}

/// 0 for no values, so that no NaN reaches the result.
fn mean(values: &[f64]) -> f64 {
    if values.is_empty() { 0.0 } else { values.iter().sum::<f64>() / values.len() as f64 }
}

/// The simulation as lines for reading.
pub fn shown(simulated: &Simulated) -> String {
    let mut text = format!("\nDrawn from this fit and fitted again: {} responses, seed {}", simulated.count, simulated.seed);
    if simulated.failed > 0 {
        let _ = write!(text, ", {} of them could not be fitted", simulated.failed);
    }
    text.push('\n');
    for v in &simulated.variance_components {
        let name = v.group.join(" × ");
        let _ = writeln!(text, "{name:<48} {:>12.6} true, {:.6} on average, zero in {:.1} %", v.truth, v.mean, 100.0 * v.at_zero);
    }
    for d in &simulated.differences {
        let minus = if d.minus.is_empty() { "the average".to_owned() } else { d.minus.to_string() };
        let within = if d.within.is_empty() { String::new() } else { format!(", in {}", d.within) };
        let (name, covered) = (format!("{}{within} minus {minus}", d.of), 100.0 * d.covered);
        let _ = writeln!(text, "{name:<44} spread {:.4}, error given {:.4}, interval holds in {covered:.1} %", d.spread, d.mean_se);
    }
    text
}
