//! The sums that a component hands to the likelihood: every cross-product of its random columns, its
//! fixed columns and the response, for each class of the residual's inverse covariance. Rows are
//! read here and not again.

use std::collections::BTreeSet;
use std::sync::Arc;

use rayon::prelude::*;

use super::cells::Cells;
use super::plan::PlanParts;
use super::random::RandomTerm;
use super::residual::{Class, ResidualStructure};
use crate::linear::{Arrow, ArrowPlan, Matrix};

/// The columns of one coefficient of one random term within a component.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Block {
    /// The random term.
    pub term: usize,
    /// The coefficient.
    pub coefficient: usize,
    /// First column.
    pub start: usize,
    /// Number of columns: the levels of the term that occur here.
    pub len: usize,
}

/// Cross-products of one class: Z′KZ, Z′K[X y], [X y]′K[X y].
#[derive(Debug, Clone, PartialEq)]
pub struct Sums {
    /// q × q
    pub zz: Arrow,
    /// q × (p + 1), the response last.
    pub zx: Matrix,
    /// (p + 1) × (p + 1), the response last.
    pub xx: Matrix,
}

/// One component.
#[derive(Debug, Clone)]
pub struct Component {
    /// Its rows.
    pub rows: Vec<usize>,
    /// Its random columns.
    pub blocks: Vec<Block>,
    /// Its fixed columns: those that are not zero in all of its rows.
    pub fixed: Vec<usize>,
    /// The classes of its sums, as indices into [`Sorted::classes`].
    pub classes: Vec<usize>,
    /// The sums, class by class.
    pub sums: Vec<Sums>,
    /// The pattern that it shares with components of equal Z′KZ.
    pub pattern: usize,
}

impl Component {
    /// Whether any of its classes has a weight.
    pub fn meets(&self, weights: &[f64]) -> bool {
        self.classes.iter().any(|class| weights[*class] != 0.0)
    }

    /// Number of random columns.
    pub fn random(&self) -> usize {
        self.blocks.last().map_or(0, |block| block.start + block.len)
    }
}

/// All components, the classes, and what components share.
#[derive(Debug, Clone, Default)]
pub struct Sorted {
    /// Every class that occurs, sorted.
    pub classes: Vec<Class>,
    /// The components.
    pub components: Vec<Component>,
    /// For each pattern, the first component that has it and how many do.
    pub patterns: Vec<(usize, usize)>,
    /// For each random term and level, its place within its component's blocks of that term.
    pub places: Vec<Vec<u32>>,
}

/// What is needed to form the sums.
pub struct Parts<'d> {
    /// X, by distinct rows.
    pub cells: &'d Cells,
    /// Number of fixed columns.
    pub columns: usize,
    /// The random terms.
    pub terms: &'d [RandomTerm],
    /// The residual's structure.
    pub residual: &'d ResidualStructure,
}

/// A row's non-zero entries.
#[derive(Default)]
struct Row {
    random: Vec<(usize, f64)>,
    fixed: Vec<(usize, f64)>,
}

impl Parts<'_> {
    /// Sorts the rows into components and forms all sums, the response's left at zero.
    pub fn sort(&self, of_row: &[u32], count: usize) -> Sorted {
        let before = self.before(of_row.len());
        let mut rows: Vec<Vec<usize>> = vec![Vec::new(); count];
        of_row.iter().enumerate().for_each(|(row, component)| rows[*component as usize].push(row));
        let mut sorted = Sorted { places: self.places(&rows), ..Sorted::default() };
        sorted.classes = self.classes(&before);
        let component = |rows| self.component(rows, &sorted.places, &sorted.classes, &before);
        sorted.components = if of_row.len() >= SHARED_OUT_FROM {
            rows.into_par_iter().map(component).collect()
        } else {
            rows.into_iter().map(component).collect()
        };
        sorted.find_patterns();
        sorted
    }

    /// Every class that occurs, sorted.
    fn classes(&self, before: &[Option<(usize, i32)>]) -> Vec<Class> {
        let mut classes = BTreeSet::new();
        let mut last = [None; 3];
        for (row, before) in before.iter().enumerate() {
            for ((class, _, _), last) in self.residual.parts(row, *before).zip(&mut last) {
                if *last != Some(class) {
                    classes.insert(class);
                    *last = Some(class);
                }
            }
        }
        classes.into_iter().collect()
    }

    /// For each row the row before it in its series, with the gap.
    fn before(&self, rows: usize) -> Vec<Option<(usize, i32)>> {
        let mut before = vec![None; rows];
        let Some(series) = &self.residual.series else { return before };
        for (rows, places) in series.rows.iter().zip(&series.places) {
            for (pair, at) in rows.windows(2).zip(places.windows(2)) {
                before[pair[1]] = Some((pair[0], i32::try_from(at[1] - at[0]).unwrap_or(i32::MAX)));
            }
        }
        before
    }

    fn places(&self, rows: &[Vec<usize>]) -> Vec<Vec<u32>> {
        let places_of = |term: &RandomTerm| {
            let mut places = vec![u32::MAX; term.levels];
            for rows in rows {
                let mut codes: Vec<u32> = rows.iter().map(|row| term.codes[*row]).collect();
                codes.sort_unstable();
                codes.dedup();
                codes.iter().zip(0..).for_each(|(code, place)| places[*code as usize] = place);
            }
            places
        };
        self.terms.iter().map(places_of).collect()
    }

    fn blocks(&self, rows: &[usize], places: &[Vec<u32>]) -> Vec<Block> {
        let mut blocks = Vec::new();
        let mut start = 0;
        for (index, (term, places)) in self.terms.iter().zip(places).enumerate() {
            let last = rows.iter().map(|row| places[term.codes[*row] as usize]).max();
            let len = last.map_or(0, |place| place as usize + 1);
            for coefficient in 0..term.coefficients.len() {
                blocks.push(Block { term: index, coefficient, start, len });
                start += len;
            }
        }
        blocks
    }

    fn fixed(&self, rows: &[usize]) -> Vec<usize> {
        let mut present = vec![false; self.columns];
        let mut seen = vec![false; self.cells.len()];
        for cell in rows.iter().map(|row| self.cells.of_row[*row] as usize) {
            if !std::mem::replace(&mut seen[cell], true) {
                self.cells.entries(cell).for_each(|(column, _)| present[column] = true);
            }
        }
        (0..self.columns).filter(|column| present[*column]).collect()
    }

    fn component(&self, rows: Vec<usize>, places: &[Vec<u32>], classes: &[Class], before: &[Option<(usize, i32)>]) -> Component {
        let blocks = self.blocks(&rows, places);
        let fixed = self.fixed(&rows);
        let parts = PlanParts { rows: &rows, blocks: &blocks, terms: self.terms, places, residual: self.residual };
        let plan = Arc::new(parts.plan());
        let mut component = Component { rows, blocks, fixed, classes: Vec::new(), sums: Vec::new(), pattern: 0 };
        let reader = RowReader::new(self, &component, places);
        let own = self.own_classes(&component, classes, before);
        let p = component.fixed.len();
        let mut sums: Vec<Sums> = own.iter().map(|_| Sums::zeros(&plan, p)).collect();
        let mut cells: Vec<Vec<(u32, f64)>> = vec![Vec::new(); own.len()];
        let (mut a, mut b) = (Row::default(), Row::default());
        for row in &component.rows {
            for (class, first, second) in self.residual.parts(*row, before[*row]) {
                let Some(at) = own.iter().position(|(_, known)| *known == class) else { continue };
                reader.read(first, &mut a);
                if first == second {
                    sums[at].add(&a, &a);
                    cells[at].push((self.cells.of_row[first], 1.0));
                } else {
                    reader.read(second, &mut b);
                    sums[at].add(&a, &b);
                    sums[at].add(&b, &a);
                    sums[at].add_fixed(&a, &b, 1.0);
                    sums[at].add_fixed(&b, &a, 1.0);
                }
            }
        }
        for (sums, cells) in sums.iter_mut().zip(cells) {
            for (cell, count) in gathered(cells) {
                reader.read_cell(cell as usize, &mut a);
                sums.add_fixed(&a, &a, count);
            }
        }
        component.classes = own.into_iter().map(|(index, _)| index).collect();
        component.sums = sums;
        component
    }

    /// The classes of a component's rows with their places among all, ascending.
    fn own_classes(&self, component: &Component, classes: &[Class], before: &[Option<(usize, i32)>]) -> Vec<(usize, Class)> {
        let mut own: Vec<(usize, Class)> = Vec::new();
        for row in &component.rows {
            for (class, _, _) in self.residual.parts(*row, before[*row]) {
                if own.iter().all(|(_, known)| *known != class)
                    && let Ok(index) = classes.binary_search(&class)
                {
                    own.push((index, class));
                }
            }
        }
        own.sort_unstable();
        own
    }

    /// Writes the sums of a response (one value for each row used) into `sorted`.
    pub fn fill_response(&self, sorted: &mut Sorted, response: &[f64]) {
        let before = self.before(response.len());
        let Sorted { places, classes, components, .. } = sorted;
        for component in components {
            component.sums.iter_mut().for_each(Sums::clear_response);
            let own: Vec<Class> = component.classes.iter().map(|index| classes[*index]).collect();
            let reader = RowReader::new(self, component, places);
            let mut cells: Vec<Vec<(u32, f64)>> = vec![Vec::new(); own.len()];
            let mut entries = Row::default();
            for row in &component.rows {
                for (class, first, second) in self.residual.parts(*row, before[*row]) {
                    let Some(at) = own.iter().position(|known| *known == class) else { continue };
                    let into = &mut component.sums[at];
                    let (a, b) = (response[first], response[second]);
                    reader.read_random(first, &mut entries);
                    into.add_response(&entries, a, b);
                    cells[at].push((self.cells.of_row[first], b));
                    if first != second {
                        reader.read_random(second, &mut entries);
                        into.add_response(&entries, b, a);
                        cells[at].push((self.cells.of_row[second], a));
                    }
                }
            }
            for (sums, cells) in component.sums.iter_mut().zip(cells) {
                for (cell, sum) in gathered(cells) {
                    reader.read_cell(cell as usize, &mut entries);
                    sums.add_fixed_response(&entries, sum);
                }
            }
        }
    }
}

/// From this many rows on components are shared out among threads.
pub const SHARED_OUT_FROM: usize = 20_000;

/// The sum of the values of each distinct row, in the order of the distinct rows.
fn gathered(mut values: Vec<(u32, f64)>) -> Vec<(u32, f64)> {
    values.sort_by_key(|(cell, _)| *cell);
    values.dedup_by(|next, kept| {
        let same = next.0 == kept.0;
        if same {
            kept.1 += next.1;
        }
        same
    });
    values
}

/// Reads a row's non-zero entries in a component's own numbering.
struct RowReader<'r> {
    parts: &'r Parts<'r>,
    places: &'r [Vec<u32>],
    blocks: Vec<Block>,
    fixed_place: Vec<u32>,
}

impl<'r> RowReader<'r> {
    fn new(parts: &'r Parts<'r>, component: &Component, places: &'r [Vec<u32>]) -> Self {
        let mut fixed_place = vec![u32::MAX; parts.columns];
        component.fixed.iter().zip(0..).for_each(|(column, place)| fixed_place[*column] = place);
        Self { parts, places, blocks: component.blocks.clone(), fixed_place }
    }

    fn read(&self, row: usize, into: &mut Row) {
        self.read_random(row, into);
        self.read_cell(self.parts.cells.of_row[row] as usize, into);
    }

    fn read_random(&self, row: usize, into: &mut Row) {
        into.random.clear();
        for block in &self.blocks {
            let term = &self.parts.terms[block.term];
            let values = &term.coefficients[block.coefficient].values;
            let place = self.places[block.term][term.codes[row] as usize] as usize;
            into.random.push((block.start + place, values.as_ref().map_or(1.0, |values| values[row])));
        }
    }

    fn read_cell(&self, cell: usize, into: &mut Row) {
        into.fixed.clear();
        into.fixed.extend(self.parts.cells.entries(cell).map(|(column, value)| (self.fixed_place[column] as usize, value)));
    }
}

impl Sums {
    fn zeros(plan: &Arc<ArrowPlan>, p: usize) -> Self {
        let q = plan.size();
        Self { zz: Arrow::zeros(plan), zx: Matrix::zeros(q, p + 1), xx: Matrix::zeros(p + 1, p + 1) }
    }

    /// Adds the random columns' part of row a against row b.
    fn add(&mut self, a: &Row, b: &Row) {
        for (col, y) in &b.random {
            a.random.iter().for_each(|(row, x)| self.zz.add_entry(*row, *col, x * y));
        }
        for (col, y) in &b.fixed {
            a.random.iter().for_each(|(row, x)| self.zx[(*row, *col)] += x * y);
        }
    }

    /// Adds the fixed columns' part of row a against row b, `count` times.
    fn add_fixed(&mut self, a: &Row, b: &Row, count: f64) {
        for (col, y) in &b.fixed {
            let target = self.xx.col_mut(*col);
            a.fixed.iter().for_each(|(row, x)| target[*row] += count * x * y);
        }
    }

    fn clear_response(&mut self) {
        let p = self.xx.cols() - 1;
        self.zx.col_mut(p).fill(0.0);
        self.xx.col_mut(p).fill(0.0);
        (0..p).for_each(|column| self.xx[(p, column)] = 0.0);
    }

    /// Adds row a's part of a class in which its own response is `own` and the other record's `other`.
    fn add_response(&mut self, a: &Row, own: f64, other: f64) {
        let p = self.xx.cols() - 1;
        a.random.iter().for_each(|(row, x)| self.zx[(*row, p)] += x * other);
        self.xx[(p, p)] += own * other;
    }

    /// Adds the fixed columns' part of the rows of one distinct row, whose other records' responses add up to `sum`.
    fn add_fixed_response(&mut self, a: &Row, sum: f64) {
        let p = self.xx.cols() - 1;
        for (row, x) in &a.fixed {
            self.xx[(*row, p)] += x * sum;
            self.xx[(p, *row)] += x * sum;
        }
    }
}
