//! What the average information misses of the second derivatives, learnt from the change of the gradient over
//! each step, so that the last steps are as good as Newton's own.
//!
//! METHOD: symmetric rank-one updates of the difference between the second derivatives and the average information,
//! as for the second-order part in nonlinear least squares (Dennis, Gay & Welsch 1981, ACM Trans. Math. Softw.
//! 7:348–368).

use crate::linear::{Matrix, dot};

/// The correction learnt so far, and where it was last brought up to date.
pub struct Secant {
    correction: Matrix,
    last: Option<(Vec<f64>, Vec<f64>)>,
}

/// An update whose denominator is below this share of its factors' sizes is left out.
const TOO_FLAT: f64 = 1e-6;

impl Secant {
    /// Nothing learnt.
    pub fn new(parameters: usize) -> Self {
        Self { correction: Matrix::zeros(parameters, parameters), last: None }
    }

    /// Forgets all: the next values are not one step from the last.
    pub fn forget(&mut self) {
        let n = self.correction.rows();
        *self = Self::new(n);
    }

    /// `curvature` with what is learnt from the step to `values`, where the gradient is `gradient`. Far from the
    /// optimum (`near` false) nothing is learnt.
    pub fn corrected(&mut self, values: &[f64], gradient: &[f64], curvature: &Matrix, near: bool) -> Matrix {
        if !near {
            self.forget();
        }
        let mut corrected = curvature.clone();
        corrected.add(1.0, &self.correction);
        if let Some((before, slope)) = self.last.replace((values.to_vec(), gradient.to_vec())) {
            let step: Vec<f64> = values.iter().zip(&before).map(|(x, y)| x - y).collect();
            let through = corrected.times_vec(&step);
            let rest: Vec<f64> = (0..step.len()).map(|i| slope[i] - gradient[i] - through[i]).collect();
            self.learn(&step, &rest, &mut corrected);
        }
        corrected
    }

    fn learn(&mut self, step: &[f64], rest: &[f64], corrected: &mut Matrix) {
        let along = dot(rest, step);
        if along.abs() <= TOO_FLAT * (dot(rest, rest) * dot(step, step)).sqrt() {
            return;
        }
        let update = Matrix::from_fn(rest.len(), rest.len(), |i, j| rest[i] * rest[j] / along);
        corrected.add(1.0, &update);
        self.correction.add(1.0, &update);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_steps_teach_the_second_derivatives_of_a_quadratic_in_two_parameters() {
        // ℓ = −½ x′Hx, whose gradient is −Hx.
        let h = Matrix::from_fn(2, 2, |i, j| [[3.0, 1.0], [1.0, 2.0]][i][j]);
        let crude = Matrix::from_fn(2, 2, |i, j| f64::from(u8::from(i == j)));
        let mut secant = Secant::new(2);
        let mut found = crude.clone();
        for x in [[1.0, 1.0], [0.5, 0.8], [0.4, 0.1]] {
            let gradient: Vec<f64> = h.times_vec(&x).iter().map(|g| -g).collect();
            found = secant.corrected(&x, &gradient, &crude, true);
        }
        for (i, j) in [(0, 0), (0, 1), (1, 1)] {
            assert!((found[(i, j)] - h[(i, j)]).abs() < 1e-12, "{i} {j}: {}", found[(i, j)]);
        }
    }
}
