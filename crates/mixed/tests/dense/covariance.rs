//! V with its first and second derivatives, entry by entry.
//!
//! v(r, s) = Σ over random terms in which r and s share a level of z(r)′Σz(s), plus √(σ²(r)σ²(s))·ρ^gap
//! for two records of one series, or σ²(r) on the diagonal alone.

use crosshouse_mixed::Fit;

use super::frame::Frame;
use super::matrix::{Table, add, times, turned, zeros};

/// One random term: a level and k covariates for each row.
pub struct Term {
    pub codes: Vec<usize>,
    pub z: Vec<Vec<f64>>,
    pub coefficients: usize,
}

/// What V is made of.
pub struct Structure {
    pub terms: Vec<Term>,
    pub stratum: Vec<usize>,
    pub strata: usize,
    /// Series and place of each row.
    pub series: Option<(Vec<usize>, Vec<i64>)>,
}

/// The values that V is made from.
#[derive(Clone, Debug)]
pub struct Values {
    pub sigma: Vec<Table>,
    pub strata: Vec<f64>,
    pub rho: f64,
}

#[derive(Clone, Copy, PartialEq, Debug)]
pub enum Parameter {
    Variance { term: usize, a: usize },
    Correlation { term: usize, a: usize, b: usize },
    Root { term: usize, a: usize, b: usize },
    Stratum(usize),
    Rho,
}

pub struct Covariance {
    pub v: Table,
    pub first: Vec<Table>,
    /// Nil where `None`.
    pub second: Vec<Vec<Option<Table>>>,
}

impl Structure {
    pub fn new(frame: &Frame<'_>) -> Self {
        let model = frame.model;
        let mut terms = Vec::new();
        let ones = || vec![1.0; frame.rows()];
        for group in &model.groups {
            terms.push(frame.term(group, vec![ones()]));
        }
        for varying in &model.varying {
            let mut columns: Vec<Vec<f64>> = if varying.base { vec![ones()] } else { Vec::new() };
            columns.extend(varying.effects.iter().map(|effect| frame.product(effect)));
            if varying.correlated {
                terms.push(frame.term(&varying.over, columns));
            } else {
                terms.extend(columns.into_iter().map(|column| frame.term(&varying.over, vec![column])));
            }
        }
        let (stratum, strata) = frame.combined(&model.residual.variance_by);
        let serial = model.residual.serial.as_ref();
        let series = serial.map(|serial| {
            let places = frame.numbers[&serial.order].iter().map(|week| *week as i64).collect();
            (frame.combined(&serial.within).0, places)
        });
        Self { terms, stratum, strata, series }
    }

    /// The values that a fit reports.
    pub fn reported(&self, fit: &Fit) -> Values {
        let mut variances = fit.variance_components.iter().map(|component| component.variance);
        let mut correlations = fit.correlations.iter().map(|correlation| correlation.value.unwrap_or(0.0));
        let mut sigma = Vec::new();
        for term in &self.terms {
            let k = term.coefficients;
            let mut own = zeros(k, k);
            for a in 0..k {
                own[a][a] = variances.next().unwrap();
                for b in 0..a {
                    own[a][b] = correlations.next().unwrap() * (own[a][a] * own[b][b]).sqrt();
                    own[b][a] = own[a][b];
                }
            }
            sigma.push(own);
        }
        Values { sigma, strata: variances.collect(), rho: fit.serial.map_or(0.0, |serial| serial.correlation) }
    }

    /// Variances as variances, correlations as correlations; a correlation beside a zero variance does not exist.
    pub fn natural(&self, values: &Values) -> Vec<Parameter> {
        let mut all = Vec::new();
        for (term, Term { coefficients, .. }) in self.terms.iter().enumerate() {
            let sigma = &values.sigma[term];
            for a in 0..*coefficients {
                all.push(Parameter::Variance { term, a });
                let exists = |b: &usize| sigma[a][a] > 0.0 && sigma[*b][*b] > 0.0;
                all.extend((0..a).filter(exists).map(|b| Parameter::Correlation { term, a, b }));
            }
        }
        all.extend((0..self.strata).map(Parameter::Stratum));
        all.extend(self.series.as_ref().map(|_| Parameter::Rho));
        all
    }

    pub fn covariance(&self, values: &Values, parameters: &[Parameter]) -> Covariance {
        let v = self.v(values);
        let first = parameters.iter().map(|one| self.first(values, *one)).collect();
        let row = |one: &Parameter| parameters.iter().map(|other| self.second(values, *one, *other)).collect();
        Covariance { v, first, second: parameters.iter().map(row).collect() }
    }

    pub fn v(&self, values: &Values) -> Table {
        let mut v = self.residual(values, |f, c| f[0] * c[0], None, None);
        for (term, sigma) in self.terms.iter().zip(&values.sigma) {
            add(&mut v, 1.0, &term.spread(sigma));
        }
        v
    }

    fn first(&self, values: &Values, one: Parameter) -> Table {
        match one {
            Parameter::Stratum(s) => self.residual(values, |f, c| f[1] * c[0], Some(s), None),
            Parameter::Rho => self.residual(values, |f, c| f[0] * c[1], None, None),
            Parameter::Variance { term, .. } | Parameter::Correlation { term, .. } | Parameter::Root { term, .. } => {
                self.terms[term].spread(&sigma_first(&values.sigma[term], one))
            }
        }
    }

    fn second(&self, values: &Values, one: Parameter, other: Parameter) -> Option<Table> {
        match (one, other) {
            (Parameter::Stratum(s), Parameter::Stratum(t)) => Some(self.residual(values, |f, c| f[2] * c[0], Some(s), Some(t))),
            (Parameter::Stratum(s), Parameter::Rho) | (Parameter::Rho, Parameter::Stratum(s)) => {
                Some(self.residual(values, |f, c| f[1] * c[1], Some(s), None))
            }
            (Parameter::Rho, Parameter::Rho) => Some(self.residual(values, |f, c| f[0] * c[2], None, None)),
            _ => {
                let term = term_of(one).filter(|term| term_of(other) == Some(*term))?;
                let bend = sigma_second(&values.sigma[term], one, other)?;
                Some(self.terms[term].spread(&bend))
            }
        }
    }

    /// The residual's part: `entry` makes it of f = √(σ²σ²) with its first and second derivative by strata `s` (and
    /// `t`), and of c = ρ^gap with its first and second derivative by ρ.
    fn residual(&self, values: &Values, entry: impl Fn([f64; 3], [f64; 3]) -> f64, s: Option<usize>, t: Option<usize>) -> Table {
        let n = self.stratum.len();
        let mut out = zeros(n, n);
        for i in 0..n {
            for j in 0..n {
                let Some(c) = self.correlation(values.rho, i, j) else { continue };
                let f = (values.strata[self.stratum[i]] * values.strata[self.stratum[j]]).sqrt();
                // f is a product of powers ½: f = Π σ²ᵤ^(mᵤ/2), m counting how often u occurs among the two.
                let times = |u: usize| f64::from(u8::from(self.stratum[i] == u) + u8::from(self.stratum[j] == u));
                let slope = |u: usize| times(u) / (2.0 * values.strata[u]);
                let first = s.map_or(0.0, slope);
                let second = match (s, t) {
                    (Some(s), Some(t)) if s == t => slope(s) * (times(s) - 2.0) / (2.0 * values.strata[s]),
                    (Some(s), Some(t)) => slope(s) * slope(t),
                    _ => 0.0,
                };
                out[i][j] = entry([f, f * first, f * second], c);
            }
        }
        out
    }

    fn correlation(&self, rho: f64, i: usize, j: usize) -> Option<[f64; 3]> {
        if i == j {
            return Some([1.0, 0.0, 0.0]);
        }
        let (series, places) = self.series.as_ref()?;
        if series[i] != series[j] {
            return None;
        }
        let gap = (places[i] - places[j]).abs() as i32;
        let d = f64::from(gap);
        let power = |k: i32| if k < 0 { 0.0 } else { rho.powi(k) };
        Some([power(gap), d * power(gap - 1), d * (d - 1.0) * power(gap - 2)])
    }
}

impl Term {
    /// z(r)′Mz(s) where r and s share a level.
    fn spread(&self, m: &Table) -> Table {
        let n = self.codes.len();
        let mut out = zeros(n, n);
        for i in 0..n {
            for j in (0..n).filter(|j| self.codes[i] == self.codes[*j]) {
                for a in 0..self.coefficients {
                    for b in 0..self.coefficients {
                        out[i][j] += self.z[a][i] * m[a][b] * self.z[b][j];
                    }
                }
            }
        }
        out
    }
}

pub fn term_of(parameter: Parameter) -> Option<usize> {
    match parameter {
        Parameter::Variance { term, .. } | Parameter::Correlation { term, .. } | Parameter::Root { term, .. } => Some(term),
        _ => None,
    }
}

/// A root L of Σ = LL′, rows from the first; a nil pivot makes a nil column.
pub fn root(sigma: &Table) -> Table {
    let k = sigma.len();
    let mut l = zeros(k, k);
    for a in 0..k {
        for b in 0..=a {
            let left = sigma[a][b] - (0..b).map(|c| l[a][c] * l[b][c]).sum::<f64>();
            l[a][b] = match (a == b, left > 1e-9 * sigma[a][a]) {
                (true, true) => left.sqrt(),
                (true, false) => 0.0,
                _ if l[b][b] > 0.0 => left / l[b][b],
                _ => 0.0,
            };
        }
    }
    l
}

fn sigma_first(sigma: &Table, one: Parameter) -> Table {
    let k = sigma.len();
    let mut out = zeros(k, k);
    match one {
        // Σ(a, b) = r √(v(a) v(b))
        Parameter::Variance { a, .. } => {
            out[a][a] = 1.0;
            for b in (0..k).filter(|b| *b != a && sigma[a][a] > 0.0) {
                out[a][b] = 0.5 * sigma[a][b] / sigma[a][a];
                out[b][a] = out[a][b];
            }
        }
        Parameter::Correlation { a, b, .. } => {
            out[a][b] = (sigma[a][a] * sigma[b][b]).sqrt();
            out[b][a] = out[a][b];
        }
        Parameter::Root { a, b, .. } => {
            let mut moved = zeros(k, k);
            moved[a][b] = 1.0;
            out = times(&moved, &turned(&root(sigma)));
            let other = turned(&out);
            add(&mut out, 1.0, &other);
        }
        _ => {}
    }
    out
}

fn sigma_second(sigma: &Table, one: Parameter, other: Parameter) -> Option<Table> {
    use Parameter::{Correlation, Root, Variance};
    let k = sigma.len();
    let mut out = zeros(k, k);
    let mut set = |a: usize, b: usize, value: f64| {
        out[a][b] = value;
        out[b][a] = value;
    };
    match (one, other) {
        (Variance { a, .. }, Variance { a: b, .. }) if a == b => {
            for c in (0..k).filter(|c| *c != a && sigma[a][a] > 0.0) {
                set(a, c, -0.25 * sigma[a][c] / sigma[a][a].powi(2));
            }
        }
        (Variance { a, .. }, Variance { a: b, .. }) if sigma[a][a] > 0.0 && sigma[b][b] > 0.0 => {
            set(a, b, 0.25 * sigma[a][b] / (sigma[a][a] * sigma[b][b]));
        }
        (Variance { a: v, .. }, Correlation { a, b, .. }) | (Correlation { a, b, .. }, Variance { a: v, .. }) if v == a || v == b => {
            set(a, b, 0.5 * (sigma[a][a] * sigma[b][b]).sqrt() / sigma[v][v]);
        }
        (Root { a, b, .. }, Root { a: c, b: d, .. }) if b == d => {
            out[a][c] += 1.0;
            out[c][a] += 1.0;
        }
        _ => return None,
    }
    Some(out)
}
