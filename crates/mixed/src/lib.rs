//! The mixed-model engine: columns and a model in, a fit out. It knows columns of
//! numbers and categories, nothing of sites, units, files or tables.
#![cfg_attr(test, allow(clippy::unwrap_used))]

mod both_families;
mod cannot_fit;
mod columns;
mod components;
mod design;
mod discrete;
mod distributions;
mod freedom;
mod identify;
mod infer;
mod likelihood;
mod linear;
mod model;
pub mod multiplicity;
mod notice;
mod prepared;
mod profile;
mod result;
mod search;
mod simulate;
mod spread_check;
mod standard;

pub use both_families::{BothFamilies, both_families};
pub use cannot_fit::CannotFit;
pub use columns::{CategoryColumn, Column, ColumnFault, Columns};
pub use model::{
    Compare, Criterion, Estimation, Family, Freedom, Model, ModelFault, ModelFaultCode, ModelFaults, Pairs, Residual, ResponseScale,
    Serial, Varying, Weights,
};
pub use multiplicity::Adjust;
pub use notice::{Notice, NoticeCode};
pub use prepared::Prepared;
pub use profile::variance_intervals;
pub use result::{
    AdjustedMean, Correlation, Difference, Dispersion, EffectTest, Estimability, Fit, FitDetails, Interval, Levels, NotEstimable, Search,
    SecondOpinion, SeparatedCell, SerialCorrelation, VarianceComponent,
};
pub use simulate::{Truth, quantile_residuals, refit, simulate};
pub use spread_check::{Against, SpreadCheck, spread_check};

use design::FixedDesign;
use infer::{Fixed, not_estimable};

/// Fits `model` to `data`.
///
/// # Errors
/// [`CannotFit`] says which columns or effects, why, and what can be done.
pub fn fit(data: &Columns, model: &Model) -> Result<Fit, CannotFit> {
    fit_with_details(data, model).map(|(fit, _)| fit)
}

/// As [`fit`], with residuals, fitted values and the record of the search.
///
/// # Errors
/// As [`fit`].
pub fn fit_with_details(data: &Columns, model: &Model) -> Result<(Fit, FitDetails), CannotFit> {
    Prepared::new(data, model)?.fit()
}

/// What the cells present can and cannot estimate, without fitting anything.
///
/// # Errors
/// [`CannotFit`] for an unusable model or table.
pub fn estimable(data: &Columns, model: &Model) -> Result<Estimability, CannotFit> {
    let FixedDesign { table, coding, rank, .. } = FixedDesign::new(data, model)?;
    let fixed = Fixed { coding: &coding, rank: &rank, table: &table };
    Ok(Estimability {
        rows_used: table.len(),
        rows_left_out: table.left_out,
        rank: rank.kept.len(),
        columns: coding.columns(),
        not_estimable: not_estimable(&fixed, model)?,
    })
}
