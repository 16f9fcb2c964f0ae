//! A second search that uses no derivatives, for when the first leaves a doubt.

use bobyqa::{Bobyqa, Config};

use super::parameters::{Parameter, Parameters};
use crate::likelihood::Likelihood;

/// The best values found by a derivative-free search from `start`.
pub fn second_search(likelihood: &Likelihood<'_>, parameters: &Parameters, start: &[f64]) -> Option<Vec<f64>> {
    let n = parameters.all.len();
    let mut config = Config::new(n);
    config.npt = (2 * n + 1).min((n + 1) * (n + 2) / 2).max(n + 2);
    config.rho_begin = 0.5;
    config.rho_end = 1e-9;
    config.max_fun = 2000 * n + config.npt + 1;
    let mut solver = Bobyqa::new(n, config).ok()?;
    // Variances are searched as standard deviations, whose scale is that of the trust region.
    let mut x: Vec<f64> = (0..n).map(|index| inward(parameters, index, start[index])).collect();
    let bounds: Vec<(f64, f64)> = (0..n).map(|index| bound(parameters, index)).collect();
    let (low, high): (Vec<f64>, Vec<f64>) = bounds.into_iter().unzip();
    let objective = |x: &[f64]| {
        let values: Vec<f64> = x.iter().enumerate().map(|(i, x)| outward(parameters, i, *x)).collect();
        likelihood.first(&parameters.point(&values)).map_or(f64::INFINITY, |first| -first.value)
    };
    let outcome = solver.minimize(objective, &mut x, &low, &high);
    outcome.found_finite().then(|| x.iter().enumerate().map(|(i, x)| outward(parameters, i, *x)).collect())
}

fn inward(parameters: &Parameters, index: usize, value: f64) -> f64 {
    let (low, high) = bound(parameters, index);
    let value = if matches!(parameters.all[index], Parameter::Variance { .. }) { value.sqrt() } else { value };
    value.clamp(low, high)
}

fn outward(parameters: &Parameters, index: usize, value: f64) -> f64 {
    if matches!(parameters.all[index], Parameter::Variance { .. }) { value * value } else { value }
}

fn bound(parameters: &Parameters, index: usize) -> (f64, f64) {
    let (low, high) = parameters.range(index);
    if matches!(parameters.all[index], Parameter::Variance { .. }) { (0.0, high.sqrt()) } else { (low, high) }
}
