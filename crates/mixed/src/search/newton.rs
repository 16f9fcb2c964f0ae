//! Newton steps with the average information, bounds held by an active set.
//!
//! METHOD: the second derivatives are ½ y′P∂V P∂V P y of the profiled likelihood (average
//! information), to which the curvature of the parametrisation is added and, near the optimum, what the
//! gradient's own change over each step says. Steps are damped until the likelihood rises; close to the
//! optimum the decrement g′H⁻¹g alone decides.

use super::parameters::{Parameter, Parameters};
use super::secant::Secant;
use crate::likelihood::{First, Likelihood};
use crate::linear::{Cholesky, Matrix, dot};

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

/// Below this decrement a gradient may be nothing but rounding, and two steps that gain nothing end the search.
const ROUNDED: f64 = 1e-18;

/// Below this decrement the gradient's change over a step tells of the second derivatives.
const NEAR: f64 = 0.1;

/// A slope at zero of a root's diagonal that is more than rounding.
const LEANS: f64 = 1e-9;

/// A variance, relative to the residual's, below this is zero if the likelihood is none the lower for it.
const NIL: f64 = 1e-13;

/// A variance whose step to zero did not raise the likelihood is next tried at this share of itself.
const SHRINKS_TO: f64 = 0.1;

const STEPS: usize = 200;

/// How often what has crept up to zero is put on it, and the ascent taken up again.
const SETTLINGS: usize = 3;

struct Step {
    gradient: Vec<f64>,
    curvature: Matrix,
    free: Vec<usize>,
    direction: Vec<f64>,
    decrement: f64,
}

/// A place on the way.
struct Place {
    values: Vec<f64>,
    first: First,
    secant: Secant,
    evaluations: usize,
}

/// Climbs from `values`; `None` where the likelihood cannot be evaluated.
pub fn climb(likelihood: &Likelihood<'_>, parameters: &Parameters, start: &[f64]) -> Option<Reached> {
    let first = likelihood.first(&parameters.point(start))?;
    let mut place = Place { values: start.to_vec(), first, secant: Secant::new(start.len()), evaluations: 1 };
    let mut step = ascend(likelihood, parameters, &mut place);
    for _ in 0..SETTLINGS {
        if !settle(likelihood, parameters, &mut place) {
            break;
        }
        step = ascend(likelihood, parameters, &mut place);
    }
    let Step { gradient, curvature, decrement, .. } = step;
    let Place { values, first, evaluations, .. } = place;
    Some(Reached { values, first, evaluations, gradient, curvature, decrement })
}

/// Steps until none gains; the step that was next is returned.
fn ascend(likelihood: &Likelihood<'_>, parameters: &Parameters, place: &mut Place) -> Step {
    let mut last = f64::INFINITY;
    let mut idle = 0;
    let mut step = next_step(likelihood, parameters, place, false);
    for _ in 0..STEPS {
        if step.free.is_empty() || step.decrement < 1e-24 {
            break;
        }
        idle = if step.decrement < BLIND && step.decrement > 0.25 * last { idle + 1 } else { 0 };
        if idle >= if step.decrement < ROUNDED { 2 } else { 6 } {
            break;
        }
        last = step.decrement;
        if !advance(likelihood, parameters, place, &step) {
            break;
        }
        step = next_step(likelihood, parameters, place, step.decrement < NEAR);
    }
    step
}

/// Puts variances that are zero but for rounding on zero; whether any was.
fn settle(likelihood: &Likelihood<'_>, parameters: &Parameters, place: &mut Place) -> bool {
    let values = parameters.without_nil(&place.first.point, &place.values, NIL);
    if values == place.values {
        return false;
    }
    place.evaluations += 1;
    match likelihood.first(&parameters.point(&values)) {
        Some(at) if at.value > place.first.value - noise(place.first.value) => {
            (place.values, place.first) = (values, at);
            place.secant.forget();
            true
        }
        _ => false,
    }
}

/// What the likelihood's own rounding may take off it.
fn noise(value: f64) -> f64 {
    1e-10 * (1.0 + value.abs())
}

/// Tries the step, halving it until the likelihood rises enough.
fn advance(likelihood: &Likelihood<'_>, parameters: &Parameters, place: &mut Place, step: &Step) -> bool {
    let mut length = 1.0;
    let mut shrinks = false;
    for _ in 0..30 {
        let mut next = place.values.clone();
        for (index, d) in step.free.iter().zip(&step.direction) {
            let (low, high) = parameters.range(*index);
            let low = if shrinks && low == 0.0 { SHRINKS_TO * place.values[*index] } else { low };
            next[*index] = (place.values[*index] + length * d).clamp(low, high);
        }
        let expected: f64 = step.free.iter().map(|i| step.gradient[*i] * (next[*i] - place.values[*i])).sum();
        place.evaluations += 1;
        if let Some(at) = likelihood.first(&parameters.point(&next)) {
            let rise = at.value - place.first.value;
            // What is expected may be small because a bound is close, not only because the optimum is.
            let blind = step.decrement < BLIND || (length == 1.0 && (0.0..BLIND).contains(&expected));
            if rise >= 1e-4 * expected || (blind && rise > -noise(place.first.value)) {
                (place.values, place.first) = (next, at);
                return true;
            }
        }
        let at_zero = step.free.iter().any(|index| next[*index] == 0.0 && place.values[*index] > 0.0);
        if at_zero && !std::mem::replace(&mut shrinks, true) {
            continue;
        }
        length *= if length > 0.1 { 0.5 } else { 0.2 };
    }
    false
}

/// `near`: the step that led here was a small one.
fn next_step(likelihood: &Likelihood<'_>, parameters: &Parameters, place: &mut Place, near: bool) -> Step {
    for _ in 0..parameters.all.len() + 1 {
        let (gradient, curvature) = derivatives(likelihood, parameters, &place.first);
        match leave_saddle(parameters, &place.values, &curvature) {
            None if turn_leaning(likelihood, parameters, place, &gradient) => {}
            None => return solve(parameters, place, gradient, curvature, near),
            Some(index) => {
                // A standard deviation at zero has no slope there; its curvature says that it should rise.
                place.secant.forget();
                let before = place.values[index];
                place.values[index] = 0.05;
                place.evaluations += 1;
                match likelihood.first(&parameters.point(&place.values)) {
                    Some(at) if at.value > place.first.value => place.first = at,
                    _ => {
                        place.values[index] = before;
                        return solve(parameters, place, gradient, curvature, false);
                    }
                }
            }
        }
    }
    let (gradient, curvature) = derivatives(likelihood, parameters, &place.first);
    solve(parameters, place, gradient, curvature, false)
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

/// A root's diagonal may not be negative; where it is zero and wants to be, the signs of the column below it are
/// turned, which leaves the covariance as it is and the diagonal free to rise.
fn turn_leaning(likelihood: &Likelihood<'_>, parameters: &Parameters, place: &mut Place, gradient: &[f64]) -> bool {
    let leans = |index: &usize| root_at_zero(parameters, &place.values, *index) && gradient[*index] < -LEANS;
    let Some(leaning) = (0..gradient.len()).find(leans) else { return false };
    let turned = parameters.with_column_turned(&place.values, leaning);
    place.evaluations += 1;
    let Some(first) = likelihood.first(&parameters.point(&turned)) else { return false };
    (place.values, place.first) = (turned, first);
    place.secant.forget();
    true
}

/// The damped Newton direction over the parameters that are free to move.
fn solve(parameters: &Parameters, place: &mut Place, gradient: Vec<f64>, curvature: Matrix, near: bool) -> Step {
    let values = &place.values;
    let held = |index: usize| {
        let (low, high) = parameters.range(index);
        let at_low = values[index] <= low && gradient[index] <= 0.0;
        at_low || (values[index] >= high && gradient[index] >= 0.0)
    };
    let free: Vec<usize> = (0..values.len()).filter(|index| !held(*index)).collect();
    let corrected = place.secant.corrected(values, &gradient, &curvature, near);
    let g: Vec<f64> = free.iter().map(|index| gradient[*index]).collect();
    let of = |matrix: &Matrix| damped(&Matrix::from_fn(free.len(), free.len(), |i, j| matrix[(free[i], free[j])]), &g);
    let direction = of(&corrected);
    // What was learnt makes steps better; that the search has converged, the average information must say too.
    let decrement = dot(&g, &direction).max(if near { dot(&g, &of(&curvature)) } else { 0.0 });
    Step { gradient, curvature: corrected, free, direction, decrement }
}

fn root_at_zero(parameters: &Parameters, values: &[f64], index: usize) -> bool {
    parameters.is_bounded(index) && matches!(parameters.all[index], Parameter::Root { .. }) && values[index] == 0.0
}

/// (H + damping)⁻¹ g with the least damping, in a geometric series, that makes the matrix positive definite.
pub fn damped(h: &Matrix, g: &[f64]) -> Vec<f64> {
    let size: Vec<f64> = (0..g.len()).map(|i| h[(i, i)].abs().max(1e-30)).collect();
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
