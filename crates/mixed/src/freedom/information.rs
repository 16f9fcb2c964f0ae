//! Information matrices of the natural parameters, and their inverses.

use super::natural::{Natural, curve, jacobian, name};
use crate::cannot_fit::CannotFit;
use crate::likelihood::{First, Likelihood, Second, pair};
use crate::linear::{Cholesky, Matrix};

/// A pivot of the information, scaled to unit diagonal, below this is nil.
const SINGULAR: f64 = 1e-10;

/// tr(P∂ᵢV P∂ⱼV) for all pairs of elements.
fn projected_traces(likelihood: &Likelihood<'_>, first: &First, second: &Second) -> Matrix {
    let p = likelihood.design.columns();
    let count = likelihood.elements.len();
    let through: Vec<Matrix> = first.crosses.iter().map(|cross| first.phi.times(&cross.part(0..p, 0..p))).collect();
    let turned: Vec<Matrix> = through.iter().map(Matrix::transposed).collect();
    Matrix::from_fn(count, count, |i, j| {
        let at = pair(i, j);
        second.traces[at] - 2.0 * first.phi.inner(&second.q[at].part(0..p, 0..p)) + through[i].inner(&turned[j])
    })
}

/// Expected information of the restricted likelihood: ½ tr(P∂ᵢV P∂ⱼV).
pub fn expected(likelihood: &Likelihood<'_>, first: &First, second: &Second, natural: &[Natural]) -> Matrix {
    let mut elements = projected_traces(likelihood, first, second);
    elements.scale(0.5);
    let jacobian = jacobian(&first.point, &likelihood.elements, natural);
    let mut information = jacobian.transposed_times(&elements.times(&jacobian));
    information.make_symmetric();
    information
}

/// Observed information of the restricted likelihood: minus its second derivatives.
pub fn observed(likelihood: &Likelihood<'_>, first: &First, second: &Second, natural: &[Natural]) -> Matrix {
    let count = likelihood.elements.len();
    let p = likelihood.design.columns();
    let mut elements = likelihood.working_products(first);
    elements.add(-0.5, &projected_traces(likelihood, first, second));
    let weights = first.residual_weights();
    for i in 0..count {
        for j in 0..count {
            let Some(bend) = &second.bend[pair(i, j)] else { continue };
            let trace = second.bend_traces[pair(i, j)] - first.phi.inner(&bend.part(0..p, 0..p));
            elements[(i, j)] += 0.5 * (trace - bend.form(&weights, &weights) / first.scale);
        }
    }
    let jacobian = jacobian(&first.point, &likelihood.elements, natural);
    let mut information = jacobian.transposed_times(&elements.times(&jacobian));
    let gradient = restricted_gradient(likelihood, first);
    for (i, one) in natural.iter().enumerate() {
        for (j, other) in natural.iter().enumerate() {
            for (element, slope) in likelihood.elements.iter().zip(&gradient) {
                information[(i, j)] -= slope * curve(&first.point, *element, *one, *other);
            }
        }
    }
    information.make_symmetric();
    information
}

/// Derivatives of the restricted likelihood by the elements, whichever likelihood was maximised.
fn restricted_gradient(likelihood: &Likelihood<'_>, first: &First) -> Vec<f64> {
    let p = likelihood.design.columns();
    let trace = |index: usize| first.traces[index] - first.phi.inner(&first.crosses[index].part(0..p, 0..p));
    first.quadratic.iter().enumerate().map(|(index, quadratic)| 0.5 * (quadratic - trace(index))).collect()
}

/// The inverse of an information matrix.
///
/// # Errors
/// [`CannotFit::VariancesConfounded`] naming the parameters that cannot be told apart.
pub fn inverse(likelihood: &Likelihood<'_>, information: &Matrix, natural: &[Natural]) -> Result<Matrix, CannotFit> {
    let n = natural.len();
    let confounded = |which: &[Natural]| {
        let mut names: Vec<String> = which.iter().map(|parameter| name(likelihood, *parameter)).collect();
        names.dedup();
        CannotFit::VariancesConfounded { terms: names.join(" and ") }
    };
    let size: Vec<f64> = (0..n).map(|i| information[(i, i)]).collect();
    if let Some(bad) = size.iter().position(|size| size.is_nan() || *size <= 0.0) {
        return Err(confounded(&natural[bad..=bad]));
    }
    let scaled = Matrix::from_fn(n, n, |i, j| information[(i, j)] / (size[i] * size[j]).sqrt());
    let least = |c: &Cholesky| (0..n).map(|i| c.factor()[(i, i)].powi(2)).fold(f64::INFINITY, f64::min);
    let cholesky = Cholesky::new(&scaled).filter(|c| least(c) > SINGULAR).ok_or_else(|| confounded(natural))?;
    let inverse = cholesky.inverse();
    Ok(Matrix::from_fn(n, n, |i, j| inverse[(i, j)] / (size[i] * size[j]).sqrt()))
}
