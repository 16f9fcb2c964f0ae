//! The likelihood with its first and second derivatives, and Newton's climb to its top.
//!
//! ℓ = −½ [ν log 2π + log|V| (+ log|X′V⁻¹X|) + y′Py],  P = V⁻¹ − V⁻¹X(X′V⁻¹X)⁻¹X′V⁻¹

use super::covariance::{Covariance, Parameter, Structure, Values, root};
use super::matrix::{Table, add, dot, form, inverse, times, times_vector, trace_of_product, turned, zeros};

/// Everything at one V.
pub struct At {
    pub restricted: bool,
    pub x: Table,
    pub v_inverse: Table,
    pub p: Table,
    pub phi: Table,
    pub beta: Vec<f64>,
    pub py: Vec<f64>,
    pub log_likelihood: f64,
}

impl At {
    pub fn new(x: &Table, y: &[f64], v: &Table, restricted: bool) -> Self {
        let (v_inverse, log_det) = inverse(v);
        let vx = times(&v_inverse, x);
        let (phi, log_det_x) = inverse(&times(&turned(x), &vx));
        let mut p = v_inverse.clone();
        add(&mut p, -1.0, &times(&times(&vx, &phi), &turned(&vx)));
        // The average is taken off first: P sees nothing of it, and rounding sees less.
        let middle = y.iter().sum::<f64>() / y.len() as f64;
        let about: Vec<f64> = y.iter().map(|y| y - middle).collect();
        let mut beta = times_vector(&phi, &times_vector(&turned(&vx), &about));
        let rest: Vec<f64> = about.iter().zip(x).map(|(y, row)| y - dot(row, &beta)).collect();
        let py = times_vector(&v_inverse, &rest);
        beta[0] += middle;
        let freedom = if restricted { y.len() - beta.len() } else { y.len() } as f64;
        let fixed = if restricted { log_det_x } else { 0.0 };
        let log_likelihood = -0.5 * (freedom * (2.0 * std::f64::consts::PI).ln() + log_det + fixed + dot(&rest, &py));
        Self { restricted, x: x.clone(), v_inverse, p, phi, beta, py, log_likelihood }
    }

    /// −½ [tr(MVᵢ) − y′PVᵢPy], M = P or V⁻¹.
    pub fn gradient(&self, covariance: &Covariance, restricted: bool) -> Vec<f64> {
        let m = if restricted { &self.p } else { &self.v_inverse };
        covariance.first.iter().map(|vi| -0.5 * (trace_of_product(m, vi) - form(vi, &self.py, &self.py))).collect()
    }

    /// −½ [tr(MVᵢⱼ) − tr(MVᵢMVⱼ) − y′PVᵢⱼPy + 2y′PVᵢPVⱼPy]
    pub fn second(&self, covariance: &Covariance, restricted: bool) -> Table {
        let m = if restricted { &self.p } else { &self.v_inverse };
        let count = covariance.first.len();
        let moved: Vec<Table> = covariance.first.iter().map(|vi| times(m, vi)).collect();
        let vpy: Table = covariance.first.iter().map(|vi| times_vector(vi, &self.py)).collect();
        let mut out = zeros(count, count);
        for i in 0..count {
            for j in 0..count {
                let bend = covariance.second[i][j].as_ref();
                let bend = bend.map_or(0.0, |vij| trace_of_product(m, vij) - form(vij, &self.py, &self.py));
                out[i][j] = -0.5 * (bend - trace_of_product(&moved[i], &moved[j]) + 2.0 * form(&self.p, &vpy[i], &vpy[j]));
            }
        }
        out
    }
}

/// A climb over the parameters that are not held on an edge.
pub struct Climb<'s> {
    pub structure: &'s Structure,
    pub x: Table,
    pub y: &'s [f64],
    pub restricted: bool,
}

impl Climb<'_> {
    pub fn at(&self, values: &Values) -> At {
        At::new(&self.x, self.y, &self.structure.v(values), self.restricted)
    }

    /// Parameters in which the likelihood is smooth: variances of single coefficients, roots of covariances.
    pub fn parameters(&self) -> Vec<Parameter> {
        let mut all = Vec::new();
        for (term, one) in self.structure.terms.iter().enumerate() {
            match one.coefficients {
                1 => all.push(Parameter::Variance { term, a: 0 }),
                k => all.extend((0..k).flat_map(|a| (0..=a).map(move |b| Parameter::Root { term, a, b }))),
            }
        }
        all.extend((0..self.structure.strata).map(Parameter::Stratum));
        all.extend(self.structure.series.as_ref().map(|_| Parameter::Rho));
        all
    }

    /// Newton's steps, halved where they do not climb, until they stand still.
    pub fn top(&self, mut values: Values, free: &[Parameter]) -> Values {
        let mut best = self.at(&values);
        for _ in 0..60 {
            let covariance = self.structure.covariance(&values, free);
            let gradient = best.gradient(&covariance, self.restricted);
            // What is at the end of its range and wants to go beyond stays there.
            let stays = |i: &usize| match free[*i] {
                Parameter::Variance { .. } => value(&values, free[*i]) == 0.0 && gradient[*i] <= 0.0,
                Parameter::Correlation { .. } => {
                    let r = value(&values, free[*i]);
                    r.abs() >= 1.0 && gradient[*i] * r >= 0.0
                }
                _ => false,
            };
            let inside: Vec<usize> = (0..free.len()).filter(|i| !stays(i)).collect();
            let second = best.second(&covariance, self.restricted);
            let g: Vec<f64> = inside.iter().map(|i| gradient[*i]).collect();
            let h: Table = inside.iter().map(|i| inside.iter().map(|j| second[*i][*j]).collect()).collect();
            let free: Vec<Parameter> = inside.iter().map(|i| free[*i]).collect();
            let step = uphill(&g, &h);
            let Some((next, at, length)) = self.climb(&values, &free, &step, best.log_likelihood) else { break };
            let still = free.iter().zip(&step).all(|(one, s)| (s * length).abs() <= 1e-13 * value(&values, *one).abs());
            (values, best) = (next, at);
            if still {
                break;
            }
        }
        values
    }

    fn climb(&self, values: &Values, free: &[Parameter], step: &[f64], from: f64) -> Option<(Values, At, f64)> {
        (0..30).map(|k| 0.5_f64.powi(k)).find_map(|length| {
            let next = moved(values, free, step, length)?;
            let at = self.at(&next);
            // Near the top the gain is lost in rounding: a step that changes nothing is taken.
            (at.log_likelihood > from - 1e-11 * (1.0 + from.abs())).then_some((next, at, length))
        })
    }
}

/// −H⁻¹g, with a ridge where H is not that of a top.
fn uphill(gradient: &[f64], second: &Table) -> Vec<f64> {
    let n = gradient.len();
    let size: Vec<f64> = (0..n).map(|i| second[i][i].abs().max(1e-12).sqrt()).collect();
    let g: Vec<f64> = (0..n).map(|i| gradient[i] / size[i]).collect();
    let mut ridge = 0.0;
    loop {
        let entry = |i: usize, j: usize| -second[i][j] / (size[i] * size[j]) + if i == j { ridge } else { 0.0 };
        let m: Table = (0..n).map(|i| (0..n).map(|j| entry(i, j)).collect()).collect();
        if is_positive(&m) {
            let step = times_vector(&inverse(&m).0, &g);
            return (0..n).map(|i| step[i] / size[i]).collect();
        }
        ridge = if ridge == 0.0 { 1e-8 } else { ridge * 5.0 };
    }
}

pub fn is_positive(m: &Table) -> bool {
    let l = root(m);
    (0..m.len()).all(|i| l[i][i] > 1e-8 * m[i][i].abs().sqrt())
}

pub fn value(values: &Values, one: Parameter) -> f64 {
    match one {
        Parameter::Variance { term, a } => values.sigma[term][a][a],
        Parameter::Root { term, a, b } => root(&values.sigma[term])[a][b],
        Parameter::Correlation { term, a, b } => {
            let s = &values.sigma[term];
            s[a][b] / (s[a][a] * s[b][b]).sqrt()
        }
        Parameter::Stratum(s) => values.strata[s],
        Parameter::Rho => values.rho,
    }
}

/// The values after a step; `None` outside their range.
pub fn moved(values: &Values, free: &[Parameter], step: &[f64], length: f64) -> Option<Values> {
    let mut next = values.clone();
    let mut roots: Vec<Option<Table>> = vec![None; values.sigma.len()];
    let mut correlations: Vec<Table> = values.sigma.iter().map(correlations).collect();
    let mut natural: Vec<bool> = vec![false; values.sigma.len()];
    for (one, s) in free.iter().zip(step) {
        let mut to = value(values, *one) + length * s;
        match *one {
            Parameter::Variance { term, .. } if values.sigma[term].len() == 1 => to = to.max(0.0),
            Parameter::Correlation { .. } => to = to.clamp(-1.0, 1.0),
            _ => {}
        }
        match *one {
            Parameter::Variance { term, a } => {
                next.sigma[term][a][a] = to;
                natural[term] = next.sigma[term].len() > 1;
            }
            Parameter::Root { term, a, b } => roots[term].get_or_insert_with(|| root(&values.sigma[term]))[a][b] = to,
            Parameter::Stratum(s) => next.strata[s] = to,
            Parameter::Rho => next.rho = to,
            Parameter::Correlation { term, a, b } => {
                correlations[term][a][b] = to;
                correlations[term][b][a] = to;
                natural[term] = true;
            }
        }
        let fine = match *one {
            Parameter::Variance { term, .. } => to > 0.0 || values.sigma[term].len() == 1,
            Parameter::Stratum(_) => to > 0.0,
            Parameter::Rho => to.abs() < 1.0,
            _ => true,
        };
        if !fine {
            return None;
        }
    }
    for (term, sigma) in next.sigma.iter_mut().enumerate() {
        if let Some(l) = &roots[term] {
            *sigma = times(l, &turned(l));
        }
        if natural[term] {
            if sigma.len() > 2 && !is_positive(&correlations[term]) {
                return None;
            }
            let sd: Vec<f64> = (0..sigma.len()).map(|a| sigma[a][a].sqrt()).collect();
            *sigma = (0..sd.len()).map(|a| (0..sd.len()).map(|b| correlations[term][a][b] * sd[a] * sd[b]).collect()).collect();
        }
    }
    Some(next)
}

fn correlations(sigma: &Table) -> Table {
    let k = sigma.len();
    let entry = |a: usize, b: usize| if a == b { 1.0 } else { sigma[a][b] / (sigma[a][a] * sigma[b][b]).sqrt() };
    (0..k).map(|a| (0..k).map(|b| entry(a, b)).collect()).collect()
}

/// The values with one parameter set.
pub fn with(values: &Values, one: Parameter, to: f64) -> Option<Values> {
    moved(values, &[one], &[to - value(values, one)], 1.0)
}
