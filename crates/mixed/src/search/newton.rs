//! Newton steps with the average information, bounds held by an active set.
//!
//! METHOD: the second derivatives are ½ y′P∂V P∂V P y of the profiled likelihood (average
//! information), to which the curvature of the parametrisation is added. Steps are damped until the
//! likelihood rises; close to the optimum the decrement g′H⁻¹g alone decides.

use super::parameters::{Parameter, Parameters};
use crate::likelihood::{First, Likelihood};
use crate::linear::{Cholesky, Matrix, axpy, dot};

/// Where a search ended.
#[derive(Debug, Clone)]
pub struct Reached {
    /// Values of the parameters.
    pub values: Vec<f64>,
    /// The likelihood there.
    pub first: First,
    /// Evaluations of the likelihood.
    pub evaluations: usize,
    /// Derivatives there.
    pub gradient: Vec<f64>,
    /// Minus the second derivatives used there.
    pub curvature: Matrix,
    /// g′H⁻¹g over the free parameters: twice the gain still expected.
    pub decrement: f64,
}

/// Twice the gain in log-likelihood below which a search has converged.
pub const CONVERGED: f64 = 1e-8;

/// Below this decrement the likelihood's own rounding exceeds the gain.
const BLIND: f64 = 1e-7;

/// Below this decrement the next step tells something of the curvature at its end.
const NEAR: f64 = 1e-6;

/// A variance whose step to zero did not raise the likelihood is next tried at this share of itself.
const SHRINKS_TO: f64 = 0.1;

const STEPS: usize = 200;

struct Step {
    gradient: Vec<f64>,
    curvature: Matrix,
    free: Vec<usize>,
    direction: Vec<f64>,
    decrement: f64,
}

/// Climbs from `values`; `None` where the likelihood cannot be evaluated.
pub fn climb(likelihood: &Likelihood<'_>, parameters: &Parameters, start: &[f64]) -> Option<Reached> {
    let mut values = start.to_vec();
    let mut first = likelihood.first(&parameters.point(&values))?;
    let mut evaluations = 1;
    let mut last = f64::INFINITY;
    let mut idle = 0;
    let mut step = next_step(likelihood, parameters, &mut values, &mut first, &mut evaluations);
    for _ in 0..STEPS {
        if step.free.is_empty() || step.decrement < 1e-24 {
            break;
        }
        idle = if step.decrement < BLIND && step.decrement > 0.25 * last { idle + 1 } else { 0 };
        if idle >= 2 {
            break;
        }
        last = step.decrement;
        let Some((next, at)) = advance(likelihood, parameters, &values, &first, &step, &mut evaluations) else {
            break;
        };
        let (before, taken) = (step, std::mem::replace(&mut values, next));
        first = at;
        step = next_step(likelihood, parameters, &mut values, &mut first, &mut evaluations);
        step.learn(&before, &taken, &values);
    }
    let Step { gradient, curvature, decrement, .. } = step;
    Some(Reached { values, first, evaluations, gradient, curvature, decrement })
}

impl Step {
    /// Corrects the direction by what the gradient did over the last step: the average information leaves a
    /// little of the curvature out, and without this each step would leave the same share of the way to go.
    ///
    /// Source: the symmetric rank-one update, Nocedal & Wright (2006), Numerical Optimization, section 6.2.
    fn learn(&mut self, before: &Self, from: &[f64], to: &[f64]) {
        if self.free != before.free || before.decrement > NEAR || self.decrement > before.decrement {
            return;
        }
        let moved: Vec<f64> = self.free.iter().map(|i| to[*i] - from[*i]).collect();
        let fell: Vec<f64> = self.free.iter().map(|i| before.gradient[*i] - self.gradient[*i]).collect();
        let g: Vec<f64> = self.free.iter().map(|i| self.gradient[*i]).collect();
        let n = self.free.len();
        let mut h = Matrix::from_fn(n, n, |i, j| self.curvature[(self.free[i], self.free[j])]);
        let expected = h.times_vec(&moved);
        let missed: Vec<f64> = fell.iter().zip(&expected).map(|(y, e)| y - e).collect();
        let (along, whole) = (dot(&missed, &moved), dot(&expected, &moved));
        if !(along.is_finite() && along.abs() > 1e-8 * whole && along.abs() < 0.3 * whole) {
            return;
        }
        for (j, m) in missed.iter().enumerate() {
            axpy(h.col_mut(j), m / along, &missed);
        }
        let direction = damped(&h, &g);
        if dot(&g, &direction) > 0.0 {
            self.direction = direction;
        }
    }
}

/// Tries the step, halving it until the likelihood rises enough.
fn advance(
    likelihood: &Likelihood<'_>,
    parameters: &Parameters,
    values: &[f64],
    first: &First,
    step: &Step,
    evaluations: &mut usize,
) -> Option<(Vec<f64>, First)> {
    let mut length = 1.0;
    let mut shrinks = false;
    for _ in 0..30 {
        let mut next = values.to_vec();
        for (index, d) in step.free.iter().zip(&step.direction) {
            let (low, high) = parameters.range(*index);
            let low = if shrinks && low == 0.0 { SHRINKS_TO * values[*index] } else { low };
            next[*index] = (values[*index] + length * d).clamp(low, high);
        }
        let expected: f64 = step.free.iter().map(|i| step.gradient[*i] * (next[*i] - values[*i])).sum();
        *evaluations += 1;
        if let Some(at) = likelihood.first(&parameters.point(&next)) {
            let rise = at.value - first.value;
            let noise = 1e-10 * (1.0 + first.value.abs());
            if rise >= 1e-4 * expected || (step.decrement < BLIND && rise > -noise) {
                return Some((next, at));
            }
        }
        let at_zero = step.free.iter().any(|index| next[*index] == 0.0 && values[*index] > 0.0);
        if at_zero && !std::mem::replace(&mut shrinks, true) {
            continue;
        }
        length *= if length > 0.1 { 0.5 } else { 0.2 };
    }
    None
}

fn next_step(likelihood: &Likelihood<'_>, parameters: &Parameters, values: &mut [f64], first: &mut First, evaluations: &mut usize) -> Step {
    for _ in 0..parameters.all.len() + 1 {
        let (gradient, curvature) = derivatives(likelihood, parameters, first);
        match leave_saddle(parameters, values, &curvature) {
            None => return solve(parameters, values, gradient, curvature),
            Some(index) => {
                // A standard deviation at zero has no slope there; its curvature says that it should rise.
                let before = values[index];
                values[index] = 0.05;
                *evaluations += 1;
                match likelihood.first(&parameters.point(values)) {
                    Some(at) if at.value > first.value => *first = at,
                    _ => {
                        values[index] = before;
                        return solve(parameters, values, gradient, curvature);
                    }
                }
            }
        }
    }
    let (gradient, curvature) = derivatives(likelihood, parameters, first);
    solve(parameters, values, gradient, curvature)
}

fn leave_saddle(parameters: &Parameters, values: &[f64], curvature: &Matrix) -> Option<usize> {
    (0..values.len()).find(|index| {
        matches!(parameters.all[*index], Parameter::Root { row, col, .. } if row == col)
            && values[*index] == 0.0
            && curvature[(*index, *index)] < 0.0
    })
}

/// Gradient and minus the second derivatives by the search's parameters.
fn derivatives(likelihood: &Likelihood<'_>, parameters: &Parameters, first: &First) -> (Vec<f64>, Matrix) {
    let elements = &likelihood.elements[..first.gradient.len()];
    let mut information = likelihood.working_products(first);
    for i in 0..elements.len() {
        for j in 0..elements.len() {
            information[(i, j)] -= first.quadratic[i] * first.quadratic[j] / likelihood.freedom;
        }
    }
    let jacobian = parameters.jacobian(&first.point, elements);
    let mut curvature = jacobian.transposed_times(&information.times(&jacobian));
    curvature.scale(0.5);
    curvature.add(-1.0, &parameters.bend(&first.point, elements, &first.gradient));
    curvature.make_symmetric();
    (jacobian.transposed_times_vec(&first.gradient), curvature)
}

/// The damped Newton direction over the parameters that are free to move.
fn solve(parameters: &Parameters, values: &[f64], gradient: Vec<f64>, curvature: Matrix) -> Step {
    let held = |index: usize| {
        let (low, high) = parameters.range(index);
        let at_low = values[index] <= low && (gradient[index] <= 0.0 || root_at_zero(parameters, values, index));
        at_low || (values[index] >= high && gradient[index] >= 0.0)
    };
    let free: Vec<usize> = (0..values.len()).filter(|index| !held(*index)).collect();
    let g: Vec<f64> = free.iter().map(|index| gradient[*index]).collect();
    let h = Matrix::from_fn(free.len(), free.len(), |i, j| curvature[(free[i], free[j])]);
    let direction = damped(&h, &g);
    let decrement = dot(&g, &direction);
    Step { gradient, curvature, free, direction, decrement }
}

fn root_at_zero(parameters: &Parameters, values: &[f64], index: usize) -> bool {
    matches!(parameters.all[index], Parameter::Root { .. }) && values[index] == 0.0
}

/// (H + damping)⁻¹ g with the least damping, in a geometric series, that makes the matrix positive definite.
pub fn damped(h: &Matrix, g: &[f64]) -> Vec<f64> {
    let size: Vec<f64> = (0..g.len()).map(|i| h[(i, i)].abs().max(1e-12)).collect();
    let scaled = Matrix::from_fn(g.len(), g.len(), |i, j| h[(i, j)] / (size[i] * size[j]).sqrt());
    let right: Vec<f64> = g.iter().zip(&size).map(|(g, s)| g / s.sqrt()).collect();
    let mut damping = 0.0;
    for _ in 0..40 {
        let mut matrix = scaled.clone();
        (0..g.len()).for_each(|i| matrix[(i, i)] += damping);
        let least = |c: &Cholesky| (0..g.len()).map(|i| c.factor()[(i, i)]).fold(f64::INFINITY, f64::min);
        if let Some(cholesky) = Cholesky::new(&matrix).filter(|c| least(c) > 1e-7) {
            let solved = cholesky.solve_vec(&right);
            return solved.iter().zip(&size).map(|(d, s)| d / s.sqrt()).collect();
        }
        damping = if damping == 0.0 { 1e-6 } else { damping * 4.0 };
    }
    g.iter().zip(&size).map(|(g, s)| g / s).collect()
}
