//! Intervals of variances and correlations from the profile of the likelihood that was maximised.
//!
//! A value belongs to the interval where the best likelihood with that value held is no more than half the upper
//! quantile of chi-squared with one degree of freedom below the best of all. METHOD: at a bound (variance zero,
//! correlation one) that drop is asked for too, although half of the samples then reach it never (Self & Liang
//! 1987, J. Am. Stat. Assoc. 82:605–610): the limit holds the truth more often than `level` says, not less.
//!
//! Where the likelihood has several tops beside a held value, the profile followed is the one that leads back to the
//! fit. Where none can be followed, since another variance vanishes beside the held value, no interval is given.

mod climb;
mod limit;
mod space;

use crate::cannot_fit::CannotFit;
use crate::distributions::t_quantile;
use crate::freedom::{Natural, natural};
use crate::likelihood::{Likelihood, Point};
use crate::linear::Matrix;
use crate::model::{Criterion, Family};
use crate::notice::NoticeCode;
use crate::prepared::Prepared;
use crate::result::{Correlation, Fit, Interval, VarianceComponent};
use crate::standard::Standardised;
use limit::{Profile, Side};

/// Adds to `fit`, a fit of the prepared table's own response, the intervals of its variances, correlations and
/// autocorrelation, at the model's `level`. Each limit costs at most forty refits with one value held.
/// Variances estimated as zero have their upper limit named in their notice.
///
/// # Errors
/// [`CannotFit::NotFinite`] where the likelihood cannot be evaluated again.
pub fn variance_intervals(prepared: &mut Prepared, fit: &mut Fit) -> Result<(), CannotFit> {
    let model = prepared.model().clone();
    if model.family != Family::Normal {
        let text = "intervals of variances are found for the normal family only";
        fit.notices.push(NoticeCode::VarianceIntervals.says(text));
        return Ok(());
    }
    let not_finite = || CannotFit::NotFinite { place: "the profile of a variance".to_owned() };
    let response = prepared.response().to_vec();
    let standard = Standardised::new(prepared.design(), &response).ok_or_else(not_finite)?;
    prepared.fill(&standard.response);
    let design = prepared.design();
    let likelihood = Likelihood::new(design, &standard.response, model.criterion() == Criterion::Reml);
    let point = absolute(&likelihood, fit, standard.scale);
    let level = model.estimation.level;
    let drop = t_quantile(level, None).powi(2);
    let profile = Profile::new(&likelihood, point, drop).ok_or_else(not_finite)?;
    let intervals = Intervals { profile, unit: standard.scale };
    let parameters = natural(&likelihood, &intervals.profile.top);
    let mut variances = fit.variance_components.iter_mut();
    let mut correlations = fit.correlations.iter_mut().filter(|correlation| correlation.value.is_some());
    for parameter in parameters {
        let interval = intervals.of(parameter);
        match parameter {
            Natural::Variance { .. } | Natural::Stratum(_) => add(variances.next(), |one| one.interval = interval),
            Natural::Correlation { .. } => add(correlations.next(), |one| one.interval = interval),
            Natural::Rho => add(fit.serial.as_mut(), |one| one.interval = interval),
        }
    }
    name_limits(fit, level);
    Ok(())
}

fn add<T>(one: Option<&mut T>, set: impl FnOnce(&mut T)) {
    if let Some(one) = one {
        set(one);
    }
}

/// The fit's covariance in the units inside: response divided by `unit`, covariates by their scale.
fn absolute(likelihood: &Likelihood<'_>, fit: &Fit, unit: f64) -> Point {
    let mut variances = fit.variance_components.iter().map(|VarianceComponent { variance, .. }| variance / (unit * unit));
    let mut correlations = fit.correlations.iter().map(|Correlation { value, .. }| value.unwrap_or(0.0));
    let mut sigma = Vec::new();
    for term in &likelihood.design.terms {
        let k = term.coefficients.len();
        let mut own = Matrix::zeros(k, k);
        for (a, coefficient) in term.coefficients.iter().enumerate() {
            own[(a, a)] = variances.next().unwrap_or(0.0) * coefficient.scale * coefficient.scale;
            for b in 0..a {
                own[(a, b)] = correlations.next().unwrap_or(0.0) * (own[(a, a)] * own[(b, b)]).sqrt();
                own[(b, a)] = own[(a, b)];
            }
        }
        sigma.push(own);
    }
    let factor = sigma.iter().map(space::root).collect();
    Point { sigma, factor, strata: variances.collect(), rho: fit.serial.map_or(0.0, |serial| serial.correlation) }
}

struct Intervals<'l> {
    profile: Profile<'l>,
    unit: f64,
}

impl Intervals<'_> {
    /// The interval of one parameter in response units; `None` where the profile cannot be followed.
    fn of(&self, parameter: Natural) -> Option<Interval> {
        let low = self.profile.limit(parameter, Side::Low)?;
        let high = self.profile.limit(parameter, Side::High)?;
        let unit = self.in_response_units(parameter);
        Some(Interval { low: low.unwrap_or(0.0) * unit, high: high.map(|high| high * unit) })
    }

    fn in_response_units(&self, parameter: Natural) -> f64 {
        let square = self.unit * self.unit;
        match parameter {
            Natural::Variance { term, a } => {
                let scale = self.profile.likelihood.design.terms[term].coefficients[a].scale;
                square / (scale * scale)
            }
            Natural::Stratum(_) => square,
            _ => 1.0,
        }
    }
}

/// Replaces the notices of variances at zero by sentences with the upper limits.
fn name_limits(fit: &mut Fit, level: f64) {
    let code = NoticeCode::VarianceAtZero.code();
    let zeros: Vec<VarianceComponent> =
        fit.variance_components.iter().filter(|one| one.variance == 0.0 && one.effect.is_some()).cloned().collect();
    let mut zeros = zeros.into_iter();
    for notice in fit.notices.iter_mut().filter(|notice| notice.code == code) {
        let Some(one) = zeros.next() else { continue };
        let limit = one.interval.and_then(|interval| interval.high);
        let limit = limit.map_or_else(|| "no upper limit".to_owned(), |high| format!("upper {} % limit {}", 100.0 * level, rounded(high)));
        let effect = one.effect.filter(|effect| !effect.is_empty()).map_or(String::new(), |effect| format!(" of {}", effect.join(" × ")));
        let group = one.group.join(" × ");
        notice.text =
            format!("the variance{effect} between combinations of {group} is estimated as zero ({limit}); the term stays in the model");
    }
}

/// Two significant digits.
fn rounded(value: f64) -> String {
    if value == 0.0 || !value.is_finite() {
        return value.to_string();
    }
    let places = 1 - value.abs().log10().floor() as i32;
    if (-2..=6).contains(&places) { format!("{value:.*}", places.max(0) as usize) } else { format!("{value:.1e}") }
}
