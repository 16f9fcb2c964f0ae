//! Profile intervals of variances and correlations: each limit against the plain dense likelihood, climbed anew with
//! that value held, and against published software's limits on public data.
#![allow(clippy::unwrap_used, clippy::panic, clippy::print_stdout)]

mod against;
mod dense;

use std::collections::BTreeMap;

use crosshouse_mixed::{Criterion, Fit, Interval, Prepared, variance_intervals};
use dense::covariance::{Parameter, Structure, Values, term_of};
use dense::draw::{Drawn, draw};
use dense::frame::Frame;
use dense::likelihood::{Climb, value, with};

/// The upper 5 % point of chi-squared with one degree of freedom (Abramowitz & Stegun 1964, table 26.8, gives 3.84146).
const DROP: f64 = 3.841_458_820_694_124;

fn interval(fit: &Fit, parameter: Parameter, structure: &Structure) -> Option<Interval> {
    let before = |term: usize| structure.terms[..term].iter().map(|term| term.coefficients).sum::<usize>();
    let pairs = |term: usize| structure.terms[..term].iter().map(|t| t.coefficients * (t.coefficients - 1) / 2).sum::<usize>();
    let random = before(structure.terms.len());
    match parameter {
        Parameter::Variance { term, a } => fit.variance_components[before(term) + a].interval,
        Parameter::Stratum(stratum) => fit.variance_components[random + stratum].interval,
        Parameter::Correlation { term, a, b } => fit.correlations[pairs(term) + a * (a - 1) / 2 + b].interval,
        Parameter::Rho => fit.serial.unwrap().interval,
        Parameter::Root { .. } => None,
    }
}

/// Twice the fall to the tops that the dense likelihood has with `parameter` held at `at`.
fn falls(climb: &Climb<'_>, top: &Values, parameter: Parameter, at: f64) -> Option<Vec<f64>> {
    let held = with(top, parameter, at)?;
    let free: Vec<Parameter> = match parameter {
        // Within a term of several coefficients the held value leaves the others as they are called.
        Parameter::Variance { term, .. } | Parameter::Correlation { term, .. } if held.sigma[term].len() > 1 => {
            let own = climb.structure.natural(&held).into_iter().filter(|one| term_of(*one) == Some(term));
            own.chain(climb.parameters().into_iter().filter(|one| term_of(*one) != Some(term))).collect()
        }
        _ => climb.parameters(),
    };
    let free: Vec<Parameter> = free.into_iter().filter(|one| *one != parameter).collect();
    // Further starts, the coefficients less or oppositely correlated, the records less: the plain climb stops at covariances without full rank.
    let starts = [(1.0, 1.0), (0.6, 0.5), (0.2, 1.2), (-0.5, 0.1)].map(|(share, autocorrelation)| {
        let mut start = held.clone();
        start.rho *= if parameter == Parameter::Rho { 1.0 } else { autocorrelation };
        for sigma in start.sigma.iter_mut().filter(|sigma| sigma.len() > 1) {
            let keeps = matches!(parameter, Parameter::Correlation { .. });
            (0..sigma.len()).for_each(|a| (0..sigma.len()).filter(|b| *b != a && !keeps).for_each(|b| sigma[a][b] *= share));
        }
        start
    });
    let tops: Vec<Values> = starts.into_iter().map(|start| climb.top(start, &free)).collect();
    // Beside the held value a residual variance may vanish, and the likelihood rise without end.
    if tops.iter().any(|best| best.strata.iter().zip(&top.strata).any(|(best, top)| *best < 1e-3 * top)) {
        return None;
    }
    let fall = |best: &Values| 2.0 * (climb.at(top).log_likelihood - climb.at(best).log_likelihood);
    Some(tops.iter().map(fall).collect())
}

/// Limits checked and their worst disagreement, by kind.
fn check(drawn: &Drawn, seed: u64, seen: &mut BTreeMap<&'static str, (usize, f64)>, faults: &mut Vec<String>) -> Option<()> {
    let mut prepared = Prepared::new(&drawn.table, &drawn.model).ok()?;
    let (mut fit, _) = prepared.fit().ok()?;
    if fit.notices.iter().any(|notice| notice.code.ends_with("at-edge") || notice.code == "variance-at-zero") {
        return None;
    }
    variance_intervals(&mut prepared, &mut fit).unwrap();
    let frame = Frame::new(&drawn.model, &drawn.table);
    let structure = Structure::new(&frame);
    let restricted = drawn.model.criterion() == Criterion::Reml;
    let climb = Climb { structure: &structure, x: frame.x_kept(), y: frame.y(), restricted };
    let top = structure.reported(&fit);
    for parameter in structure.natural(&top) {
        let Some(Interval { low, high }) = interval(&fit, parameter, &structure) else {
            seen.entry("not followed").or_default().0 += 1;
            continue;
        };
        // Three coefficients' correlations bound one another: the plain climb has no way to stay inside.
        if structure.terms.iter().any(|term| term.coefficients > 2) {
            continue;
        }
        let (kind, edge) = match parameter {
            Parameter::Variance { .. } => ("variance", 0.0),
            Parameter::Stratum(_) => ("residual variance", 0.0),
            Parameter::Correlation { .. } => ("correlation", -1.0),
            _ => ("autocorrelation", -1.0),
        };
        for at in [Some(low), high].into_iter().flatten().filter(|at| *at != edge && at.abs() != 1.0) {
            let Some(falls) = falls(&climb, &top, parameter, at) else {
                seen.entry("without end").or_default().0 += 1;
                continue;
            };
            // Where the likelihood has several tops beside the held value, the limit belongs to the one that leads back.
            let off = falls.iter().map(|fall| (fall - DROP).abs()).fold(f64::INFINITY, f64::min);
            seen.entry("another top is higher").or_default().0 += usize::from(falls.iter().any(|fall| *fall < DROP - 1e-5));
            let one = seen.entry(kind).or_default();
            *one = (one.0 + 1, one.1.max(off));
            if off > 1e-5 {
                faults.push(format!(
                    "seed {seed}: {parameter:?} of {} at {at}: the dense likelihood falls by {falls:?}",
                    value(&top, parameter)
                ));
            }
        }
    }
    Some(())
}

#[test]
fn at_every_limit_the_dense_likelihood_has_fallen_by_half_of_chi_squared() {
    let (mut seen, mut faults) = (BTreeMap::new(), Vec::new());
    let mut done = 0;
    for seed in 1..2500 {
        let drawn = draw(seed);
        // Correlations off their edges are rare: designs that have them are drawn on.
        let correlations: usize = seen.get("correlation").map_or(0, |(count, _)| *count);
        if done >= 30 && (correlations >= 12 || !drawn.kinds.contains(&"two correlated coefficients")) {
            continue;
        }
        done += usize::from(check(&drawn, seed, &mut seen, &mut faults).is_some());
    }
    println!("{done} designs: {seen:?}");
    // Residual variances that vanish beside a held value leave no profile to follow; the interval is then left out.
    let mut rare = |kind: &str, most: usize| seen.remove(kind).is_none_or(|(count, _)| count < most);
    assert!(rare("not followed", 8) && rare("without end", 8) && rare("another top is higher", 20));
    assert!(seen.len() == 4 && seen.values().all(|(count, _)| *count >= 12), "{seen:?}");
    assert!(faults.is_empty(), "{} limits:\n{}", faults.len(), faults.join("\n"));
}

/// Limits as standard deviations squared, and correlations, of published software on public data, to the digits
/// that its default spacing of profile points bears.
///
/// R 4.2.2, lme4 1.1-31, `confint(lmer(…, REML = FALSE), parm = "theta_", method = "profile")`; that software profiles the
/// full likelihood whatever was fitted. Data: Dyestuff and Dyestuff2 (Davies & Goldsmith 1972; Box & Tiao 1973), Pastes
/// (Davies & Goldsmith 1972), Penicillin (Davies & Goldsmith 1972), sleepstudy (Belenky et al. 2003), as shipped with it.
fn published(case: &str, limits: &[(f64, f64)], relative: f64) {
    let mut model = against::model(case);
    model.estimation.criterion = Some(Criterion::Ml);
    let mut prepared = Prepared::new(&against::table(case, &model), &model).unwrap();
    let (mut fit, _) = prepared.fit().unwrap();
    variance_intervals(&mut prepared, &mut fit).unwrap();
    let variances = fit.variance_components.iter().map(|component| component.interval);
    let found: Vec<Interval> = variances.chain(fit.correlations.iter().map(|one| one.interval)).map(Option::unwrap).collect();
    assert_eq!(found.len(), limits.len());
    for (found, (low, high)) in found.iter().zip(limits) {
        assert!((found.low - low).abs() <= relative * low.abs().max(1e-12), "{case}: {found:?} for {low} to {high}");
        assert!((found.high.unwrap() - high).abs() <= relative * high.abs(), "{case}: {found:?} for {low} to {high}");
    }
}

#[test]
fn intervals_of_one_grouping_agree() {
    published("one-way-random", &[(148.804261, 7066.595822), (1461.531744, 4577.563861)], 1e-3);
}

#[test]
fn a_variance_at_zero_has_its_upper_limit() {
    published("one-way-zero-variance", &[(0.0, 4.343237), (8.368471, 23.192243)], 1e-3);
}

#[test]
fn intervals_of_crossed_groups_agree() {
    published("crossed-groups", &[(0.401406, 1.397370), (1.200754, 12.647211), (0.236046, 0.396212)], 1e-3);
}

#[test]
fn intervals_of_nested_groups_agree() {
    published("nested-groups", &[(0.0, 8.682400), (4.656678, 16.431582), (0.425134, 1.178198)], 1e-3);
}

#[test]
fn intervals_of_correlated_coefficients_agree() {
    let squared = |(low, high): (f64, f64)| (low * low, high * high);
    let spreads = [(14.381385, 37.716050), (3.801180, 8.753384), (22.898257, 28.857999)].map(squared);
    published("random-slopes", &[spreads[0], spreads[1], spreads[2], (-0.481493, 0.685019)], 2e-3);
}
