//! The search for the variances, with one verdict.

mod moments;
mod newton;
mod parameters;
mod secant;
mod second_opinion;
mod start;

use newton::Reached;
pub use newton::damped;
pub use parameters::{FAR_LOG, LARGEST, LARGEST_RHO};
use parameters::{Parameter, Parameters};
pub use secant::Secant;

use crate::cannot_fit::CannotFit;
use crate::design::Design;
use crate::likelihood::{First, Likelihood};
use crate::linear::Matrix;
use crate::result::{Search, SecondOpinion};

/// The optimum and how it was reached.
pub struct Found {
    /// The likelihood there.
    pub first: First,
    /// The record.
    pub search: Search,
}

/// Two answers agree when no fixed effect differs by more than this, in its standard errors.
const AGREE: f64 = 0.001;

/// Finds the optimum of the likelihood.
pub fn search(likelihood: &Likelihood<'_>) -> Result<Found, CannotFit> {
    let design = likelihood.design;
    let mut parameters = Parameters::new(design);
    let start = start::start(design, &parameters, likelihood.response);
    let not_finite = || CannotFit::NotFinite { place: "the starting variances".to_owned() };
    if parameters.all.is_empty() {
        let mut first = likelihood.first(&parameters.point(&[])).ok_or_else(not_finite)?;
        likelihood.complete(&mut first);
        let search = Search { evaluations: 1, ..Search::default() };
        return Ok(Found { first, search });
    }
    let mut reached = newton::climb(likelihood, &parameters, &start)
        .or_else(|| newton::climb(likelihood, &parameters, &modest(&parameters)))
        .ok_or_else(not_finite)?;
    if let Some((other, values)) = parameters.relative_to_largest(design, &reached.values)
        && let Some(again) = newton::climb(likelihood, &other, &values)
    {
        (parameters, reached) = (other, again);
    }
    let mut opinion = None;
    if reached.decrement.is_nan() || reached.decrement >= newton::CONVERGED {
        (reached, opinion) = ask_again(likelihood, &parameters, &start, reached)?;
    }
    let search = record(design, &parameters, &start, &reached, opinion);
    likelihood.complete(&mut reached.first);
    Ok(Found { first: reached.first, search })
}

fn modest(parameters: &Parameters) -> Vec<f64> {
    let value = |index| if parameters.is_bounded(index) { 0.3 } else { 0.0 };
    (0..parameters.all.len()).map(value).collect()
}

/// A derivative-free search from two starts; the best of all is taken if they agree.
fn ask_again(
    likelihood: &Likelihood<'_>,
    parameters: &Parameters,
    start: &[f64],
    first: Reached,
) -> Result<(Reached, Option<SecondOpinion>), CannotFit> {
    let mut best = first.clone();
    let mut others = Vec::new();
    for from in [start, &first.values] {
        let Some(values) = second_opinion::second_search(likelihood, parameters, from) else { continue };
        let Some(mut reached) = newton::climb(likelihood, parameters, &values) else { continue };
        reached.evaluations += first.evaluations;
        others.push(reached.clone());
        if reached.first.value > best.first.value {
            best = reached;
        }
    }
    let gap = |reached: &Reached| largest_change(&best.first, &reached.first);
    let near = |reached: &&Reached| best.first.value - reached.first.value < 1e-4;
    match others.iter().find(|other| gap(other) > AGREE && near(other)) {
        Some(other) => Err(CannotFit::NoSingleAnswer {
            first: best.first.value,
            first_at: format!("{:?}", best.values),
            second: other.first.value,
            second_at: format!("{:?}", other.values),
        }),
        None => {
            let opinion =
                SecondOpinion { best: best.values.clone(), gain: best.first.value - first.first.value, largest_change: gap(&first) };
            Ok((best, Some(opinion)))
        }
    }
}

/// The largest difference of a fixed effect, in its standard error.
fn largest_change(a: &First, b: &First) -> f64 {
    let se = |i: usize| (a.phi[(i, i)] * a.scale).sqrt();
    a.beta.iter().zip(&b.beta).enumerate().map(|(i, (x, y))| (x - y).abs() / se(i)).fold(0.0, f64::max)
}

fn record(design: &Design, parameters: &Parameters, start: &[f64], reached: &Reached, second_opinion: Option<SecondOpinion>) -> Search {
    let rows = |matrix: &Matrix| (0..matrix.rows()).map(|i| matrix.transposed().col(i).to_vec()).collect();
    Search {
        parameters: parameters.all.iter().map(|parameter| name(design, *parameter)).collect(),
        start: start.to_vec(),
        best: reached.values.clone(),
        evaluations: reached.evaluations,
        gradient: reached.gradient.clone(),
        curvature: rows(&reached.curvature),
        second_opinion,
    }
}

/// A parameter in words.
fn name(design: &Design, parameter: Parameter) -> String {
    let group = |term: usize| design.terms[term].group.join(" × ");
    let effect = |term: usize, at: usize| {
        let effect = &design.terms[term].coefficients[at].effect;
        if effect.is_empty() { "overall".to_owned() } else { effect.join(" × ") }
    };
    match parameter {
        Parameter::Variance { term } => format!("relative variance of {} over {}", effect(term, 0), group(term)),
        Parameter::Root { term, row, col } => {
            format!("covariance root {}, {} over {}", effect(term, row), effect(term, col), group(term))
        }
        Parameter::LogVariance { stratum } => {
            format!("log relative residual variance, {}", design.residual.strata[stratum])
        }
        Parameter::Rho => "inverse hyperbolic tangent of the autocorrelation".to_owned(),
    }
}
