//! Differences of rank three: P(max |Z_i| > w) exactly.

use std::f64::consts::{FRAC_1_PI, FRAC_PI_2, PI};

use crate::multiplicity::cholesky::dot;
use crate::multiplicity::gauss_legendre;
use crate::multiplicity::normal;

/// Deviates Z_i = a_i·Z along lines a_i of ordinary space.
///
/// Space falls into the cells where |Z_i| is the largest. Seen along a_i, the border of
/// its cell lies at an angle ρ(φ) from the line, and
///
/// ```text
/// P(Z in half the cell, Z_i > w) = Q(w) − (1/2π) ∮ cos ρ · Q(w/cos ρ) dφ,   Q(w) = P(Z > w)
/// ```
///
/// so that the whole is Bonferroni's bound less the border integrals of the cells: exact
/// in far tails too, where little is taken off.
///
/// # Source
/// Derived here: Q(w) is the whole half-space; integrating exp(−y²/2) outward from the
/// border at distance y = x·tan ρ leaves a normal integral in x.
pub(super) struct Sphere {
    count: usize,
    /// cos ρ at the nodes of all borders, with the weight in φ.
    border: Vec<(f64, f64)>,
}

impl Sphere {
    /// `rows`: unit vectors that span three dimensions, no two on one line.
    pub(super) fn new(rows: &[Vec<f64>]) -> Self {
        let border = (0..rows.len()).flat_map(|index| cell_border(rows, index)).collect();
        Self { count: rows.len(), border }
    }

    pub(super) fn upper(&self, w: f64) -> f64 {
        let part = |(cosine, weight): &(f64, f64)| weight * cosine * normal::upper(w / cosine);
        let border: f64 = self.border.iter().map(part).sum();
        let bonferroni = self.count as f64 * normal::two_sided(w);
        (bonferroni - FRAC_1_PI * border).clamp(normal::two_sided(w), 1.0)
    }
}

/// A side of a cell seen along its line, in the plane at distance 1: the foot of the
/// perpendicular from the line to the side has direction `angle` and distance
/// 1/`nearness`; x and y are the coordinates of `nearness` in that direction.
#[derive(Clone, Copy)]
struct Side {
    x: f64,
    y: f64,
}

impl Side {
    fn nearness(self) -> f64 {
        self.x.hypot(self.y)
    }
    fn angle(self) -> f64 {
        self.y.atan2(self.x)
    }
}

/// Nodes (cos ρ, weight) along the border of one cell.
fn cell_border(rows: &[Vec<f64>], index: usize) -> Vec<(f64, f64)> {
    let Some((axis, others)) = axis_and_others(rows, index) else { return Vec::new() };
    let (first, second) = tangents(axis);
    let mut sides = Vec::with_capacity(2 * others.len());
    for other in others {
        let cosine = dot(axis, other);
        let (x, y) = (dot(&first, other), dot(&second, other));
        // The cell is where both ±other are no larger: ±(x, y)·u ≤ 1 ∓ cosine.
        sides.push(Side { x: x / (1.0 - cosine), y: y / (1.0 - cosine) });
        sides.push(Side { x: -x / (1.0 + cosine), y: -y / (1.0 + cosine) });
    }
    let hull = convex_hull(sides);
    let count = hull.len();
    (0..count)
        .flat_map(|i| {
            let (before, here) = (hull[(i + count - 1) % count], hull[i]);
            side_nodes(here, corner(before, here), corner(here, hull[(i + 1) % count]))
        })
        .collect()
}

fn axis_and_others(rows: &[Vec<f64>], index: usize) -> Option<(&Vec<f64>, Vec<&Vec<f64>>)> {
    let others = rows.iter().enumerate().filter(|(i, _)| *i != index).map(|(_, row)| row);
    Some((rows.get(index)?, others.collect()))
}

/// Two unit vectors at right angles to `axis` and to each other.
fn tangents(axis: &[f64]) -> ([f64; 3], [f64; 3]) {
    let (x, y, z) = match axis {
        [x, y, z] => (*x, *y, *z),
        _ => (1.0, 0.0, 0.0),
    };
    // The coordinate axis least along `axis` gives the first.
    let first = if x.abs() <= y.abs() && x.abs() <= z.abs() {
        [0.0, z, -y]
    } else if y.abs() <= z.abs() {
        [-z, 0.0, x]
    } else {
        [y, -x, 0.0]
    };
    let length = dot(&first, &first).sqrt();
    let [a, b, c] = first.map(|entry| entry / length);
    ([a, b, c], [y * c - z * b, z * a - x * c, x * b - y * a])
}

/// The convex hull, counter-clockwise, by Andrew's monotone chain. In direction φ the
/// border is the side whose (x, y) lies farthest that way, so the sides that count are the
/// corners of the hull, and the edges of the hull are the corners of the cell.
///
/// # Source
/// Andrew (1979), Information Processing Letters 9:216–219.
fn convex_hull(mut sides: Vec<Side>) -> Vec<Side> {
    sides.sort_by(|a, b| a.x.total_cmp(&b.x).then(a.y.total_cmp(&b.y)));
    let mut lower = half_hull(sides.iter());
    let mut upper = half_hull(sides.iter().rev());
    lower.pop();
    upper.pop();
    lower.append(&mut upper);
    lower
}

fn half_hull<'a>(sides: impl Iterator<Item = &'a Side>) -> Vec<Side> {
    let mut hull: Vec<Side> = Vec::new();
    for side in sides {
        while let [.., before, last] = hull.as_slice()
            && !turns_left(*before, *last, *side)
        {
            hull.pop();
        }
        hull.push(*side);
    }
    hull
}

fn turns_left(a: Side, b: Side, c: Side) -> bool {
    let cross = (b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x);
    cross > 1e-14 * a.nearness().max(b.nearness()).max(c.nearness()).powi(2)
}

/// Direction φ where the border passes from one side to the next.
fn corner(one: Side, next: Side) -> f64 {
    (one.x - next.x).atan2(next.y - one.y)
}

/// Nodes along a side between the directions of its two corners. Where the side runs far
/// out, the border falls quickly to cos ρ = 0: there the panels are short.
fn side_nodes(side: Side, from: f64, to: f64) -> Vec<(f64, f64)> {
    let nearness = side.nearness();
    let within = |phi: f64| (phi - side.angle() + PI).rem_euclid(2.0 * PI) - PI;
    let (from, to) = (within(from), within(to));
    let turns = [16.0, 4.0, 1.0].map(|far| far / nearness).into_iter().filter(|end| *end < 1.0);
    let cosine = |psi: f64| {
        let near = nearness * psi.cos();
        near / near.hypot(1.0)
    };
    let mut breaks = vec![from];
    breaks.extend(turns.flat_map(|end| [FRAC_PI_2 - end, end - FRAC_PI_2]));
    breaks.retain(|at| from <= *at && *at < to);
    breaks.sort_by(f64::total_cmp);
    breaks.push(to);
    let panels = breaks.windows(2).filter_map(|pair| match pair {
        [a, b] if b > a => Some(gauss_legendre::on(*a, *b)),
        _ => None,
    });
    panels.flatten().map(|(psi, weight)| (cosine(psi), weight)).filter(|(cosine, _)| *cosine > 0.0).collect()
}
