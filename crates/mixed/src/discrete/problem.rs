//! The log-likelihood of a discrete family over all components, its gradient, and its second derivatives.
//!
//! METHOD: second derivatives are central differences of the exact gradient, taken within each component over the
//! predictors of its own distinct fixed rows, which are few. With a step of 1e-4 both truncation and rounding stay
//! near 1e-8 of the result. Without random effects they are exact save those by κ.

use rayon::prelude::*;

use super::laplace::{Point, Share, Start, share};
use super::law::{Law, Record, has_dispersion};
use super::parameters::Layout;
use super::quadrature::Rule;
use super::records::Part;
use crate::design::Design;
use crate::linear::{ArrowInverse, Matrix};
use crate::model::Family;

/// A design with a discrete response.
pub struct Problem<'d> {
    /// The design.
    pub design: &'d Design,
    /// The family.
    pub family: Family,
    /// The parameters.
    pub layout: Layout,
    /// The components.
    pub parts: Vec<Part>,
    /// Quadrature instead of Laplace's approximation.
    pub rule: Option<Rule>,
    distinct: Vec<f64>,
    rows: usize,
}

/// The log-likelihood at some parameters.
#[derive(Debug, Clone)]
pub struct At {
    /// Its value, all constants included.
    pub value: f64,
    /// Its derivatives.
    pub gradient: Vec<f64>,
    /// The modes, component by component.
    pub modes: Vec<Vec<f64>>,
}

/// Step of a difference, in units of a predictor.
const STEP: f64 = 1e-4;

/// From this many records on components are shared out among threads.
const PARALLEL_FROM: usize = 1500;

/// A component's own coordinates: distinct fixed rows, or fixed columns where these are fewer.
struct Local {
    columns: Vec<usize>,
    /// Distinct rows × columns.
    x: Matrix,
    by_cell: bool,
}

/// A component at the centre of its differences.
struct Around<'a> {
    part: &'a Part,
    local: Local,
    here: &'a Point<'a>,
    fixed: &'a [f64],
    centre: &'a (Share, ArrowInverse),
    is_rough: bool,
}

impl Around<'_> {
    /// The share at a point close by.
    fn share(&self, point: &Point<'_>, fixed: &[f64]) -> Option<Share> {
        let (centre, factor) = self.centre;
        share(self.part, point, fixed, Start(&centre.u, Some(factor))).map(|(share, _)| share)
    }
}

impl<'d> Problem<'d> {
    /// Lays out records and offsets, one for each row used; `None` where the random columns are too many to number.
    pub fn new(design: &'d Design, family: Family, records: &mut [Record], offset: &[f64], rule: Option<Rule>) -> Option<Self> {
        let mut distinct: Vec<f64> = records.iter().map(|record| record.y).collect();
        distinct.sort_by(f64::total_cmp);
        distinct.dedup();
        for record in &mut *records {
            record.distinct = distinct.partition_point(|y| *y < record.y) as u32;
        }
        let parts = design.sorted.components.iter().map(|component| Part::new(design, component, records, offset));
        let parts = parts.collect::<Option<Vec<Part>>>()?;
        let layout = Layout::new(design, has_dispersion(family));
        Some(Self { design, family, layout, parts, rule, distinct, rows: records.len() })
    }

    /// The family at κ.
    pub fn law(&self, kappa: f64) -> Law {
        Law::new(self.family, kappa, &self.distinct)
    }

    fn point(&self, theta: &[f64]) -> Point<'_> {
        let law = self.law(self.layout.kappa(theta));
        Point { law, roots: self.layout.roots(theta), entries: &self.layout.entries, rule: self.rule.as_ref() }
    }

    /// Runs over the components, in their order whatever the number of threads.
    fn over_parts<T: Send>(&self, run: impl Fn(usize, &Part) -> Option<T> + Sync) -> Option<Vec<T>> {
        if self.rows < PARALLEL_FROM || self.parts.len() == 1 {
            return self.parts.iter().enumerate().map(|(index, part)| run(index, part)).collect();
        }
        self.parts.par_iter().enumerate().map(|(index, part)| run(index, part)).collect()
    }

    /// Modes at zero, to begin from.
    pub fn no_modes(&self) -> Vec<Vec<f64>> {
        self.parts.iter().map(|part| vec![0.0; part.random]).collect()
    }

    /// The likelihood at `theta`, modes searched from `modes`.
    pub fn at(&self, theta: &[f64], modes: &[Vec<f64>]) -> Option<At> {
        let point = self.point(theta);
        let fixed = self.design.cells.times(&theta[..self.layout.fixed]);
        let shares = self.over_parts(|index, part| share(part, &point, &own(part, &fixed), Start(&modes[index], None)))?;
        let mut at = At { value: 0.0, gradient: vec![0.0; self.layout.len()], modes: Vec::with_capacity(shares.len()) };
        let mut by_cell = vec![0.0; self.design.cells.len()];
        for (part, (share, _)) in self.parts.iter().zip(shares) {
            at.value += share.value;
            part.cells.iter().zip(&share.cells).for_each(|(cell, g)| by_cell[*cell as usize] += g);
            let rest = &mut at.gradient[self.layout.fixed..];
            rest.iter_mut().zip(&share.entries).for_each(|(g, entry)| *g += entry);
            if self.layout.dispersion {
                at.gradient[self.layout.kappa_at()] += share.kappa;
            }
            at.modes.push(share.u);
        }
        for (cell, g) in by_cell.iter().enumerate() {
            self.design.cells.entries(cell).for_each(|(column, x)| at.gradient[column] += x * g);
        }
        (at.value.is_finite() && at.gradient.iter().all(|g| g.is_finite())).then_some(at)
    }

    /// Minus the second derivatives at `theta`; of less accuracy, at half the cost, where they only direct a search.
    pub fn curvature(&self, theta: &[f64], modes: &[Vec<f64>], is_rough: bool) -> Option<Matrix> {
        let fixed = self.design.cells.times(&theta[..self.layout.fixed]);
        let here = self.point(theta);
        let beside: Vec<(Point<'_>, Option<Point<'_>>)> = (self.layout.fixed..self.layout.len())
            .map(|index| {
                let moved = |by: f64| {
                    let mut theta = theta.to_vec();
                    theta[index] += by;
                    self.point(&theta)
                };
                (moved(STEP), (!is_rough).then(|| moved(-STEP)))
            })
            .collect();
        let blocks = self.over_parts(|index, part| {
            let centre = share(part, &here, &own(part, &fixed), Start(&modes[index], None))?;
            let around = Around { part, local: self.local(part), here: &here, fixed: &own(part, &fixed), centre: &centre, is_rough };
            self.block(&around, &beside).map(|block| (around.local, block))
        })?;
        let mut total = Matrix::zeros(self.layout.len(), self.layout.len());
        for (part, (local, block)) in self.parts.iter().zip(&blocks) {
            self.scatter(part, local, block, &mut total);
        }
        total.make_symmetric();
        total.is_finite().then_some(total)
    }

    /// One component's second derivatives by its own coordinates, then the roots' entries and κ.
    fn block(&self, around: &Around<'_>, beside: &[(Point<'_>, Option<Point<'_>>)]) -> Option<Matrix> {
        let Around { part, local, here, fixed, .. } = around;
        let own = local.len();
        let mut block = Matrix::zeros(own + beside.len(), own + beside.len());
        if part.random > 0 {
            for at in 0..own {
                let up = around.share(here, &local.moved(fixed, at, STEP))?;
                let down = if around.is_rough { None } else { Some(around.share(here, &local.moved(fixed, at, -STEP))?) };
                self.difference(around, &up, down.as_ref(), block.col_mut(at));
            }
        }
        for (index, (up, down)) in beside.iter().enumerate() {
            let up = around.share(up, fixed)?;
            let down = if let Some(down) = down { Some(around.share(down, fixed)?) } else { None };
            self.difference(around, &up, down.as_ref(), block.col_mut(own + index));
        }
        if part.random == 0 {
            self.exact(part, here, fixed, local, &mut block);
        }
        Some(block)
    }

    fn difference(&self, around: &Around<'_>, up: &Share, down: Option<&Share>, column: &mut [f64]) {
        let width = if down.is_some() { 2.0 * STEP } else { STEP };
        let (up, down) = (self.flat(&around.local, up), self.flat(&around.local, down.unwrap_or(&around.centre.0)));
        column.iter_mut().zip(up.iter().zip(&down)).for_each(|(entry, (up, down))| *entry = (down - up) / width);
    }

    /// The second derivatives of a component without random effects by its distinct rows: a diagonal.
    fn exact(&self, part: &Part, here: &Point<'_>, fixed: &[f64], local: &Local, block: &mut Matrix) {
        let mut weights = vec![0.0; part.cells.len()];
        for (i, record) in part.records.iter().enumerate() {
            let cell = part.cell[i] as usize;
            weights[cell] -= here.law.low(record, fixed[cell] + part.offset[i]).second;
        }
        let own = local.len();
        for row in own..block.rows() {
            (0..own).for_each(|col| block[(row, col)] = block[(col, row)]);
        }
        if local.by_cell {
            weights.iter().enumerate().for_each(|(cell, weight)| block[(cell, cell)] = *weight);
            return;
        }
        let weighted = Matrix::from_fn(local.x.rows(), own, |cell, col| weights[cell] * local.x[(cell, col)]);
        let product = local.x.transposed_times(&weighted);
        for col in 0..own {
            block.col_mut(col)[..own].copy_from_slice(product.col(col));
        }
    }

    fn local(&self, part: &Part) -> Local {
        let entries = |cell: &u32| self.design.cells.entries(*cell as usize);
        let mut columns: Vec<usize> = part.cells.iter().flat_map(entries).map(|(column, _)| column).collect();
        columns.sort_unstable();
        columns.dedup();
        let by_cell = part.cells.len() <= columns.len();
        let mut x = Matrix::default();
        if !by_cell {
            x = Matrix::zeros(part.cells.len(), columns.len());
            for (index, cell) in part.cells.iter().enumerate() {
                for (column, value) in entries(cell) {
                    x[(index, columns.partition_point(|c| *c < column))] = value;
                }
            }
        } else {
            columns = (0..part.cells.len()).collect();
        }
        Local { columns, x, by_cell }
    }

    fn flat(&self, local: &Local, share: &Share) -> Vec<f64> {
        let mut flat = if local.by_cell { share.cells.clone() } else { local.x.transposed_times_vec(&share.cells) };
        flat.extend(&share.entries);
        if self.layout.dispersion {
            flat.push(share.kappa);
        }
        flat
    }

    /// Adds a component's block to the whole.
    fn scatter(&self, part: &Part, local: &Local, block: &Matrix, total: &mut Matrix) {
        let own = local.len();
        let places = |at: usize| -> Vec<(usize, f64)> {
            if at >= own {
                vec![(self.layout.fixed + at - own, 1.0)]
            } else if local.by_cell {
                self.design.cells.entries(part.cells[at] as usize).collect()
            } else {
                vec![(local.columns[at], 1.0)]
            }
        };
        let all: Vec<Vec<(usize, f64)>> = (0..block.rows()).map(places).collect();
        for (j, cols) in all.iter().enumerate() {
            // First the rows, then the columns: a distinct row with many entries is spread once.
            let mut column = vec![0.0; total.rows()];
            for (i, rows) in all.iter().enumerate() {
                rows.iter().for_each(|(row, x)| column[*row] += x * block[(i, j)]);
            }
            for (col, y) in cols {
                crate::linear::axpy(total.col_mut(*col), *y, &column);
            }
        }
    }
}

fn own(part: &Part, fixed: &[f64]) -> Vec<f64> {
    part.cells.iter().map(|cell| fixed[*cell as usize]).collect()
}

impl Local {
    fn len(&self) -> usize {
        self.columns.len()
    }

    fn moved(&self, fixed: &[f64], at: usize, by: f64) -> Vec<f64> {
        let mut moved = fixed.to_vec();
        if self.by_cell {
            moved[at] += by;
        } else {
            crate::linear::axpy(&mut moved, by, self.x.col(at));
        }
        moved
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::columns::Columns;
    use crate::model::Model;

    const TOML: &str = "response = \"y\"\nfamily = \"beta-binomial\"\ntrials = \"n\"\ncategories = [\"medium\", \"block\", \"plant\"]\neffects = [[\"medium\"], [\"x\"]]\n";

    fn design(random: &str) -> Design {
        let rows = 48;
        let mut columns = Columns::new(rows);
        let name = |start: &str, index: usize| format!("{start}{index}");
        columns.category("medium", &(0..rows).map(|i| name("m", i % 3)).collect::<Vec<_>>()).unwrap();
        columns.category("block", &(0..rows).map(|i| name("b", i / 12)).collect::<Vec<_>>()).unwrap();
        columns.category("plant", &(0..rows).map(|i| name("p", (i * 7) % 10)).collect::<Vec<_>>()).unwrap();
        columns.number("x", (0..rows).map(|i| ((i * 5) % 9) as f64).collect()).unwrap();
        columns.number("y", (0..rows).map(|i| ((i * 11) % 8) as f64).collect()).unwrap();
        columns.number("n", vec![9.0; rows]).unwrap();
        Design::new(&columns, &Model::from_toml(&format!("{TOML}{random}")).unwrap()).unwrap()
    }

    fn problem(design: &Design, family: Family, nodes: u32) -> Problem<'_> {
        let response = &design.table.response;
        let mut records: Vec<Record> =
            response.iter().map(|y| Record::new(family, *y, if family.has_trials() { 9.0 } else { 0.0 })).collect();
        let rule = (nodes > 1).then(|| Rule::new(nodes)).flatten();
        Problem::new(design, family, &mut records, &vec![0.1; response.len()], rule).unwrap()
    }

    fn theta(problem: &Problem<'_>) -> Vec<f64> {
        (0..problem.layout.len()).map(|i| 0.5 - 0.17 * ((i * 3) % 5) as f64).collect()
    }

    const RANDOM: [(&str, u32); 4] = [
        ("groups = [[\"block\"], [\"plant\"]]\n", 1),
        ("groups = [[\"block\"]]\n[[varying]]\nover = [\"plant\"]\neffects = [[\"x\"]]\n", 1),
        ("groups = [[\"plant\"]]\n", 7),
        ("", 1),
    ];

    #[test]
    fn the_gradient_is_the_slope_of_the_likelihood_and_the_curvature_that_of_the_gradient() {
        let h = 1e-5;
        for (random, nodes) in RANDOM {
            let design = design(random);
            for family in [Family::Poisson, Family::NegativeBinomial, Family::Binomial, Family::BetaBinomial] {
                let problem = problem(&design, family, nodes);
                let theta = theta(&problem);
                let at = |index: usize, by: f64| {
                    let mut theta = theta.clone();
                    theta[index] += by;
                    problem.at(&theta, &problem.no_modes()).unwrap()
                };
                let here = at(0, 0.0);
                let curvature = problem.curvature(&theta, &here.modes, false).unwrap();
                for index in 0..theta.len() {
                    let (up, down) = (at(index, h), at(index, -h));
                    let slope = (up.value - down.value) / (2.0 * h);
                    assert!(
                        (slope - here.gradient[index]).abs() < 1e-6 * (1.0 + slope.abs()),
                        "{random} {family:?} {index}: {slope} {}",
                        here.gradient[index]
                    );
                    for other in 0..theta.len() {
                        let bend = (down.gradient[other] - up.gradient[other]) / (2.0 * h);
                        let found = curvature[(other, index)];
                        assert!((bend - found).abs() < 1e-5 * (1.0 + bend.abs()), "{random} {family:?} {index} {other}: {bend} {found}");
                    }
                }
            }
        }
    }
}
