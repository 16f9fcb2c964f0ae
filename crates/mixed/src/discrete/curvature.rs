//! Second derivatives of the log-likelihood.
//!
//! METHOD: central differences of the exact gradient, taken within each component over the predictors of its own
//! distinct fixed rows, which are few. With a step of 1e-4 both truncation and rounding stay near 1e-8 of the
//! result. Without random effects they are exact save those by κ. To direct a search the fixed effects' part is
//! X′(W − WM H⁻¹ M′W)X, which leaves out what the weights change, and the rest forward differences.

use super::laplace::{Centre, Point, Share, share, share_beside};
use super::local::Local;
use super::parameters::Layout;
use super::problem::{Problem, own};
use super::records::Part;
use crate::linear::Matrix;

/// Step of a difference, in units of a predictor.
const STEP: f64 = 1e-4;

/// A component at the centre of its differences.
struct Around<'a> {
    part: &'a Part,
    layout: &'a Layout,
    local: Local,
    here: &'a Point<'a>,
    fixed: &'a [f64],
    centre: Centre,
}

/// A parameter other than the fixed effects: the points beside, and what of their distance is κ's.
struct Beside<'a> {
    up: Point<'a>,
    down: Option<Point<'a>>,
    kappa: f64,
}

impl Problem<'_> {
    /// Minus the second derivatives at `theta`; of less accuracy, at a tenth of the cost, where they only direct
    /// a search.
    pub fn curvature(&self, theta: &[f64], modes: &[Vec<f64>], is_rough: bool) -> Option<Matrix> {
        let layout = &self.layout;
        let fixed = self.design.cells.times(&theta[..layout.fixed]);
        let here = self.point(theta);
        let beside: Vec<Beside<'_>> = (layout.fixed..layout.len()).map(|index| self.beside(theta, index, is_rough)).collect();
        let blocks = self.over_parts(|index, part| {
            let fixed = own(part, &fixed);
            let centre = share(part, &here, &fixed, &modes[index])?;
            let around = Around { part, layout, local: Local::new(&self.design.cells, part), here: &here, fixed: &fixed, centre };
            around.block(&beside, is_rough).map(|block| (around.local, block))
        })?;
        let mut total = Matrix::zeros(layout.len(), layout.len());
        for (part, (local, block)) in self.parts.iter().zip(&blocks) {
            local.scatter(&self.design.cells, part, layout, block, &mut total);
        }
        total.make_symmetric();
        total.is_finite().then_some(total)
    }

    fn beside(&self, theta: &[f64], index: usize, is_rough: bool) -> Beside<'_> {
        let moved = |by: f64| {
            let mut theta = theta.to_vec();
            theta[index] += by;
            self.point(&theta)
        };
        let is_kappa = self.layout.dispersion && index == self.layout.kappa_at();
        Beside { up: moved(STEP), down: (!is_rough).then(|| moved(-STEP)), kappa: if is_kappa { STEP } else { 0.0 } }
    }
}

impl Around<'_> {
    /// The component's second derivatives by its own coordinates, then the roots' entries and κ.
    fn block(&self, beside: &[Beside<'_>], is_rough: bool) -> Option<Matrix> {
        let own = self.local.len();
        let size = own + beside.len();
        let mut block = Matrix::zeros(size, size);
        let is_direct = is_rough || self.part.random == 0;
        if !is_direct {
            for at in 0..own {
                let side = |by: f64| share_beside(self.part, self.here, &self.local.moved(self.fixed, at, by), &self.centre, 0.0);
                self.difference(&side(STEP)?, Some(&side(-STEP)?), block.col_mut(at));
            }
        }
        for (index, Beside { up, down, kappa }) in beside.iter().enumerate() {
            let side = |point: &Point<'_>, kappa: f64| share_beside(self.part, point, self.fixed, &self.centre, kappa);
            let up = side(up, *kappa)?;
            let down = if let Some(down) = down { Some(side(down, -kappa)?) } else { None };
            self.difference(&up, down.as_ref(), block.col_mut(own + index));
        }
        if is_direct {
            let direct = self.direct();
            for col in 0..own {
                block.col_mut(col)[..own].copy_from_slice(direct.col(col));
                (own..size).for_each(|row| block[(row, col)] = block[(col, row)]);
            }
        }
        Some(block)
    }

    fn difference(&self, up: &Share, down: Option<&Share>, column: &mut [f64]) {
        let width = if down.is_some() { 2.0 * STEP } else { STEP };
        let (up, down) = (self.flat(up), self.flat(down.unwrap_or(&self.centre.share)));
        column.iter_mut().zip(up.iter().zip(&down)).for_each(|(entry, (up, down))| *entry = (down - up) / width);
    }

    fn flat(&self, share: &Share) -> Vec<f64> {
        let mut flat = self.local.gradient(&share.cells);
        flat.extend(&share.entries);
        flat.extend(self.layout.dispersion.then_some(share.kappa));
        flat
    }

    /// X′(W − WM H⁻¹ M′W)X
    fn direct(&self) -> Matrix {
        let (part, local) = (self.part, &self.local);
        let weights: Vec<f64> = self.centre.state.low.iter().map(|low| -low.second).collect();
        let mut by_cell = vec![0.0; part.cells.len()];
        part.cell.iter().zip(&weights).for_each(|(cell, weight)| by_cell[*cell as usize] += weight);
        let mut normal = local.normal(&by_cell);
        if part.random > 0 {
            let mut taken = Matrix::zeros(part.random, local.len());
            for at in 0..local.len() {
                let weighed = |(cell, weight): (&u32, &f64)| weight * local.slope(*cell as usize, at);
                let column: Vec<f64> = part.cell.iter().zip(&weights).map(weighed).collect();
                taken.col_mut(at).copy_from_slice(&part.transposed_times(&self.centre.loadings, &column));
            }
            let solved = self.centre.factor.solve_all(&taken);
            normal.add(-1.0, &taken.transposed_times(&solved));
        }
        normal
    }
}

#[cfg(test)]
mod tests {
    use super::super::law::Record;
    use super::super::quadrature::Rule;
    use super::*;
    use crate::columns::Columns;
    use crate::design::Design;
    use crate::model::{Family, Model};

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
