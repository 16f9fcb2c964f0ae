//! Differences whose correlations are products: comparisons with a control.

use crate::multiplicity::cholesky::dot;
use crate::multiplicity::normal;
use crate::multiplicity::tabulated::NormalTail;

/// Largest departure of a correlation from the product λ_i·λ_j.
const PRODUCT_TOLERANCE: f64 = 1e-9;
/// Below this part of its own a deviate is left to the general route.
const SMALLEST_OWN_PART: f64 = 0.02;
/// Common deviates beyond this, or this far past the tail's own peak, are left out.
const FARTHEST: f64 = 8.6;
/// Step of the trapezoidal rule, at most; in units of √(1 − λ²) where that is less.
const STEP: f64 = 0.1;

/// Deviates Z_i = λ_i·U + √(1 − λ_i²)·E_i with U and all E_i independent, so that
/// ρ_ij = λ_i·λ_j and
///
/// ```text
/// P(max |Z_i| > w) = ∫ φ(u) {1 − Π [1 − P(|Z_i| > w given u)]} du
/// ```
///
/// # Source
/// Dunnett (1955), Journal of the American Statistical Association 50:1096–1121.
pub(super) struct OneFactor {
    /// Each different |λ| and how many deviates have it.
    loadings: Vec<(f64, i32)>,
}

impl OneFactor {
    /// The loadings, if the correlations between `rows` are such products.
    pub(super) fn find(rows: &[Vec<f64>]) -> Option<Self> {
        let loadings = loadings(rows)?;
        let own = |loading: &f64| 1.0 - loading * loading > SMALLEST_OWN_PART.powi(2);
        if !loadings.iter().all(own) || !are_products(rows, &loadings) {
            return None;
        }
        Some(Self { loadings: counted(loadings) })
    }
}

/// λ_i from the pair with the largest correlation and the third deviate most correlated
/// with both; all zero if nothing is correlated.
fn loadings(rows: &[Vec<f64>]) -> Option<Vec<f64>> {
    let (mut largest, mut first, mut second) = (0.0, 0, 0);
    for (i, row) in rows.iter().enumerate() {
        for (j, other) in rows.iter().enumerate().skip(i + 1) {
            let size = dot(row, other).abs();
            if size > largest + PRODUCT_TOLERANCE {
                (largest, first, second) = (size, i, j);
            }
        }
    }
    if largest <= PRODUCT_TOLERANCE {
        return Some(vec![0.0; rows.len()]);
    }
    let (row, partner) = (rows.get(first)?, rows.get(second)?);
    let third = |(i, other): (usize, &Vec<f64>)| {
        let (with_first, with_second) = (dot(row, other), dot(partner, other));
        (i != first && i != second).then_some((with_first, with_second))
    };
    let (with_first, with_second) =
        rows.iter().enumerate().filter_map(third).max_by(|a, b| (a.0 * a.1).abs().total_cmp(&(b.0 * b.1).abs()))?;
    let both = dot(row, partner);
    // A pair correlated with nothing else: any split of its correlation will do.
    let alone = (with_first * with_second).abs() <= PRODUCT_TOLERANCE;
    let square = if alone { both.abs() } else { both * with_first / with_second };
    if square.is_nan() || square <= 0.0 {
        return None;
    }
    let loading = square.sqrt();
    let of = |(i, other): (usize, &Vec<f64>)| if i == first { loading } else { dot(row, other) / loading };
    Some(rows.iter().enumerate().map(of).collect())
}

fn are_products(rows: &[Vec<f64>], loadings: &[f64]) -> bool {
    rows.iter().zip(loadings).enumerate().all(|(i, (row, loading))| {
        rows.iter().zip(loadings).skip(i + 1).all(|(other, its)| (dot(row, other) - loading * its).abs() <= PRODUCT_TOLERANCE)
    })
}

/// Sizes of the loadings in rising order, equal ones (to rounding) counted together.
fn counted(loadings: Vec<f64>) -> Vec<(f64, i32)> {
    let mut sizes: Vec<f64> = loadings.into_iter().map(f64::abs).collect();
    sizes.sort_by(f64::total_cmp);
    let mut counts: Vec<(f64, i32)> = Vec::new();
    for size in sizes {
        match counts.last_mut() {
            Some((last, count)) if size - *last < 1e-12 => *count += 1,
            _ => counts.push((size, 1)),
        }
    }
    counts
}

impl NormalTail for OneFactor {
    fn upper(&self, w: f64) -> f64 {
        let largest = self.loadings.iter().fold(0.0, |most: f64, (loading, _)| most.max(*loading));
        let step = STEP.min(0.5 * (1.0 - largest * largest).sqrt());
        let last = ((largest * w + FARTHEST) / step) as usize;
        // The integrand is even in u: half of it, the middle counted once.
        let term = |index: usize| {
            let u = step * index as f64;
            normal::density(u) * self.outside(w, u) * if index == 0 { 1.0 } else { 2.0 }
        };
        (step * (0..=last).map(term).sum::<f64>()).min(1.0)
    }

    fn decay(&self) -> f64 {
        1.0
    }
}

impl OneFactor {
    /// P(max |Z_i| > w given u) without loss where it is small.
    fn outside(&self, w: f64, u: f64) -> f64 {
        let ln_inside = |(loading, count): &(f64, i32)| {
            let own = (1.0 - loading * loading).sqrt();
            let above = normal::upper((w - loading * u) / own);
            let below = normal::upper((w + loading * u) / own);
            f64::from(*count) * (-(above + below).min(1.0)).ln_1p()
        };
        -self.loadings.iter().map(ln_inside).sum::<f64>().exp_m1()
    }
}
