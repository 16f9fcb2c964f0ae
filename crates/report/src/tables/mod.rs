//! The CSV tables: every table of the page in full precision, in kilograms and in pounds.
pub mod sheet;

mod answers;
mod design;
mod growth;
mod rows;
mod season;

use crate::context::Context;
use crate::input::{ReportFault, TableFile};
pub use rows::set_aside;

/// All tables that have rows, in the order of the page.
pub fn all(context: &Context) -> Result<Vec<TableFile>, ReportFault> {
    let sheets = answers::sheets(context)
        .into_iter()
        .chain(season::sheets(context))
        .chain(growth::sheets(context))
        .chain(design::sheets(context))
        .chain(rows::sheets(context));
    sheets.filter(|s| !s.is_empty()).map(sheet::Sheet::file).collect()
}
