//! What can be wrong with a model, all of it at once.

use std::fmt;

/// The kind of a fault, stable.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum ModelFaultCode {
    /// The text is not TOML.
    NotToml,
    /// A key that the model file does not have.
    UnknownKey,
    /// A key that must be there is not.
    KeyMissing,
    /// A value of the wrong kind.
    WrongKind,
    /// A value that is none of the words allowed.
    UnknownWord,
    /// A number outside its range.
    OutOfRange,
    /// One name twice where it may stand once.
    NamedTwice,
    /// A column that must be a category is not listed under `categories`.
    NotACategory,
    /// A column that must be numeric is listed under `categories`.
    IsACategory,
    /// An interaction without its parts as effects.
    PartsMissing,
    /// A binomial kind without `trials`, or `trials` with another family.
    Trials,
    /// A key that goes with another family or scale.
    DoesNotGoTogether,
    /// A comparison of a category that is in no effect.
    NotInEffects,
}

impl ModelFaultCode {
    /// Every code, for the catalogue.
    pub const ALL: [Self; 13] = [
        Self::NotToml,
        Self::UnknownKey,
        Self::KeyMissing,
        Self::WrongKind,
        Self::UnknownWord,
        Self::OutOfRange,
        Self::NamedTwice,
        Self::NotACategory,
        Self::IsACategory,
        Self::PartsMissing,
        Self::Trials,
        Self::DoesNotGoTogether,
        Self::NotInEffects,
    ];

    /// The stable code.
    pub fn code(self) -> &'static str {
        match self {
            Self::NotToml => "model-not-toml",
            Self::UnknownKey => "model-key-unknown",
            Self::KeyMissing => "model-key-missing",
            Self::WrongKind => "model-value-kind",
            Self::UnknownWord => "model-word-unknown",
            Self::OutOfRange => "model-number-range",
            Self::NamedTwice => "model-named-twice",
            Self::NotACategory => "model-not-a-category",
            Self::IsACategory => "model-is-a-category",
            Self::PartsMissing => "model-parts-missing",
            Self::Trials => "model-trials",
            Self::DoesNotGoTogether => "model-not-together",
            Self::NotInEffects => "model-not-in-effects",
        }
    }
}

/// One fault of a model.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ModelFault {
    /// Its kind.
    pub code: ModelFaultCode,
    /// The key, with its tables, such as `estimation.level` or `compare[2].pairs`.
    pub key: String,
    /// The line of the model file, where there is a file.
    pub line: Option<usize>,
    /// What was found.
    pub found: String,
    /// What was expected.
    pub expected: String,
    /// How to mend it.
    pub mend: String,
}

impl fmt::Display for ModelFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(line) = self.line {
            write!(f, "line {line}, ")?;
        }
        let Self { key, found, expected, mend, code, .. } = self;
        write!(f, "key \"{key}\": found {found}; expected {expected}; mend: {mend} [{}]", code.code())
    }
}

/// All faults of a model, in the order of the file.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub struct ModelFaults(pub Vec<ModelFault>);

impl fmt::Display for ModelFaults {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, fault) in self.0.iter().enumerate() {
            if index > 0 {
                writeln!(f)?;
            }
            write!(f, "{fault}")?;
        }
        Ok(())
    }
}
