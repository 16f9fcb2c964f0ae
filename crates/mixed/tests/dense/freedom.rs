//! Kenward and Roger's adjusted covariance, scale and freedom (1997, Biometrics 53:983–997), and
//! Satterthwaite's freedom, several contrasts by Fai and Cornelius (1996, J. Stat. Comput. Simul. 54:363–378).

use super::covariance::{Covariance, Parameter};
use super::likelihood::At;
use super::matrix::{Table, add, dot, eigenvectors, form, inverse, times, times_vector, trace, trace_of_product, turned, zeros};

/// Φ and its derivatives, and the covariance of the variance parameters.
pub struct Freedom {
    pub phi: Table,
    /// Φ, or Kenward and Roger's Φ_A.
    pub covariance: Table,
    /// ∂Φ = ΦX′V⁻¹VᵢV⁻¹XΦ
    shifts: Vec<Table>,
    w: Table,
}

impl Freedom {
    pub fn kenward_roger(at: &At, covariance: &Covariance) -> Self {
        let count = covariance.first.len();
        let vx = times(&at.v_inverse, &at.x);
        let moved: Vec<Table> = covariance.first.iter().map(|vi| times(&at.p, vi)).collect();
        let mut information = zeros(count, count);
        for i in 0..count {
            for j in 0..count {
                information[i][j] = 0.5 * trace_of_product(&moved[i], &moved[j]);
            }
        }
        let w = inverse(&information).0;
        // Qᵢⱼ − PᵢΦPⱼ = X′V⁻¹VᵢPVⱼV⁻¹X
        let vvx: Vec<Table> = covariance.first.iter().map(|vi| times(vi, &vx)).collect();
        let p = at.phi.len();
        let mut u = zeros(p, p);
        for i in 0..count {
            for j in 0..count {
                add(&mut u, w[i][j], &times(&turned(&vvx[i]), &times(&at.p, &vvx[j])));
                if let Some(vij) = &covariance.second[i][j] {
                    add(&mut u, -0.25 * w[i][j], &times(&turned(&vx), &times(vij, &vx)));
                }
            }
        }
        let mut adjusted = at.phi.clone();
        add(&mut adjusted, 2.0, &times(&times(&at.phi, &u), &at.phi));
        Self { phi: at.phi.clone(), covariance: adjusted, shifts: shifts(at, covariance), w }
    }

    /// `inside` tells which parameters are off the edges of their range: the others are held there.
    pub fn satterthwaite(at: &At, covariance: &Covariance, inside: &[bool]) -> Self {
        let all = at.second(covariance, true);
        let which: Vec<usize> = (0..inside.len()).filter(|i| inside[*i]).collect();
        let observed: Table = which.iter().map(|i| which.iter().map(|j| -all[*i][*j]).collect()).collect();
        let every = shifts(at, covariance);
        let shifts = which.iter().map(|i| every[*i].clone()).collect();
        Self { phi: at.phi.clone(), covariance: at.phi.clone(), shifts, w: inverse(&observed).0 }
    }

    /// 2 (l′Φl)² / (g′Wg), g = l′∂Φl
    pub fn single(&self, l: &[f64]) -> f64 {
        let size = form(&self.phi, l, l);
        let g: Vec<f64> = self.shifts.iter().map(|shift| form(shift, l, l) / size).collect();
        2.0 / form(&self.w, &g, &g)
    }

    /// λ and m of Kenward and Roger for the rows of `l`.
    pub fn scale_and_freedom(&self, l: &Table) -> (f64, f64) {
        let size = l.len() as f64;
        let middle = inverse(&times(l, &times(&self.phi, &turned(l)))).0;
        let parts: Vec<Table> = self.shifts.iter().map(|s| times(&middle, &times(l, &times(s, &turned(l))))).collect();
        let (mut a1, mut a2) = (0.0, 0.0);
        for i in 0..parts.len() {
            for j in 0..parts.len() {
                a1 += self.w[i][j] * trace(&parts[i]) * trace(&parts[j]);
                a2 += self.w[i][j] * trace_of_product(&parts[i], &parts[j]);
            }
        }
        let b = (a1 + 6.0 * a2) / (2.0 * size);
        let g = ((size + 1.0) * a1 - (size + 4.0) * a2) / ((size + 2.0) * a2);
        let below = 3.0 * size + 2.0 * (1.0 - g);
        let (c1, c2, c3) = (g / below, (size - g) / below, (size + 2.0 - g) / below);
        let e = 1.0 / (1.0 - a2 / size);
        let v = 2.0 / size * (1.0 + c1 * b) / ((1.0 - c2 * b).powi(2) * (1.0 - c3 * b));
        let m = 4.0 + (size + 2.0) / (size * v / (2.0 * e * e) - 1.0);
        (m / (e * (m - 2.0)), m)
    }

    /// Fai and Cornelius's freedom for the rows of `l`: that whose mean of F is the sum's.
    pub fn joint(&self, l: &Table) -> f64 {
        if l.len() == 1 {
            return self.single(&l[0]);
        }
        let vectors = eigenvectors(&times(l, &times(&self.phi, &turned(l))));
        let each: Vec<f64> = vectors.iter().map(|vector| self.single(&times_vector(&turned(l), vector))).collect();
        if each.iter().any(|df| *df <= 2.0) {
            return 2.0;
        }
        let sum: f64 = each.iter().map(|df| df / (df - 2.0)).sum();
        2.0 * sum / (sum - each.len() as f64)
    }

    /// β′L(L′CL)⁻¹L′β / ℓ
    pub fn wald(&self, l: &Table, beta: &[f64]) -> f64 {
        let estimates: Vec<f64> = l.iter().map(|l| dot(l, beta)).collect();
        let covariance = inverse(&times(l, &times(&self.covariance, &turned(l)))).0;
        form(&covariance, &estimates, &estimates) / l.len() as f64
    }
}

fn shifts(at: &At, covariance: &Covariance) -> Vec<Table> {
    let half = times(&times(&at.v_inverse, &at.x), &at.phi);
    covariance.first.iter().map(|vi| times(&turned(&half), &times(vi, &half))).collect()
}

/// The parameters that a fit has off the edges: no zero variance, no correlation of one.
pub fn inside(values: &super::covariance::Values, parameters: &[Parameter]) -> Vec<bool> {
    let off = |one: &Parameter| match *one {
        Parameter::Variance { term, a } => values.sigma[term][a][a] > 0.0,
        Parameter::Correlation { .. } => super::likelihood::value(values, *one).powi(2) < 1.0 - 1e-9,
        _ => true,
    };
    parameters.iter().map(off).collect()
}
