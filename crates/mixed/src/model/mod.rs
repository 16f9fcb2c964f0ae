//! The model: what is fitted, how, and what is compared. The model file's keys are these fields.

mod check;
mod faults;
mod nearest;
mod read;

pub use faults::{ModelFault, ModelFaultCode, ModelFaults};

use serde::{Deserialize, Serialize};

use crate::multiplicity::Adjust;

/// The distribution of the response given the random effects.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Family {
    /// Normal.
    #[default]
    Normal,
    /// Poisson, log link.
    Poisson,
    /// Negative binomial with variance μ + μ²/size, log link.
    NegativeBinomial,
    /// Binomial, logit link; the response counts successes.
    Binomial,
    /// Beta-binomial, logit link; the response counts successes.
    BetaBinomial,
}

impl Family {
    /// The name as the model file writes it.
    pub fn name(self) -> &'static str {
        match self {
            Self::Normal => "normal",
            Self::Poisson => "poisson",
            Self::NegativeBinomial => "negative-binomial",
            Self::Binomial => "binomial",
            Self::BetaBinomial => "beta-binomial",
        }
    }

    /// Whether the response counts successes out of a number of trials.
    pub fn has_trials(self) -> bool {
        matches!(self, Self::Binomial | Self::BetaBinomial)
    }
}

/// The scale on which a normal response is fitted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum ResponseScale {
    /// As measured.
    #[default]
    Identity,
    /// Natural logarithm.
    Log,
    /// Square root.
    Sqrt,
}

/// Which likelihood is maximised.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Criterion {
    /// The restricted likelihood.
    #[default]
    Reml,
    /// The likelihood.
    Ml,
}

/// Where the degrees of freedom come from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Freedom {
    /// Kenward and Roger (1997), Biometrics 53:983–997.
    KenwardRoger,
    /// Satterthwaite; several contrasts by Fai and Cornelius (1996), J. Stat. Comput. Simul. 54:363–378.
    Satterthwaite,
    /// None: normal quantiles and chi-squared tests.
    LargeSample,
}

/// Random coefficients: the named covariate effects vary over the combinations of `over`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Varying {
    /// The categories over whose combinations the coefficients vary.
    pub over: Vec<String>,
    /// Covariates, or products of covariates.
    pub effects: Vec<Vec<String>>,
    /// Whether the coefficients of one combination are correlated.
    #[serde(default = "yes")]
    pub correlated: bool,
    /// Whether the combination has its own overall deviation besides.
    #[serde(default = "yes")]
    pub base: bool,
}

fn yes() -> bool {
    true
}

/// First-order autocorrelation of successive records: ρ to the power of the gap.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Serial {
    /// The integer column that orders the records.
    pub order: String,
    /// The categories whose combinations are the series.
    pub within: Vec<String>,
}

/// Structure of the residual (normal family only).
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct Residual {
    /// A residual variance for each combination of these categories; empty for one variance.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub variance_by: Vec<String>,
    /// Autocorrelation.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub serial: Option<Serial>,
}

impl Residual {
    fn is_plain(&self) -> bool {
        self.variance_by.is_empty() && self.serial.is_none()
    }
}

/// How the fit and its freedom are found.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Estimation {
    /// Likelihood; `None` is `reml` for the normal family.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub criterion: Option<Criterion>,
    /// Degrees of freedom; `None` is Kenward–Roger for the normal family, large-sample for the others.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub freedom: Option<Freedom>,
    /// Coverage of every interval, between 0 and 1.
    #[serde(default = "level")]
    pub level: f64,
    /// Nodes of adaptive Gauss–Hermite quadrature (non-normal families, one scalar random effect).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub nodes: Option<u32>,
}

fn level() -> f64 {
    0.95
}

impl Default for Estimation {
    fn default() -> Self {
        Self { criterion: None, freedom: None, level: level(), nodes: None }
    }
}

/// Which differences of a family of means are reported.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(from = "String", into = "String")]
pub enum Pairs {
    /// Every pair, the one that sorts first minus the later one.
    #[default]
    All,
    /// No difference.
    None,
    /// Every other level minus this one.
    Against(String),
    /// Every mean minus the equal-weight average of all of the family.
    AgainstAverage,
}

impl From<String> for Pairs {
    fn from(text: String) -> Self {
        match text.strip_prefix("against ") {
            Some("average") => Self::AgainstAverage,
            Some(level) => Self::Against(level.to_owned()),
            None if text == "none" => Self::None,
            None => Self::All,
        }
    }
}

impl From<Pairs> for String {
    fn from(pairs: Pairs) -> Self {
        match pairs {
            Pairs::All => "all".to_owned(),
            Pairs::None => "none".to_owned(),
            Pairs::Against(level) => format!("against {level}"),
            Pairs::AgainstAverage => "against average".to_owned(),
        }
    }
}

/// Weights in averaging over the categories that a mean does not name.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Weights {
    /// Every combination counts the same.
    #[default]
    Equal,
    /// By the rows used in each combination, the same weights for every mean.
    Observed,
}

/// One family of adjusted means and of differences between them.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Compare {
    /// The categories whose combinations get adjusted means.
    pub means_of: Vec<String>,
    /// Separately at each combination of these; every combination is a family of its own.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub within: Vec<String>,
    /// The differences.
    #[serde(default)]
    pub pairs: Pairs,
    /// The adjustment for their number.
    #[serde(default = "unadjusted")]
    pub adjust: Adjust,
    /// The weights of the averaged-over categories.
    #[serde(default)]
    pub weights: Weights,
    /// Equivalence margin of each difference, in response units.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub margin: Option<f64>,
    /// Whether each mean of the family carries letters.
    #[serde(default, skip_serializing_if = "is_false")]
    pub letters: bool,
}

fn unadjusted() -> Adjust {
    Adjust::None
}

fn is_false(value: &bool) -> bool {
    !*value
}

impl Compare {
    /// Means of these categories and all pairs, unadjusted.
    pub fn means_of<S: Into<String>>(categories: impl IntoIterator<Item = S>) -> Self {
        Self {
            means_of: categories.into_iter().map(Into::into).collect(),
            within: Vec::new(),
            pairs: Pairs::All,
            adjust: Adjust::None,
            weights: Weights::Equal,
            margin: None,
            letters: false,
        }
    }
}

/// A model, as its TOML file has it. Read one with [`Model::from_toml`], or fill the fields; a model made in
/// code is checked by [`Model::faults`] when it is fitted.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Model {
    /// The numeric column that is explained.
    pub response: String,
    /// Its distribution.
    #[serde(default)]
    pub family: Family,
    /// Binomial kinds: the column with the number of trials.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub trials: Option<String>,
    /// A numeric column added to the linear predictor.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub offset: Option<String>,
    /// The scale on which a normal response is fitted.
    #[serde(default)]
    pub response_scale: ResponseScale,
    /// Columns read as categories; every other column used is numeric.
    #[serde(default)]
    pub categories: Vec<String>,
    /// Fixed effects; several names are an interaction.
    #[serde(default)]
    pub effects: Vec<Vec<String>>,
    /// Random effects: a deviation for each distinct combination of the named categories.
    #[serde(default)]
    pub groups: Vec<Vec<String>>,
    /// Random coefficients.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub varying: Vec<Varying>,
    /// Residual structure.
    #[serde(default, skip_serializing_if = "Residual::is_plain")]
    pub residual: Residual,
    /// Likelihood, freedom, level.
    #[serde(default)]
    pub estimation: Estimation,
    /// What to compare.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub compare: Vec<Compare>,
}

impl Model {
    /// Likelihood: as stated, else `reml`.
    pub fn criterion(&self) -> Criterion {
        self.estimation.criterion.unwrap_or_default()
    }

    /// Degrees of freedom: as stated, else Kenward–Roger for the normal family and large-sample for the others.
    pub fn freedom(&self) -> Freedom {
        let default = if self.family == Family::Normal { Freedom::KenwardRoger } else { Freedom::LargeSample };
        self.estimation.freedom.unwrap_or(default)
    }

    /// Whether nothing is random but independent residuals of one variance.
    pub fn is_least_squares(&self) -> bool {
        self.groups.is_empty() && self.varying.is_empty() && self.residual.is_plain()
    }

    pub(crate) fn is_category(&self, name: &str) -> bool {
        self.categories.iter().any(|category| category == name)
    }

    /// The model file's text of this model.
    ///
    /// # Errors
    /// Never for a model that [`Model::faults`] accepts.
    pub fn to_toml(&self) -> Result<String, toml::ser::Error> {
        toml::to_string(self)
    }
}
