//! A design made ready once, on which any number of responses are fitted.

use crate::cannot_fit::CannotFit;
use crate::columns::Columns;
use crate::components::{report_components, report_edges};
use crate::design::{Design, Rank, check_counts};
use crate::discrete::{self, Apart, DiscreteFit};
use crate::freedom::Inference;
use crate::identify::identify;
use crate::infer::{Fixed, comparisons, effects_not_estimable, not_estimable, once, tests, within_reach};
use crate::likelihood::Likelihood;
use crate::model::{Criterion, Family, Model};
use crate::notice::{Notice, NoticeCode};
use crate::result::{Fit, FitDetails};
use crate::search::{Found, search};
use crate::standard::Standardised;

/// A model and the rows of a table that it uses, ready for fitting.
#[derive(Debug, Clone)]
pub struct Prepared {
    model: Model,
    design: Design,
}

impl Prepared {
    /// Checks model and table and sorts the rows.
    ///
    /// # Errors
    /// [`CannotFit`] for an unusable model or table, or data that cannot carry the model.
    pub fn new(data: &Columns, model: &Model) -> Result<Self, CannotFit> {
        let design = Design::new(data, model)?;
        identify(&design, model.family)?;
        Ok(Self { model: model.clone(), design })
    }

    /// Rows of the table that are used, from 0, ascending.
    pub fn rows(&self) -> &[usize] {
        &self.design.table.rows
    }

    /// The response as the table has it, on the fitted scale, for the rows used.
    pub fn response(&self) -> &[f64] {
        &self.design.table.response
    }

    pub(crate) fn model(&self) -> &Model {
        &self.model
    }

    /// Writes the sums of a response, standardised, into the design.
    pub(crate) fn fill(&mut self, response: &[f64]) {
        self.design.fill_response(response);
    }

    pub(crate) fn design(&self) -> &Design {
        &self.design
    }

    /// Fits the table's own response.
    ///
    /// # Errors
    /// [`CannotFit`] where these data cannot carry the model.
    pub fn fit(&mut self) -> Result<(Fit, FitDetails), CannotFit> {
        let response = self.design.table.response.clone();
        self.fit_response(&response)
    }

    /// Fits another response, on the fitted scale, one value for each of [`rows`](Self::rows).
    ///
    /// # Errors
    /// [`CannotFit`] where these data cannot carry the model.
    pub fn fit_response(&mut self, response: &[f64]) -> Result<(Fit, FitDetails), CannotFit> {
        self.check_response(response)?;
        if self.model.family != Family::Normal {
            check_counts(&self.model, response, &self.design.table.rows)?;
            return discrete::fit(&self.design, &self.model, response, |found, apart| self.report_discrete(found, apart));
        }
        let not_finite = || CannotFit::NotFinite { place: "least squares".to_owned() };
        let standard = Standardised::new(&self.design, response).ok_or_else(not_finite)?;
        if standard.is_exact {
            return Err(CannotFit::NoResidualVariation { explained: "the effects".to_owned() });
        }
        self.design.fill_response(&standard.response);
        let restricted = self.model.criterion() == Criterion::Reml;
        let likelihood = Likelihood::new(&self.design, &standard.response, restricted);
        let found = search(&likelihood)?;
        self.report(&likelihood, &standard, found)
    }

    fn check_response(&self, response: &[f64]) -> Result<(), CannotFit> {
        let rows = self.design.rows();
        if let Some(bad) = response.iter().position(|y| !y.is_finite()) {
            let row = self.design.table.rows.get(bad).map_or(0, |row| row + 1);
            return Err(CannotFit::Infinite { column: self.model.response.clone(), row });
        }
        if response.len() == rows {
            return Ok(());
        }
        Err(CannotFit::NotFinite { place: format!("a response of {} values for {rows} rows", response.len()) })
    }

    fn report(&self, likelihood: &Likelihood<'_>, standard: &Standardised, found: Found) -> Result<(Fit, FitDetails), CannotFit> {
        let first = &found.first;
        let unit = standard.scale;
        let beta: Vec<f64> = standard.base.iter().zip(&first.beta).map(|(base, b)| base + unit * b).collect();
        let notices = report_edges(likelihood, &found, unit)?;
        let inference = Inference::new(&self.model, likelihood, first, beta.clone(), unit)?;
        let parts = report_components(likelihood, first, unit);
        let fit = Fit {
            criterion: Some(self.model.criterion()),
            log_likelihood: self.log_likelihood(likelihood, first.value, unit),
            variance_components: parts.variances,
            correlations: parts.correlations,
            serial: parts.serial,
            ..self.inferred(&self.design.rank, &inference, notices)?
        };
        Ok((fit, self.details(likelihood, standard, &found, &beta)))
    }

    /// Tests, means and differences; what the likelihood has to say is left empty.
    fn inferred(&self, rank: &Rank, inference: &Inference, mut notices: Vec<Notice>) -> Result<Fit, CannotFit> {
        let design = &self.design;
        let fixed = Fixed { coding: &design.coding, rank, table: &design.table };
        let effect_tests = tests(&fixed, inference, &mut notices);
        let compared = comparisons(&fixed, inference, &self.model, &mut notices)?;
        let not_estimable = once(effects_not_estimable(&fixed).into_iter().chain(compared.not_estimable).collect());
        self.remark(&mut notices, inference, not_estimable.len());
        Ok(Fit {
            rows_used: design.rows(),
            rows_left_out: design.table.left_out,
            family: self.model.family,
            criterion: None,
            log_likelihood: 0.0,
            variance_components: Vec::new(),
            correlations: Vec::new(),
            serial: None,
            dispersion: None,
            effect_tests,
            adjusted_means: compared.means,
            differences: compared.differences,
            not_estimable,
            notices,
        })
    }

    fn report_discrete(&self, found: DiscreteFit, apart: Option<&Apart<'_>>) -> Result<(Fit, FitDetails), CannotFit> {
        let design = &self.design;
        let inference = Inference::large_sample(found.beta, found.covariance);
        let rank = apart.map_or(&design.rank, |apart| &apart.rank);
        let mut fit = Fit {
            log_likelihood: found.log_likelihood,
            variance_components: found.variances,
            correlations: found.correlations,
            dispersion: found.dispersion,
            ..self.inferred(rank, &inference, found.notices)?
        };
        within_reach(&mut fit);
        if let Some(apart) = apart {
            let fixed = Fixed { coding: &design.coding, rank: &design.rank, table: &design.table };
            apart.explain(&mut fit.not_estimable, &not_estimable(&fixed, &self.model)?);
            fit.not_estimable = once(fit.not_estimable);
        }
        let details = FitDetails {
            rows: apart.map_or(&design.table.rows, |apart| &apart.rows).clone(),
            fitted: found.fitted,
            predicted: found.predicted,
            residuals: found.residuals,
            search: found.search,
            separated: apart.map(|apart| apart.cells.clone()).unwrap_or_default(),
        };
        Ok((fit, details))
    }

    fn remark(&self, notices: &mut Vec<Notice>, inference: &Inference, not_estimable: usize) {
        if not_estimable > 0 {
            notices
                .push(NoticeCode::NotEstimable.says(format!(
                    "{not_estimable} of the things asked for cannot be estimated from the cells present: see not_estimable"
                )));
        }
        if self.design.table.without_trials > 0 {
            notices.push(NoticeCode::NoTrials.says(format!(
                "{} records without a single trial are left out: they say nothing of a share",
                self.design.table.without_trials
            )));
        }
        if inference.is_unadjusted {
            notices.push(NoticeCode::AdjustmentUndefined.says(
                "Kenward and Roger's adjustment of the standard errors would leave a variance below zero here, since a correlation \
                 is at its edge: the standard errors are the unadjusted ones, which are too small if anything; the degrees of freedom \
                 are Kenward and Roger's",
            ));
        }
        let is_least_squares = self.model.family == Family::Normal && self.model.is_least_squares();
        if is_least_squares && self.model.estimation.freedom.is_some() {
            notices.push(
                NoticeCode::ResidualFreedom
                    .says("nothing is random but the residual: degrees of freedom are the residual's, whatever `freedom` says"),
            );
        }
    }

    /// ℓ in response units and with covariates as measured.
    fn log_likelihood(&self, likelihood: &Likelihood<'_>, value: f64, unit: f64) -> f64 {
        let coding = if likelihood.restricted { self.design.coding.log_scale(&self.design.rank.kept) } else { 0.0 };
        value - likelihood.freedom * unit.ln() - coding
    }

    fn details(&self, likelihood: &Likelihood<'_>, standard: &Standardised, found: &Found, beta: &[f64]) -> FitDetails {
        let cells = self.design.cells.times(beta);
        let of_row = &self.design.cells.of_row;
        let fitted: Vec<f64> = of_row.iter().map(|cell| cells[*cell as usize]).collect();
        let random = likelihood.random_parts(&found.first);
        let residuals = likelihood.residuals_beside(&found.first, &random);
        FitDetails {
            rows: self.design.table.rows.clone(),
            predicted: fitted.iter().zip(&random).map(|(fixed, z)| fixed + standard.scale * z).collect(),
            residuals: residuals.iter().map(|e| standard.scale * e).collect(),
            fitted,
            search: found.search.clone(),
            separated: Vec::new(),
        }
    }
}
