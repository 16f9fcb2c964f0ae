//! Random terms: a deviation, or several coefficients, for each combination of some categories.

use super::table::{Factor, Table};
use crate::model::Model;

/// A coefficient that varies over the levels of a random term.
#[derive(Debug, Clone, PartialEq)]
pub struct Coefficient {
    /// The covariates multiplied; empty for the overall deviation.
    pub effect: Vec<String>,
    /// For each row used the covariate divided by `scale`; `None` stands for 1.
    pub values: Option<Vec<f64>>,
    /// Root mean square of the covariate: a variance as measured is that of the scaled one over scale².
    pub scale: f64,
}

/// One random term.
#[derive(Debug, Clone, PartialEq)]
pub struct RandomTerm {
    /// The categories.
    pub group: Vec<String>,
    /// For each row used, its combination.
    pub codes: Vec<u32>,
    /// Number of combinations.
    pub levels: usize,
    /// The coefficients.
    pub coefficients: Vec<Coefficient>,
}

/// The combinations of some categories over the rows used, in byte-wise order of their levels: a code for
/// each row, and the levels of each combination.
pub fn combine(table: &Table, names: &[String]) -> (Vec<u32>, Vec<Vec<u32>>) {
    let factors: Vec<&Factor> = names.iter().filter_map(|name| table.factors.get(name)).collect();
    let mut codes = vec![0; table.len()];
    let mut levels: Vec<Vec<u32>> = vec![Vec::new()];
    for factor in factors {
        (codes, levels) = cross(&codes, &levels, factor);
    }
    (codes, levels)
}

/// Combines the combinations so far with one more category.
fn cross(codes: &[u32], levels: &[Vec<u32>], factor: &Factor) -> (Vec<u32>, Vec<Vec<u32>>) {
    let width = factor.levels.len();
    let key = |row: usize| u64::from(codes[row]) * width as u64 + u64::from(factor.codes[row]);
    let combination = |key: u64| {
        let start = levels[(key / width as u64) as usize].iter().copied();
        start.chain([(key % width as u64) as u32]).collect()
    };
    let possible = levels.len().saturating_mul(width);
    if possible <= FEW_A_ROW * codes.len() {
        // Few enough to number those that occur by a table of all.
        let mut numbers = vec![u32::MAX; possible];
        (0..codes.len()).for_each(|row| numbers[key(row) as usize] = 0);
        let occurring: Vec<u64> = (0..possible as u64).filter(|key| numbers[*key as usize] == 0).collect();
        occurring.iter().zip(0..).for_each(|(key, number)| numbers[*key as usize] = number);
        let crossed = (0..codes.len()).map(|row| numbers[key(row) as usize]).collect();
        return (crossed, occurring.into_iter().map(combination).collect());
    }
    let mut keys: Vec<u64> = (0..codes.len()).map(key).collect();
    keys.sort_unstable();
    keys.dedup();
    let crossed = (0..codes.len()).map(|row| keys.binary_search(&key(row)).unwrap_or(0) as u32).collect();
    (crossed, keys.into_iter().map(combination).collect())
}

/// Combinations that there could be, for each row.
const FEW_A_ROW: usize = 8;

/// The random terms of a model: `groups` first, then `varying`. An uncorrelated `varying` makes one
/// term for each coefficient.
pub fn random_terms(model: &Model, table: &Table) -> Vec<RandomTerm> {
    let mut terms = Vec::new();
    for group in &model.groups {
        terms.push(term(table, group, vec![overall()]));
    }
    for varying in &model.varying {
        let base = varying.base.then(overall);
        let slopes = varying.effects.iter().map(|effect| coefficient(table, effect));
        let coefficients: Vec<Coefficient> = base.into_iter().chain(slopes).collect();
        if varying.correlated {
            terms.push(term(table, &varying.over, coefficients));
        } else {
            terms.extend(coefficients.into_iter().map(|one| term(table, &varying.over, vec![one])));
        }
    }
    terms
}

fn term(table: &Table, group: &[String], coefficients: Vec<Coefficient>) -> RandomTerm {
    let (codes, combinations) = combine(table, group);
    RandomTerm { group: group.to_vec(), codes, levels: combinations.len(), coefficients }
}

fn overall() -> Coefficient {
    Coefficient { effect: Vec::new(), values: None, scale: 1.0 }
}

fn coefficient(table: &Table, effect: &[String]) -> Coefficient {
    let mut values = vec![1.0; table.len()];
    for numbers in effect.iter().filter_map(|name| table.numbers.get(name)) {
        values.iter_mut().zip(numbers).for_each(|(value, x)| *value *= x);
    }
    let square = values.iter().map(|x| x * x).sum::<f64>() / table.len().max(1) as f64;
    let scale = if square > 0.0 { square.sqrt() } else { 1.0 };
    values.iter_mut().for_each(|value| *value /= scale);
    Coefficient { effect: effect.to_vec(), values: Some(values), scale }
}
