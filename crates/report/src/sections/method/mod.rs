//! How it was done: the models in words, variances, freedom, the design, declarations, and results not given.
mod declared;
mod design_table;
mod models;
mod sources;
mod variances;

use crate::context::Context;
use crate::page::{DrawingView, PageTable};
use crate::words;
pub use models::{ModelView, shown as effect_shown};

pub struct Method {
    pub models: Vec<ModelView>,
    pub figures: Vec<DrawingView>,
    /// "growing medium: given to each irrigation line"
    pub assignment: Vec<String>,
    pub design: Option<PageTable>,
    pub sites: Option<PageTable>,
    pub assumptions: Vec<String>,
    pub not_given: Option<PageTable>,
    /// Papers, each where a method of theirs was used.
    pub sources: Vec<&'static str>,
}

pub fn view(context: &Context, figures: Vec<DrawingView>) -> Method {
    Method {
        models: models::all(context),
        figures,
        assignment: assignment(context),
        design: design_table::table(context),
        sites: declared::table(context),
        assumptions: declared::assumptions(context),
        not_given: not_given(context),
        sources: sources::used(context),
    }
}

/// The unit of assignment, in words.
fn carrier(unit: &str) -> &str {
    match unit {
        "house" => "a whole house",
        "line" => "an irrigation line",
        "bench" => "a bench",
        "block" => "a block",
        "unit" => "each unit",
        "plant" => "each plant",
        other => other,
    }
}

fn assignment(context: &Context) -> Vec<String> {
    let factors = &context.input.trial.design.factors;
    let one = |f: &crosshouse_trial::tables::Factor| {
        let label = words::capital(context.words.factor(&f.name));
        format!("{label} was given to {}.", carrier(&f.unit_of_assignment))
    };
    factors.iter().map(one).collect()
}

fn not_given(context: &Context) -> Option<PageTable> {
    let mut table = PageTable::new("not-given-table", "Results that the declarations do not allow")
        .csv("not-given.csv")
        .words("Result")
        .words("Site")
        .words("Why not")
        .words("What would mend it");
    for n in &context.input.trial.not_given {
        let site = if n.site.is_empty() { "all sites" } else { context.words.site(&n.site) };
        table.row(vec![
            words::capital(&crate::response::label_with_unit(context.input.trial, &n.what)),
            site.to_owned(),
            n.why.clone(),
            n.mend.clone(),
        ]);
    }
    table.if_any()
}
