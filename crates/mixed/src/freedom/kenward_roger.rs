//! Kenward and Roger's adjusted covariance, tests and degrees of freedom.
//!
//! Source: Kenward & Roger (1997), Biometrics 53:983–997, with the expected information and the
//! second-derivative term.

use super::Basis;
use super::information::{expected, inverse};
use super::natural::{Natural, curve, jacobian, natural};
use crate::cannot_fit::CannotFit;
use crate::likelihood::{First, Likelihood, Second, pair};
use crate::linear::{Cholesky, Matrix};

/// What Kenward–Roger needs beyond the fit, at unit scale.
pub struct KenwardRoger {
    /// Φ
    phi: Matrix,
    /// Adjusted Φ.
    pub adjusted: Matrix,
    /// ΦPᵢΦ for each natural parameter, Pᵢ = −X′V⁻¹∂ᵢV V⁻¹X.
    shifts: Vec<Matrix>,
    /// Covariance of the natural parameters: the inverse of the expected information.
    w: Matrix,
}

/// Factors of the F approximation below this are nil up to rounding.
const VANISHING: f64 = 1e-8;

/// Within this of 2 degrees of freedom λ, there 0/0, has its limit in exact designs, 1.
const NEAR_TWO: f64 = 1e-4;

/// λF, its denominator degrees of freedom.
pub struct Scaled {
    /// Multiplier of the Wald statistic / ℓ.
    pub lambda: f64,
    /// Denominator degrees of freedom.
    pub df: f64,
}

impl KenwardRoger {
    /// Prepares tests at the optimum.
    pub fn new(likelihood: &Likelihood<'_>, first: &First) -> Result<Self, CannotFit> {
        let parameters = natural(likelihood, &first.point);
        let second = likelihood.second(first);
        let information = expected(likelihood, first, &second, &parameters);
        let w = inverse(likelihood, &information, &parameters)?;
        let p = likelihood.design.columns();
        let elements = &likelihood.elements;
        let jacobian = jacobian(&first.point, elements, &parameters);
        let crosses: Vec<Matrix> = first.crosses.iter().map(|cross| cross.part(0..p, 0..p)).collect();
        let derivative: Vec<Matrix> = (0..parameters.len()).map(|i| combine(&crosses, jacobian.col(i), -1.0)).collect();
        let parts = Parts { likelihood, first, second: &second, parameters: &parameters, derivative: &derivative };
        let u = parts.correction(&jacobian, &crosses, &w);
        let mut adjusted = first.phi.times(&u).times(&first.phi);
        adjusted.scale(2.0);
        adjusted.add(1.0, &first.phi);
        adjusted.make_symmetric();
        let shifts = derivative.iter().map(|p| first.phi.times(p).times(&first.phi)).collect();
        Ok(Self { phi: first.phi.clone(), adjusted, shifts, w })
    }

    /// Degrees of freedom of one contrast: 2 / (g′Wg), g = l′ΦPᵢΦl / l′Φl.
    pub fn single(&self, contrast: &[f64]) -> f64 {
        let size = self.phi.form(contrast, contrast);
        let g: Vec<f64> = self.shifts.iter().map(|shift| shift.form(contrast, contrast) / size).collect();
        2.0 / self.w.form(&g, &g)
    }

    /// Scale and degrees of freedom of several contrasts together (columns of `basis`).
    pub fn several(&self, basis: &Basis) -> Option<Scaled> {
        let count = basis.cols();
        if count == 1 {
            return Some(Scaled { lambda: 1.0, df: self.single(basis.col(0)) });
        }
        let size = count as f64;
        let cholesky = Cholesky::new(&basis.transposed_times(&self.phi.times(basis)))?;
        // tr(ΘΦPᵢΦ) and tr(ΘΦPᵢΦ ΘΦPⱼΦ) with Θ = L(L′ΦL)⁻¹L′.
        let parts: Vec<Matrix> = self.shifts.iter().map(|shift| cholesky.solve(&basis.transposed_times(&shift.times(basis)))).collect();
        let traces: Vec<f64> = parts.iter().map(|part| (0..count).map(|i| part[(i, i)]).sum()).collect();
        let a1 = self.w.form(&traces, &traces);
        let mut a2 = 0.0;
        for (i, one) in parts.iter().enumerate() {
            for (j, other) in parts.iter().enumerate() {
                a2 += self.w[(i, j)] * one.inner(&other.transposed());
            }
        }
        let b = (a1 + 6.0 * a2) / (2.0 * size);
        let g = ((size + 1.0) * a1 - (size + 4.0) * a2) / ((size + 2.0) * a2);
        let below = 3.0 * size + 2.0 * (1.0 - g);
        let (c1, c2, c3) = (g / below, (size - g) / below, (size + 2.0 - g) / below);
        // 1/E* and the factor 1 − c₂B of V* vanish together where the exact answer is 2 degrees of freedom.
        let (inverse_mean, v1) = (1.0 - a2 / size, 1.0 - c2 * b);
        let both_vanish = inverse_mean.abs() < VANISHING && v1.abs() < VANISHING;
        let ratio = if both_vanish { 1.0 } else { inverse_mean / v1 };
        let rho = ratio * ratio * (1.0 + c1 * b) / (size * (1.0 - c3 * b));
        let df = 4.0 + (size + 2.0) / (size * rho - 1.0);
        let lambda = if (df - 2.0).abs() < NEAR_TWO { 1.0 } else { df * inverse_mean / (df - 2.0) };
        (df > 0.0 && df.is_finite() && lambda > 0.0).then_some(Scaled { lambda, df })
    }
}

struct Parts<'k> {
    likelihood: &'k Likelihood<'k>,
    first: &'k First,
    second: &'k Second,
    parameters: &'k [Natural],
    /// Pᵢ
    derivative: &'k [Matrix],
}

impl Parts<'_> {
    /// U = Σ Wᵢⱼ (Qᵢⱼ − PᵢΦPⱼ − ¼Rᵢⱼ). Q, and R where the residual bends, belong to the elements and are
    /// summed with W carried over to these.
    fn correction(&self, jacobian: &Matrix, crosses: &[Matrix], w: &Matrix) -> Matrix {
        let p = self.likelihood.design.columns();
        let by_element = jacobian.times(w).times(&jacobian.transposed());
        let mut u = Matrix::zeros(p, p);
        for i in 0..crosses.len() {
            for j in 0..crosses.len() {
                let at = pair(i, j);
                u.add(by_element[(i, j)], &self.second.q[at].part(0..p, 0..p));
                if let Some(bend) = &self.second.bend[at] {
                    u.add(-0.25 * by_element[(i, j)], &bend.part(0..p, 0..p));
                }
            }
        }
        for (i, one) in self.parameters.iter().enumerate() {
            let through = self.derivative[i].times(&self.first.phi);
            for (j, other) in self.parameters.iter().enumerate() {
                u.add(-w[(i, j)], &through.times(&self.derivative[j]));
                self.add_bend(&mut u, -0.25 * w[(i, j)], (*one, *other), crosses);
            }
        }
        u
    }

    /// Adds f·Rᵢⱼ of two natural parameters in which an element is not linear.
    fn add_bend(&self, u: &mut Matrix, f: f64, (one, other): (Natural, Natural), crosses: &[Matrix]) {
        for (element, cross) in self.likelihood.elements.iter().zip(crosses) {
            let bend = curve(&self.first.point, *element, one, other);
            if bend != 0.0 {
                u.add(f * bend, cross);
            }
        }
    }
}

fn combine(parts: &[Matrix], factors: &[f64], sign: f64) -> Matrix {
    let mut total = Matrix::zeros(parts[0].rows(), parts[0].cols());
    for (part, factor) in parts.iter().zip(factors).filter(|(_, factor)| **factor != 0.0) {
        total.add(sign * factor, part);
    }
    total
}
