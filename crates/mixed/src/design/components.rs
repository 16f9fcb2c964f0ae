//! Records that share no random level and no series are independent of one another: the rows fall
//! into components, and no sum ever crosses two of them.

use super::random::RandomTerm;
use super::residual::ResidualStructure;

/// Finds, for each row, its component (numbered by first row), and the number of components.
///
/// Without random terms nothing has to be inverted, and all rows make one component.
pub fn components(rows: usize, terms: &[RandomTerm], residual: &ResidualStructure) -> (Vec<u32>, usize) {
    if terms.is_empty() {
        return (vec![0; rows], 1);
    }
    let mut codes: Vec<(usize, &[u32])> = Vec::new();
    let mut size = 0;
    for term in terms {
        codes.push((size, &term.codes));
        size += term.levels;
    }
    if let Some(series) = &residual.series {
        codes.push((size, &series.of_row));
        size += series.rows.len();
    }
    let mut parent: Vec<u32> = (0..size as u32).collect();
    for row in 0..rows {
        let mut nodes = codes.iter().map(|(start, codes)| *start as u32 + codes[row]);
        let Some(first) = nodes.next() else { continue };
        for node in nodes {
            let (a, b) = (root(&mut parent, first), root(&mut parent, node));
            parent[a.max(b) as usize] = a.min(b);
        }
    }
    number(rows, &codes, &mut parent)
}

/// The representative of a node.
pub(super) fn root(parent: &mut [u32], mut node: u32) -> u32 {
    while parent[node as usize] != node {
        parent[node as usize] = parent[parent[node as usize] as usize];
        node = parent[node as usize];
    }
    node
}

fn number(rows: usize, codes: &[(usize, &[u32])], parent: &mut [u32]) -> (Vec<u32>, usize) {
    let mut numbers = vec![u32::MAX; parent.len()];
    let mut count = 0;
    let mut of_row = Vec::with_capacity(rows);
    for row in 0..rows {
        let (start, codes) = codes[0];
        let top = root(parent, start as u32 + codes[row]) as usize;
        if numbers[top] == u32::MAX {
            numbers[top] = count;
            count += 1;
        }
        of_row.push(numbers[top]);
    }
    (of_row, count as usize)
}
