//! Degrees of freedom and covariance of contrasts, by the rule that the model asks for.

mod information;
mod kenward_roger;
mod natural;
mod satterthwaite;

use kenward_roger::KenwardRoger;
pub use natural::{Natural, jacobian, natural};
use satterthwaite::Satterthwaite;

use crate::cannot_fit::CannotFit;
use crate::distributions::f_upper;
use crate::likelihood::{First, Likelihood};
use crate::linear::{Cholesky, Matrix, dot};
use crate::model::{Freedom, Model};

/// Contrasts as columns, over the kept fixed-effect columns.
pub type Basis = Matrix;

/// Where degrees of freedom come from.
enum Rule {
    Residual(f64),
    LargeSample,
    KenwardRoger(Box<KenwardRoger>),
    Satterthwaite(Box<Satterthwaite>),
}

/// Estimates, covariances and freedom of contrasts of the fixed effects, in response units.
pub struct Inference {
    beta: Vec<f64>,
    covariance: Matrix,
    rule: Rule,
    /// Whether Kenward and Roger's adjusted covariance is none, and the unadjusted one stands.
    pub is_unadjusted: bool,
}

/// A test of several contrasts together.
pub struct Tested {
    /// F
    pub f: f64,
    /// Denominator degrees of freedom; `None` for large samples.
    pub df_den: Option<f64>,
    /// Upper tail probability.
    pub p: f64,
}

impl Inference {
    /// Prepares inference on fixed effects `beta` (response units), given the fit of a response that
    /// was divided by `unit`.
    pub fn new(model: &Model, likelihood: &Likelihood<'_>, first: &First, beta: Vec<f64>, unit: f64) -> Result<Self, CannotFit> {
        let rule = if model.is_least_squares() {
            Rule::Residual((likelihood.design.rows() - likelihood.design.columns()) as f64)
        } else {
            match model.freedom() {
                Freedom::LargeSample => Rule::LargeSample,
                Freedom::KenwardRoger => Rule::KenwardRoger(Box::new(KenwardRoger::new(likelihood, first)?)),
                Freedom::Satterthwaite => Rule::Satterthwaite(Box::new(Satterthwaite::new(likelihood, first)?)),
            }
        };
        // At the edge of a correlation the adjustment can exceed what it adjusts and leave a variance below zero.
        let is_unadjusted = matches!(&rule, Rule::KenwardRoger(rule) if Cholesky::new(&rule.adjusted).is_none());
        let mut covariance = match &rule {
            Rule::KenwardRoger(rule) if !is_unadjusted => rule.adjusted.clone(),
            _ => first.phi.clone(),
        };
        covariance.scale(first.scale * unit * unit);
        Ok(Self { beta, covariance, rule, is_unadjusted })
    }

    /// Inference for large samples, from fixed effects and their covariance.
    pub fn large_sample(beta: Vec<f64>, covariance: Matrix) -> Self {
        Self { beta, covariance, rule: Rule::LargeSample, is_unadjusted: false }
    }

    /// l′β
    pub fn estimate(&self, contrast: &[f64]) -> f64 {
        dot(contrast, &self.beta)
    }

    /// Covariance of two contrasts.
    pub fn covariance(&self, one: &[f64], other: &[f64]) -> f64 {
        self.covariance.form(one, other)
    }

    /// Degrees of freedom of one contrast; `None` for large samples.
    pub fn freedom(&self, contrast: &[f64]) -> Option<f64> {
        match &self.rule {
            Rule::Residual(df) => Some(*df),
            Rule::LargeSample => None,
            Rule::KenwardRoger(rule) => Some(rule.single(contrast)),
            Rule::Satterthwaite(rule) => Some(rule.single(contrast)),
        }
    }

    /// The test that all contrasts of a basis are nil; `None` where the rule gives no freedom.
    pub fn test(&self, basis: &Basis) -> Option<Tested> {
        let count = basis.cols() as f64;
        let estimates = basis.transposed_times_vec(&self.beta);
        let covariance = basis.transposed_times(&self.covariance.times(basis));
        let wald = dot(&estimates, &Cholesky::new(&covariance)?.solve_vec(&estimates)) / count;
        let (lambda, df_den) = match &self.rule {
            Rule::Residual(df) => (1.0, Some(*df)),
            Rule::LargeSample => (1.0, None),
            Rule::KenwardRoger(rule) => {
                let scaled = rule.several(basis)?;
                (scaled.lambda, Some(scaled.df))
            }
            Rule::Satterthwaite(rule) => (1.0, Some(rule.several(basis)?)),
        };
        let f = lambda * wald;
        Some(Tested { f, df_den, p: f_upper(f, count, df_den) })
    }
}
