//! How a command ended: what goes to standard output, what to standard error, and the exit status.

/// Exit status 0: done.
pub const DONE: u8 = 0;
/// Exit status 2: the input or a declared file is unusable.
pub const UNUSABLE: u8 = 2;
/// Exit status 3: the model cannot be fitted from these data.
pub const CANNOT_FIT: u8 = 3;

/// Texts and status of a finished command.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Outcome {
    pub out: String,
    pub err: String,
    pub status: u8,
}

impl Outcome {
    pub fn done(out: impl Into<String>, err: impl Into<String>) -> Self {
        Outcome { out: out.into(), err: err.into(), status: DONE }
    }
    pub fn failed(err: impl Into<String>, status: u8) -> Self {
        Outcome { out: String::new(), err: err.into(), status }
    }
}
