//! From a table and a model to the sums that the likelihood needs.

mod alike;
mod cells;
mod coding;
mod components;
mod plan;
mod products;
mod random;
mod rank;
mod residual;
mod sums;
mod table;

pub use cells::Cells;
pub use coding::{Coding, Term, sum_to_zero};
pub use products::Sums;
pub use random::{Coefficient, RandomTerm, combine};
pub use rank::Rank;
pub use residual::{Class, ResidualStructure, Series, levels};
pub use sums::{Block, Component, Parts, SHARED_OUT_FROM, Sorted};
pub use table::{Factor, Table, check_counts};

use crate::cannot_fit::CannotFit;
use crate::columns::Columns;
use crate::model::{Family, Model, ModelFaults};

/// Everything about a fit that does not depend on the response's values.
#[derive(Debug, Clone)]
pub struct Design {
    /// The rows and columns used.
    pub table: Table,
    /// The coding of the fixed effects.
    pub coding: Coding,
    /// Their rank and dependencies.
    pub rank: Rank,
    /// X with its independent columns only.
    pub cells: Cells,
    /// The random terms.
    pub terms: Vec<RandomTerm>,
    /// The residual's structure.
    pub residual: ResidualStructure,
    /// Components and their sums.
    pub sorted: Sorted,
}

/// The fixed effects alone: what the estimability report needs.
pub struct FixedDesign {
    /// The rows and columns used.
    pub table: Table,
    /// The coding.
    pub coding: Coding,
    /// X with all columns.
    pub cells: Cells,
    /// Rank and dependencies.
    pub rank: Rank,
}

impl FixedDesign {
    /// Checks the model, picks the rows, codes the effects, finds their rank.
    pub fn new(data: &Columns, model: &Model) -> Result<Self, CannotFit> {
        let faults = model.faults();
        if !faults.is_empty() {
            return Err(ModelFaults(faults).into());
        }
        let table = Table::new(data, model)?;
        let coding = Coding::new(model, &table);
        let cells = Cells::new(&coding, &table);
        let rank = Rank::new(&cells, coding.columns());
        Ok(Self { table, coding, cells, rank })
    }
}

impl Design {
    /// The whole design.
    pub fn new(data: &Columns, model: &Model) -> Result<Self, CannotFit> {
        Self::of(FixedDesign::new(data, model)?, model)
    }

    /// The design of some of the rows only, in the same coding.
    pub fn only(&self, model: &Model, keep: &[bool]) -> Result<Self, CannotFit> {
        let table = self.table.only(keep);
        let coding = self.coding.clone();
        let cells = Cells::new(&coding, &table);
        let rank = Rank::new(&cells, coding.columns());
        Self::of(FixedDesign { table, coding, cells, rank }, model)
    }

    fn of(fixed: FixedDesign, model: &Model) -> Result<Self, CannotFit> {
        let FixedDesign { table, coding, cells, rank } = fixed;
        // A discrete family without random effects or dispersion may have as many effects as records.
        let may_fit_all = matches!(model.family, Family::Poisson | Family::Binomial) && model.is_least_squares();
        if table.len() <= rank.kept.len() && !may_fit_all {
            return Err(CannotFit::NoFreedom { rows: table.len(), effects: rank.kept.len() });
        }
        let cells = cells.keep(&rank.kept, coding.columns());
        let terms = random::random_terms(model, &table);
        let residual = ResidualStructure::new(model, &table)?;
        let (of_row, count) = components::components(table.len(), &terms, &residual);
        let parts = Parts { cells: &cells, columns: rank.kept.len(), terms: &terms, residual: &residual };
        let sorted = parts.sort(&of_row, count);
        Ok(Self { table, coding, rank, cells, terms, residual, sorted })
    }

    /// Number of rows used.
    pub fn rows(&self) -> usize {
        self.table.len()
    }

    /// Number of independent fixed columns.
    pub fn columns(&self) -> usize {
        self.rank.kept.len()
    }

    /// Writes the sums of a response into the design.
    pub fn fill_response(&mut self, response: &[f64]) {
        let mut sorted = std::mem::take(&mut self.sorted);
        self.parts().fill_response(&mut sorted, response);
        self.sorted = sorted;
    }

    fn parts(&self) -> Parts<'_> {
        let Self { cells, terms, residual, .. } = self;
        Parts { cells, columns: self.columns(), terms, residual }
    }
}
