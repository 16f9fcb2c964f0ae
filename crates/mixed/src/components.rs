//! Variances, correlations and autocorrelation as they are reported, and remarks on those at an edge.

use crate::cannot_fit::CannotFit;
use crate::design::RandomTerm;
use crate::likelihood::{First, Likelihood};
use crate::linear::Matrix;
use crate::notice::{Notice, NoticeCode};
use crate::result::{Correlation, SerialCorrelation, VarianceComponent};
use crate::search::{FAR_LOG, Found, LARGEST, LARGEST_RHO};

/// The covariance's parameters in response units.
pub struct CovarianceParts {
    /// Random terms in order, then the residual.
    pub variances: Vec<VarianceComponent>,
    /// Correlations of varying coefficients.
    pub correlations: Vec<Correlation>,
    /// Autocorrelation.
    pub serial: Option<SerialCorrelation>,
}

/// The components of a fit whose response was divided by `unit`.
pub fn report_components(likelihood: &Likelihood<'_>, first: &First, unit: f64) -> CovarianceParts {
    let design = likelihood.design;
    let scale = first.scale * unit * unit;
    let (variances, correlations) = random_components(&design.terms, &first.point.sigma, scale);
    let mut parts = CovarianceParts { variances, correlations, serial: None };
    let several = design.residual.strata.len() > 1;
    for (level, variance) in design.residual.strata.iter().zip(&first.point.strata) {
        parts.variances.push(VarianceComponent {
            group: vec!["residual".to_owned()],
            effect: None,
            level: (several || !level.is_empty()).then(|| level.clone()),
            variance: scale * variance,
            interval: None,
        });
    }
    parts.serial = design.residual.series.as_ref().map(|_| SerialCorrelation { correlation: first.point.rho, interval: None });
    parts
}

/// Variances and correlations of the random terms, whose covariances are `scale` times `sigma`.
pub fn random_components(terms: &[RandomTerm], sigma: &[Matrix], scale: f64) -> (Vec<VarianceComponent>, Vec<Correlation>) {
    let (mut variances, mut correlations) = (Vec::new(), Vec::new());
    for (term, sigma) in terms.iter().zip(sigma) {
        for (a, coefficient) in term.coefficients.iter().enumerate() {
            variances.push(VarianceComponent {
                group: term.group.clone(),
                effect: Some(coefficient.effect.clone()),
                level: None,
                variance: scale * sigma[(a, a)] / (coefficient.scale * coefficient.scale),
                interval: None,
            });
            for (b, other) in term.coefficients.iter().enumerate().take(a) {
                let product = sigma[(a, a)] * sigma[(b, b)];
                let value = (product > 0.0).then(|| (sigma[(a, b)] / product.sqrt()).clamp(-1.0, 1.0));
                let between = [other.effect.join(":"), coefficient.effect.join(":")];
                correlations.push(Correlation { group: term.group.clone(), between, value, interval: None });
            }
        }
    }
    (variances, correlations)
}

/// Remarks on estimates at the edge of their range.
///
/// # Errors
/// [`CannotFit::NoResidualVariation`] where a random term explains everything.
pub fn report_edges(likelihood: &Likelihood<'_>, found: &Found, unit: f64) -> Result<Vec<Notice>, CannotFit> {
    let design = likelihood.design;
    let first = &found.first;
    let point = &first.point;
    let mut notices = Vec::new();
    for (term, sigma) in design.terms.iter().zip(&point.sigma) {
        term_edges(term, sigma, &mut notices)?;
    }
    for (level, variance) in design.residual.strata.iter().zip(&point.strata) {
        if variance.ln().abs() > FAR_LOG {
            notices.push(NoticeCode::ResidualVarianceAtEdge.says(format!(
                "the residual variance at {level} is estimated at the edge of its range ({:e}): the records there, or those \
                 elsewhere, show no variation of their own",
                first.scale * variance * unit * unit
            )));
        }
    }
    if point.rho.abs() >= (LARGEST_RHO - 0.5).tanh() {
        notices.push(NoticeCode::CorrelationAtEdge.says("the autocorrelation is estimated at the edge of its range"));
    }
    if let Some(opinion) = &found.search.second_opinion {
        notices.push(NoticeCode::Checked.says(format!(
            "the search was repeated without derivatives from two starts: no effect moved by more than {:.1e} of its standard error",
            opinion.largest_change
        )));
    }
    Ok(notices)
}

/// Remarks on a random term whose covariance, relative to the residual variance where there is one, is `sigma`.
///
/// # Errors
/// As [`report_edges`].
pub fn term_edges(term: &RandomTerm, sigma: &Matrix, notices: &mut Vec<Notice>) -> Result<(), CannotFit> {
    let group = term.group.join(" × ");
    for (a, coefficient) in term.coefficients.iter().enumerate() {
        let effect = if coefficient.effect.is_empty() { String::new() } else { format!(" of {}", coefficient.effect.join(" × ")) };
        if sigma[(a, a)] >= 0.99 * LARGEST {
            return Err(CannotFit::NoResidualVariation { explained: format!("the combinations of {group}") });
        }
        if sigma[(a, a)] == 0.0 {
            notices.push(
                NoticeCode::VarianceAtZero.says(format!(
                    "the variance{effect} between combinations of {group} is estimated as zero; the term stays in the model"
                )),
            );
        }
        for b in 0..a {
            let product = sigma[(a, a)] * sigma[(b, b)];
            if product > 0.0 && sigma[(a, b)].powi(2) > (1.0 - 1e-9) * product {
                notices.push(
                    NoticeCode::CorrelationAtEdge
                        .says(format!("the correlation of the coefficients over {group} is estimated at the edge of its range")),
                );
            }
        }
    }
    Ok(())
}
