//! The records of one component, laid out for repeated passes: which random columns each meets, with what
//! values, and where their products stand in the arrow matrix.

use std::collections::BTreeMap;

use super::law::Record;
use crate::design::{Component, Design};
use crate::linear::{Arrow, Matrix};

/// Two random columns of one record and where their product stands.
#[derive(Debug, Clone, Copy)]
struct Pair {
    there: u32,
    back: u32,
}

/// One component.
#[derive(Debug, Clone)]
pub struct Part {
    /// Rows used.
    pub rows: Vec<usize>,
    /// The records.
    pub records: Vec<Record>,
    /// Offsets.
    pub offset: Vec<f64>,
    /// Distinct rows of the fixed effects met here, in the design's numbering.
    pub cells: Vec<u32>,
    /// For each record its place in `cells`.
    pub cell: Vec<u32>,
    /// Number of random columns.
    pub random: usize,
    /// Number of random columns that a record meets.
    pub width: usize,
    /// (random term, coefficient) of each column that a record meets.
    slots: Vec<(usize, usize)>,
    /// For each record and slot the random column.
    cols: Vec<u32>,
    /// For each record and slot the covariate's value, 1 for an overall deviation.
    z: Vec<f64>,
    /// For each record the pairs of slots, the first's fastest.
    pairs: Vec<Pair>,
    template: Arrow,
    /// Rounding of the sum of the log densities, whose parts are large where counts are.
    pub noise: f64,
}

impl Part {
    /// Lays out a component.
    pub fn new(design: &Design, component: &Component, records: &[Record], offset: &[f64]) -> Option<Self> {
        let rows = component.rows.clone();
        let mut numbers = BTreeMap::new();
        let mut cells = Vec::new();
        let mut cell = Vec::with_capacity(rows.len());
        for row in &rows {
            let global = design.cells.of_row[*row];
            cell.push(*numbers.entry(global).or_insert_with(|| {
                cells.push(global);
                (cells.len() - 1) as u32
            }));
        }
        let template = component.sums.first()?.zz.zeros_like();
        let slots: Vec<(usize, usize)> = component.blocks.iter().map(|block| (block.term, block.coefficient)).collect();
        let pick = |from: &[f64]| rows.iter().map(|row| from[*row]).collect::<Vec<f64>>();
        let mut part = Self {
            records: rows.iter().map(|row| records[*row]).collect(),
            offset: pick(offset),
            cells,
            cell,
            random: component.random(),
            width: slots.len(),
            slots,
            cols: Vec::new(),
            z: Vec::new(),
            pairs: Vec::new(),
            template,
            noise: 0.0,
            rows,
        };
        part.noise = 1e-12 + 4.0 * f64::EPSILON * part.records.iter().map(|record| 2.0 * record.constant.abs() + record.y).sum::<f64>();
        part.read(design, component)?;
        Some(part)
    }

    fn read(&mut self, design: &Design, component: &Component) -> Option<()> {
        for row in &component.rows {
            let from = self.cols.len();
            for block in &component.blocks {
                let term = &design.terms[block.term];
                let place = design.sorted.places[block.term][term.codes[*row] as usize] as usize;
                self.cols.push((block.start + place) as u32);
                let values = &term.coefficients[block.coefficient].values;
                self.z.push(values.as_ref().map_or(1.0, |values| values[*row]));
            }
            let cols = &self.cols[from..];
            for j in cols {
                for i in cols {
                    let (i, j) = (*i as usize, *j as usize);
                    self.pairs.push(Pair { there: self.template.place_of(i, j)?, back: self.template.place_of(j, i)? });
                }
            }
        }
        Some(())
    }

    /// Number of records.
    pub fn len(&self) -> usize {
        self.rows.len()
    }

    /// The random columns of a record.
    pub fn cols(&self, record: usize) -> &[u32] {
        &self.cols[record * self.width..(record + 1) * self.width]
    }

    /// The covariates' values of a record.
    pub fn z(&self, record: usize) -> &[f64] {
        &self.z[record * self.width..(record + 1) * self.width]
    }

    /// Slot of (random term, coefficient).
    pub fn slot(&self, term: usize, coefficient: usize) -> Option<usize> {
        self.slots.iter().position(|slot| *slot == (term, coefficient))
    }

    /// M = ZΛ, record by record.
    pub fn loadings(&self, roots: &[Matrix]) -> Vec<f64> {
        if roots.iter().all(|root| root.rows() == 1) {
            let single: Vec<f64> = self.slots.iter().map(|(term, _)| roots[*term][(0, 0)]).collect();
            return self.z.iter().zip(single.iter().cycle()).map(|(z, root)| z * root).collect();
        }
        let mut out = vec![0.0; self.z.len()];
        for (z, m) in self.z.chunks_exact(self.width.max(1)).zip(out.chunks_exact_mut(self.width.max(1))) {
            for ((term, c), m) in self.slots.iter().zip(m) {
                let own = self.slots.iter().zip(z).filter(|((other, a), _)| other == term && a >= c);
                *m = own.map(|((_, a), z)| roots[*term][(*a, *c)] * z).sum();
            }
        }
        out
    }

    /// M u
    pub fn times(&self, loadings: &[f64], u: &[f64], record: usize) -> f64 {
        let m = &loadings[record * self.width..(record + 1) * self.width];
        self.cols(record).iter().zip(m).map(|(col, m)| m * u[*col as usize]).sum()
    }

    /// M′ vector
    pub fn transposed_times(&self, loadings: &[f64], vector: &[f64]) -> Vec<f64> {
        let mut out = vec![0.0; self.random];
        if self.width > 0 {
            for (record, m) in loadings.chunks_exact(self.width).enumerate() {
                self.cols(record).iter().zip(m).for_each(|(col, m)| out[*col as usize] += m * vector[record]);
            }
        }
        out
    }

    /// M′WM
    pub fn weigh(&self, loadings: &[f64], weights: impl Fn(usize) -> f64) -> Arrow {
        let mut arrow = self.template.clone();
        let w = self.width;
        if w == 0 {
            return arrow;
        }
        for ((record, m), pairs) in loadings.chunks_exact(w).enumerate().zip(self.pairs.chunks_exact(w * w)) {
            let weight = weights(record);
            for j in 0..w {
                for i in 0..=j {
                    let Pair { there, back } = pairs[j * w + i];
                    let value = weight * m[i] * m[j];
                    arrow.add_at(there, value);
                    if there != back {
                        arrow.add_at(back, value);
                    }
                }
            }
        }
        arrow
    }

    /// For one record, the entries of H⁻¹ M′ in the columns that it meets, into `out`.
    pub fn through(&self, selected: &Arrow, loadings: &[f64], record: usize, out: &mut [f64]) {
        let w = self.width;
        let m = &loadings[record * w..(record + 1) * w];
        let pairs = &self.pairs[record * w * w..(record + 1) * w * w];
        for (i, out) in out.iter_mut().enumerate() {
            *out = (0..w).map(|j| selected.value_at(pairs[j * w + i].there) * m[j]).sum();
        }
    }
}
