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
    /// `freedom` was stated, but least squares has its own.
    ResidualFreedom,
    /// A residual variance of a stratum is estimated at the edge of its range.
    ResidualVarianceAtEdge,
}

impl NoticeCode {
    /// Every code, for the catalogue.
    pub const ALL: [Self; 8] = [
        Self::VarianceAtZero,
        Self::CorrelationAtEdge,
        Self::Checked,
        Self::NotEstimable,
        Self::LettersLeftOut,
        Self::FreedomUndefined,
        Self::ResidualFreedom,
        Self::ResidualVarianceAtEdge,
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
            Self::ResidualFreedom => "residual-freedom",
            Self::ResidualVarianceAtEdge => "residual-variance-at-edge",
        }
    }

    /// A notice of this kind.
    pub(crate) fn says(self, text: impl Into<String>) -> Notice {
        Notice { code: self.code().to_owned(), text: text.into() }
    }
}
