//! Square and oblong tables of numbers, and elimination.

pub type Table = Vec<Vec<f64>>;

pub fn zeros(rows: usize, cols: usize) -> Table {
    vec![vec![0.0; cols]; rows]
}

pub fn times(a: &Table, b: &Table) -> Table {
    let mut out = zeros(a.len(), b.first().map_or(0, Vec::len));
    for (into, row) in out.iter_mut().zip(a) {
        for (x, other) in row.iter().zip(b).filter(|(x, _)| **x != 0.0) {
            into.iter_mut().zip(other).for_each(|(o, y)| *o += x * y);
        }
    }
    out
}

pub fn times_vector(a: &Table, b: &[f64]) -> Vec<f64> {
    a.iter().map(|row| dot(row, b)).collect()
}

pub fn turned(a: &Table) -> Table {
    (0..a.first().map_or(0, Vec::len)).map(|j| a.iter().map(|row| row[j]).collect()).collect()
}

pub fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}

/// l′Mk
pub fn form(m: &Table, l: &[f64], k: &[f64]) -> f64 {
    dot(l, &times_vector(m, k))
}

pub fn trace(a: &Table) -> f64 {
    (0..a.len()).map(|i| a[i][i]).sum()
}

/// tr(AB)
pub fn trace_of_product(a: &Table, b: &Table) -> f64 {
    (0..a.len()).map(|i| (0..b.len()).map(|j| a[i][j] * b[j][i]).sum::<f64>()).sum()
}

pub fn add(a: &mut Table, f: f64, b: &Table) {
    for (x, y) in a.iter_mut().flatten().zip(b.iter().flatten()) {
        *x += f * y;
    }
}

/// Inverse and log-determinant by elimination with row exchanges.
pub fn inverse(a: &Table) -> (Table, f64) {
    let n = a.len();
    let mut both: Table = a.iter().enumerate().map(|(i, row)| [row.clone(), unit(n, i)].concat()).collect();
    let mut log_det = 0.0;
    for k in 0..n {
        let pivot = (k..n).max_by(|i, j| both[*i][k].abs().total_cmp(&both[*j][k].abs())).unwrap();
        both.swap(k, pivot);
        let p = both[k][k];
        log_det += p.abs().ln();
        both[k].iter_mut().for_each(|x| *x /= p);
        let row = both[k].clone();
        for i in (0..n).filter(|i| *i != k) {
            let f = both[i][k];
            if f != 0.0 {
                both[i].iter_mut().zip(&row).for_each(|(x, y)| *x -= f * y);
            }
        }
    }
    (both.into_iter().map(|row| row[n..].to_vec()).collect(), log_det)
}

pub fn unit(n: usize, at: usize) -> Vec<f64> {
    let mut unit = vec![0.0; n];
    unit[at] = 1.0;
    unit
}

/// An orthonormal basis of the span of some vectors, and which of them, from the first, made it.
pub fn span(vectors: &[Vec<f64>]) -> (Table, Vec<usize>) {
    let (mut basis, mut made): (Table, Vec<usize>) = (Vec::new(), Vec::new());
    for (index, vector) in vectors.iter().enumerate() {
        let mut rest = vector.clone();
        for _ in 0..3 {
            for b in &basis {
                let share = dot(b, &rest);
                rest.iter_mut().zip(b).for_each(|(r, b)| *r -= share * b);
            }
        }
        let left = dot(&rest, &rest).sqrt();
        if left > 1e-8 * dot(vector, vector).sqrt() && left > 0.0 {
            basis.push(rest.iter().map(|r| r / left).collect());
            made.push(index);
        }
    }
    (basis, made)
}

/// An orthonormal basis of what is orthogonal to every vector of an orthonormal basis.
pub fn complement(basis: &Table, size: usize) -> Table {
    let all: Table = basis.iter().cloned().chain((0..size).map(|i| unit(size, i))).collect();
    span(&all).0[basis.len()..].to_vec()
}

/// Eigenvectors, as rows, of a symmetric table: Jacobi's rotations.
pub fn eigenvectors(a: &Table) -> Table {
    let n = a.len();
    let mut a = a.clone();
    let mut vectors: Table = (0..n).map(|i| unit(n, i)).collect();
    for _ in 0..60 {
        for p in 0..n {
            for q in p + 1..n {
                if a[p][q].abs() < 1e-300 {
                    continue;
                }
                let angle = 0.5 * (2.0 * a[p][q]).atan2(a[q][q] - a[p][p]);
                let (s, c) = angle.sin_cos();
                turn(&mut a, p, q, c, s);
                let mut across = turned(&a);
                turn(&mut across, p, q, c, s);
                a = turned(&across);
                turn(&mut vectors, p, q, c, s);
            }
        }
    }
    vectors
}

fn turn(rows: &mut Table, p: usize, q: usize, c: f64, s: f64) {
    for j in 0..rows[p].len() {
        let (x, y) = (rows[p][j], rows[q][j]);
        (rows[p][j], rows[q][j]) = (c * x - s * y, s * x + c * y);
    }
}
