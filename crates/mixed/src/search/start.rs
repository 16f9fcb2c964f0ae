//! Where the search begins: moments of the response.

use super::moments;
use super::parameters::{LARGEST_RHO, Parameter, Parameters};
use crate::design::{Design, RandomTerm};

/// The range of a starting variance relative to the residual's, off the bounds.
const LEAST: f64 = 0.05;
const MOST: f64 = 100.0;

/// Starting values from a response that has mean square 1 and no fixed part.
pub fn start(design: &Design, parameters: &Parameters, response: &[f64]) -> Vec<f64> {
    if let Some(ratios) = moments::ratios(design) {
        return ratios.iter().map(|ratio| ratio.clamp(LEAST, MOST)).collect();
    }
    let shares: Vec<Vec<f64>> = design.terms.iter().map(|term| shares(term, response)).collect();
    let total: f64 = shares.iter().flatten().sum();
    let rest = (1.0 - total).max(0.1);
    let strata = strata(design, response);
    let value = |parameter: &Parameter| match *parameter {
        Parameter::Variance { term } => shares[term][0] / rest,
        Parameter::Root { term, row, col } if row == col => (shares[term][row] / rest).sqrt(),
        Parameter::Root { .. } => 0.0,
        Parameter::LogVariance { stratum } => strata[stratum],
        Parameter::Rho => rho(design, response),
    };
    parameters.all.iter().map(value).collect()
}

/// For each coefficient the share of the mean square that its levels seem to hold, kept off the bounds.
fn shares(term: &RandomTerm, response: &[f64]) -> Vec<f64> {
    let share = |values: &Option<Vec<f64>>| {
        let mut sums = vec![(0.0, 0.0); term.levels];
        for (row, y) in response.iter().enumerate() {
            let x = values.as_ref().map_or(1.0, |values| values[row]);
            let (xy, xx) = &mut sums[term.codes[row] as usize];
            *xy += x * y;
            *xx += x * x;
        }
        let between: f64 = sums.iter().filter(|(_, xx)| *xx > 0.0).map(|(xy, xx)| xy * xy / xx).sum();
        let size: f64 = sums.iter().map(|(_, xx)| xx).sum();
        let (levels, rest) = (term.levels as f64, size - term.levels as f64);
        let share = if rest > 0.0 { (between - levels) / rest } else { 0.0 };
        share.clamp(0.05, 0.8)
    };
    term.coefficients.iter().map(|coefficient| share(&coefficient.values)).collect()
}

/// log of each stratum's mean square relative to the whole.
fn strata(design: &Design, response: &[f64]) -> Vec<f64> {
    let mut squares = vec![0.0; design.residual.counts.len()];
    for (stratum, y) in design.residual.stratum.iter().zip(response) {
        squares[*stratum as usize] += y * y;
    }
    let mean = |(square, count): (&f64, &usize)| (square / *count as f64).clamp(0.05, 20.0).ln();
    squares.iter().zip(&design.residual.counts).map(mean).collect()
}

/// atanh ρ from the products of successive records.
fn rho(design: &Design, response: &[f64]) -> f64 {
    let Some(series) = &design.residual.series else { return 0.0 };
    let (mut products, mut squares, mut gaps, mut pairs) = (0.0, 0.0, 0.0, 0.0_f64);
    for (rows, places) in series.rows.iter().zip(&series.places) {
        for (pair, place) in rows.windows(2).zip(places.windows(2)) {
            let (a, b) = (response[pair[0]], response[pair[1]]);
            products += a * b;
            squares += 0.5 * (a * a + b * b);
            gaps += (place[1] - place[0]) as f64;
            pairs += 1.0;
        }
    }
    if squares == 0.0 {
        return 0.1;
    }
    let correlation: f64 = products / squares;
    let odd = series.gaps.keys().any(|gap| gap % 2 != 0);
    let rho = if correlation > 0.0 {
        correlation.powf(pairs / gaps).clamp(0.05, 0.995)
    } else if odd {
        correlation.clamp(-0.5, -0.05)
    } else {
        0.05
    };
    rho.atanh().clamp(-LARGEST_RHO, LARGEST_RHO)
}
