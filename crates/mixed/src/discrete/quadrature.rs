//! Nodes and weights of Gauss–Hermite quadrature.

use crate::linear::{Matrix, symmetric_eigen};

/// Nodes t with log weights that already hold t²: ∫ g(t) dt ≈ Σ exp(log weight) g(t).
#[derive(Debug, Clone, PartialEq)]
pub struct Rule(pub Vec<(f64, f64)>);

impl Rule {
    /// The rule of `count` nodes, from the eigenvalues of its Jacobi matrix, polished by Newton's method (Golub
    /// and Welsch 1969, Math. Comput. 23:221–230).
    pub fn new(count: u32) -> Option<Self> {
        let n = count.max(1) as usize;
        let beside = |i: usize, j: usize| if i.abs_diff(j) == 1 { (0.5 * i.max(j) as f64).sqrt() } else { 0.0 };
        let (values, _) = symmetric_eigen(&Matrix::from_fn(n, n, beside))?;
        let node = |start: &f64| {
            let mut t = *start;
            for _ in 0..4 {
                let (last, before) = hermite(n, t);
                // ψₙ′ = √(2n) ψₙ₋₁ − t ψₙ, and at a node the last part is nil.
                t -= last / ((2.0 * n as f64).sqrt() * before);
            }
            let (_, before) = hermite(n, t);
            (t, -(n as f64 * before * before).ln())
        };
        Some(Self(values.iter().map(node).collect()))
    }
}

/// The orthonormal Hermite functions ψₙ and ψₙ₋₁ at t.
fn hermite(n: usize, t: f64) -> (f64, f64) {
    let (mut before, mut last) = (0.0, std::f64::consts::PI.powf(-0.25) * (-0.5 * t * t).exp());
    for k in 1..=n {
        let k = k as f64;
        let next = (2.0 / k).sqrt() * t * last - ((k - 1.0) / k).sqrt() * before;
        (before, last) = (last, next);
    }
    (last, before)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn moments_of_the_normal_density_are_exact() {
        // ∫ exp(−t²) t^k dt = √π, √π/2, 3√π/4 for k = 0, 2, 4.
        for count in [3, 7, 20, 101] {
            let Rule(nodes) = Rule::new(count).unwrap();
            for (power, exact) in [(0, 1.0), (2, 0.5), (4, 0.75), (3, 0.0)] {
                let sum: f64 = nodes.iter().map(|(t, log)| (log - t * t).exp() * t.powi(power)).sum();
                assert!((sum / std::f64::consts::PI.sqrt() - exact).abs() < 1e-12, "{count} {power} {sum}");
            }
        }
    }
}
