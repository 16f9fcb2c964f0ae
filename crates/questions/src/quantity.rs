//! What a number is: a difference, a ratio, a share, a mean of logarithms turned back. Every published number says so.
use serde::{Deserialize, Serialize};

/// The kind of a published number.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Quantity {
    /// In the response's unit.
    Mean,
    /// exp of a mean of logarithms: a geometric mean over what is averaged, a median over blocks and units.
    GeometricMean,
    /// exp of a mean of log rates: a geometric mean over what is averaged, for a block of the middle.
    Rate,
    /// The inverse logit of a mean of logits: near the share of the middle, not the mean of shares.
    Share,
    /// The square of a mean of square roots.
    SquaredRoot,
    Difference,
    /// exp of a difference of logarithms.
    Ratio,
    /// exp of a difference of logits.
    OddsRatio,
    /// A share less another, both turned back from the logit scale.
    DifferenceOfShares,
    /// A squared mean of roots less another.
    DifferenceOfSquaredRoots,
}

impl Quantity {
    /// The value that stands for no difference.
    pub fn null(self) -> f64 {
        if self.is_ratio() { 1.0 } else { 0.0 }
    }

    /// Whether its numbers have no unit and are read against 1.
    pub fn is_ratio(self) -> bool {
        matches!(self, Quantity::Ratio | Quantity::OddsRatio)
    }

    /// The name in tables: a column's stem.
    pub fn key(self) -> &'static str {
        match self {
            Quantity::Mean => "mean",
            Quantity::GeometricMean => "geometric_mean",
            Quantity::Rate => "geometric_mean_rate",
            Quantity::Share => "back_transformed_share",
            Quantity::SquaredRoot => "squared_mean_root",
            Quantity::Difference => "difference",
            Quantity::Ratio => "ratio",
            Quantity::OddsRatio => "odds_ratio",
            Quantity::DifferenceOfShares => "difference_of_shares",
            Quantity::DifferenceOfSquaredRoots => "difference_of_squared_mean_roots",
        }
    }

    /// The name in sentences and table heads.
    pub fn words(self) -> &'static str {
        match self {
            Quantity::Mean => "mean",
            Quantity::GeometricMean => "geometric mean",
            Quantity::Rate => "number (geometric mean)",
            Quantity::Share => "share (from the mean logit)",
            Quantity::SquaredRoot => "squared mean of roots",
            Quantity::Difference => "difference",
            Quantity::Ratio => "ratio",
            Quantity::OddsRatio => "odds ratio",
            Quantity::DifferenceOfShares => "difference of shares",
            Quantity::DifferenceOfSquaredRoots => "difference of squared means of roots",
        }
    }
}

/// A published number with its limits.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Shown {
    pub quantity: Quantity,
    pub estimate: f64,
    /// By the delta method, for rounding: limits are never made from it.
    pub se: f64,
    pub low: f64,
    pub high: f64,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub low_adjusted: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub high_adjusted: Option<f64>,
}

impl Shown {
    /// The limits of the family where it has several differences, else those of the number alone.
    pub fn limits(&self, family: usize) -> (f64, f64) {
        match (self.low_adjusted, self.high_adjusted) {
            (Some(low), Some(high)) if family > 1 => (low, high),
            _ => (self.low, self.high),
        }
    }
}

impl crate::answers::Mean {
    /// The mean as published.
    pub fn published(&self) -> Shown {
        let (estimate, se, low, high) = (self.estimate, self.se, self.low, self.high);
        self.shown.unwrap_or(Shown { quantity: Quantity::Mean, estimate, se, low, high, low_adjusted: None, high_adjusted: None })
    }
}

impl crate::answers::Difference {
    /// The difference as published.
    pub fn published(&self) -> Shown {
        let (estimate, se, low, high) = (self.estimate, self.se, self.low, self.high);
        let (low_adjusted, high_adjusted) = (self.low_adjusted, self.high_adjusted);
        let plain = Shown { quantity: Quantity::Difference, estimate, se, low, high, low_adjusted, high_adjusted };
        self.shown.first().copied().unwrap_or(plain)
    }
}
