//! Which factors are set apart as shared, so that the other random columns of a component fall into
//! small groups.

use super::components::root;
use super::random::RandomTerm;
use super::residual::ResidualStructure;
use super::sums::Block;
use crate::linear::ArrowPlan;

/// Below this number of random columns a dense matrix is quickest.
const DENSE_UP_TO: usize = 60;

/// A multiply-add within small groups takes as long as several of a dense matrix.
const GROUPS_COST: f64 = 6.0;

/// Above this number of random terms no choice is searched for.
const TERMS_SEARCHED: usize = 6;

/// What a plan is made from.
pub struct PlanParts<'p> {
    /// The component's rows.
    pub rows: &'p [usize],
    /// The component's random columns.
    pub blocks: &'p [Block],
    /// The random terms.
    pub terms: &'p [RandomTerm],
    /// Places of levels within the component's blocks.
    pub places: &'p [Vec<u32>],
    /// The residual's structure: records of one series are tied.
    pub residual: &'p ResidualStructure,
}

impl PlanParts<'_> {
    /// The cheapest choice of shared factors.
    pub fn plan(&self) -> ArrowPlan {
        let size = self.blocks.last().map_or(0, |block| block.start + block.len);
        let dense = ArrowPlan::dense(size);
        if size <= DENSE_UP_TO || self.terms.len() > TERMS_SEARCHED {
            return dense;
        }
        let all = (1_usize << self.terms.len()) - 1;
        let candidates = (0..all).map(|shared| self.with_shared(shared, size));
        let best = candidates.min_by(|a, b| a.cost().total_cmp(&b.cost()));
        best.filter(|plan| GROUPS_COST * plan.cost() < dense.cost()).unwrap_or(dense)
    }

    /// The plan in which the terms of a bit set are shared.
    fn with_shared(&self, shared: usize, size: usize) -> ArrowPlan {
        let is_shared = |term: usize| shared >> term & 1 == 1;
        let starts = self.starts();
        let column = |term: usize, row: usize| starts[term] + self.places[term][self.terms[term].codes[row] as usize] as usize;
        let own: Vec<usize> = (0..self.terms.len()).filter(|term| !is_shared(*term)).collect();
        let series = self.residual.series.as_ref();
        let ties = series.map_or(0, |series| series.rows.len());
        let mut parent: Vec<u32> = (0..(size + ties) as u32).collect();
        for row in self.rows {
            let nodes = own.iter().map(|term| column(*term, *row));
            let tie = series.map(|series| size + series.of_row[*row] as usize);
            join(&mut parent, nodes.chain(tie));
        }
        let mut numbers = vec![usize::MAX; size + ties];
        let mut count = 0;
        let mut group_of = vec![None; size];
        for block in self.blocks.iter().filter(|block| !is_shared(block.term)) {
            for place in 0..block.len {
                let top = root(&mut parent, (starts[block.term] + place) as u32) as usize;
                if numbers[top] == usize::MAX {
                    numbers[top] = count;
                    count += 1;
                }
                group_of[block.start + place] = Some(numbers[top]);
            }
        }
        ArrowPlan::new(size, &group_of, &self.meetings(&own, &starts, &group_of, &is_shared))
    }

    /// The first column of each term.
    fn starts(&self) -> Vec<usize> {
        let start = |term: usize| self.blocks.iter().find(|block| block.term == term).map_or(0, |block| block.start);
        (0..self.terms.len()).map(start).collect()
    }

    /// Which group meets which shared column: in one row, or in two successive rows of a series.
    fn meetings(
        &self,
        own: &[usize],
        starts: &[usize],
        group_of: &[Option<usize>],
        is_shared: &dyn Fn(usize) -> bool,
    ) -> Vec<(usize, usize)> {
        let Some(first) = own.first() else { return Vec::new() };
        let place = |term: usize, row: usize| self.places[term][self.terms[term].codes[row] as usize] as usize;
        let mut meetings = Vec::new();
        for row in self.rows {
            let Some(group) = group_of[starts[*first] + place(*first, *row)] else { continue };
            for block in self.blocks.iter().filter(|block| is_shared(block.term)) {
                meetings.push((group, block.start + place(block.term, *row)));
            }
        }
        meetings
    }
}

fn join(parent: &mut [u32], mut nodes: impl Iterator<Item = usize>) {
    let Some(first) = nodes.next() else { return };
    for node in nodes {
        let (a, b) = (root(parent, first as u32), root(parent, node as u32));
        parent[a.max(b) as usize] = a.min(b);
    }
}
