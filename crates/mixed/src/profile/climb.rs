//! The best likelihood with one parameter held: Newton's steps as in the search, from a start that is close.

use super::space::Space;
use crate::likelihood::{First, Likelihood, Point};
use crate::linear::{Matrix, dot};
use crate::search::{Secant, damped};

/// The best point beside a held value.
pub struct Best {
    /// The point.
    pub point: Point,
    /// ℓ there, its scale being one.
    pub value: f64,
    /// Derivatives of ℓ by the elements.
    pub gradient: Vec<f64>,
}

/// A point of the climb.
struct At {
    values: Vec<f64>,
    first: First,
    value: f64,
}

const STEPS: usize = 60;

/// Twice the gain still expected at which a climb ends.
const DONE: f64 = 1e-12;

/// Near the top the gradient's change tells of the second derivatives.
const NEAR: f64 = 0.5;

/// Climbs; `None` where the likelihood cannot be evaluated at the start.
pub fn climb(likelihood: &Likelihood<'_>, space: &Space, start: &[f64]) -> Option<Best> {
    let mut at = evaluate(likelihood, space, start.to_vec())?;
    let mut secant = Secant::new(space.len());
    let mut near = false;
    for _ in 0..STEPS {
        let (gradient, curvature) = derivatives(likelihood, space, &at);
        let curvature = secant.corrected(&at.values, &gradient, &curvature, near);
        let free: Vec<usize> = (0..space.len()).filter(|index| !is_held(space, &at.values, &gradient, *index)).collect();
        let g: Vec<f64> = free.iter().map(|index| gradient[*index]).collect();
        let direction = damped(&Matrix::from_fn(free.len(), free.len(), |i, j| curvature[(free[i], free[j])]), &g);
        let decrement = dot(&g, &direction);
        near = decrement < NEAR;
        if free.is_empty() || decrement < DONE {
            match leave_saddle(likelihood, space, &at, &curvature) {
                Some(next) => {
                    at = next;
                    near = false;
                    continue;
                }
                None => break,
            }
        }
        match advance(likelihood, space, &at, &free, &direction, decrement) {
            Some(next) => at = next,
            None => break,
        }
    }
    let gradient = by_elements(&at.first);
    Some(Best { point: at.first.point, value: at.value, gradient })
}

/// A step off a root's entry of nil where the likelihood, flat there, bends upwards.
fn leave_saddle(likelihood: &Likelihood<'_>, space: &Space, at: &At, curvature: &Matrix) -> Option<At> {
    let is_saddle = |index: &usize| space.is_root(*index) && at.values[*index].abs() < 1e-6 && curvature[(*index, *index)] < -1e-6;
    let index = (0..space.len()).find(is_saddle)?;
    let mut values = at.values.clone();
    values[index] = 0.05;
    evaluate(likelihood, space, values).filter(|next| next.value > at.value)
}

fn is_held(space: &Space, values: &[f64], gradient: &[f64], index: usize) -> bool {
    let (low, high) = space.range(index);
    (values[index] <= low && gradient[index] <= 0.0) || (values[index] >= high && gradient[index] >= 0.0)
}

fn advance(likelihood: &Likelihood<'_>, space: &Space, at: &At, free: &[usize], direction: &[f64], decrement: f64) -> Option<At> {
    let lengths = (0..24).map(|halving| 0.5_f64.powi(halving));
    let trial = |length: f64| {
        let mut next = at.values.clone();
        for (index, d) in free.iter().zip(direction) {
            let (low, high) = space.range(*index);
            next[*index] = (next[*index] + length * d).clamp(low, high);
        }
        let next = evaluate(likelihood, space, next)?;
        let rise = next.value - at.value;
        let is_blind = decrement < 1e-7 && rise > -1e-10 * (1.0 + at.value.abs());
        (rise > 0.0 || is_blind).then_some(next)
    };
    lengths.into_iter().find_map(trial)
}

/// ℓ with the scale one in place of the profiled ĉ: ℓ(ĉ) − ½ν(ĉ − 1 − log ĉ).
fn evaluate(likelihood: &Likelihood<'_>, space: &Space, values: Vec<f64>) -> Option<At> {
    let mut first = likelihood.first(&space.point(&values))?;
    likelihood.complete(&mut first);
    let value = first.value - 0.5 * likelihood.freedom * (first.scale - 1.0 - first.scale.ln());
    value.is_finite().then_some(At { values, first, value })
}

fn by_elements(first: &First) -> Vec<f64> {
    first.gradient.iter().zip(&first.quadratic).map(|(g, q)| g + 0.5 * (first.scale - 1.0) * q).collect()
}

fn derivatives(likelihood: &Likelihood<'_>, space: &Space, at: &At) -> (Vec<f64>, Matrix) {
    let gradient = by_elements(&at.first);
    let (jacobian, bend) = space.derivatives(&at.values, &at.first.point, &likelihood.elements, &gradient);
    let information = likelihood.working_products(&at.first);
    let mut curvature = jacobian.transposed_times(&information.times(&jacobian));
    curvature.scale(0.5 * at.first.scale);
    curvature.add(-1.0, &bend);
    curvature.make_symmetric();
    (jacobian.transposed_times_vec(&gradient), curvature)
}
