//! The sums that a component hands to the likelihood: every cross-product of its random columns, its
//! fixed columns and the response, for each class of the residual's inverse covariance. Rows are
//! read here and not again.

use std::collections::BTreeSet;
use std::sync::Arc;

use rayon::prelude::*;

use super::cells::Cells;
use super::plan::PlanParts;
use super::products::{Row, RowReader, Sums};
use super::random::RandomTerm;
use super::residual::{Class, ResidualStructure};
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
    /// For each class the records whose squares it sums: the distinct row of each and its row, sorted.
    pub alone: Vec<Vec<(u32, u32)>>,
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
            let mut own = Vec::new();
            for rows in rows {
                // No level occurs in two components.
                for code in rows.iter().map(|row| term.codes[*row]) {
                    if std::mem::replace(&mut places[code as usize], 0) == u32::MAX {
                        own.push(code);
                    }
                }
                own.sort_unstable();
                own.drain(..).zip(0..).for_each(|(code, place)| places[code as usize] = place);
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
        let mut component = Component { rows, blocks, fixed, classes: Vec::new(), sums: Vec::new(), alone: Vec::new(), pattern: 0 };
        let reader = RowReader::new(self, &component, places);
        let own = self.own_classes(&component, classes, before);
        let p = component.fixed.len();
        let mut sums: Vec<Sums> = own.iter().map(|_| Sums::zeros(&plan, p)).collect();
        let mut alone = self.read_pairs(&component.rows, &own, before, &reader, &mut sums);
        let mut entries = Row::default();
        for (sums, alone) in sums.iter_mut().zip(&mut alone) {
            alone.sort_unstable();
            alone.chunk_by(|(one, _), (next, _)| one == next).for_each(|rows| sums.add_alike(&reader, rows, &mut entries));
        }
        component.alone = alone;
        component.classes = own.into_iter().map(|(index, _)| index).collect();
        component.sums = sums;
        component
    }

    /// Adds the pairs of successive records, and tells for each class the records whose squares it sums: the
    /// distinct row of each and its row.
    fn read_pairs(
        &self,
        rows: &[usize],
        own: &[(usize, Class)],
        before: &[Option<(usize, i32)>],
        reader: &RowReader<'_>,
        sums: &mut [Sums],
    ) -> Vec<Vec<(u32, u32)>> {
        if let ([_], None) = (own, &self.residual.series) {
            return vec![rows.iter().map(|row| (self.cells.of_row[*row], *row as u32)).collect()];
        }
        let mut alone: Vec<Vec<(u32, u32)>> = vec![Vec::new(); own.len()];
        let (mut a, mut b) = (Row::default(), Row::default());
        for row in rows {
            for (class, first, second) in self.residual.parts(*row, before[*row]) {
                let Some(at) = own.iter().position(|(_, known)| *known == class) else { continue };
                if first == second {
                    alone[at].push((self.cells.of_row[first], first as u32));
                    continue;
                }
                reader.read(first, &mut a);
                reader.read(second, &mut b);
                sums[at].add_pair(&a, &b);
            }
        }
        alone
    }

    /// The classes of a component's rows with their places among all, ascending.
    fn own_classes(&self, component: &Component, classes: &[Class], before: &[Option<(usize, i32)>]) -> Vec<(usize, Class)> {
        let mut own: Vec<(usize, Class)> = Vec::new();
        for row in &component.rows {
            if own.len() == classes.len() {
                break;
            }
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
        let Sorted { places, classes, components, .. } = sorted;
        let mut entries = Row::default();
        for component in components.iter_mut() {
            let reader = RowReader::new(self, component, places);
            for (sums, alone) in component.sums.iter_mut().zip(&component.alone) {
                sums.clear_response();
                let alike = alone.chunk_by(|(one, _), (next, _)| one == next);
                alike.for_each(|rows| sums.add_responses(&reader, rows, response, &mut entries));
            }
        }
        if self.residual.series.is_some() {
            self.fill_pairs(components, places, classes, response);
        }
    }

    /// Adds what the pairs of successive records hold of a response.
    fn fill_pairs(&self, components: &mut [Component], places: &[Vec<u32>], classes: &[Class], response: &[f64]) {
        let before = self.before(response.len());
        let mut entries = Row::default();
        for component in components {
            let own: Vec<Class> = component.classes.iter().map(|index| classes[*index]).collect();
            let reader = RowReader::new(self, component, places);
            let mut cells: Vec<Vec<(u32, f64)>> = vec![Vec::new(); own.len()];
            for row in &component.rows {
                for (class, first, second) in self.residual.parts(*row, before[*row]) {
                    let Some(at) = own.iter().position(|known| *known == class && first != second) else { continue };
                    for (one, other) in [(first, second), (second, first)] {
                        reader.read_random(one, &mut entries);
                        component.sums[at].add_response(&entries, response[one], response[other]);
                        cells[at].push((self.cells.of_row[one], response[other]));
                    }
                }
            }
            for (sums, cells) in component.sums.iter_mut().zip(cells) {
                for (cell, sum) in gathered(cells) {
                    reader.read_cell(cell, &mut entries);
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
