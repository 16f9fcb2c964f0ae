//! Remarks on a fit that change no number: each has a stable code and a sentence.

use serde::{Deserialize, Serialize};

/// A remark that travels with the fit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Notice {
    /// Stable code.
    pub code: String,
    /// The sentence, with what follows from it.
    pub text: String,
}

/// The kinds of notice.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum NoticeCode {
    /// A variance component is estimated as zero.
    VarianceAtZero,
    /// A correlation is estimated at the edge of its range.
    CorrelationAtEdge,
    /// The search was repeated by a second method, which agreed.
    Checked,
    /// Some effects, means or differences cannot be estimated.
    NotEstimable,
    /// Letters were asked for and cannot be drawn.
    LettersLeftOut,
    /// Kenward–Roger or Satterthwaite gives no finite freedom for an entry.
    FreedomUndefined,
    /// Kenward and Roger's adjusted covariance is no covariance, and the unadjusted one stands.
    AdjustmentUndefined,
    /// `freedom` was stated, but least squares has its own.
    ResidualFreedom,
    /// A residual variance of a stratum is estimated at the edge of its range.
    ResidualVarianceAtEdge,
    /// The dispersion of a discrete family is estimated at the edge of its range.
    DispersionAtEdge,
    /// Records spread more than their family says.
    OverDispersion,
    /// The spread of the records was compared with their family's, and does not exceed it.
    SpreadChecked,
    /// More zeros than the fitted means lead to.
    ZeroInflation,
    /// Intervals of variances were asked for and cannot be found.
    VarianceIntervals,
    /// Records without a trial were left out.
    NoTrials,
    /// Counts or shares of some cells are at the edge of their range.
    Separation,
    /// Large-sample intervals of a discrete family lean on few levels of a random term.
    FewGroups,
}

impl NoticeCode {
    /// Every code, for the catalogue.
    pub const ALL: [Self; 17] = [
        Self::VarianceAtZero,
        Self::CorrelationAtEdge,
        Self::Checked,
        Self::NotEstimable,
        Self::LettersLeftOut,
        Self::FreedomUndefined,
        Self::AdjustmentUndefined,
        Self::ResidualFreedom,
        Self::ResidualVarianceAtEdge,
        Self::DispersionAtEdge,
        Self::OverDispersion,
        Self::SpreadChecked,
        Self::ZeroInflation,
        Self::VarianceIntervals,
        Self::NoTrials,
        Self::Separation,
        Self::FewGroups,
    ];

    /// The stable code.
    pub fn code(self) -> &'static str {
        match self {
            Self::VarianceAtZero => "variance-at-zero",
            Self::CorrelationAtEdge => "correlation-at-edge",
            Self::Checked => "checked",
            Self::NotEstimable => "not-estimable",
            Self::LettersLeftOut => "letters-left-out",
            Self::FreedomUndefined => "freedom-undefined",
            Self::AdjustmentUndefined => "adjustment-undefined",
            Self::ResidualFreedom => "residual-freedom",
            Self::ResidualVarianceAtEdge => "residual-variance-at-edge",
            Self::DispersionAtEdge => "dispersion-at-edge",
            Self::OverDispersion => "over-dispersion",
            Self::SpreadChecked => "spread-checked",
            Self::ZeroInflation => "zero-inflation",
            Self::VarianceIntervals => "variance-intervals",
            Self::NoTrials => "no-trials",
            Self::Separation => "separation",
            Self::FewGroups => "few-groups",
        }
    }

    /// A notice of this kind.
    pub(crate) fn says(self, text: impl Into<String>) -> Notice {
        Notice { code: self.code().to_owned(), text: text.into() }
    }
}
