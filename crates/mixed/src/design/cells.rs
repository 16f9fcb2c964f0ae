//! The distinct rows of the fixed-effect matrix: rows alike in all categories and covariates share one.

use std::collections::HashMap;

use super::coding::Coding;
use super::random::combine;
use super::table::Table;
use crate::linear::Matrix;

/// The fixed-effect matrix X, each distinct row once, zeros left out.
#[derive(Debug, Clone, Default)]
pub struct Cells {
    /// For each row used, its distinct row.
    pub of_row: Vec<u32>,
    /// Rows used that share each distinct row.
    pub counts: Vec<usize>,
    starts: Vec<usize>,
    columns: Vec<u32>,
    values: Vec<f64>,
}

impl Cells {
    /// The distinct rows, in order of first appearance.
    pub fn new(coding: &Coding, table: &Table) -> Self {
        let names: Vec<String> = coding.levels.keys().cloned().collect();
        let (codes, combinations) = combine(table, &names);
        let values: Vec<&[f64]> = coding.covariates.keys().filter_map(|name| table.numbers.get(name)).map(Vec::as_slice).collect();
        let place = |name: &str| names.iter().position(|key| key == name).unwrap_or(0);
        let number = |name: &str| coding.covariates.keys().position(|key| key == name).unwrap_or(0);
        let standards: Vec<_> = coding.covariates.values().copied().collect();
        let mut cells = Self { starts: vec![0], of_row: Vec::with_capacity(table.len()), ..Self::default() };
        let mut seen = Seen::new(combinations.len(), values.len());
        for (row, code) in codes.iter().enumerate() {
            let (cell, is_new) = seen.place(*code, values.iter().map(|values| values[row].to_bits()));
            cells.of_row.push(cell);
            if !is_new {
                cells.counts[cell as usize] += 1;
                continue;
            }
            let levels = &combinations[*code as usize];
            let entries = coding.row(|name| levels[place(name)] as usize, |name| standards[number(name)].of(values[number(name)][row]));
            cells.push(&entries);
        }
        cells
    }

    fn push(&mut self, entries: &[(usize, f64)]) {
        for (column, value) in entries {
            self.columns.push(*column as u32);
            self.values.push(*value);
        }
        self.starts.push(self.columns.len());
        self.counts.push(1);
    }

    /// Number of distinct rows.
    pub fn len(&self) -> usize {
        self.counts.len()
    }

    /// The non-zero entries of a distinct row.
    pub fn entries(&self, cell: usize) -> impl Iterator<Item = (usize, f64)> + Clone + '_ {
        let range = self.starts[cell]..self.starts[cell + 1];
        self.columns[range.clone()].iter().map(|c| *c as usize).zip(self.values[range].iter().copied())
    }

    /// The same rows with only the columns kept, renumbered in the order given.
    pub fn keep(&self, kept: &[usize], columns: usize) -> Self {
        let mut new = vec![usize::MAX; columns];
        kept.iter().enumerate().for_each(|(index, column)| new[*column] = index);
        let mut cells = Self { of_row: self.of_row.clone(), starts: vec![0], ..Self::default() };
        for cell in 0..self.len() {
            let entries: Vec<(usize, f64)> =
                self.entries(cell).filter(|(column, _)| new[*column] != usize::MAX).map(|(column, value)| (new[column], value)).collect();
            cells.push(&entries);
        }
        cells.counts.clone_from(&self.counts);
        cells
    }

    /// X′X over the rows used.
    pub fn normal(&self, columns: usize) -> Matrix {
        let mut normal = Matrix::zeros(columns, columns);
        for (cell, count) in self.counts.iter().enumerate() {
            for (a, x) in self.entries(cell) {
                let (target, f) = (normal.col_mut(a), *count as f64 * x);
                self.entries(cell).for_each(|(b, y)| target[b] += f * y);
            }
        }
        normal
    }

    /// X β, one value for each distinct row.
    pub fn times(&self, beta: &[f64]) -> Vec<f64> {
        (0..self.len()).map(|cell| self.entries(cell).map(|(c, x)| x * beta[c]).sum()).collect()
    }
}

/// The distinct rows met so far, by combination of categories and by covariates.
struct Seen {
    by_code: Vec<u32>,
    by_value: HashMap<Vec<u64>, u32>,
    covariates: usize,
    count: u32,
}

impl Seen {
    fn new(codes: usize, covariates: usize) -> Self {
        let by_code = if covariates == 0 { vec![u32::MAX; codes] } else { Vec::new() };
        Self { by_code, by_value: HashMap::new(), covariates, count: 0 }
    }

    /// The number of a row's distinct row, and whether it is new.
    fn place(&mut self, code: u32, values: impl Iterator<Item = u64>) -> (u32, bool) {
        let next = self.count;
        let cell = if self.covariates == 0 {
            let place = &mut self.by_code[code as usize];
            if *place == u32::MAX {
                *place = next;
            }
            *place
        } else {
            *self.by_value.entry(std::iter::once(u64::from(code)).chain(values).collect()).or_insert(next)
        };
        self.count += u32::from(cell == next);
        (cell, cell == next)
    }
}
