//! The parameters of a discrete family: fixed effects, entries of the random terms' triangular roots, and the
//! logarithm of the dispersion parameter. None is bounded, save that the last is kept in a range.

use crate::design::Design;
use crate::linear::Matrix;

/// Range of κ: beyond, the family is its limit to rounding.
pub const KAPPA: (f64, f64) = (-12.0, 14.0);

/// Which parameter stands where.
#[derive(Debug, Clone)]
pub struct Layout {
    /// Number of fixed effects; they come first.
    pub fixed: usize,
    /// (random term, row, column) of each root's entry.
    pub entries: Vec<(usize, usize, usize)>,
    sizes: Vec<usize>,
    /// Whether κ is the last parameter.
    pub dispersion: bool,
}

impl Layout {
    /// The layout of a design.
    pub fn new(design: &Design, dispersion: bool) -> Self {
        let sizes: Vec<usize> = design.terms.iter().map(|term| term.coefficients.len()).collect();
        let triangle = |(term, size): (usize, &usize)| {
            let size = *size;
            (0..size).flat_map(move |row| (0..=row).map(move |col| (term, row, col)))
        };
        let entries = sizes.iter().enumerate().flat_map(triangle).collect();
        Self { fixed: design.columns(), entries, sizes, dispersion }
    }

    /// Number of parameters.
    pub fn len(&self) -> usize {
        self.fixed + self.entries.len() + usize::from(self.dispersion)
    }

    /// Place of κ.
    pub fn kappa_at(&self) -> usize {
        self.fixed + self.entries.len()
    }

    /// κ; 0 where there is none.
    pub fn kappa(&self, theta: &[f64]) -> f64 {
        if self.dispersion { theta[self.kappa_at()] } else { 0.0 }
    }

    /// The triangular roots, term by term.
    pub fn roots(&self, theta: &[f64]) -> Vec<Matrix> {
        let mut roots: Vec<Matrix> = self.sizes.iter().map(|size| Matrix::zeros(*size, *size)).collect();
        for ((term, row, col), value) in self.entries.iter().zip(&theta[self.fixed..]) {
            roots[*term][(*row, *col)] = *value;
        }
        roots
    }
}
