//! Adjustments of a family of differences for their number, the distributions behind
//! them, and the letters drawn from adjusted p values.
//!
//! Every distribution here is a *normal tail* (the chance that the largest of several
//! standard normal deviates passes `w`) averaged over the scale `s = χ_df/√df` of the
//! estimated standard error:
//!
//! ```text
//! P(Q > q) = ∫ tail(q·s) f_df(s) ds
//! ```
//!
//! The normal tails differ in what they are the largest of: the range of k means
//! ([`studentized_range_upper`]) or the absolute value of correlated differences
//! ([`max_abs_t_upper`]).

mod adjust;
mod cholesky;
mod gauss_legendre;
mod letters;
mod max_abs;
mod normal;
mod range;
mod root;
mod scale;
mod tabulated;

pub use adjust::{Adjust, Adjusted, Compared, adjust};
pub use letters::letters;
pub use max_abs::{Probability, max_abs_t_quantile, max_abs_t_upper};
pub use range::{studentized_range_quantile, studentized_range_upper};
