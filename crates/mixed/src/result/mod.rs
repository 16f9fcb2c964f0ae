//! The result of a fit, as the contract's JSON has it.

mod levels;

pub use levels::Levels;

use serde::{Deserialize, Serialize};

use crate::model::{Criterion, Family};
use crate::multiplicity::Adjust;
use crate::notice::Notice;

/// Limits of a variance or correlation by the profile of the likelihood, where they were asked for.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Interval {
    /// Lower limit: 0 or −1 where the profile does not fall far enough before that end.
    pub low: f64,
    /// Upper limit; `None` where there is none.
    pub high: Option<f64>,
}

/// A variance component, or a residual variance.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct VarianceComponent {
    /// The categories of the grouping, or `["residual"]`.
    pub group: Vec<String>,
    /// The covariates whose coefficient varies; empty for the overall deviation; absent for the residual.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub effect: Option<Vec<String>>,
    /// The stratum of a residual variance, where there are several.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub level: Option<Levels>,
    /// Squared units of the fitted scale.
    pub variance: f64,
    /// Its limits, where asked for.
    #[serde(flatten)]
    pub interval: Option<Interval>,
}

/// The correlation of two varying coefficients.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Correlation {
    /// The categories over which they vary.
    pub group: Vec<String>,
    /// The two coefficients; the overall deviation is the empty text, products are joined by ":".
    pub between: [String; 2],
    /// −1 to 1; `None` where a variance is zero and no correlation exists.
    pub value: Option<f64>,
    /// Its limits, where asked for.
    #[serde(flatten)]
    pub interval: Option<Interval>,
}

/// First-order autocorrelation of the residual.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct SerialCorrelation {
    /// ρ: the correlation at a gap of one.
    pub correlation: f64,
    /// Its limits, where asked for.
    #[serde(flatten)]
    pub interval: Option<Interval>,
}

/// Dispersion of a non-normal family.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Dispersion {
    /// Negative binomial: variance = μ + μ²/size.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub size: Option<f64>,
    /// Beta-binomial: 1/(1 + a + b).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub intraclass: Option<f64>,
}

/// The marginal test of one effect.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct EffectTest {
    /// The effect.
    pub effect: Vec<String>,
    /// F, or chi-squared divided by `df_num` where `df_den` is `None`.
    pub f: f64,
    /// Numerator degrees of freedom.
    pub df_num: usize,
    /// Denominator degrees of freedom; `None` for large-sample tests.
    pub df_den: Option<f64>,
    /// Probability of a larger F if the effect is nil.
    pub p: f64,
}

/// One adjusted mean.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct AdjustedMean {
    /// Whose mean.
    pub of: Levels,
    /// At which combination of `within`.
    pub within: Levels,
    /// On the fitted (or link) scale.
    pub estimate: f64,
    /// Standard error of the estimate.
    pub se: f64,
    /// Degrees of freedom; `None` is infinite.
    pub df: Option<f64>,
    /// Lower limit of the interval.
    pub low: f64,
    /// Upper limit of the interval.
    pub high: f64,
    /// Plain inverse of the estimate, where the scale or link is not the identity.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub response: Option<f64>,
    /// Plain inverse of the lower limit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub response_low: Option<f64>,
    /// Plain inverse of the upper limit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub response_high: Option<f64>,
    /// Letters, where asked for: means that share one are not shown to differ.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub letters: Option<String>,
}

/// One difference of adjusted means.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Difference {
    /// The mean.
    pub of: Levels,
    /// The mean taken off; empty for the average.
    pub minus: Levels,
    /// At which combination of `within`.
    pub within: Levels,
    /// On the fitted (or link) scale.
    pub estimate: f64,
    /// Standard error.
    pub se: f64,
    /// Degrees of freedom; `None` is infinite.
    pub df: Option<f64>,
    /// estimate / se.
    pub t: f64,
    /// Two-sided probability, unadjusted.
    pub p: f64,
    /// Lower limit, unadjusted.
    pub low: f64,
    /// Upper limit, unadjusted.
    pub high: f64,
    /// The adjustment of the family.
    pub adjust: Adjust,
    /// Adjusted probability.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub p_adjusted: Option<f64>,
    /// Lower limit of the simultaneous interval.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub low_adjusted: Option<f64>,
    /// Upper limit of the simultaneous interval.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub high_adjusted: Option<f64>,
    /// The equivalence margin.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub margin: Option<f64>,
    /// The larger of the two one-sided probabilities, unadjusted.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub p_equivalent: Option<f64>,
}

/// Something the cells present cannot estimate, with the reason.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(tag = "what", rename_all = "lowercase")]
pub enum NotEstimable {
    /// An effect.
    Effect {
        /// The effect.
        effect: Vec<String>,
        /// The reason.
        why: String,
    },
    /// An adjusted mean.
    Mean {
        /// Whose mean.
        of: Levels,
        /// At which combination.
        within: Levels,
        /// The reason.
        why: String,
    },
    /// A difference.
    Difference {
        /// The mean.
        of: Levels,
        /// The mean taken off.
        minus: Levels,
        /// At which combination.
        within: Levels,
        /// The reason.
        why: String,
    },
}

impl NotEstimable {
    /// The reason.
    pub fn why(&self) -> &str {
        match self {
            Self::Effect { why, .. } | Self::Mean { why, .. } | Self::Difference { why, .. } => why,
        }
    }
}

/// Counts or shares at the edge of their range, where no effect on the link scale is finite: what was counted, and
/// exact limits of one mean or share common to all records of the cell.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SeparatedCell {
    /// The levels that set the records apart; empty where a covariate does.
    pub of: Levels,
    /// Rows of the table, from 0.
    pub rows: Vec<usize>,
    /// Counts or successes together.
    pub count: f64,
    /// Trials together, for shares.
    pub trials: Option<f64>,
    /// Σ exp(offset), for counts: the number of records where there is no offset.
    pub exposure: Option<f64>,
    /// Lower exact limit on the response scale, for one unit of exposure, at the model's level.
    pub low: f64,
    /// Upper exact limit.
    pub high: f64,
}

/// A fitted model: the contract's result, field by field.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Fit {
    /// Rows that entered.
    pub rows_used: usize,
    /// Rows left out for a missing value in a column used.
    pub rows_left_out: usize,
    /// The family.
    pub family: Family,
    /// The likelihood maximised (normal family).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub criterion: Option<Criterion>,
    /// With all constants, on the scale fitted; restricted likelihood in sum-to-zero coding.
    pub log_likelihood: f64,
    /// In the order of `groups`, `varying`, residual.
    pub variance_components: Vec<VarianceComponent>,
    /// Of correlated varying coefficients.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub correlations: Vec<Correlation>,
    /// Autocorrelation, where modelled.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub serial: Option<SerialCorrelation>,
    /// Dispersion, where the family has one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub dispersion: Option<Dispersion>,
    /// In the order of the model's `effects`.
    pub effect_tests: Vec<EffectTest>,
    /// In the order of the model's `compare`.
    pub adjusted_means: Vec<AdjustedMean>,
    /// In the order of the model's `compare`.
    pub differences: Vec<Difference>,
    /// What the cells present cannot estimate.
    pub not_estimable: Vec<NotEstimable>,
    /// Remarks.
    pub notices: Vec<Notice>,
}

/// What the cells present can and cannot estimate, without fitting.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Estimability {
    /// Rows that would enter.
    pub rows_used: usize,
    /// Rows that would be left out.
    pub rows_left_out: usize,
    /// Rank of the fixed effects, the overall mean included.
    pub rank: usize,
    /// Columns of the fixed effects in sum-to-zero coding.
    pub columns: usize,
    /// What cannot be estimated.
    pub not_estimable: Vec<NotEstimable>,
}

/// How the optimum was reached; kept with the fit, not part of the contract's JSON.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Search {
    /// Names of the variance parameters, in the order of the vectors below.
    pub parameters: Vec<String>,
    /// Where the search began: variances relative to the residual's, correlations as such.
    pub start: Vec<f64>,
    /// Where it ended.
    pub best: Vec<f64>,
    /// Evaluations of the likelihood.
    pub evaluations: usize,
    /// Derivative of the log-likelihood at the end (toward the interior for a parameter on its bound).
    pub gradient: Vec<f64>,
    /// Curvature used in the last step: minus the second derivatives, row by row.
    pub curvature: Vec<Vec<f64>>,
    /// A second search by another method, where the first left a doubt.
    pub second_opinion: Option<SecondOpinion>,
}

/// A second search by another method.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SecondOpinion {
    /// Where it ended.
    pub best: Vec<f64>,
    /// Its log-likelihood minus the first's.
    pub gain: f64,
    /// Largest change of a fixed effect, in its standard errors.
    pub largest_change: f64,
}

/// What the pipeline needs besides the contract's result.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct FitDetails {
    /// Rows of the table that entered, from 0, ascending; without those of `separated`.
    pub rows: Vec<usize>,
    /// For each of these rows: the fixed part, on the fitted or link scale; a discrete family's holds the offset too.
    pub fitted: Vec<f64>,
    /// For each of these rows: the fixed part plus the predicted random effects.
    pub predicted: Vec<f64>,
    /// For each of these rows: response on the fitted scale minus `predicted`; for a discrete family the response's
    /// distance from its mean there in standard deviations.
    pub residuals: Vec<f64>,
    /// How the optimum was reached.
    pub search: Search,
    /// Records at the edge of their range that set themselves apart: they are not among `rows`.
    pub separated: Vec<SeparatedCell>,
}
