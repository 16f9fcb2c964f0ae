//! Answers: what [`crate::answer`] hands on to figures, report and audit.
use crosshouse_mixed::Fit;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

pub use crate::quantity::{Quantity, Shown};

/// Levels by factor name, such as {"medium": "blend"}.
pub type Levels = BTreeMap<String, String>;

/// All questions of a season, answered or told why not.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Answers {
    pub questions: Vec<Answer>,
}

#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Answer {
    pub id: String,
    pub ask: String,
    /// Key of the response, its wording and unit ("marketable yield", "kg per plant").
    pub response: String,
    pub response_label: String,
    pub unit: String,
    pub compare: Vec<String>,
    pub within: Vec<String>,
    pub margin: Option<f64>,
    /// One sentence with the number that matters and its interval, or why there is none.
    pub headline: String,
    /// What the design cannot tell, said first.
    pub cannot_tell: Vec<CannotTell>,
    /// One an inference space: at these sites, at sites like these.
    pub across: Vec<Across>,
    /// Each site on its own.
    pub by_site: Vec<SiteAnswer>,
    /// Rows (units) that entered, per site.
    pub units_used: Vec<(String, u32)>,
    /// The same answer without flagged rows, where there are any.
    pub without_flagged: Option<Vec<Difference>>,
    /// Condition names of the cautions on claims that hold here, with their text.
    pub cautions: Vec<Caution>,
    /// How a response that is not fitted as it stands is fitted; absent: normal, on its own scale.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub likelihood: Option<Likelihood>,
}

/// The likelihood of a count, a share or a transformed response.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Likelihood {
    /// As the model file names it.
    pub family: String,
    /// identity · log · sqrt · logit
    pub scale: String,
    /// Which family and why, in a sentence.
    pub in_words: String,
    /// What the means and differences are, in a sentence each.
    pub quantities: Vec<String>,
    /// What was counted where no model can answer: treatments in which nothing or everything was counted, and the
    /// compared treatments as a whole where there is no answer over the sites.
    pub as_counted: Vec<AsCounted>,
    /// Fits by the other family in parallel, in a sentence.
    pub beside: Vec<String>,
}

/// Numbers as counted, with an exact interval that takes every fruit or plant as independent.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct AsCounted {
    /// Id; absent for all sites together.
    pub site: Option<String>,
    pub of: Levels,
    pub number: f64,
    /// Exposure of a count, or what a share is out of.
    pub out_of: f64,
    /// Of number / out_of, at 95 %.
    pub low: f64,
    pub high: f64,
    /// Clopper–Pearson · exact Poisson
    pub method: String,
    /// Left out of the fit, since nothing or everything was counted.
    pub left_out: bool,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CannotTell {
    /// effect · mean · difference
    pub what: String,
    pub of: Levels,
    pub minus: Levels,
    pub within: Levels,
    /// The sites that the comparison is of: one for a site's own, all for the overall one.
    pub sites: Vec<String>,
    /// The cells that it needs and that were not grown: levels of all factors that vary, and `site`.
    pub lacking: Vec<Levels>,
    /// With site and cells named.
    pub why: String,
    pub mend: String,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Space {
    /// Sites and site × treatment fixed.
    TheseSites,
    /// Site × treatment random.
    SitesLikeThese,
}

#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Across {
    pub space: Space,
    /// The sites that the answer is over (ids): those that can tell it.
    pub sites: Vec<String>,
    /// The model in words, and why it follows from the design.
    pub model_in_words: String,
    pub why: Vec<String>,
    /// The model file as fitted (TOML).
    pub model_toml: String,
    /// The analysis table as fitted (CSV) is in `table`.
    pub table: AnalysisTable,
    pub fit: Option<Fit>,
    /// Reason, where no fit could be made.
    pub no_fit: Option<String>,
    pub means: Vec<Mean>,
    pub differences: Vec<Difference>,
    /// Fitted values and residuals by unit, for the residual checks.
    pub residuals: Vec<Residual>,
    /// The same differences by the other family, fitted in parallel.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub beside: Vec<Beside>,
}

/// A fit by another family.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Beside {
    pub family: String,
    pub differences: Vec<Difference>,
    pub no_fit: Option<String>,
}

/// The per-unit table that went into a fit: column names, rows as text, ready for CSV.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct AnalysisTable {
    pub columns: Vec<String>,
    pub rows: Vec<Vec<String>>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Residual {
    pub site: String,
    pub unit: String,
    pub fitted: f64,
    pub residual: f64,
}

#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct SiteAnswer {
    /// Id of the site, and its name.
    pub site: String,
    pub name: String,
    pub means: Vec<Mean>,
    pub differences: Vec<Difference>,
    /// Adjusted means of every cell grown there: `of` names all factors that vary.
    pub cells: Vec<Mean>,
    /// Why there is none, where there is none.
    pub cannot_tell: Vec<CannotTell>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Mean {
    pub of: Levels,
    pub within: Levels,
    pub estimate: f64,
    pub se: f64,
    pub df: Option<f64>,
    pub low: f64,
    pub high: f64,
    pub letters: Option<String>,
    /// Units behind it, and their plain mean.
    pub units: u32,
    pub raw_mean: Option<f64>,
    /// On the response's scale, where the fitted scale is another.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub shown: Option<Shown>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Difference {
    pub of: Levels,
    pub minus: Levels,
    pub within: Levels,
    pub estimate: f64,
    pub se: f64,
    pub df: Option<f64>,
    pub low: f64,
    pub high: f64,
    pub p: Option<f64>,
    pub p_adjusted: Option<f64>,
    pub low_adjusted: Option<f64>,
    pub high_adjusted: Option<f64>,
    pub adjust: String,
    pub margin: Option<f64>,
    pub p_equivalent: Option<f64>,
    /// What is published where the fitted scale is not the response's, first the one that sentences and figures show;
    /// the fields above are then on the fitted scale.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub shown: Vec<Shown>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Caution {
    pub code: String,
    pub text: String,
}
