//! Differences of any rank: P(max |Z_i| > w) from the borders of their cells, met along
//! a fixed set of directions.

use std::f64::consts::FRAC_PI_2;

use rayon::prelude::*;

use super::Probability;
use super::lattice::{direction, points, rules};
use crate::multiplicity::cholesky::dot;
use crate::multiplicity::normal;

/// Shifted copies of the lattice; their scatter is the measure of error.
const SHIFTS: u64 = 12;
/// Steps of the grid of angles from 0 to π/2 on which borders are gathered.
const GRID: usize = 512;
const STEP: f64 = FRAC_PI_2 / GRID as f64;
/// The lattice is refined until the error at the probe points is below this.
const WANTED_ERROR: f64 = 5e-6;
/// Points where the error is judged, from likely to unlikely.
const PROBES: [f64; 4] = [1.5, 2.0, 2.5, 3.0];
/// Products computed at most in one lattice of all cells and shifts.
const MOST_WORK: u64 = 1_000_000_000;

/// Deviates Z_i = a_i·Z in `rank` dimensions. Space falls into the cells where |Z_i| is
/// the largest; leaving the line a_i in a direction e at right angles to it, the border of
/// its cell is met at an angle ρ_i(e), and
///
/// ```text
/// P(max |Z_i| > w) = 2 Σ_i E_e [c(ρ_i(e), w)],
/// c(ρ, w) = P(Z_i > w and the angle between Z and a_i is below ρ)
/// ```
///
/// Only e is sampled. Far out c is nearly P(Z_i > w) whatever ρ is, so that the sum is
/// nearly Bonferroni's bound and little is left to sampling. At w = 0 the whole is 1: the
/// sample is corrected by what it makes of that.
///
/// # Source
/// Derived here, as [`super::sphere`]; sampling of directions with the length integrated:
/// Deák (1980), Numerische Mathematik 35:369–380.
pub(super) struct Cells {
    rank: usize,
    count: usize,
    /// For each shift, Σ_i over the cells of how often each angle ρ_i(e) occurs, as weights
    /// of the grid points.
    borders: Vec<Vec<f64>>,
    /// c at w = 0, where the answer is known.
    at_zero: Vec<f64>,
}

impl Cells {
    /// `rows`: unit vectors in as many dimensions as their rank, at least three.
    pub(super) fn new(rows: &[Vec<f64>]) -> Self {
        let rank = rows.first().map_or(1, Vec::len);
        let cost = SHIFTS * (rows.len() * rows.len() * rank) as u64;
        let mut cells = Self { rank, count: rows.len(), borders: Vec::new(), at_zero: Vec::new() };
        cells.at_zero = cells.inside(0.0);
        let lines = Lines::new(rows);
        for rule in rules(rank - 2) {
            if !cells.borders.is_empty() && rule.0 * cost > MOST_WORK {
                break;
            }
            cells.borders = (0..SHIFTS).into_par_iter().map(|shift| gathered(&lines, rule, shift)).collect();
            if PROBES.iter().all(|w| cells.estimate(*w).error < WANTED_ERROR) {
                break;
            }
        }
        cells
    }

    /// P(max |Z_i| > w) and three standard errors between the shifts.
    pub(super) fn estimate(&self, w: f64) -> Probability {
        let here = self.inside(w);
        let sums = |border: &Vec<f64>| (2.0 * dot(border, &here), 2.0 * dot(border, &self.at_zero));
        let pairs: Vec<(f64, f64)> = self.borders.iter().map(sums).collect();
        let corrected = corrected_mean(&pairs, 1.0);
        let single = normal::two_sided(w);
        let most = (self.count as f64 * single).min(1.0);
        Probability { value: corrected.value.max(single).min(most), error: corrected.error }
    }

    /// c(ρ, w) at the grid points: the density of the angle θ to a line is proportional to
    /// sinʳ⁻²θ, and the length of Z must pass w/cos θ. Simpson's rule on each step.
    fn inside(&self, w: f64) -> Vec<f64> {
        let scale = 0.5 / whole_sphere(self.rank);
        let density = |theta: f64| {
            let length = normal::length_upper(self.rank, w / theta.cos().max(1e-9));
            scale * theta.sin().powi(self.rank as i32 - 2) * length
        };
        let mut sum = 0.0;
        let mut before = density(0.0);
        let mut inside = Vec::with_capacity(GRID + 1);
        inside.push(sum);
        for index in 0..GRID {
            let here = density(STEP * (index as f64 + 1.0));
            sum += STEP / 6.0 * (before + 4.0 * density(STEP * (index as f64 + 0.5)) + here);
            inside.push(sum);
            before = here;
        }
        inside
    }
}

/// ∫₀^{π/2} sinʳ⁻²θ dθ by Wallis' recurrence.
fn whole_sphere(rank: usize) -> f64 {
    let power = rank - 2;
    let mut whole = if power.is_multiple_of(2) { FRAC_PI_2 } else { 1.0 };
    let mut at = if power.is_multiple_of(2) { 2 } else { 3 };
    while at <= power {
        whole *= (at as f64 - 1.0) / at as f64;
        at += 2;
    }
    whole
}

/// Mean of the first numbers, corrected by their regression on the second, whose true
/// mean is known; the error is three standard errors of what the regression leaves.
fn corrected_mean(pairs: &[(f64, f64)], known: f64) -> Probability {
    let n = pairs.len() as f64;
    let (mut mean, mut mean_of_known) = (0.0, 0.0);
    for (first, second) in pairs {
        mean += first / n;
        mean_of_known += second / n;
    }
    let (mut covariance, mut variance) = (0.0, 0.0);
    for (first, second) in pairs {
        covariance += (first - mean) * (second - mean_of_known);
        variance += (second - mean_of_known).powi(2);
    }
    let slope = if variance > 0.0 { covariance / variance } else { 0.0 };
    let left = |(first, second): &(f64, f64)| first - mean - slope * (second - mean_of_known);
    let square: f64 = pairs.iter().map(|pair| left(pair).powi(2)).sum();
    let error = 3.0 * (square / ((n - 2.0) * n)).sqrt();
    Probability { value: mean + slope * (known - mean_of_known), error }
}

/// The border angles of all cells under one shift, each cell with points of its own.
fn gathered(lines: &Lines, rule: (u64, u64), shift: u64) -> Vec<f64> {
    let mut grid = vec![0.0; GRID + 1];
    let mut inner = vec![0.0; lines.rank - 1];
    let mut outward = vec![0.0; lines.rank];
    let mut along = vec![[0.0; LANES]; lines.blocks];
    for (index, axis) in lines.rows.iter().enumerate() {
        let slopes = lines.slopes_beside(index, axis);
        let mirror = Mirror::onto(axis);
        let seed = 1 + shift + SHIFTS * index as u64;
        points(rule, lines.rank - 2, seed, |point| {
            direction(point, &mut inner);
            mirror.carry(&inner, &mut outward);
            lines.cosines_with(&outward, &mut along);
            for nearness in nearness_both_ways(&along, &slopes) {
                add(&mut grid, (1.0 / nearness).atan());
            }
        });
    }
    grid.iter_mut().for_each(|weight| *weight *= 0.5 / rule.0 as f64);
    grid
}

/// Lines handled together, so that the compiler can use vector instructions.
const LANES: usize = 4;
type Block = [f64; LANES];

/// The lines a_i: by rows, and by coordinate in blocks of lines.
struct Lines<'a> {
    rank: usize,
    blocks: usize,
    rows: &'a [Vec<f64>],
    coordinates: Vec<Vec<Block>>,
}

impl<'a> Lines<'a> {
    fn new(rows: &'a [Vec<f64>]) -> Self {
        let rank = rows.first().map_or(1, Vec::len);
        let coordinate = |d: usize| -> Vec<f64> { rows.iter().map(|row| row.get(d).copied().unwrap_or(0.0)).collect() };
        let coordinates: Vec<Vec<Block>> = (0..rank).map(|d| in_blocks(coordinate(d))).collect();
        let blocks = rows.len().div_ceil(LANES);
        Self { rank, blocks, rows, coordinates }
    }

    /// a_j·e for all lines.
    fn cosines_with(&self, e: &[f64], along: &mut [Block]) {
        along.fill([0.0; LANES]);
        for (coordinate, x) in self.coordinates.iter().zip(e) {
            for (sum, block) in along.iter_mut().zip(coordinate) {
                for (sum, entry) in sum.iter_mut().zip(block) {
                    *sum += x * entry;
                }
            }
        }
    }

    /// 1/(1 − ρ_j) and 1/(1 + ρ_j), ρ_j the cosine between the axis and line j; zero for
    /// the axis itself.
    fn slopes_beside(&self, own: usize, axis: &[f64]) -> Vec<(Block, Block)> {
        let slope = |sense: f64| {
            let of = |(index, row): (usize, &Vec<f64>)| {
                if index == own { 0.0 } else { 1.0 / (1.0 - sense * dot(axis, row)) }
            };
            in_blocks(self.rows.iter().enumerate().map(of).collect())
        };
        slope(1.0).into_iter().zip(slope(-1.0)).collect()
    }
}

fn in_blocks(values: Vec<f64>) -> Vec<Block> {
    let block = |chunk: &[f64]| {
        let mut block = [0.0; LANES];
        block.iter_mut().zip(chunk).for_each(|(place, value)| *place = *value);
        block
    };
    values.chunks(LANES).map(block).collect()
}

/// 1/tan ρ in a direction and in the opposite one, given its cosines with all lines: the
/// nearest of the borders with the other lines, in both their senses.
fn nearness_both_ways(along: &[Block], slopes: &[(Block, Block)]) -> [f64; 2] {
    let (mut ahead, mut behind) = ([0.0_f64; LANES], [0.0_f64; LANES]);
    for (cosine, (same, opposite)) in along.iter().zip(slopes) {
        for lane in 0..LANES {
            let (one, other) = (cosine[lane] * same[lane], -cosine[lane] * opposite[lane]);
            let (above, below) = if one > other { (one, other) } else { (other, one) };
            ahead[lane] = if above > ahead[lane] { above } else { ahead[lane] };
            behind[lane] = if -below > behind[lane] { -below } else { behind[lane] };
        }
    }
    [ahead, behind].map(|lanes| lanes.into_iter().fold(0.0, f64::max))
}

/// The reflection that carries the first coordinate axis onto a line and so the other axes
/// onto directions at right angles to it (Householder's).
struct Mirror {
    normal: Vec<f64>,
    scale: f64,
}

impl Mirror {
    fn onto(axis: &[f64]) -> Self {
        let mut normal = axis.to_vec();
        if let Some(first) = normal.first_mut() {
            *first += f64::copysign(1.0, *first);
        }
        let scale = 2.0 / dot(&normal, &normal);
        Self { normal, scale }
    }

    /// `inner`: coordinates 2, 3, …; `outward`: their image.
    fn carry(&self, inner: &[f64], outward: &mut [f64]) {
        let (first, others) = self.normal.split_at(1);
        let along = self.scale * dot(others, inner);
        for (place, normal) in outward.iter_mut().zip(first) {
            *place = -along * normal;
        }
        for ((place, x), normal) in outward.iter_mut().skip(1).zip(inner).zip(others) {
            *place = x - along * normal;
        }
    }
}

/// Adds an angle to the grid with the weights of cubic interpolation between the four
/// grid points around it, so that a sum over the grid is the sum over the angles.
fn add(grid: &mut [f64], angle: f64) {
    let place = angle / STEP;
    let start = (place as usize).clamp(1, GRID - 2) - 1;
    let x = place - start as f64;
    let [a, b, c, d] = [x, x - 1.0, x - 2.0, x - 3.0];
    let weights = [-b * c * d / 6.0, a * c * d / 2.0, -a * b * d / 2.0, a * b * c / 6.0];
    for (point, weight) in grid.iter_mut().skip(start).zip(weights) {
        *point += weight;
    }
}
