//! The natural parameters of the covariance: variances as variances, correlations as correlations.

use crate::likelihood::{Element, Likelihood, Point};
use crate::linear::Matrix;

/// One natural parameter.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Natural {
    /// Variance of coefficient `a` of a random term.
    Variance {
        /// The random term.
        term: usize,
        /// The coefficient.
        a: usize,
    },
    /// Correlation of coefficients `a` > `b` of a random term.
    Correlation {
        /// The random term.
        term: usize,
        /// The later coefficient.
        a: usize,
        /// The earlier coefficient.
        b: usize,
    },
    /// Residual variance of a stratum.
    Stratum(usize),
    /// Autocorrelation.
    Rho,
}

/// The natural parameters at a point. A correlation with a zero variance does not exist and is left out.
pub fn natural(likelihood: &Likelihood<'_>, point: &Point) -> Vec<Natural> {
    let parameter = |element: &Element| match *element {
        Element::Random { term, a, b } if a == b => Some(Natural::Variance { term, a }),
        Element::Random { term, a, b } => {
            let sigma = &point.sigma[term];
            let exists = sigma[(a, a)] > 0.0 && sigma[(b, b)] > 0.0;
            exists.then_some(Natural::Correlation { term, a, b })
        }
        Element::Stratum(stratum) => Some(Natural::Stratum(stratum)),
        Element::Rho => Some(Natural::Rho),
    };
    likelihood.elements.iter().filter_map(parameter).collect()
}

/// ∂element/∂parameter, elements × parameters.
pub fn jacobian(point: &Point, elements: &[Element], parameters: &[Natural]) -> Matrix {
    Matrix::from_fn(elements.len(), parameters.len(), |e, p| slope(point, elements[e], parameters[p]))
}

fn slope(point: &Point, element: Element, parameter: Natural) -> f64 {
    match (element, parameter) {
        (Element::Random { term, a, b }, Natural::Variance { term: t, a: v }) if term == t => {
            let sigma = &point.sigma[term];
            if a == b {
                f64::from(u8::from(a == v))
            } else if (a == v || b == v) && sigma[(v, v)] > 0.0 {
                0.5 * sigma[(a, b)] / sigma[(v, v)]
            } else {
                0.0
            }
        }
        (Element::Random { term, a, b }, Natural::Correlation { term: t, a: u, b: v }) if term == t && a == u && b == v => {
            let sigma = &point.sigma[term];
            (sigma[(a, a)] * sigma[(b, b)]).sqrt()
        }
        (Element::Stratum(s), Natural::Stratum(t)) => f64::from(u8::from(s == t)),
        (Element::Rho, Natural::Rho) => 1.0,
        _ => 0.0,
    }
}

/// ∂²element/∂parameters: nil but for the covariance of correlated coefficients, ρ√(v v′).
pub fn curve(point: &Point, element: Element, one: Natural, other: Natural) -> f64 {
    let Element::Random { term, a, b } = element else { return 0.0 };
    if a == b {
        return 0.0;
    }
    let sigma = &point.sigma[term];
    let (va, vb, cov) = (sigma[(a, a)], sigma[(b, b)], sigma[(a, b)]);
    if !(va > 0.0 && vb > 0.0) {
        return 0.0;
    }
    let own = |parameter: Natural| match parameter {
        Natural::Variance { term: t, a: v } if t == term => match v {
            _ if v == a => Some(0),
            _ if v == b => Some(1),
            _ => None,
        },
        Natural::Correlation { term: t, a: u, b: v } if t == term && u == a && v == b => Some(2),
        _ => None,
    };
    match (own(one), own(other)) {
        (Some(0), Some(0)) => -0.25 * cov / (va * va),
        (Some(1), Some(1)) => -0.25 * cov / (vb * vb),
        (Some(0), Some(1)) | (Some(1), Some(0)) => 0.25 * cov / (va * vb),
        (Some(0), Some(2)) | (Some(2), Some(0)) => 0.5 * (vb / va).sqrt(),
        (Some(1), Some(2)) | (Some(2), Some(1)) => 0.5 * (va / vb).sqrt(),
        _ => 0.0,
    }
}

/// A parameter in words.
pub fn name(likelihood: &Likelihood<'_>, parameter: Natural) -> String {
    let design = likelihood.design;
    match parameter {
        Natural::Variance { term, .. } | Natural::Correlation { term, .. } => design.terms[term].group.join(" × "),
        Natural::Stratum(stratum) if design.residual.strata.len() > 1 => {
            format!("the residual at {}", design.residual.strata[stratum])
        }
        Natural::Stratum(_) => "the residual".to_owned(),
        Natural::Rho => "the autocorrelation".to_owned(),
    }
}
