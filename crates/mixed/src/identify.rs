//! Variances that no record can speak for are refused before the search.

use std::collections::BTreeMap;

use crate::cannot_fit::CannotFit;
use crate::design::{Design, RandomTerm};
use crate::linear::{Cholesky, Matrix, dot};
use crate::model::Family;

/// Refuses groupings that are the residual, one another, or the fixed effects under another name.
///
/// # Errors
/// The first such grouping, with its reason.
pub fn identify(design: &Design, family: Family) -> Result<(), CannotFit> {
    // A deviation of each record is the residual itself, or the spread that the dispersion parameter already is.
    let has_own_spread = !matches!(family, Family::Poisson | Family::Binomial);
    for (index, term) in design.terms.iter().enumerate() {
        if !is_overall(term) {
            continue;
        }
        if has_own_spread && term.levels == design.rows() && design.residual.series.is_none() {
            return Err(CannotFit::GroupIsResidual { group: group(term) });
        }
        if let Some(other) = design.terms[..index].iter().find(|other| is_overall(other) && same(other, term)) {
            return Err(CannotFit::GroupsAlike { first: group(other), second: group(term) });
        }
    }
    within_effects(design)
}

fn group(term: &RandomTerm) -> String {
    term.group.join(" × ")
}

/// Whether each level has a deviation of its own, alone or beside coefficients.
fn is_overall(term: &RandomTerm) -> bool {
    term.coefficients.iter().any(|one| one.values.is_none())
}

/// Whether two groupings divide the rows alike.
fn same(one: &RandomTerm, other: &RandomTerm) -> bool {
    let mut met: BTreeMap<u32, u32> = BTreeMap::new();
    one.levels == other.levels && one.codes.iter().zip(&other.codes).all(|(a, b)| met.insert(*a, *b).is_none_or(|before| before == *b))
}

/// A share of Z′Z below this outside the fixed effects is rounding.
const NOTHING: f64 = 1e-9;

fn within_effects(design: &Design) -> Result<(), CannotFit> {
    let p = design.columns();
    // A grouping's columns are independent: more of them than fixed columns cannot be within these.
    let suspects: Vec<&RandomTerm> = design.terms.iter().filter(|term| term.levels <= p).collect();
    if suspects.is_empty() {
        return Ok(());
    }
    let cells = &design.cells;
    let Some(cholesky) = Cholesky::of(cells.normal(p)) else { return Ok(()) };
    for term in suspects {
        for coefficient in &term.coefficients {
            let value = |row: usize| coefficient.values.as_ref().map_or(1.0, |values| values[row]);
            let mut sums = Matrix::zeros(p, term.levels);
            let mut whole = 0.0;
            for (row, code) in term.codes.iter().enumerate() {
                let z = value(row);
                whole += z * z;
                let into = sums.col_mut(*code as usize);
                cells.entries(cells.of_row[row] as usize).for_each(|(column, x)| into[column] += x * z);
            }
            let inside: f64 = (0..term.levels)
                .map(|level| {
                    let mut column = sums.col(level).to_vec();
                    cholesky.forward(&mut column);
                    dot(&column, &column)
                })
                .sum();
            if whole - inside <= NOTHING * whole {
                let effects: Vec<String> = design.coding.terms.iter().skip(1).map(|term| term.effect.join(" × ")).collect();
                let effects = if effects.is_empty() { "(overall mean)".to_owned() } else { effects.join(", ") };
                return Err(CannotFit::GroupWithinEffects { group: group(term), effects });
            }
        }
    }
    Ok(())
}
