//! A small random season and the dense evaluation of a model on it.

use crosshouse_mixed::Columns;

pub type Square = Vec<Vec<f64>>;

pub fn zeros(rows: usize, cols: usize) -> Square {
    vec![vec![0.0; cols]; rows]
}

pub fn times(a: &Square, b: &Square) -> Square {
    let mut out = zeros(a.len(), b[0].len());
    for i in 0..a.len() {
        for k in 0..b.len() {
            for j in 0..b[0].len() {
                out[i][j] += a[i][k] * b[k][j];
            }
        }
    }
    out
}

pub fn turned(a: &Square) -> Square {
    (0..a[0].len()).map(|j| a.iter().map(|row| row[j]).collect()).collect()
}

pub fn trace(a: &Square) -> f64 {
    (0..a.len()).map(|i| a[i][i]).sum()
}

fn add(a: &mut Square, f: f64, b: &Square) {
    for (x, y) in a.iter_mut().flatten().zip(b.iter().flatten()) {
        *x += f * y;
    }
}

/// Inverse and log-determinant by elimination with row exchanges.
pub fn inverse(a: &Square) -> (Square, f64) {
    let n = a.len();
    let mut left = a.clone();
    let mut right = zeros(n, n);
    (0..n).for_each(|i| right[i][i] = 1.0);
    let mut log_det = 0.0;
    for k in 0..n {
        let pivot = (k..n).max_by(|i, j| left[*i][k].abs().total_cmp(&left[*j][k].abs())).unwrap();
        left.swap(k, pivot);
        right.swap(k, pivot);
        let p = left[k][k];
        log_det += p.abs().ln();
        left[k].iter_mut().for_each(|x| *x /= p);
        right[k].iter_mut().for_each(|x| *x /= p);
        for i in (0..n).filter(|i| *i != k) {
            let f = left[i][k];
            for j in 0..n {
                left[i][j] -= f * left[k][j];
                right[i][j] -= f * right[k][j];
            }
        }
    }
    (right, log_det)
}

/// A seeded stream of numbers (a linear congruence; constants from Knuth, MMIX).
pub struct Stream(u64);

impl Stream {
    pub fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((self.0 >> 11) as f64 + 0.5) / (1u64 << 53) as f64
    }

    pub fn normal(&mut self) -> f64 {
        (-2.0 * self.uniform().ln()).sqrt() * (2.0 * std::f64::consts::PI * self.uniform()).cos()
    }

    pub fn below(&mut self, n: usize) -> usize {
        (self.uniform() * n as f64) as usize
    }
}

/// Records with two factors of interest, sites, blocks, plots, a covariate, weeks.
pub struct Season {
    pub a: Vec<usize>,
    pub b: Vec<usize>,
    pub site: Vec<usize>,
    pub block: Vec<usize>,
    pub plot: Vec<usize>,
    pub x: Vec<f64>,
    pub week: Vec<i64>,
    pub y: Vec<f64>,
}

impl Season {
    pub fn new(seed: u64, rows: usize) -> Self {
        let mut stream = Stream(seed.wrapping_mul(7919));
        (0..10).for_each(|_| {
            stream.uniform();
        });
        let effects: Vec<f64> = (0..60).map(|_| stream.normal()).collect();
        let slopes: Vec<f64> = (0..60).map(|_| 0.6 * stream.normal()).collect();
        let mut season = Self { a: vec![], b: vec![], site: vec![], block: vec![], plot: vec![], x: vec![], week: vec![], y: vec![] };
        let plots = 15;
        let mut last = vec![0; plots];
        let mut noise = vec![0.0; plots];
        for row in 0..rows {
            let plot = row % plots;
            let (site, block) = (plot % 3, (plot / 3) % 4);
            let (a, b) = (stream.below(3), stream.below(2));
            let x = 10.0 + 3.0 * stream.uniform();
            last[plot] += 1 + stream.below(3) as i64;
            noise[plot] = 0.5 * noise[plot] + stream.normal();
            let spread = [0.6, 1.0, 1.7][site];
            let y = 50.0 + a as f64 - 2.0 * b as f64
                + 0.7 * x
                + effects[site]
                + 1.2 * effects[10 + site * 4 + block]
                + effects[30 + plot]
                + slopes[30 + plot] * (x - 11.0)
                + spread * noise[plot];
            season.a.push(a);
            season.b.push(b);
            season.site.push(site);
            season.block.push(block);
            season.plot.push(plot);
            season.x.push(x);
            season.week.push(last[plot]);
            season.y.push(y);
        }
        season
    }

    pub fn columns(&self) -> Columns {
        let mut table = Columns::new(self.y.len());
        let texts = |codes: &[usize], head: &str| codes.iter().map(|c| format!("{head}{c:02}")).collect::<Vec<_>>();
        let short = |codes: &[usize], head: &str| codes.iter().map(|c| format!("{head}{c}")).collect::<Vec<_>>();
        table.category("a", &short(&self.a, "a")).unwrap();
        table.category("b", &short(&self.b, "b")).unwrap();
        table.category("site", &short(&self.site, "s")).unwrap();
        table.category("block", &short(&self.block, "k")).unwrap();
        table.category("plot", &texts(&self.plot, "p")).unwrap();
        table.number("x", self.x.clone()).unwrap();
        table.number("week", self.week.iter().map(|w| *w as f64).collect()).unwrap();
        table.number("y", self.y.clone()).unwrap();
        table
    }

    fn codes(&self, name: &str) -> &[usize] {
        match name {
            "site" => &self.site,
            "block" => &self.block,
            _ => &self.plot,
        }
    }

    fn alike(&self, names: &[String], i: usize, j: usize) -> bool {
        names.iter().all(|name| self.codes(name)[i] == self.codes(name)[j])
    }
}

#[derive(Clone)]
pub enum Parameter {
    Group(Vec<String>),
    Base(Vec<String>),
    Slope(Vec<String>),
    Correlation(Vec<String>),
    Residual(Option<String>),
    Serial,
}

/// The dense evaluation at given variances.
pub struct Dense<'s> {
    season: &'s Season,
    parameters: Vec<Parameter>,
    values: Vec<f64>,
    x: Square,
    /// Φ, V⁻¹, log-likelihood pieces.
    phi: Square,
    v_inverse: Square,
    beta: Vec<f64>,
    /// ∂V and ∂²V.
    first: Vec<Square>,
    second: Vec<Vec<Option<Square>>>,
}

const A: usize = 3;
const B: usize = 2;

fn coded(a: usize, b: usize, x: f64) -> Vec<f64> {
    let code = |level: usize, contrast: usize, levels: usize| match level {
        l if l == contrast => 1.0,
        l if l + 1 == levels => -1.0,
        _ => 0.0,
    };
    let (a0, a1, b0) = (code(a, 0, A), code(a, 1, A), code(b, 0, B));
    vec![1.0, a0, a1, b0, a0 * b0, a1 * b0, x]
}

impl<'s> Dense<'s> {
    pub fn new(season: &'s Season, parameters: Vec<Parameter>, values: Vec<f64>) -> Self {
        let n = season.y.len();
        let x: Square = (0..n).map(|i| coded(season.a[i], season.b[i], season.x[i])).collect();
        let mut dense = Self { season, x, phi: vec![], v_inverse: vec![], beta: vec![], first: vec![], second: vec![], parameters, values };
        let (v_inverse, _) = inverse(&dense.v(&dense.values));
        let xv = times(&turned(&dense.x), &v_inverse);
        dense.phi = inverse(&times(&xv, &dense.x)).0;
        let xy: Vec<f64> = xv.iter().map(|row| row.iter().zip(&season.y).map(|(a, b)| a * b).sum()).collect();
        dense.beta = dense.phi.iter().map(|row| row.iter().zip(&xy).map(|(a, b)| a * b).sum()).collect();
        dense.v_inverse = v_inverse;
        dense.differentiate();
        dense
    }

    fn value(&self, values: &[f64], want: impl Fn(&Parameter) -> bool) -> f64 {
        self.parameters.iter().position(want).map_or(0.0, |at| values[at])
    }

    fn residual_variance(&self, values: &[f64], row: usize) -> f64 {
        let site = format!("s{}", self.season.site[row]);
        let mine = |p: &Parameter| matches!(p, Parameter::Residual(s) if s.as_ref().is_none_or(|s| *s == site));
        self.value(values, mine)
    }

    /// V, entry by entry.
    fn v(&self, values: &[f64]) -> Square {
        let n = self.season.y.len();
        let mut v = zeros(n, n);
        let rho = self.value(values, |p| matches!(p, Parameter::Serial));
        let serial = self.parameters.iter().any(|p| matches!(p, Parameter::Serial));
        for i in 0..n {
            for j in 0..n {
                for (parameter, value) in self.parameters.iter().zip(values) {
                    v[i][j] += self.random_entry(values, parameter, *value, i, j);
                }
                let sd = (self.residual_variance(values, i) * self.residual_variance(values, j)).sqrt();
                if i == j {
                    v[i][j] += sd;
                } else if serial && self.season.plot[i] == self.season.plot[j] {
                    v[i][j] += sd * rho.powi((self.season.week[i] - self.season.week[j]).abs() as i32);
                }
            }
        }
        v
    }

    fn random_entry(&self, values: &[f64], parameter: &Parameter, value: f64, i: usize, j: usize) -> f64 {
        let x = &self.season.x;
        match parameter {
            Parameter::Group(names) | Parameter::Base(names) if self.season.alike(names, i, j) => value,
            Parameter::Slope(names) if self.season.alike(names, i, j) => value * x[i] * x[j],
            Parameter::Correlation(names) if self.season.alike(names, i, j) => {
                let base = self.value(values, |p| matches!(p, Parameter::Base(_)));
                let slope = self.value(values, |p| matches!(p, Parameter::Slope(_)));
                value * (base * slope).sqrt() * (x[i] + x[j])
            }
            _ => 0.0,
        }
    }

    /// ∂V and ∂²V by central differences of V, whose entries are smooth and cheap: fourth order, so that
    /// truncation and rounding both stay below 1e-9 of the entries.
    fn differentiate(&mut self) {
        let count = self.values.len();
        self.first = (0..count).map(|i| self.slope(&self.values, i)).collect();
        self.second = (0..count).map(|i| (0..count).map(|j| self.curve(i, j)).collect()).collect();
    }

    fn slope(&self, values: &[f64], i: usize) -> Square {
        let h = 1e-3 * values[i].abs().max(0.1);
        let at = |t: f64| {
            let mut moved = values.to_vec();
            moved[i] += t * h;
            self.v(&moved)
        };
        let mut total = zeros(self.season.y.len(), self.season.y.len());
        // Sixth-order differences.
        for (t, w) in [(1.0, 45.0), (2.0, -9.0), (3.0, 1.0)] {
            add(&mut total, w / (60.0 * h), &at(t));
            add(&mut total, -w / (60.0 * h), &at(-t));
        }
        total
    }

    fn curve(&self, i: usize, j: usize) -> Option<Square> {
        let linear = |p: &Parameter| matches!(p, Parameter::Group(_));
        if linear(&self.parameters[i]) || linear(&self.parameters[j]) {
            return None;
        }
        let h = 3e-3 * self.values[j].abs().max(0.1);
        let at = |t: f64| {
            let mut moved = self.values.clone();
            moved[j] += t * h;
            self.slope(&moved, i)
        };
        let mut total = zeros(self.season.y.len(), self.season.y.len());
        for (t, w) in [(1.0, 45.0), (2.0, -9.0), (3.0, 1.0)] {
            add(&mut total, w / (60.0 * h), &at(t));
            add(&mut total, -w / (60.0 * h), &at(-t));
        }
        Some(total)
    }

    pub fn log_likelihood(&self) -> f64 {
        self.log_likelihood_at(&self.values)
    }

    fn log_likelihood_at(&self, values: &[f64]) -> f64 {
        let (n, p) = (self.season.y.len(), self.x[0].len());
        let (v_inverse, log_det) = inverse(&self.v(values));
        let xv = times(&turned(&self.x), &v_inverse);
        let (phi, log_det_x) = inverse(&times(&xv, &self.x));
        let xy: Vec<f64> = xv.iter().map(|row| row.iter().zip(&self.season.y).map(|(a, b)| a * b).sum()).collect();
        let beta: Vec<f64> = phi.iter().map(|row| row.iter().zip(&xy).map(|(a, b)| a * b).sum()).collect();
        let r: Vec<f64> = (0..n).map(|i| self.season.y[i] - self.x[i].iter().zip(&beta).map(|(x, b)| x * b).sum::<f64>()).collect();
        let square: f64 = (0..n).map(|i| (0..n).map(|j| r[i] * v_inverse[i][j] * r[j]).sum::<f64>()).sum();
        -0.5 * ((n - p) as f64 * (2.0 * std::f64::consts::PI).ln() + log_det + log_det_x + square)
    }

    /// The largest change of the likelihood per relative change of a parameter.
    pub fn steepest_slope(&self) -> f64 {
        (0..self.values.len())
            .map(|i| {
                // A correlation near ±1 is moved relative to its distance from there.
                let h = match self.parameters[i] {
                    Parameter::Correlation(_) => 1e-5 * (1.0 - self.values[i].powi(2)),
                    _ => 1e-4 * self.values[i].abs(),
                };
                let unit = if matches!(self.parameters[i], Parameter::Correlation(_)) { h } else { self.values[i] };
                let mut moved = self.values.clone();
                moved[i] += h;
                let up = self.log_likelihood_at(&moved);
                moved[i] -= 2.0 * h;
                ((up - self.log_likelihood_at(&moved)) / (2.0 * h) * unit).abs()
            })
            .fold(0.0, f64::max)
    }

    pub fn mean(&self, a: Option<&str>, b: Option<&str>) -> Vec<f64> {
        let level = |text: Option<&str>| text.map(|t| t[1..].parse::<usize>().unwrap());
        let middle = self.season.x.iter().sum::<f64>() / self.season.x.len() as f64;
        let mut total = vec![0.0; self.x[0].len()];
        let mut count = 0.0;
        for i in 0..A {
            for j in 0..B {
                if level(a).is_none_or(|l| l == i) && level(b).is_none_or(|l| l == j) {
                    total.iter_mut().zip(coded(i, j, middle)).for_each(|(t, c)| *t += c);
                    count += 1.0;
                }
            }
        }
        total.iter().map(|t| t / count).collect()
    }

    pub fn columns_of(&self, effect: &[String]) -> Vec<Vec<f64>> {
        let names: Vec<&str> = effect.iter().map(String::as_str).collect();
        let columns: &[usize] = match names.as_slice() {
            ["a"] => &[1, 2],
            ["b"] => &[3],
            ["x"] => &[6],
            _ => &[4, 5],
        };
        columns
            .iter()
            .map(|c| {
                let mut unit = vec![0.0; 7];
                unit[*c] = 1.0;
                unit
            })
            .collect()
    }

    pub fn estimate(&self, l: &[f64]) -> f64 {
        l.iter().zip(&self.beta).map(|(a, b)| a * b).sum()
    }

    fn form(m: &Square, l: &[f64], k: &[f64]) -> f64 {
        (0..l.len()).map(|i| (0..k.len()).map(|j| l[i] * m[i][j] * k[j]).sum::<f64>()).sum()
    }

    /// Pᵢ = −X′V⁻¹∂ᵢV V⁻¹X
    fn p(&self, i: usize) -> Square {
        let half = times(&self.v_inverse, &self.x);
        let mut p = times(&turned(&half), &times(&self.first[i], &half));
        p.iter_mut().flatten().for_each(|x| *x = -*x);
        p
    }

    fn w(&self) -> Square {
        let count = self.values.len();
        let moved: Vec<Square> = self.first.iter().map(|d| times(&self.v_inverse, d)).collect();
        let half = times(&self.v_inverse, &self.x);
        let mut information = zeros(count, count);
        for i in 0..count {
            for j in 0..count {
                let q = times(&turned(&times(&turned(&moved[i]), &self.x)), &times(&moved[j], &half));
                let pp = times(&times(&self.phi, &self.p(i)), &times(&self.phi, &self.p(j)));
                information[i][j] = 0.5 * (trace(&times(&moved[i], &moved[j])) - 2.0 * trace(&times(&self.phi, &q)) + trace(&pp));
            }
        }
        inverse(&information).0
    }

    fn adjusted(&self) -> Square {
        let count = self.values.len();
        let w = self.w();
        let moved: Vec<Square> = self.first.iter().map(|d| times(&self.v_inverse, d)).collect();
        let half = times(&self.v_inverse, &self.x);
        let p = self.x[0].len();
        let mut u = zeros(p, p);
        for i in 0..count {
            for j in 0..count {
                let q = times(&turned(&times(&turned(&moved[i]), &self.x)), &times(&moved[j], &half));
                add(&mut u, w[i][j], &q);
                add(&mut u, -w[i][j], &times(&self.p(i), &times(&self.phi, &self.p(j))));
                if let Some(d) = &self.second[i][j] {
                    add(&mut u, -0.25 * w[i][j], &times(&turned(&half), &times(d, &half)));
                }
            }
        }
        let mut adjusted = self.phi.clone();
        add(&mut adjusted, 2.0, &times(&self.phi, &times(&u, &self.phi)));
        adjusted
    }

    pub fn standard_error(&self, l: &[f64], kenward_roger: bool) -> f64 {
        let covariance = if kenward_roger { self.adjusted() } else { self.phi.clone() };
        Self::form(&covariance, l, l).sqrt()
    }

    pub fn freedom(&self, l: &[f64], kenward_roger: bool) -> f64 {
        let size = Self::form(&self.phi, l, l);
        let w = if kenward_roger { self.w() } else { inverse(&self.observed()).0 };
        let g: Vec<f64> =
            (0..self.values.len()).map(|i| Self::form(&times(&self.phi, &times(&self.p(i), &self.phi)), l, l) / size).collect();
        2.0 / Self::form(&w, &g, &g)
    }

    /// Minus the second differences of the dense likelihood.
    fn observed(&self) -> Square {
        let count = self.values.len();
        let step: Vec<f64> = self.values.iter().map(|v| 2e-3 * v.abs()).collect();
        let at = |moves: &[(usize, f64)]| {
            let mut moved = self.values.clone();
            moves.iter().for_each(|(i, t)| moved[*i] += t * step[*i]);
            self.log_likelihood_at(&moved)
        };
        let mut information = zeros(count, count);
        for i in 0..count {
            for j in 0..count {
                let four =
                    at(&[(i, 1.0), (j, 1.0)]) - at(&[(i, 1.0), (j, -1.0)]) - at(&[(i, -1.0), (j, 1.0)]) + at(&[(i, -1.0), (j, -1.0)]);
                information[i][j] = -four / (4.0 * step[i] * step[j]);
            }
        }
        information
    }

    /// The scaled F and its denominator degrees of freedom (Kenward & Roger 1997).
    pub fn test(&self, contrasts: &[Vec<f64>]) -> (f64, f64) {
        let l = turned(&contrasts.to_vec());
        let size = contrasts.len() as f64;
        let lt = turned(&l);
        let w = self.w();
        let middle = inverse(&times(&lt, &times(&self.phi, &l))).0;
        let theta = times(&l, &times(&middle, &lt));
        let parts: Vec<Square> = (0..self.values.len()).map(|i| times(&times(&theta, &self.phi), &times(&self.p(i), &self.phi))).collect();
        let (mut a1, mut a2) = (0.0, 0.0);
        for i in 0..parts.len() {
            for j in 0..parts.len() {
                a1 += w[i][j] * trace(&parts[i]) * trace(&parts[j]);
                a2 += w[i][j] * trace(&times(&parts[i], &parts[j]));
            }
        }
        let b = (a1 + 6.0 * a2) / (2.0 * size);
        let g = ((size + 1.0) * a1 - (size + 4.0) * a2) / ((size + 2.0) * a2);
        let below = 3.0 * size + 2.0 * (1.0 - g);
        let (c1, c2, c3) = (g / below, (size - g) / below, (size + 2.0 - g) / below);
        let e = 1.0 / (1.0 - a2 / size);
        let v = 2.0 / size * (1.0 + c1 * b) / ((1.0 - c2 * b).powi(2) * (1.0 - c3 * b));
        let rho = v / (2.0 * e * e);
        let m = 4.0 + (size + 2.0) / (size * rho - 1.0);
        let lambda = m / (e * (m - 2.0));
        let estimates: Vec<f64> = contrasts.iter().map(|c| self.estimate(c)).collect();
        let covariance = inverse(&times(&lt, &times(&self.adjusted(), &l))).0;
        (lambda * Self::form(&covariance, &estimates, &estimates) / size, m)
    }
}
