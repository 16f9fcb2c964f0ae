//! A symmetric matrix of an arrow pattern: entries, sums, products.

use std::sync::Arc;

use super::block;
use super::local::Local;
use super::plan::{ArrowPlan, Slot};
use crate::linear::matrix::{Matrix, axpy, dot};

/// A symmetric matrix of an arrow pattern.
#[derive(Debug, Clone, PartialEq)]
pub struct Arrow {
    pub(super) plan: Arc<ArrowPlan>,
    pub(super) own: Vec<f64>,
    pub(super) cross: Vec<f64>,
    pub(super) shared: Matrix,
}

impl Arrow {
    /// All zeros.
    pub fn zeros(plan: &Arc<ArrowPlan>) -> Self {
        let s = plan.shared.len();
        let (own, cross) = (vec![0.0; plan.own_len], vec![0.0; plan.cross_len]);
        Self { plan: Arc::clone(plan), own, cross, shared: Matrix::zeros(s, s) }
    }

    /// Number of columns.
    pub fn size(&self) -> usize {
        self.plan.size()
    }

    /// The matrix itself, where no columns are apart from the shared ones.
    pub fn whole(&self) -> Option<&Matrix> {
        self.plan.groups.is_empty().then_some(&self.shared)
    }

    /// Adds to the entry at (row, col); of the two entries of a group and a shared column the one with the
    /// group's row counts, the other is passed over.
    pub fn add_entry(&mut self, row: usize, col: usize, value: f64) {
        match (self.plan.slots[row], self.plan.slots[col]) {
            (Slot::Shared(i), Slot::Shared(j)) => self.shared[(i, j)] += value,
            (Slot::Group { group, place: i }, Slot::Group { place: j, .. }) => {
                let group = &self.plan.groups[group];
                self.own[group.own_at + j * group.cols.len() + i] += value;
            }
            (Slot::Group { group, place: i }, Slot::Shared(j)) => {
                let group = &self.plan.groups[group];
                if let Ok(j) = group.meets.binary_search(&j) {
                    self.cross[group.cross_at + j * group.cols.len() + i] += value;
                }
            }
            (Slot::Shared(_), Slot::Group { .. }) => {}
        }
    }

    /// A matrix of the same pattern, all zeros.
    pub fn zeros_like(&self) -> Self {
        Self::zeros(&self.plan)
    }

    /// The place in storage of the entry at (row, col), for [`value_at`](Self::value_at) and
    /// [`add_at`](Self::add_at); one place stands for both entries of a group and a shared column, and
    /// `None` for an entry off the pattern.
    pub fn place_of(&self, row: usize, col: usize) -> Option<u32> {
        let plan = &self.plan;
        let place = match (plan.slots[row], plan.slots[col]) {
            (Slot::Shared(i), Slot::Shared(j)) => plan.own_len + plan.cross_len + j * plan.shared.len() + i,
            (Slot::Group { group, place: i }, Slot::Group { group: other, place: j }) => {
                let group_of = &plan.groups[group];
                (group == other).then_some(group_of.own_at + j * group_of.cols.len() + i)?
            }
            (Slot::Group { group, place: i }, Slot::Shared(j)) => {
                let group = &plan.groups[group];
                plan.own_len + group.cross_at + group.meets.binary_search(&j).ok()? * group.cols.len() + i
            }
            (Slot::Shared(_), Slot::Group { .. }) => return self.place_of(col, row),
        };
        u32::try_from(place).ok()
    }

    /// The entry at a place in storage.
    pub fn value_at(&self, place: u32) -> f64 {
        let (own, cross) = (self.own.len(), self.cross.len());
        match place as usize {
            at if at < own => self.own[at],
            at if at < own + cross => self.cross[at - own],
            at => self.shared.data()[at - own - cross],
        }
    }

    /// Adds to the entry at a place in storage.
    pub fn add_at(&mut self, place: u32, value: f64) {
        let (own, cross) = (self.own.len(), self.cross.len());
        match place as usize {
            at if at < own => self.own[at] += value,
            at if at < own + cross => self.cross[at - own] += value,
            at => self.shared.data_mut()[at - own - cross] += value,
        }
    }

    /// self ← self + f · other
    pub fn add(&mut self, f: f64, other: &Self) {
        axpy(&mut self.own, f, &other.own);
        axpy(&mut self.cross, f, &other.cross);
        self.shared.add(f, &other.shared);
    }

    /// self ← f · self
    pub fn scale(&mut self, f: f64) {
        self.own.iter_mut().chain(&mut self.cross).for_each(|entry| *entry *= f);
        self.shared.scale(f);
    }

    /// Σᵢⱼ selfᵢⱼ otherᵢⱼ
    pub fn inner(&self, other: &Self) -> f64 {
        dot(&self.own, &other.own) + 2.0 * dot(&self.cross, &other.cross) + self.shared.inner(&other.shared)
    }

    /// For each row i, Σⱼ selfᵢⱼ otherᵢⱼ.
    pub fn row_inner(&self, other: &Self) -> Vec<f64> {
        let plan = &self.plan;
        let mut sums = vec![0.0; plan.size()];
        for group in &plan.groups {
            let q = group.cols.len();
            for (i, row) in group.cols.iter().enumerate() {
                let own = (0..q).map(|j| group.own_at + j * q + i);
                sums[*row] += own.map(|at| self.own[at] * other.own[at]).sum::<f64>();
                for (j, shared) in group.meets.iter().enumerate() {
                    let at = group.cross_at + j * q + i;
                    let product = self.cross[at] * other.cross[at];
                    sums[*row] += product;
                    sums[plan.shared[*shared]] += product;
                }
            }
        }
        for (j, col) in plan.shared.iter().enumerate() {
            sums[*col] += dot(self.shared.col(j), other.shared.col(j));
        }
        sums
    }

    /// The entry at (row, col); zero off the pattern.
    pub fn entry(&self, row: usize, col: usize) -> f64 {
        match (self.plan.slots[row], self.plan.slots[col]) {
            (Slot::Shared(i), Slot::Shared(j)) => self.shared[(i, j)],
            (Slot::Group { group, place: i }, Slot::Group { group: other, place: j }) => {
                let group_of = &self.plan.groups[group];
                if group == other { self.own[group_of.own_at + j * group_of.cols.len() + i] } else { 0.0 }
            }
            (Slot::Group { group, place: i }, Slot::Shared(j)) => {
                let group = &self.plan.groups[group];
                let found = group.meets.binary_search(&j);
                found.map_or(0.0, |j| self.cross[group.cross_at + j * group.cols.len() + i])
            }
            (Slot::Shared(_), Slot::Group { .. }) => self.entry(col, row),
        }
    }

    /// The whole column, zeros included.
    pub fn col(&self, col: usize) -> Vec<f64> {
        let plan = &self.plan;
        if plan.groups.is_empty() {
            return self.shared.col(col).to_vec();
        }
        let mut column = vec![0.0; self.size()];
        match plan.slots[col] {
            Slot::Group { group, place } => {
                let group = &plan.groups[group];
                let q = group.cols.len();
                group.cols.iter().zip(block(&self.own, group.own_at, q, place)).for_each(|(row, entry)| column[*row] = *entry);
                let met = group.meets.iter().enumerate();
                met.for_each(|(j, shared)| column[plan.shared[*shared]] = self.cross[group.cross_at + j * q + place]);
            }
            Slot::Shared(place) => {
                plan.shared.iter().zip(self.shared.col(place)).for_each(|(row, entry)| column[*row] = *entry);
                for group in &plan.groups {
                    let Ok(j) = group.meets.binary_search(&place) else { continue };
                    let cross = block(&self.cross, group.cross_at, group.cols.len(), j);
                    group.cols.iter().zip(cross).for_each(|(row, entry)| column[*row] = *entry);
                }
            }
        }
        column
    }

    /// self · vector
    pub fn times_vec(&self, vector: &[f64]) -> Vec<f64> {
        if self.plan.groups.is_empty() {
            return self.shared.times_vec(vector);
        }
        let mut out = vec![0.0; self.size()];
        self.multiply(vector, &mut out);
        out
    }

    fn multiply(&self, vector: &[f64], out: &mut [f64]) {
        let plan = &self.plan;
        let x: Vec<f64> = plan.shared.iter().map(|col| vector[*col]).collect();
        let mut y = self.shared.times_vec(&x);
        for group in &plan.groups {
            let q = group.cols.len();
            for (j, col) in group.cols.iter().enumerate() {
                let column = block(&self.own, group.own_at, q, j);
                group.cols.iter().zip(column).for_each(|(row, entry)| out[*row] += entry * vector[*col]);
            }
            for (j, shared) in group.meets.iter().enumerate() {
                let column = block(&self.cross, group.cross_at, q, j);
                for (row, entry) in group.cols.iter().zip(column) {
                    out[*row] += entry * x[*shared];
                    y[*shared] += entry * vector[*row];
                }
            }
        }
        plan.shared.iter().zip(&y).for_each(|(col, y)| out[*col] = *y);
    }

    /// self · other
    pub fn times(&self, other: &Matrix) -> Matrix {
        let plan = &self.plan;
        if plan.groups.is_empty() {
            return self.shared.times(other);
        }
        let x = other.transposed();
        let mut met = Matrix::zeros(other.cols(), plan.shared.len());
        for (place, col) in plan.shared.iter().enumerate() {
            met.col_mut(place).copy_from_slice(x.col(*col));
        }
        let mut y = met.times(&self.shared);
        let mut out = Matrix::zeros(other.cols(), self.size());
        for group in &plan.groups {
            let q = group.cols.len();
            for (i, row) in group.cols.iter().enumerate() {
                let target = out.col_mut(*row);
                let own = block(&self.own, group.own_at, q, i);
                group.cols.iter().zip(own).for_each(|(col, f)| axpy(target, *f, x.col(*col)));
                for (j, shared) in group.meets.iter().enumerate() {
                    let f = self.cross[group.cross_at + j * q + i];
                    axpy(target, f, met.col(*shared));
                    axpy(y.col_mut(*shared), f, x.col(*row));
                }
            }
        }
        for (place, col) in plan.shared.iter().enumerate() {
            out.col_mut(*col).copy_from_slice(y.col(place));
        }
        out.transposed()
    }

    /// The whole matrix.
    pub fn to_dense(&self) -> Matrix {
        let plan = &self.plan;
        if plan.groups.is_empty() {
            return self.shared.clone();
        }
        let mut dense = Matrix::zeros(self.size(), self.size());
        for (j, col) in plan.shared.iter().enumerate() {
            plan.shared.iter().zip(self.shared.col(j)).for_each(|(row, entry)| dense[(*row, *col)] = *entry);
        }
        for group in &plan.groups {
            let q = group.cols.len();
            for (j, col) in group.cols.iter().enumerate() {
                let own = block(&self.own, group.own_at, q, j);
                group.cols.iter().zip(own).for_each(|(row, entry)| dense[(*row, *col)] = *entry);
            }
            for (j, shared) in group.meets.iter().enumerate() {
                let col = plan.shared[*shared];
                for (row, entry) in group.cols.iter().zip(block(&self.cross, group.cross_at, q, j)) {
                    dense[(*row, col)] = *entry;
                    dense[(col, *row)] = *entry;
                }
            }
        }
        dense
    }

    /// Some successive columns, whole.
    pub fn columns(&self, cols: std::ops::Range<usize>) -> Matrix {
        let mut part = Matrix::zeros(self.size(), cols.len());
        for (place, col) in cols.enumerate() {
            part.col_mut(place).copy_from_slice(&self.col(col));
        }
        part
    }

    /// Every number of the matrix, and what tells its pattern from another, as bits.
    pub fn bits(&self) -> impl Iterator<Item = u64> + '_ {
        let pattern = self.plan.groups.iter().flat_map(|group| {
            let counts = [group.cols.len() as u64, group.meets.len() as u64];
            counts.into_iter().chain(group.cols.iter().chain(&group.meets).map(|place| *place as u64))
        });
        let numbers = self.own.iter().chain(&self.cross).chain(self.shared.data());
        pattern.chain(numbers.map(|entry| entry.to_bits()))
    }

    /// L′ self L, for L that acts within the groups and within the shared columns: `local` gives the part
    /// of L over some columns.
    pub fn sandwich(mut self, local: &dyn Fn(&[usize]) -> Local) -> Self {
        let plan = Arc::clone(&self.plan);
        for group in &plan.groups {
            let q = group.cols.len();
            let left = local(&group.cols);
            left.both(&mut self.own[group.own_at..group.own_at + q * q], q, &left);
            let met: Vec<usize> = group.meets.iter().map(|place| plan.shared[*place]).collect();
            left.both(&mut self.cross[group.cross_at..group.cross_at + q * met.len()], q, &local(&met));
        }
        let s = plan.shared.len();
        let all = local(&plan.shared);
        all.both(&mut self.shared.data_mut()[..s * s], s, &all);
        self
    }
}
