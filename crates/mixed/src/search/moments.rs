//! Starting variances from the squares between the levels of each random term: what these are expected to
//! be is linear in the variances.
//!
//! METHOD: of the effects taken off the response, the means of components count exactly and the others by the
//! share of each column that lies between the levels of a term. For balanced tables this is the method of the
//! analysis of variance.
//!
//! # Source
//! Henderson (1953), Biometrics 9:226–252, the first of his methods; Searle, Casella & McCulloch (1992), Variance
//! Components, chapter 5. It sets the start of the search alone: no result rests on it.

use crate::design::{Block, Component, Design};
use crate::linear::{Matrix, dot};

/// A component's responses that add up to less than this, a row, had its mean taken off.
const NOTHING: f64 = 1e-8;

/// A share of a column's square below this is rounding.
const ROUNDING: f64 = 1e-9;

const SWEEPS: usize = 20;

/// The least share of the mean square that the residual is given.
const LEAST: f64 = 0.005;

/// What the squares between levels are, and are expected to be.
struct Moments {
    /// For each term, Σ (sum over a level)² / its rows.
    squares: Vec<f64>,
    /// Its multiples of each term's variance.
    by_term: Matrix,
    /// Its multiple of the residual variance.
    by_residual: Vec<f64>,
    /// The multiples of each term's variance in the sum of all squares.
    in_total: Vec<f64>,
    /// Of each fixed column, less its components' means, the square between the levels of each term…
    between: Matrix,
    /// …and as a whole.
    whole: Vec<f64>,
}

/// For each random term its variance relative to the residual's; `None` where a term has more than a deviation
/// for each level, records are not alike or a component is too large for this.
pub fn ratios(design: &Design) -> Option<Vec<f64>> {
    let plain = design.terms.iter().all(|term| matches!(term.coefficients.as_slice(), [one] if one.values.is_none()));
    let alike = design.residual.strata.len() == 1 && design.residual.series.is_none();
    if !plain || !alike || design.terms.is_empty() {
        return None;
    }
    let (terms, p) = (design.terms.len(), design.columns());
    let mut moments = Moments {
        squares: vec![0.0; terms],
        by_term: Matrix::zeros(terms, terms),
        by_residual: vec![0.0; terms],
        in_total: vec![0.0; terms],
        between: Matrix::zeros(terms, p),
        whole: vec![0.0; p],
    };
    for component in &design.sorted.components {
        moments.add(component)?;
    }
    moments.take_off_effects();
    moments.solve(design.rows() as f64, (design.rows() - p) as f64)
}

impl Moments {
    fn add(&mut self, component: &Component) -> Option<()> {
        let [sums] = component.sums.as_slice() else { return None };
        let zz = sums.zz.whole()?;
        let rows = component.rows.len() as f64;
        let sizes: Vec<f64> = (0..zz.rows()).map(|level| zz[(level, level)]).collect();
        let first = component.blocks.first()?;
        let total = |col: usize| sums.zx.col(col)[first.start..first.start + first.len].iter().sum::<f64>();
        // What is taken off at each row, in the sum of a level and against another level.
        let centre = if total(component.fixed.len()).abs() <= NOTHING * rows { 1.0 / rows } else { 0.0 };
        for block in &component.blocks {
            let levels = block.start..block.start + block.len;
            self.in_total[block.term] += sizes[levels.clone()].iter().map(|n| n - centre * n * n).sum::<f64>();
            self.by_residual[block.term] += block.len as f64 - centre * rows;
            self.squares[block.term] += between(sums.zx.col(component.fixed.len()), &sizes, block);
            for other in &component.blocks {
                self.by_term[(block.term, other.term)] += meeting(zz, &sizes, block, other, centre);
            }
        }
        for (place, column) in component.fixed.iter().enumerate() {
            let mean = centre * total(place).powi(2);
            self.whole[*column] += sums.xx[(place, place)] - mean;
            for block in &component.blocks {
                self.between[(block.term, *column)] += between(sums.zx.col(place), &sizes, block) - mean;
            }
        }
        Some(())
    }

    /// Takes off what the fixed effects other than the components' means hold of each term's squares.
    fn take_off_effects(&mut self) {
        let largest = self.whole.iter().fold(0.0_f64, |most, x| most.max(*x));
        for term in 0..self.squares.len() {
            let share =
                |(column, whole): (usize, &f64)| if *whole > ROUNDING * largest { self.between[(term, column)] / whole } else { 0.0 };
            let held: f64 = self.whole.iter().enumerate().map(share).sum();
            let left = 1.0 - held / self.by_residual[term];
            self.by_residual[term] *= left;
            self.in_total[term] *= left;
            self.by_term[(term, term)] *= left;
        }
    }

    /// Solves for the variances, none below zero, one after the other.
    fn solve(&self, total: f64, freedom: f64) -> Option<Vec<f64>> {
        let mut variances = vec![0.0; self.squares.len()];
        let mut residual = 1.0;
        for _ in 0..SWEEPS {
            for term in 0..variances.len() {
                variances[term] = 0.0;
                let others: f64 = variances.iter().enumerate().map(|(other, v)| self.by_term[(term, other)] * v).sum();
                let rest = self.squares[term] - self.by_residual[term] * residual - others;
                variances[term] = (rest / self.by_term[(term, term)]).max(0.0);
            }
            residual = ((total - dot(&self.in_total, &variances)) / freedom).max(LEAST);
        }
        let is_sound = |term: usize| self.by_residual[term] > 0.0 && self.by_term[(term, term)] > 0.0 && variances[term].is_finite();
        (0..variances.len()).all(is_sound).then(|| variances.iter().map(|v| v / residual).collect())
    }
}

/// Σ over a block's levels of (sum over the level)² / its rows.
fn between(sums: &[f64], sizes: &[f64], block: &Block) -> f64 {
    let levels = block.start..block.start + block.len;
    sums[levels.clone()].iter().zip(&sizes[levels]).map(|(sum, n)| sum * sum / n).sum()
}

/// What a term's squares hold of another's variance: Σ over pairs of levels of (rows in common, less those
/// expected)² / the first level's rows.
fn meeting(zz: &Matrix, sizes: &[f64], block: &Block, other: &Block, centre: f64) -> f64 {
    let levels = block.start..block.start + block.len;
    let against = |level: usize| {
        let expected = centre * sizes[level];
        let common = zz.col(level)[levels.clone()].iter().zip(&sizes[levels.clone()]);
        common.map(|(common, n)| (common - expected * n).powi(2) / n).sum::<f64>()
    };
    (other.start..other.start + other.len).map(against).sum()
}

#[cfg(test)]
mod tests {
    use crate::{Columns, Model, fit_with_details};

    /// Units of four blocks and five cells at each of three sites, without the units in `lost`.
    fn table(lost: &[usize]) -> Columns {
        let units = || (0..60).filter(|unit| !lost.contains(unit));
        let (site, block, cell) = (|unit: usize| unit / 20, |unit: usize| unit / 5, |unit: usize| unit % 5);
        let response = |unit: usize| {
            let noise = |x: usize, m: usize| ((x * x * 37 + x * 11) % m) as f64 / m as f64;
            site(unit) as f64 + 2.0 * noise(block(unit), 13) + 2.0 * noise(7 * site(unit) + cell(unit), 17) + 3.0 * noise(unit, 61)
        };
        let mut table = Columns::new(units().count());
        let labels = |of: &dyn Fn(usize) -> String| units().map(of).collect::<Vec<_>>();
        table.category("site", &labels(&|unit| format!("s{}", site(unit)))).unwrap();
        table.category("block", &labels(&|unit| format!("b{}", block(unit)))).unwrap();
        table.category("medium", &labels(&|unit| format!("m{}", cell(unit)))).unwrap();
        table.category("cell", &labels(&|unit| format!("s{}m{}", site(unit), cell(unit)))).unwrap();
        table.number("y", units().map(response).collect()).unwrap();
        table
    }

    fn start_and_best(lost: &[usize]) -> (Vec<f64>, Vec<f64>) {
        let model = Model::from_toml(
            "response = \"y\"\ncategories = [\"site\", \"block\", \"medium\", \"cell\"]\n\
             effects = [[\"site\"], [\"medium\"]]\ngroups = [[\"block\"], [\"cell\"]]\n",
        );
        let (_, details) = fit_with_details(&table(lost), &model.unwrap()).unwrap();
        (details.search.start, details.search.best)
    }

    #[test]
    fn in_a_balanced_table_the_search_starts_at_its_end() {
        let (start, best) = start_and_best(&[]);
        assert!(best.iter().all(|ratio| *ratio > 0.05), "{best:?}");
        assert!(start.iter().zip(&best).all(|(start, best)| (start - best).abs() < 1e-6 * best), "{start:?} {best:?}");
    }

    #[test]
    fn in_a_gappy_table_the_search_starts_near_its_end() {
        let (start, best) = start_and_best(&[3, 17, 22, 41, 58]);
        assert!(start.iter().zip(&best).all(|(start, best)| (start / best).ln().abs() < 0.5), "{start:?} {best:?}");
    }
}
