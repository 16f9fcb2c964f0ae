//! One record a unit: the table that a model is fitted to.
use crate::answers::{AnalysisTable, Levels};
use crosshouse_mixed::{ColumnFault, Columns};
use crosshouse_trial::tables::{SiteTrial, TrialTables, UnitSeason};

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
}

/// Names of the columns that the trial itself brings; a factor may not be called so.
pub const OWN_COLUMNS: [&str; 7] = ["site", "house", "block", "line", "bench", "unit", "response"];

fn record(site: &SiteTrial, unit: &UnitSeason, response: f64) -> Record {
    Record {
        site: site.site.clone(),
        unit: unit.unit.clone(),
        house: unit.house.clone(),
        block: unit.block.clone(),
        line: unit.line.clone(),
        bench: unit.bench.clone(),
        levels: unit.levels.clone(),
        response,
    }
}

/// The records of a response; with `unflagged`, from picks without a flag alone.
pub fn records(trial: &TrialTables, response: &str, unflagged: bool) -> Vec<Record> {
    let value = |u: &UnitSeason| if unflagged { u.responses_unflagged.get(response).copied() } else { u.responses.get(response).copied() };
    let of_site =
        |s: &SiteTrial| s.units.iter().filter_map(|u| value(u).filter(|y| y.is_finite()).map(|y| record(s, u, y))).collect::<Vec<_>>();
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

/// The columns that a model of these categories needs.
pub fn columns(records: &[Record], categories: &[String]) -> Result<Columns, ColumnFault> {
    let mut columns = Columns::new(records.len());
    for name in categories {
        let labels: Vec<&str> = records.iter().map(|r| r.category(name)).collect();
        columns.category(name, &labels)?;
    }
    columns.number("response", records.iter().map(|r| r.response).collect())?;
    Ok(columns)
}

/// The same table as text, for the audit: it can be fitted again by `crosshouse fit`.
pub fn table(records: &[Record], categories: &[String]) -> AnalysisTable {
    let mut names: Vec<String> = vec!["site".into(), "unit".into()];
    names.extend(categories.iter().filter(|c| *c != "site" && *c != "unit").cloned());
    let row = |r: &Record| -> Vec<String> { names.iter().map(|n| r.category(n).to_owned()).chain([r.response.to_string()]).collect() };
    let rows = records.iter().map(row).collect();
    names.push("response".into());
    AnalysisTable { columns: names, rows }
}
