//! The page: views that the templates show. A view holds finished text; templates hold the fixed sentences.
pub mod drawing;
mod places;
pub mod table;

pub use drawing::DrawingView;
pub use table::{PageTable, RowView};

use crate::context::Context;
use crate::input::{ReportFault, TableFile};
use crate::sections::{answers, cautions, growth, method, not_told, opening, rows};
use askama::Template;
use places::Places;

#[derive(Template)]
#[template(path = "report.html")]
struct Page<'a> {
    opening: opening::Opening,
    not_told: Vec<not_told::NotTold>,
    answers: Vec<answers::AnswerView>,
    growth: growth::Growth,
    method: method::Method,
    rows: rows::Rows,
    general_caution: &'a str,
    cautions: Vec<cautions::CautionView>,
    claims: Vec<String>,
    version: &'a str,
}

/// Writes the whole page. A link to a table is set only where `tables` has it.
pub fn write(context: &Context, tables: &[TableFile]) -> Result<String, ReportFault> {
    let mut places = Places::sorted(context, tables)?;
    let answers = context.answers().zip(&mut places.by_answer);
    let page = Page {
        opening: opening::view(context),
        not_told: not_told::all(context),
        answers: answers.map(|((a, stem), figures)| answers::view(context, a, stem, std::mem::take(figures))).collect(),
        growth: growth::view(context, places.growth),
        method: method::view(context, places.method),
        rows: rows::view(context),
        general_caution: cautions::GENERAL,
        cautions: cautions::all(context),
        claims: cautions::claims(context),
        version: context.input.version,
    };
    page.render().map_err(|e| ReportFault::Writing(e.to_string()))
}
