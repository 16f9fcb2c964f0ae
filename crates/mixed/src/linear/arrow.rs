//! A symmetric matrix in arrow form: many small groups of columns that meet only through a set of shared
//! columns, and the inverse of such a matrix.
//!
//! Blocks within a site, the ratings of one rater, the units of one line: whatever the design, the
//! columns of some factors fall into small groups once the remaining factors (the shared columns) are
//! set apart. Groups are eliminated first; only the shared columns need a dense factor.

use std::sync::Arc;

use super::cholesky::Cholesky;
use super::matrix::{Matrix, axpy, dot};

/// Where a column lives.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Slot {
    Group { group: usize, place: usize },
    Shared(usize),
}

/// One group of columns.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Group {
    /// Its columns.
    cols: Vec<usize>,
    /// The shared columns that it meets, as places among the shared ones, ascending.
    meets: Vec<usize>,
    /// Where its own block starts.
    own_at: usize,
    /// Where its block with the shared columns starts.
    cross_at: usize,
}

/// The pattern of an arrow matrix.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ArrowPlan {
    slots: Vec<Slot>,
    groups: Vec<Group>,
    shared: Vec<usize>,
    own_len: usize,
    cross_len: usize,
}

impl ArrowPlan {
    /// All columns shared: a dense matrix.
    pub fn dense(size: usize) -> Self {
        Self::new(size, &vec![None; size], &[])
    }

    /// A plan from the group of each column (`None`: shared) and the (group, shared column) pairs that meet.
    pub fn new(size: usize, group_of: &[Option<usize>], meetings: &[(usize, usize)]) -> Self {
        let count = group_of.iter().flatten().max().map_or(0, |group| group + 1);
        let mut groups = vec![Group { cols: Vec::new(), meets: Vec::new(), own_at: 0, cross_at: 0 }; count];
        let (mut slots, mut shared) = (Vec::with_capacity(size), Vec::new());
        for (col, group) in group_of.iter().enumerate() {
            match group {
                Some(group) => {
                    slots.push(Slot::Group { group: *group, place: groups[*group].cols.len() });
                    groups[*group].cols.push(col);
                }
                None => {
                    slots.push(Slot::Shared(shared.len()));
                    shared.push(col);
                }
            }
        }
        for (group, col) in meetings {
            if let Some(Slot::Shared(place)) = slots.get(*col) {
                groups[*group].meets.push(*place);
            }
        }
        let (mut own_len, mut cross_len) = (0, 0);
        for group in &mut groups {
            group.meets.sort_unstable();
            group.meets.dedup();
            (group.own_at, group.cross_at) = (own_len, cross_len);
            own_len += group.cols.len() * group.cols.len();
            cross_len += group.cols.len() * group.meets.len();
        }
        Self { slots, groups, shared, own_len, cross_len }
    }

    /// Number of columns.
    pub fn size(&self) -> usize {
        self.slots.len()
    }

    /// Rough number of multiply-adds of one factorisation with inverse.
    pub fn cost(&self) -> f64 {
        let cube = |n: usize| (n * n * n) as f64;
        let group = |group: &Group| {
            let (q, s) = (group.cols.len() as f64, group.meets.len() as f64);
            q * q * q + 2.0 * q * q * s + 2.0 * q * s * s + 60.0
        };
        cube(self.shared.len()) + self.groups.iter().map(group).sum::<f64>()
    }
}

/// A symmetric matrix of an arrow pattern.
#[derive(Debug, Clone, PartialEq)]
pub struct Arrow {
    plan: Arc<ArrowPlan>,
    own: Vec<f64>,
    cross: Vec<f64>,
    shared: Matrix,
}

/// The column-major block of `rows` rows that starts at `at`.
fn block(data: &[f64], at: usize, rows: usize, col: usize) -> &[f64] {
    &data[at + col * rows..at + (col + 1) * rows]
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
        if self.plan.groups.is_empty() {
            return self.shared.col(col).to_vec();
        }
        let mut unit = vec![0.0; self.size()];
        unit[col] = 1.0;
        self.times_vec(&unit)
    }

    /// self · vector
    pub fn times_vec(&self, vector: &[f64]) -> Vec<f64> {
        let mut out = vec![0.0; self.size()];
        self.multiply(vector, &mut out);
        out
    }

    fn multiply(&self, vector: &[f64], out: &mut [f64]) {
        let plan = &self.plan;
        if plan.groups.is_empty() {
            out.copy_from_slice(&self.shared.times_vec(vector));
            return;
        }
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
        if self.plan.groups.is_empty() {
            return self.shared.clone();
        }
        let n = self.size();
        let mut dense = Matrix::zeros(n, n);
        for col in 0..n {
            dense.col_mut(col).copy_from_slice(&self.col(col));
        }
        dense
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
    pub fn sandwich(&self, local: &dyn Fn(&[usize]) -> Local) -> Self {
        let plan = Arc::clone(&self.plan);
        let mut out = self.clone();
        for group in &plan.groups {
            let q = group.cols.len();
            let left = local(&group.cols);
            left.both(&mut out.own[group.own_at..group.own_at + q * q], q, &left);
            let met: Vec<usize> = group.meets.iter().map(|place| plan.shared[*place]).collect();
            left.both(&mut out.cross[group.cross_at..group.cross_at + q * met.len()], q, &local(&met));
        }
        let s = plan.shared.len();
        let all = local(&plan.shared);
        all.both(&mut out.shared.data_mut()[..s * s], s, &all);
        out
    }

    /// The inverse of I + self; `None` unless that is positive definite.
    pub fn inverse_of_one_plus(&self) -> Option<ArrowInverse> {
        let plan = Arc::clone(&self.plan);
        let mut shared = self.shared.clone();
        (0..plan.shared.len()).for_each(|i| shared[(i, i)] += 1.0);
        let (mut own, mut ratio) = (vec![0.0; plan.own_len], vec![0.0; plan.cross_len]);
        let mut log_det = 0.0;
        for group in &plan.groups {
            log_det += eliminate(self, group, &mut own, &mut ratio, &mut shared)?;
        }
        let cholesky = Cholesky::new(&shared)?;
        log_det += cholesky.log_det();
        Some(ArrowInverse { plan, own, ratio, shared: cholesky.inverse(), log_det })
    }
}

/// The part of a block-structured L over some columns: a diagonal, or a whole matrix.
pub enum Local {
    /// L = diag.
    Diagonal(Vec<f64>),
    /// L whole.
    Whole(Matrix),
}

impl Local {
    /// block ← self′ · block · right
    fn both(&self, data: &mut [f64], rows: usize, right: &Self) {
        let cols = data.len().checked_div(rows).unwrap_or(0);
        if let (Self::Diagonal(l), Self::Diagonal(r)) = (self, right) {
            for (col, f) in r.iter().enumerate().take(cols) {
                let column = &mut data[col * rows..(col + 1) * rows];
                column.iter_mut().zip(l).for_each(|(entry, l)| *entry *= l * f);
            }
            return;
        }
        let middle = Matrix::from_fn(rows, cols, |i, j| data[j * rows + i]);
        let product = self.whole().transposed_times(&middle).times(&right.whole());
        data.copy_from_slice(product.data());
    }

    fn whole(&self) -> Matrix {
        match self {
            Self::Diagonal(d) => Matrix::from_fn(d.len(), d.len(), |i, j| if i == j { d[i] } else { 0.0 }),
            Self::Whole(matrix) => matrix.clone(),
        }
    }
}

/// Eliminates one group: its inverse, its ratio W = A⁻¹C to the shared columns, and their Schur complement.
fn eliminate(matrix: &Arrow, group: &Group, own: &mut [f64], ratio: &mut [f64], shared: &mut Matrix) -> Option<f64> {
    let q = group.cols.len();
    let range = group.cross_at..group.cross_at + q * group.meets.len();
    let (cross, ratio) = (&matrix.cross[range.clone()], &mut ratio[range]);
    if q == 1 {
        let pivot = 1.0 + matrix.own[group.own_at];
        return eliminate_one(group, pivot, cross, &mut own[group.own_at], ratio, shared);
    }
    let one_plus = |i, j| matrix.own[group.own_at + j * q + i] + f64::from(u8::from(i == j));
    let cholesky = Cholesky::new(&Matrix::from_fn(q, q, one_plus))?;
    own[group.own_at..group.own_at + q * q].copy_from_slice(cholesky.inverse().data());
    ratio.copy_from_slice(cross);
    ratio.chunks_exact_mut(q).for_each(|column| {
        cholesky.forward(column);
        cholesky.backward(column);
    });
    for (b, w) in group.meets.iter().zip(ratio.chunks_exact(q)) {
        let target = shared.col_mut(*b);
        group.meets.iter().zip(cross.chunks_exact(q)).for_each(|(a, c)| target[*a] -= dot(c, w));
    }
    Some(cholesky.log_det())
}

/// As [`eliminate`], for a group of one column.
fn eliminate_one(group: &Group, pivot: f64, cross: &[f64], own: &mut f64, ratio: &mut [f64], shared: &mut Matrix) -> Option<f64> {
    if pivot.is_nan() || pivot <= 0.0 {
        return None;
    }
    *own = 1.0 / pivot;
    for ((b, w), c) in group.meets.iter().zip(ratio).zip(cross) {
        *w = c / pivot;
        let (f, target) = (*w, shared.col_mut(*b));
        group.meets.iter().zip(cross).for_each(|(a, c)| target[*a] -= f * c);
    }
    Some(pivot.ln())
}

/// (I + A)⁻¹ for an arrow matrix A.
#[derive(Debug, Clone)]
pub struct ArrowInverse {
    plan: Arc<ArrowPlan>,
    own: Vec<f64>,
    ratio: Vec<f64>,
    shared: Matrix,
    log_det: f64,
}

impl ArrowInverse {
    /// log|I + A|
    pub fn log_det(&self) -> f64 {
        self.log_det
    }

    /// (I + A)⁻¹ · vector, in place.
    pub fn solve(&self, vector: &mut [f64]) {
        let plan = &self.plan;
        if plan.groups.is_empty() {
            let solved = self.shared.times_vec(vector);
            vector.copy_from_slice(&solved);
            return;
        }
        let mut right: Vec<f64> = plan.shared.iter().map(|col| vector[*col]).collect();
        for group in &plan.groups {
            let q = group.cols.len();
            for (j, shared) in group.meets.iter().enumerate() {
                let w = block(&self.ratio, group.cross_at, q, j);
                right[*shared] -= group.cols.iter().zip(w).map(|(row, w)| w * vector[*row]).sum::<f64>();
            }
        }
        let solved = self.shared.times_vec(&right);
        for group in &plan.groups {
            let q = group.cols.len();
            let b: Vec<f64> = group.cols.iter().map(|col| vector[*col]).collect();
            let mut x = vec![0.0; q];
            for (j, b) in b.iter().enumerate() {
                axpy(&mut x, *b, block(&self.own, group.own_at, q, j));
            }
            for (j, shared) in group.meets.iter().enumerate() {
                axpy(&mut x, -solved[*shared], block(&self.ratio, group.cross_at, q, j));
            }
            group.cols.iter().zip(x).for_each(|(col, x)| vector[*col] = x);
        }
        plan.shared.iter().zip(solved).for_each(|(col, x)| vector[*col] = x);
    }

    /// (I + A)⁻¹ · B
    pub fn solve_all(&self, b: &Matrix) -> Matrix {
        if self.plan.groups.is_empty() {
            return self.shared.times(b);
        }
        // Turned, so that the right sides of one column of A lie together.
        let mut x = b.transposed();
        let mut right = Matrix::zeros(b.cols(), self.plan.shared.len());
        for (place, col) in self.plan.shared.iter().enumerate() {
            right.col_mut(place).copy_from_slice(x.col(*col));
        }
        for group in &self.plan.groups {
            let q = group.cols.len();
            for (j, shared) in group.meets.iter().enumerate() {
                let target = right.col_mut(*shared);
                let w = block(&self.ratio, group.cross_at, q, j);
                group.cols.iter().zip(w).for_each(|(row, w)| axpy(target, -w, x.col(*row)));
            }
        }
        let solved = right.times(&self.shared);
        let mut own = Matrix::zeros(b.cols(), 0);
        for group in &self.plan.groups {
            self.solve_group(group, &solved, &mut own, &mut x);
        }
        for (place, col) in self.plan.shared.iter().enumerate() {
            x.col_mut(*col).copy_from_slice(solved.col(place));
        }
        x.transposed()
    }

    fn solve_group(&self, group: &Group, solved: &Matrix, own: &mut Matrix, x: &mut Matrix) {
        let q = group.cols.len();
        if own.cols() != q {
            *own = Matrix::zeros(x.rows(), q);
        }
        for (place, col) in group.cols.iter().enumerate() {
            own.col_mut(place).copy_from_slice(x.col(*col));
        }
        for (i, row) in group.cols.iter().enumerate() {
            let target = x.col_mut(*row);
            target.fill(0.0);
            let inverse = block(&self.own, group.own_at, q, i);
            inverse.iter().enumerate().for_each(|(j, f)| axpy(target, *f, own.col(j)));
            for (j, shared) in group.meets.iter().enumerate() {
                axpy(target, -self.ratio[group.cross_at + j * q + i], solved.col(*shared));
            }
        }
    }

    /// The entries of the inverse on the pattern of A.
    pub fn selected(&self) -> Arrow {
        let mut selected = Arrow::zeros(&self.plan);
        selected.own.copy_from_slice(&self.own);
        for group in &self.plan.groups {
            self.select_group(group, &mut selected);
        }
        selected.shared = self.shared.clone();
        selected
    }

    /// A group's own block A⁻¹ + WS⁻¹W′ and its block with the shared columns −WS⁻¹.
    fn select_group(&self, group: &Group, selected: &mut Arrow) {
        let (q, s) = (group.cols.len(), group.meets.len());
        let range = group.cross_at..group.cross_at + q * s;
        let w = &self.ratio[range.clone()];
        let through = &mut selected.cross[range];
        let own = &mut selected.own[group.own_at..group.own_at + q * q];
        if q == 1 {
            for (target, b) in through.iter_mut().zip(&group.meets) {
                let column = self.shared.col(*b);
                *target = -group.meets.iter().zip(w).map(|(a, w)| w * column[*a]).sum::<f64>();
            }
            own[0] -= dot(w, through);
            return;
        }
        for (target, b) in through.chunks_exact_mut(q).zip(&group.meets) {
            let column = self.shared.col(*b);
            group.meets.iter().zip(w.chunks_exact(q)).for_each(|(a, w)| axpy(target, -column[*a], w));
        }
        for j in 0..q {
            for (w, through) in w.chunks_exact(q).zip(through.chunks_exact(q)) {
                axpy(&mut own[j * q..(j + 1) * q], -w[j], through);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Five groups of one or two columns that meet two of three shared columns.
    fn example() -> Arrow {
        let group_of = [Some(0), None, Some(1), Some(1), None, Some(2), None, Some(2), Some(3)];
        let meetings = [(0, 1), (0, 4), (1, 4), (1, 6), (2, 1), (3, 6), (3, 1)];
        let plan = Arc::new(ArrowPlan::new(9, &group_of, &meetings));
        let mut arrow = Arrow::zeros(&plan);
        for i in 0..9 {
            for j in 0..9 {
                let meets = |a: usize, b: usize| group_of[a].is_some_and(|g| group_of[b].is_none() && meetings.contains(&(g, b)));
                let shared = group_of[i].is_none() && group_of[j].is_none();
                if (group_of[i].is_some() && group_of[i] == group_of[j]) || meets(i, j) || meets(j, i) || shared {
                    let value = if i == j { 6.0 } else { 1.0 / (1.0 + (i + j) as f64) };
                    arrow.add_entry(i, j, value);
                }
            }
        }
        arrow
    }

    #[test]
    fn solving_undoes_multiplying() {
        let arrow = example();
        let inverse = arrow.inverse_of_one_plus().unwrap();
        let x: Vec<f64> = (0..9).map(|i| f64::from(i) - 3.3).collect();
        let mut b = arrow.times_vec(&x);
        b.iter_mut().zip(&x).for_each(|(b, x)| *b += x);
        inverse.solve(&mut b);
        assert!(b.iter().zip(&x).all(|(a, b)| (a - b).abs() < 1e-12));
    }

    #[test]
    fn many_right_sides_are_multiplied_and_solved_as_each_alone() {
        let arrow = example();
        let inverse = arrow.inverse_of_one_plus().unwrap();
        let b = Matrix::from_fn(9, 4, |i, j| ((i * 5 + j * 3) % 7) as f64 - 3.0);
        let (product, solved) = (arrow.times(&b), inverse.solve_all(&b));
        for col in 0..4 {
            let mut alone = b.col(col).to_vec();
            assert!(arrow.times_vec(&alone).iter().zip(product.col(col)).all(|(x, y)| (x - y).abs() < 1e-13));
            inverse.solve(&mut alone);
            assert!(alone.iter().zip(solved.col(col)).all(|(x, y)| (x - y).abs() < 1e-13));
        }
    }

    #[test]
    fn determinant_and_selected_inverse_are_those_of_the_dense_matrix() {
        let arrow = example();
        let mut dense = arrow.to_dense();
        (0..9).for_each(|i| dense[(i, i)] += 1.0);
        let cholesky = Cholesky::new(&dense).unwrap();
        let inverse = arrow.inverse_of_one_plus().unwrap();
        assert!((cholesky.log_det() - inverse.log_det()).abs() < 1e-12);
        let (selected, whole) = (inverse.selected(), cholesky.inverse());
        for i in 0..9 {
            for j in 0..9 {
                if arrow.entry(i, j) != 0.0 {
                    assert!((selected.entry(i, j) - whole[(i, j)]).abs() < 1e-12, "{i} {j}");
                }
            }
        }
        let sums = arrow.row_inner(&selected);
        let row = |i: usize| (0..9).map(|j| arrow.entry(i, j) * whole[(i, j)]).sum::<f64>();
        assert!((0..9).all(|i| (sums[i] - row(i)).abs() < 1e-12));
    }
}
