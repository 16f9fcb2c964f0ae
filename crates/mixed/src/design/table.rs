//! The rows and columns of a table that a model uses, checked.

use std::collections::{BTreeMap, BTreeSet};

use crate::cannot_fit::CannotFit;
use crate::columns::{CategoryColumn, Column, Columns};
use crate::model::{Family, Model, ResponseScale};

/// A category over the rows used: levels that occur there, byte-wise sorted, and a code for each row.
#[derive(Debug, Clone, PartialEq)]
pub struct Factor {
    /// Its name.
    pub name: String,
    /// The levels that occur.
    pub levels: Vec<String>,
    /// For each row used, the index of its level.
    pub codes: Vec<u32>,
}

/// What a model uses of a table: complete rows only.
#[derive(Debug, Clone)]
pub struct Table {
    /// Rows of the table that are used, ascending.
    pub rows: Vec<usize>,
    /// Rows left out for a missing value.
    pub left_out: usize,
    /// Rows left out besides, because they have no trials.
    pub without_trials: usize,
    /// Normal family: the response on the fitted scale, offset taken off. Others: counts or successes.
    pub response: Vec<f64>,
    /// The categories used.
    pub factors: BTreeMap<String, Factor>,
    /// The numeric columns used besides the response.
    pub numbers: BTreeMap<String, Vec<f64>>,
}

impl Table {
    /// Picks out and checks what `model` uses of `data`.
    pub fn new(data: &Columns, model: &Model) -> Result<Self, CannotFit> {
        let roles = Roles::of(model);
        let mut faults = Vec::new();
        let categories = roles.categories(data, &mut faults);
        let numbers = roles.numbers(data, &mut faults);
        CannotFit::all_of(faults)?;
        let mut rows = complete_rows(data.rows(), &categories, &numbers);
        let complete = rows.len();
        let given = numbers.get(model.response.as_str()).copied().unwrap_or_default();
        let mut faults: Vec<CannotFit> = numbers.iter().flat_map(|(name, values)| infinite(name, values, &rows)).collect();
        faults.extend(counts_outside(model, rows.iter().map(|row| (given[*row], *row))));
        if let Some(trials) = model.trials.as_deref().and_then(|name| numbers.get(name)) {
            faults.extend(trials_outside(model, given, trials, &rows));
            rows.retain(|row| trials[*row] != 0.0);
        }
        CannotFit::all_of(faults)?;
        if rows.is_empty() {
            return Err(CannotFit::NoRows { rows: data.rows() });
        }
        let pick = |(name, values): (&str, &[f64])| (name.to_owned(), rows.iter().map(|row| values[*row]).collect());
        let mut picked: BTreeMap<String, Vec<f64>> = numbers.into_iter().map(pick).collect();
        let response = on_scale(picked.remove(&model.response).unwrap_or_default(), model, &rows)?;
        let response = if model.family == Family::Normal { without_offset(response, model, &picked) } else { response };
        let factors = categories.into_iter().map(|(name, column)| (name.to_owned(), pick_factor(name, column, &rows))).collect();
        Ok(Self { left_out: data.rows() - rows.len(), without_trials: complete - rows.len(), rows, response, factors, numbers: picked })
    }

    /// Some of the rows only; levels keep their codes, whether or not a row is left.
    pub fn only(&self, keep: &[bool]) -> Self {
        fn pick<T: Clone>(all: &[T], keep: &[bool]) -> Vec<T> {
            all.iter().zip(keep).filter(|(_, keep)| **keep).map(|(one, _)| one.clone()).collect()
        }
        let factor = |(name, factor): (&String, &Factor)| (name.clone(), Factor { codes: pick(&factor.codes, keep), ..factor.clone() });
        Self {
            rows: pick(&self.rows, keep),
            response: pick(&self.response, keep),
            factors: self.factors.iter().map(factor).collect(),
            numbers: self.numbers.iter().map(|(name, values)| (name.clone(), pick(values, keep))).collect(),
            ..*self
        }
    }

    /// Number of rows used.
    pub fn len(&self) -> usize {
        self.rows.len()
    }
}

/// The rows without a missing cell.
fn complete_rows(rows: usize, categories: &BTreeMap<&str, &CategoryColumn>, numbers: &BTreeMap<&str, &[f64]>) -> Vec<usize> {
    let mut complete = vec![true; rows];
    for column in categories.values() {
        complete.iter_mut().zip(column.codes()).for_each(|(complete, code)| *complete &= code.is_some());
    }
    for values in numbers.values() {
        complete.iter_mut().zip(*values).for_each(|(complete, value)| *complete &= !value.is_nan());
    }
    (0..rows).filter(|row| complete[*row]).collect()
}

fn infinite<'a>(name: &'a str, values: &'a [f64], rows: &'a [usize]) -> impl Iterator<Item = CannotFit> + 'a {
    let of_row = |row: &&usize| values[**row].is_infinite();
    rows.iter().filter(of_row).map(|row| CannotFit::Infinite { column: name.to_owned(), row: row + 1 })
}

fn pick_factor(name: &str, column: &CategoryColumn, rows: &[usize]) -> Factor {
    let old: Vec<u32> = rows.iter().filter_map(|row| column.codes()[*row]).collect();
    let mut new = vec![u32::MAX; column.levels().len()];
    old.iter().for_each(|code| new[*code as usize] = 0);
    let mut levels = Vec::new();
    for (place, level) in new.iter_mut().zip(column.levels()).filter(|(place, _)| **place == 0) {
        *place = levels.len() as u32;
        levels.push(level.clone());
    }
    let codes = old.iter().map(|code| new[*code as usize]).collect();
    Factor { name: name.to_owned(), levels, codes }
}

fn on_scale(mut response: Vec<f64>, model: &Model, rows: &[usize]) -> Result<Vec<f64>, CannotFit> {
    let (lowest_ok, expected): (fn(f64) -> bool, &str) = match model.response_scale {
        ResponseScale::Identity => return Ok(response),
        ResponseScale::Log => (|y| y > 0.0, "a number above zero, since response_scale is \"log\""),
        ResponseScale::Sqrt => (|y| y >= 0.0, "zero or above, since response_scale is \"sqrt\""),
    };
    for (y, row) in response.iter_mut().zip(rows) {
        if !lowest_ok(*y) {
            let (column, found, expected) = (model.response.clone(), y.to_string(), expected.to_owned());
            return Err(CannotFit::ValueOutside { column, row: row + 1, found, expected });
        }
        *y = if model.response_scale == ResponseScale::Log { y.ln() } else { y.sqrt() };
    }
    Ok(response)
}

/// Largest count, or number of trials, that is told apart from its neighbours and summed up to.
const LARGEST_COUNT: f64 = 1e9;

fn is_count(value: f64) -> bool {
    (0.0..=LARGEST_COUNT).contains(&value) && value.fract() == 0.0
}

fn outside(column: &str, row: usize, found: String, expected: String) -> CannotFit {
    CannotFit::ValueOutside { column: column.to_owned(), row: row + 1, found, expected }
}

/// Refuses counts that are negative, fractional or beyond all counting.
pub fn check_counts(model: &Model, response: &[f64], rows: &[usize]) -> Result<(), CannotFit> {
    CannotFit::all_of(counts_outside(model, response.iter().copied().zip(rows.iter().copied())))
}

/// Finite values that are no counts, each with its row.
fn counts_outside(model: &Model, response: impl Iterator<Item = (f64, usize)>) -> Vec<CannotFit> {
    if model.family == Family::Normal {
        return Vec::new();
    }
    let expected = || format!("a whole number, zero or above, since family \"{}\" counts", model.family.name());
    let wrong = response.filter(|(y, _)| y.is_finite() && !is_count(*y));
    wrong.map(|(y, row)| outside(&model.response, row, y.to_string(), expected())).collect()
}

fn trials_outside(model: &Model, response: &[f64], trials: &[f64], rows: &[usize]) -> Vec<CannotFit> {
    let column = model.trials.as_deref().unwrap_or_default();
    let fault = |row: &usize| {
        let (y, n) = (response[*row], trials[*row]);
        let expected = match (n.is_infinite(), is_count(n)) {
            (true, _) => return None,
            (_, false) => "a number of trials: whole, zero or above".to_owned(),
            // A response that is no count has a fault of its own.
            _ if y > n && is_count(y) => format!("at least the {y} successes that column \"{}\" has there", model.response),
            _ => return None,
        };
        Some(outside(column, *row, n.to_string(), expected))
    };
    rows.iter().filter_map(fault).collect()
}

fn without_offset(mut response: Vec<f64>, model: &Model, numbers: &BTreeMap<String, Vec<f64>>) -> Vec<f64> {
    if let Some(offset) = model.offset.as_ref().and_then(|name| numbers.get(name)) {
        response.iter_mut().zip(offset).for_each(|(y, offset)| *y -= offset);
    }
    response
}

/// The columns of a model with what each is used for.
struct Roles<'m> {
    categories: BTreeMap<&'m str, String>,
    numbers: BTreeMap<&'m str, String>,
}

impl<'m> Roles<'m> {
    fn of(model: &'m Model) -> Self {
        let mut roles = Self { categories: BTreeMap::new(), numbers: BTreeMap::new() };
        roles.number(&model.response, "the response");
        for (name, role) in [(&model.trials, "the trials"), (&model.offset, "the offset")] {
            if let Some(name) = name {
                roles.number(name, role);
            }
        }
        let all = |lists: &'m [Vec<String>]| lists.iter().flatten();
        for name in all(&model.effects) {
            roles.either(model, name, "an effect");
        }
        all(&model.groups).for_each(|name| roles.category(name, "a grouping"));
        for varying in &model.varying {
            varying.over.iter().for_each(|name| roles.category(name, "a grouping"));
            all(&varying.effects).for_each(|name| roles.number(name, "a varying covariate"));
        }
        let residual = &model.residual;
        residual.variance_by.iter().for_each(|name| roles.category(name, "a stratum of the residual"));
        if let Some(serial) = &residual.serial {
            roles.number(&serial.order, "the order of the records");
            serial.within.iter().for_each(|name| roles.category(name, "a series"));
        }
        for compare in &model.compare {
            compare.means_of.iter().chain(&compare.within).for_each(|n| roles.category(n, "a comparison"));
        }
        roles
    }

    fn category(&mut self, name: &'m str, role: &str) {
        self.categories.entry(name).or_insert_with(|| role.to_owned());
    }

    fn number(&mut self, name: &'m str, role: &str) {
        self.numbers.entry(name).or_insert_with(|| role.to_owned());
    }

    fn either(&mut self, model: &Model, name: &'m str, role: &str) {
        if model.is_category(name) { self.category(name, role) } else { self.number(name, role) }
    }

    fn categories<'d>(&self, data: &'d Columns, faults: &mut Vec<CannotFit>) -> BTreeMap<&'m str, &'d CategoryColumn> {
        let mut found = BTreeMap::new();
        for (name, role) in &self.categories {
            match data.get(name) {
                Some(Column::Categories(column)) => {
                    found.insert(*name, column);
                }
                Some(Column::Numbers(_)) => faults.push(CannotFit::NotCategories { column: (*name).to_owned(), role: role.clone() }),
                None => faults.push(absent(data, name, role)),
            }
        }
        found
    }

    fn numbers<'d>(&self, data: &'d Columns, faults: &mut Vec<CannotFit>) -> BTreeMap<&'m str, &'d [f64]> {
        let mut found = BTreeMap::new();
        for (name, role) in &self.numbers {
            match data.get(name) {
                Some(Column::Numbers(values)) => {
                    found.insert(*name, values.as_slice());
                }
                Some(Column::Categories(_)) => faults.push(CannotFit::NotNumeric { column: (*name).to_owned(), role: role.clone() }),
                None => faults.push(absent(data, name, role)),
            }
        }
        found
    }
}

fn absent(data: &Columns, name: &str, role: &str) -> CannotFit {
    let names: BTreeSet<&str> = data.names().collect();
    let found = names.into_iter().collect::<Vec<_>>().join(", ");
    CannotFit::ColumnAbsent { column: name.to_owned(), role: role.to_owned(), found }
}
