//! One record a unit: the table that a model is fitted to.
use crate::answers::{AnalysisTable, Levels};
use crosshouse_mixed::{ColumnFault, Columns, Model};
use crosshouse_trial::tables::{Counted, SiteTrial, TrialTables, UnitSeason};

/// One unit with its response.
#[derive(Debug, Clone)]
pub struct Record {
    pub site: String,
    pub unit: String,
    pub house: String,
    pub block: Option<String>,
    pub line: Option<String>,
    pub bench: Option<String>,
    pub levels: Levels,
    pub response: f64,
    /// The numbers behind a response that is counted.
    pub counted: Option<Counted>,
}

/// Names of the columns that the trial itself brings; a factor may not be called so.
pub const OWN_COLUMNS: [&str; 9] = ["site", "house", "block", "line", "bench", "unit", "response", TRIALS, LOG_EXPOSURE];

/// The number that a counted response is out of, and the logarithm of the exposure of a count.
pub const TRIALS: &str = "trials";
pub const LOG_EXPOSURE: &str = "log_exposure";

fn record(site: &SiteTrial, unit: &UnitSeason, response: f64, counted: Option<Counted>) -> Record {
    Record {
        site: site.site.clone(),
        unit: unit.unit.clone(),
        house: unit.house.clone(),
        block: unit.block.clone(),
        line: unit.line.clone(),
        bench: unit.bench.clone(),
        levels: unit.levels.clone(),
        response,
        counted,
    }
}

/// The records of a response; with `unflagged`, from picks without a flag alone.
pub fn records(trial: &TrialTables, response: &str, unflagged: bool) -> Vec<Record> {
    let value = |u: &UnitSeason| if unflagged { u.responses_unflagged.get(response).copied() } else { u.responses.get(response).copied() };
    let counted = |u: &UnitSeason| if unflagged { u.counted_unflagged.get(response).copied() } else { u.counted.get(response).copied() };
    let of_site = |s: &SiteTrial| {
        let told = s.units.iter().filter_map(|u| value(u).filter(|y| y.is_finite()).map(|y| record(s, u, y, counted(u))));
        told.collect::<Vec<_>>()
    };
    trial.sites.iter().flat_map(of_site).collect()
}

impl Record {
    /// The cell of a category column.
    pub fn category(&self, name: &str) -> &str {
        match name {
            "site" => &self.site,
            "house" => &self.house,
            "unit" => &self.unit,
            "block" => self.block.as_deref().unwrap_or("only"),
            "line" => self.line.as_deref().unwrap_or("only"),
            "bench" => self.bench.as_deref().unwrap_or("only"),
            factor => self.levels.get(factor).map_or("", String::as_str),
        }
    }
}

/// The numeric columns that a model needs, each with a value a record.
fn numbers(records: &[Record], model: &Model) -> Vec<(&'static str, Vec<f64>)> {
    let counts = model.trials.is_some() || model.offset.is_some();
    let number = |r: &Record| if counts { r.counted.map_or(f64::NAN, |c| c.number) } else { r.response };
    let of = |r: &Record| r.counted.map_or(f64::NAN, |c| c.of);
    let mut columns = vec![("response", records.iter().map(number).collect())];
    if model.trials.is_some() {
        columns.push((TRIALS, records.iter().map(of).collect()));
    }
    if model.offset.is_some() {
        columns.push((LOG_EXPOSURE, records.iter().map(|r| of(r).ln()).collect()));
    }
    columns
}

/// The columns that a model needs.
pub fn columns(records: &[Record], model: &Model) -> Result<Columns, ColumnFault> {
    let mut columns = Columns::new(records.len());
    for name in &model.categories {
        let labels: Vec<&str> = records.iter().map(|r| r.category(name)).collect();
        columns.category(name, &labels)?;
    }
    for (name, values) in numbers(records, model) {
        columns.number(name, values)?;
    }
    Ok(columns)
}

/// The same table as text, for the audit: it can be fitted again by `crosshouse fit`.
pub fn table(records: &[Record], model: &Model) -> AnalysisTable {
    let mut names: Vec<String> = vec!["site".into(), "unit".into()];
    names.extend(model.categories.iter().filter(|c| *c != "site" && *c != "unit").cloned());
    let numbers = numbers(records, model);
    let of_row = |i: usize| numbers.iter().filter_map(move |(_, values)| values.get(i).map(f64::to_string));
    let row = |(i, r): (usize, &Record)| -> Vec<String> { names.iter().map(|n| r.category(n).to_owned()).chain(of_row(i)).collect() };
    let rows = records.iter().enumerate().map(row).collect();
    names.extend(numbers.iter().map(|(name, _)| (*name).to_owned()));
    AnalysisTable { columns: names, rows }
}
