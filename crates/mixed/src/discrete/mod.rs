//! Counts and shares: families with a log or logit link, by Laplace's approximation or quadrature.

mod curvature;
mod draw;
mod laplace;
mod law;
mod local;
mod mode;
mod parameters;
mod problem;
mod quadrature;
mod records;
mod remarks;
mod rising;
mod search;
mod separation;
mod start;

pub use draw::{Source, normal, uniform};
pub use law::Law;

use crate::infer::NO_INFORMATION;
use law::Record;
use parameters::KAPPA;
use problem::Problem;
use quadrature::Rule;
use remarks::Fitted;
use search::Found;
use separation::{Counted, Stopped};

use crate::cannot_fit::CannotFit;
use crate::components::{random_components, term_edges};
use crate::design::{Design, Rank};
use crate::identify::identify;
use crate::linear::{Cholesky, Matrix};
use crate::model::{Family, Model};
use crate::notice::{Notice, NoticeCode};
use crate::result::{Correlation, Dispersion, NotEstimable, Search, SeparatedCell, VarianceComponent};

/// A fit of a discrete family, before tests and comparisons.
pub struct DiscreteFit {
    /// Fixed effects on the link scale.
    pub beta: Vec<f64>,
    /// Their covariance, from the second derivatives in all parameters together.
    pub covariance: Matrix,
    /// Log-likelihood, all constants included.
    pub log_likelihood: f64,
    /// Variances of the random terms, link scale squared.
    pub variances: Vec<VarianceComponent>,
    /// Their correlations.
    pub correlations: Vec<Correlation>,
    /// Dispersion, where the family has one.
    pub dispersion: Option<Dispersion>,
    /// Remarks.
    pub notices: Vec<Notice>,
    /// For each row used, fixed part plus offset, on the link scale.
    pub fitted: Vec<f64>,
    /// As `fitted`, with the predicted random effects.
    pub predicted: Vec<f64>,
    /// (y − μ)/√V at `predicted`.
    pub residuals: Vec<f64>,
    /// How the optimum was reached.
    pub search: Search,
}

/// Checks a response of counts or successes for what no fit can use.
///
/// # Errors
/// [`CannotFit::NoResidualVariation`] for a response that never varies.
fn check_variation(records: &[Record], offset: &[f64]) -> Result<(), CannotFit> {
    let [first, ..] = records else { return Ok(()) };
    let is_same = records.iter().all(|record| record.y == first.y && record.n == first.n);
    let is_inside = first.y > 0.0 && (first.n == 0.0 || first.y < first.n);
    if is_same && is_inside && offset.iter().all(|o| o == &offset[0]) {
        return Err(CannotFit::NoResidualVariation { explained: "the effects".to_owned() });
    }
    Ok(())
}

/// Records that no finite predictor describes, set apart from a fit of the others.
pub struct Apart<'d> {
    /// Rank of the effects in the records left.
    pub rank: Rank,
    /// Rows of the table left.
    pub rows: Vec<usize>,
    /// What was counted in the records set apart.
    pub cells: Vec<SeparatedCell>,
    counted: Counted<'d>,
}

/// Fits counts or successes `response`, one for each row used, and gives the fit to `then`, with the records that
/// had to be set apart.
///
/// # Errors
/// [`CannotFit`] where these records cannot carry the model.
pub fn fit<T>(
    design: &Design,
    model: &Model,
    response: &[f64],
    then: impl FnOnce(DiscreteFit, Option<&Apart<'_>>) -> Result<T, CannotFit>,
) -> Result<T, CannotFit> {
    let family = model.family;
    let column = |name: &Option<String>| name.as_ref().and_then(|name| design.table.numbers.get(name));
    let trials = column(&model.trials);
    let offset = column(&model.offset).cloned().unwrap_or_else(|| vec![0.0; response.len()]);
    let of_row = |(row, y): (usize, &f64)| Record::new(family, *y, trials.map_or(0.0, |trials| trials[row]));
    let records: Vec<Record> = response.iter().enumerate().map(of_row).collect();
    let counted = Counted { family, records: &records, offset: &offset, level: model.estimation.level };
    match fit_records(design, model, counted) {
        Ok(found) => then(found, None),
        Err(Stopped::Cannot(why)) => Err(why),
        Err(Stopped::Separated(apart)) => {
            let (found, apart) = fit_the_others(design, model, counted, apart)?;
            then(found, Some(&apart))
        }
    }
}

/// Fits the records that are not `apart`, of which more may have to be set apart.
fn fit_the_others<'d>(
    design: &Design,
    model: &Model,
    counted: Counted<'d>,
    mut apart: Vec<bool>,
) -> Result<(DiscreteFit, Apart<'d>), CannotFit> {
    loop {
        let refuse = || counted.refuse(design, &apart);
        let keep: Vec<bool> = apart.iter().map(|apart| !apart).collect();
        let places: Vec<usize> = (0..keep.len()).filter(|row| keep[*row]).collect();
        if places.is_empty() {
            return Err(refuse());
        }
        let rest = design.only(model, &keep).map_err(|_| refuse())?;
        // A direction of the effects must end with the records it takes away.
        if rest.columns() >= design.columns() || identify(&rest, model.family).is_err() {
            return Err(refuse());
        }
        let records: Vec<Record> = places.iter().map(|row| counted.records[*row]).collect();
        let offset: Vec<f64> = places.iter().map(|row| counted.offset[*row]).collect();
        match fit_records(&rest, model, Counted { records: &records, offset: &offset, ..counted }) {
            Ok(mut found) => {
                found.notices.insert(0, NoticeCode::Separation.says(counted.notice(design, &apart)));
                let cells = counted.cells(design, &apart);
                return Ok((found, Apart { rank: rest.rank, rows: rest.table.rows, cells, counted }));
            }
            Err(Stopped::Separated(more)) => {
                let further: Vec<usize> = places.iter().zip(more).filter(|(_, more)| *more).map(|(row, _)| *row).collect();
                further.iter().for_each(|row| apart[*row] = true);
            }
            Err(Stopped::Cannot(_)) => return Err(refuse()),
        }
    }
}

impl Apart<'_> {
    /// Gives what the records set apart make inestimable its reason; `before` is inestimable whatever was counted.
    pub fn explain(&self, entries: &mut [NotEstimable], before: &[NotEstimable]) {
        self.counted.explain(entries, before, &self.cells);
    }
}

fn fit_records(design: &Design, model: &Model, counted: Counted<'_>) -> Result<DiscreteFit, Stopped> {
    let Counted { family, offset, .. } = counted;
    check_variation(counted.records, offset)?;
    let rule = model.estimation.nodes.filter(|nodes| *nodes > 1).and_then(Rule::new);
    let mut theta = start::plain(design, counted)?;
    let mut records = counted.records.to_vec();
    let start::Spread { roots, kappa } = start::spread(design, family, &records, offset, &theta);
    let too_many = || CannotFit::NotFinite { place: "the number of random columns".to_owned() };
    let problem = Problem::new(design, family, &mut records, offset, rule).ok_or_else(too_many)?;
    theta.extend(problem.layout.entries.iter().map(|(term, row, col)| if row == col { roots[*term][*row] } else { 0.0 }));
    theta.extend(problem.layout.dispersion.then_some(kappa));
    let begin = theta.clone();
    let found = search::search(&problem, &theta)?;
    let fit = report(&problem, &records, offset, begin, found)?;
    check_information(design, counted, &fit.covariance)?;
    Ok(fit)
}

/// Refuses a fit whose predictors have run out to where the records no longer hold them.
fn check_information(design: &Design, counted: Counted<'_>, covariance: &Matrix) -> Result<(), CannotFit> {
    let variance = |cell: usize| -> f64 {
        let entries = design.cells.entries(cell);
        entries.clone().map(|(a, x)| entries.clone().map(|(b, y)| x * y * covariance[(a, b)]).sum::<f64>()).sum()
    };
    let is_lost: Vec<bool> = (0..design.cells.len()).map(|cell| variance(cell) > NO_INFORMATION * NO_INFORMATION).collect();
    if is_lost.contains(&true) {
        let apart: Vec<bool> = design.cells.of_row.iter().map(|cell| is_lost[*cell as usize]).collect();
        return Err(counted.refuse(design, &apart));
    }
    Ok(())
}

fn report(problem: &Problem<'_>, records: &[Record], offset: &[f64], begin: Vec<f64>, found: Found) -> Result<DiscreteFit, CannotFit> {
    let Problem { design, layout, family, .. } = problem;
    let beta = found.theta[..layout.fixed].to_vec();
    let roots = layout.roots(&found.theta);
    let sigma: Vec<Matrix> = roots.iter().map(|root| root.times(&root.transposed())).collect();
    let mut notices = Vec::new();
    for (term, sigma) in design.terms.iter().zip(&sigma) {
        term_edges(term, sigma, &mut notices)?;
    }
    let kappa = layout.kappa(&found.theta);
    notices.extend(dispersion_edge(*family, kappa));
    let cells = design.cells.times(&beta);
    let fitted: Vec<f64> = design.cells.of_row.iter().zip(offset).map(|(cell, offset)| cells[*cell as usize] + offset).collect();
    let mut predicted = fitted.clone();
    let mut used = layout.fixed as f64;
    for (part, mode) in problem.parts.iter().zip(&found.at.modes) {
        let loadings = part.loadings(&roots);
        part.rows.iter().enumerate().for_each(|(i, row)| predicted[*row] += part.times(&loadings, mode, i));
    }
    let law = problem.law(kappa);
    used += taken(problem, &roots, &law, &predicted);
    let judged = Fitted { family: *family, law: &law, records, eta: &predicted, used };
    notices.extend(judged.spread());
    notices.extend(judged.zeros());
    notices.extend(remarks::few_groups(&design.terms));
    let (variances, correlations) = random_components(&design.terms, &sigma, 1.0);
    Ok(DiscreteFit {
        covariance: covariance(layout.fixed, &found)?,
        beta,
        log_likelihood: found.at.value,
        variances,
        correlations,
        dispersion: dispersion(*family, kappa),
        notices,
        residuals: records.iter().zip(&predicted).map(|(record, eta)| judged.pearson(record, *eta)).collect(),
        fitted,
        predicted,
        search: record(problem, begin, &found),
    })
}

/// Freedom that the random effects take: the trace of M′WM (I + M′WM)⁻¹.
fn taken(problem: &Problem<'_>, roots: &[Matrix], law: &Law, eta: &[f64]) -> f64 {
    let of_part = |part: &records::Part| {
        let loadings = part.loadings(roots);
        let weights: Vec<f64> = part.records.iter().zip(&part.rows).map(|(record, row)| -law.low(record, eta[*row]).second).collect();
        let weighed = part.weigh(&loadings, |i| weights[i]);
        weighed.inverse_of_one_plus().map_or(0.0, |inverse| weighed.inner(&inverse.selected()))
    };
    problem.parts.iter().filter(|part| part.random > 0).map(of_part).sum()
}

/// The fixed effects' block of the inverse second derivatives in all free parameters.
fn covariance(fixed: usize, found: &Found) -> Result<Matrix, CannotFit> {
    let free = &found.free;
    let not_finite = || CannotFit::NotFinite { place: "the standard errors".to_owned() };
    let part = Matrix::from_fn(free.len(), free.len(), |i, j| found.curvature[(free[i], free[j])]);
    let inverse = Cholesky::new(&part).ok_or_else(not_finite)?.inverse();
    // Fixed effects are never held: they stand first among the free parameters.
    let covariance = inverse.part(0..fixed, 0..fixed);
    covariance.is_finite().then_some(covariance).ok_or_else(not_finite)
}

fn dispersion(family: Family, kappa: f64) -> Option<Dispersion> {
    match family {
        Family::NegativeBinomial => Some(Dispersion { size: Some(kappa.exp()), intraclass: None }),
        Family::BetaBinomial => Some(Dispersion { size: None, intraclass: Some(1.0 / (1.0 + kappa.exp())) }),
        _ => None,
    }
}

fn dispersion_edge(family: Family, kappa: f64) -> Option<Notice> {
    let simpler = match family {
        Family::NegativeBinomial => "poisson",
        Family::BetaBinomial => "binomial",
        _ => return None,
    };
    if kappa >= KAPPA.1 {
        let text = format!(
            "no spread beyond family \"{simpler}\" is found: the dispersion is estimated at the edge of its range, where the two families are one"
        );
        return Some(NoticeCode::DispersionAtEdge.says(text));
    }
    let text = "the dispersion is estimated at the edge of its range: the records spread more than this family can follow";
    (kappa <= KAPPA.0).then(|| NoticeCode::DispersionAtEdge.says(text))
}

fn record(problem: &Problem<'_>, start: Vec<f64>, found: &Found) -> Search {
    let layout = &problem.layout;
    let fixed = (0..layout.fixed).map(|index| format!("fixed effect column {}", index + 1));
    let roots = layout.entries.iter().map(|(term, row, col)| {
        let group = problem.design.terms[*term].group.join(" × ");
        format!("covariance root {}, {} over {group}", row + 1, col + 1)
    });
    let kappa = layout.dispersion.then(|| "log of the dispersion parameter".to_owned());
    Search {
        parameters: fixed.chain(roots).chain(kappa).collect(),
        start,
        best: found.theta.clone(),
        evaluations: found.evaluations,
        gradient: found.at.gradient.clone(),
        curvature: (0..found.curvature.rows()).map(|row| found.curvature.col(row).to_vec()).collect(),
        second_opinion: None,
    }
}
