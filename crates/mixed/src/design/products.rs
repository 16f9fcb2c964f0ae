//! The cross-products of one class of the residual's inverse covariance within a component, and the rows from
//! which they are summed.

use std::sync::Arc;

use super::sums::{Block, Component, Parts};
use crate::linear::{Arrow, ArrowPlan, Matrix};

/// Cross-products of one class: Z′KZ, Z′K[X y], [X y]′K[X y].
#[derive(Debug, Clone, PartialEq)]
pub struct Sums {
    /// q × q; shared with what is made of it where its weight is 1.
    pub zz: Arc<Arrow>,
    /// q × (p + 1), the response last.
    pub zx: Matrix,
    /// (p + 1) × (p + 1), the response last.
    pub xx: Matrix,
}

/// A row's non-zero entries.
#[derive(Default)]
pub struct Row {
    /// Random columns.
    pub random: Vec<(usize, f64)>,
    /// Fixed columns.
    pub fixed: Vec<(usize, f64)>,
}

/// Reads a row's non-zero entries in a component's own numbering.
pub struct RowReader<'r> {
    parts: &'r Parts<'r>,
    places: &'r [Vec<u32>],
    blocks: Vec<Block>,
    fixed_place: Vec<u32>,
}

impl<'r> RowReader<'r> {
    /// The reader of one component's rows.
    pub fn new(parts: &'r Parts<'r>, component: &Component, places: &'r [Vec<u32>]) -> Self {
        let mut fixed_place = vec![u32::MAX; parts.columns];
        component.fixed.iter().zip(0..).for_each(|(column, place)| fixed_place[*column] = place);
        Self { parts, places, blocks: component.blocks.clone(), fixed_place }
    }

    /// All of a row.
    pub fn read(&self, row: usize, into: &mut Row) {
        self.read_random(row, into);
        self.read_cell(self.parts.cells.of_row[row], into);
    }

    /// The random columns of a row.
    pub fn read_random(&self, row: usize, into: &mut Row) {
        into.random.clear();
        for block in &self.blocks {
            let term = &self.parts.terms[block.term];
            let values = &term.coefficients[block.coefficient].values;
            let place = self.places[block.term][term.codes[row] as usize] as usize;
            into.random.push((block.start + place, values.as_ref().map_or(1.0, |values| values[row])));
        }
    }

    /// The fixed columns of a distinct row.
    pub fn read_cell(&self, cell: u32, into: &mut Row) {
        into.fixed.clear();
        into.fixed.extend(self.parts.cells.entries(cell as usize).map(|(column, value)| (self.fixed_place[column] as usize, value)));
    }
}

impl Sums {
    /// All zeros.
    pub fn zeros(plan: &Arc<ArrowPlan>, p: usize) -> Self {
        let q = plan.size();
        Self { zz: Arc::new(Arrow::zeros(plan)), zx: Matrix::zeros(q, p + 1), xx: Matrix::zeros(p + 1, p + 1) }
    }

    /// Adds two records to the products of one with the other.
    pub fn add_pair(&mut self, a: &Row, b: &Row) {
        for (one, other) in [(a, b), (b, a)] {
            self.add_random(&one.random, &other.random);
            self.add_cross(&one.random, &other.fixed);
            self.add_fixed(one, other, 1.0);
        }
    }

    /// Adds the squares of the records of one distinct row; `entries` is room to read them into.
    pub fn add_alike(&mut self, reader: &RowReader<'_>, rows: &[(u32, u32)], entries: &mut Row) {
        let Some((cell, _)) = rows.first() else { return };
        let mut random = Vec::with_capacity(rows.len());
        for (_, row) in rows {
            reader.read_random(*row as usize, entries);
            self.add_random(&entries.random, &entries.random);
            random.extend_from_slice(&entries.random);
        }
        reader.read_cell(*cell, entries);
        self.add_cross(&random, &entries.fixed);
        self.add_fixed(entries, entries, rows.len() as f64);
    }

    fn add_random(&mut self, a: &[(usize, f64)], b: &[(usize, f64)]) {
        let zz = Arc::make_mut(&mut self.zz);
        for (col, y) in b {
            a.iter().for_each(|(row, x)| zz.add_entry(*row, *col, x * y));
        }
    }

    /// Adds random entries of records against their common fixed entries.
    fn add_cross(&mut self, random: &[(usize, f64)], fixed: &[(usize, f64)]) {
        for (col, y) in fixed {
            let target = self.zx.col_mut(*col);
            random.iter().for_each(|(row, x)| target[*row] += x * y);
        }
    }

    /// Adds the fixed columns' part of row a against row b, `count` times.
    fn add_fixed(&mut self, a: &Row, b: &Row, count: f64) {
        for (col, y) in &b.fixed {
            let target = self.xx.col_mut(*col);
            a.fixed.iter().for_each(|(row, x)| target[*row] += count * x * y);
        }
    }

    /// Puts all sums of the response at zero.
    pub fn clear_response(&mut self) {
        let p = self.xx.cols() - 1;
        self.zx.col_mut(p).fill(0.0);
        self.xx.col_mut(p).fill(0.0);
        (0..p).for_each(|column| self.xx[(p, column)] = 0.0);
    }

    /// Adds the responses of the records of one distinct row; `entries` is room to read them into.
    pub fn add_responses(&mut self, reader: &RowReader<'_>, rows: &[(u32, u32)], response: &[f64], entries: &mut Row) {
        let Some((cell, _)) = rows.first() else { return };
        let mut sum = 0.0;
        for row in rows.iter().map(|(_, row)| *row as usize) {
            let y = response[row];
            reader.read_random(row, entries);
            self.add_response(entries, y, y);
            sum += y;
        }
        reader.read_cell(*cell, entries);
        self.add_fixed_response(entries, sum);
    }

    /// Adds row a's part of a class in which its own response is `own` and the other record's `other`.
    pub fn add_response(&mut self, a: &Row, own: f64, other: f64) {
        let p = self.xx.cols() - 1;
        let target = self.zx.col_mut(p);
        a.random.iter().for_each(|(row, x)| target[*row] += x * other);
        self.xx[(p, p)] += own * other;
    }

    /// Adds the fixed columns' part of the rows of one distinct row, whose other records' responses add up to `sum`.
    pub fn add_fixed_response(&mut self, a: &Row, sum: f64) {
        let p = self.xx.cols() - 1;
        for (row, x) in &a.fixed {
            self.xx[(*row, p)] += x * sum;
            self.xx[(p, *row)] += x * sum;
        }
    }
}
