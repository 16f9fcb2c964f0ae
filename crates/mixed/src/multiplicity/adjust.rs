//! p values and intervals of a family of differences, adjusted for their number.

use serde::{Deserialize, Serialize};
use std::f64::consts::SQRT_2;

use super::max_abs::MaxAbs;
use super::range::{studentized_range_quantile, studentized_range_upper};
use super::scale::t_two_sided_quantile;

/// How a family of differences is adjusted.
///
/// # Source
/// Šidák (1967), Journal of the American Statistical Association 62:626–633; Holm (1979),
/// Scandinavian Journal of Statistics 6:65–70; Kramer (1956), Biometrics 12:307–310, for
/// the studentized range with unequal standard errors; Dunnett (1955), Journal of the American
/// Statistical Association 50:1096–1121; Hothorn, Bretz & Westfall (2008), Biometrical
/// Journal 50:346–363, for the joint distribution.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Adjust {
    /// Each difference by itself.
    None,
    /// p times the number of differences.
    Bonferroni,
    /// As for independent differences: 1 − (1 − p)ᵐ.
    Sidak,
    /// Bonferroni step by step from the smallest p; has no interval.
    Holm,
    /// The studentized range of the means.
    Tukey,
    /// Comparisons with a control: the same as `Joint`.
    Dunnett,
    /// The largest of the differences in their joint distribution.
    Joint,
}

/// A difference as tested by itself.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Compared {
    /// Estimate divided by its standard error.
    pub t: f64,
    /// Its own degrees of freedom; `None` for the normal distribution.
    pub df: Option<f64>,
    /// Its two-sided p value.
    pub p: f64,
}

/// A difference as a member of its family.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Adjusted {
    /// Adjusted two-sided p value.
    pub p: f64,
    /// The adjusted interval is estimate ± multiplier·se; `None` where there is none.
    pub multiplier: Option<f64>,
}

/// Adjusts the differences of one family, in their order. Each uses its own degrees of
/// freedom.
///
/// * `level`: simultaneous coverage of the intervals, for example 0.95
/// * `means`: the means compared; counts for `Tukey`
/// * `correlation`: of the differences, m × m row by row; counts for `Dunnett` and `Joint`,
///   where p and multiplier are NaN unless it is m × m, finite and of positive diagonal
pub fn adjust(family: &[Compared], method: Adjust, level: f64, means: usize, correlation: &[f64]) -> Vec<Adjusted> {
    let count = family.len() as f64;
    let alpha = 1.0 - level;
    match method {
        Adjust::None => each(family, |one| one.p, |df| t_two_sided_quantile(alpha, df)),
        Adjust::Bonferroni => each(family, |one| at_most_one(count * one.p), |df| t_two_sided_quantile(alpha / count, df)),
        Adjust::Sidak => {
            each(family, |one| -(count * (-one.p).ln_1p()).exp_m1(), |df| t_two_sided_quantile(-(level.ln() / count).exp_m1(), df))
        }
        Adjust::Holm => holm(family),
        Adjust::Tukey => each(
            family,
            |one| studentized_range_upper(one.t.abs() * SQRT_2, means, one.df),
            |df| studentized_range_quantile(level, means, df) / SQRT_2,
        ),
        Adjust::Dunnett | Adjust::Joint => joint(family, level, correlation),
    }
}

fn joint(family: &[Compared], level: f64, correlation: &[f64]) -> Vec<Adjusted> {
    let fits = correlation.len() == family.len() * family.len();
    match MaxAbs::new(correlation).filter(|_| fits) {
        Some(largest) => each(family, |one| largest.upper(one.t.abs(), one.df), |df| largest.quantile(level, df)),
        None => each(family, |_| f64::NAN, |_| f64::NAN),
    }
}

/// p of each difference; the multiplier of equal degrees of freedom is computed once.
fn each(family: &[Compared], p: impl Fn(&Compared) -> f64, multiplier: impl Fn(Option<f64>) -> f64) -> Vec<Adjusted> {
    let mut known: Vec<(Option<u64>, f64)> = Vec::new();
    let mut multiplier_of = |df: Option<f64>| {
        let key = df.map(f64::to_bits);
        if let Some((_, found)) = known.iter().find(|(other, _)| *other == key) {
            return *found;
        }
        let found = multiplier(df);
        known.push((key, found));
        found
    };
    let adjusted = |one: &Compared| Adjusted { p: p(one), multiplier: Some(multiplier_of(one.df)) };
    family.iter().map(adjusted).collect()
}

/// From the smallest p on: times the number of differences not yet passed, and never
/// smaller than the one before.
fn holm(family: &[Compared]) -> Vec<Adjusted> {
    let mut order: Vec<(usize, f64)> = family.iter().enumerate().map(|(index, one)| (index, one.p)).collect();
    order.sort_by(|a, b| a.1.total_cmp(&b.1));
    let mut adjusted = vec![Adjusted { p: f64::NAN, multiplier: None }; family.len()];
    let mut largest: f64 = 0.0;
    for (passed, (index, p)) in order.into_iter().enumerate() {
        largest = largest.max((family.len() - passed) as f64 * p);
        if let Some(place) = adjusted.get_mut(index).filter(|_| !p.is_nan()) {
            place.p = largest.min(1.0);
        }
    }
    adjusted
}

/// Not `min`, which would turn a NaN into 1.
fn at_most_one(p: f64) -> f64 {
    if p > 1.0 { 1.0 } else { p }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn family(p: &[f64]) -> Vec<Compared> {
        p.iter().map(|p| Compared { t: 0.0, df: None, p: *p }).collect()
    }

    fn p_of(method: Adjust, p: &[f64]) -> Vec<f64> {
        adjust(&family(p), method, 0.95, 4, &[]).iter().map(|one| one.p).collect()
    }

    fn assert_close(found: &[f64], expected: &[f64], tolerance: f64) {
        assert_eq!(found.len(), expected.len());
        for (found, expected) in found.iter().zip(expected) {
            assert!((found - expected).abs() < tolerance, "{found} is not {expected}");
        }
    }

    const FOUR: [f64; 4] = [0.010, 0.020, 0.030, 0.040];

    #[test]
    fn bonferroni_of_four_is_four_times_p() {
        assert_close(&p_of(Adjust::Bonferroni, &FOUR), &[0.04, 0.08, 0.12, 0.16], 1e-15);
        assert_close(&p_of(Adjust::Bonferroni, &[0.6, 0.7]), &[1.0, 1.0], 0.0_f64.next_up());
    }

    #[test]
    fn holm_steps_down_and_never_falls() {
        // 4·0.01, 3·0.02, then 2·0.03 and 1·0.04 raised to 0.06.
        assert_close(&p_of(Adjust::Holm, &FOUR), &[0.04, 0.06, 0.06, 0.06], 1e-15);
        assert_close(&p_of(Adjust::Holm, &[0.04, 0.01, 0.03, 0.02]), &[0.06, 0.04, 0.06, 0.06], 1e-15);
    }

    #[test]
    fn sidak_of_four_is_one_less_the_fourth_power() {
        // 1 − (1 − p)⁴, six decimals by hand.
        let expected = [0.039404, 0.077632, 0.114707, 0.150653];
        assert_close(&p_of(Adjust::Sidak, &FOUR), &expected, 1e-6);
        assert_close(&p_of(Adjust::Sidak, &[1e-17; 2]), &[2e-17; 2], 1e-30);
    }

    #[test]
    fn holm_has_no_interval() {
        let adjusted = adjust(&family(&FOUR), Adjust::Holm, 0.95, 4, &[]);
        assert!(adjusted.iter().all(|one| one.multiplier.is_none()));
    }

    #[test]
    fn an_interval_excludes_zero_just_when_its_p_is_below_alpha() {
        let correlation = [1.0, 0.5, 0.5, 0.5, 1.0, 0.5, 0.5, 0.5, 1.0];
        use Adjust::*;
        for method in [Adjust::None, Bonferroni, Sidak, Tukey, Dunnett, Joint] {
            for df in [Some(4.2), Some(30.0), Option::None] {
                let compared = |t| Compared { t, df, p: super::super::scale::t_two_sided(t, df) };
                let probe: Vec<Compared> = [1.0, 2.0, 3.0].map(compared).to_vec();
                let edge = adjust(&probe, method, 0.9, 3, &correlation)[0].multiplier.unwrap();
                let at_edge: Vec<Compared> = [edge; 3].map(compared).to_vec();
                let p = adjust(&at_edge, method, 0.9, 3, &correlation)[0].p;
                assert!((p - 0.1).abs() < 1e-9, "{method:?} {df:?}: {p}");
            }
        }
    }

    #[test]
    fn each_difference_uses_its_own_degrees_of_freedom() {
        let one = |df| Compared { t: 2.5, df, p: 0.02 };
        let adjusted = adjust(&[one(Some(5.0)), one(Some(50.0))], Adjust::Joint, 0.95, 3, &[1.0, 0.3, 0.3, 1.0]);
        assert!(adjusted[0].p > adjusted[1].p);
        assert!(adjusted[0].multiplier > adjusted[1].multiplier);
    }

    #[test]
    fn a_missing_p_stays_missing_and_a_wrong_correlation_gives_none() {
        for method in [Adjust::None, Adjust::Bonferroni, Adjust::Sidak, Adjust::Holm] {
            assert!(p_of(method, &[0.1, f64::NAN])[1].is_nan());
        }
        assert!(p_of(Adjust::Joint, &[0.1, 0.2])[0].is_nan());
        assert!(adjust(&[], Adjust::Joint, 0.95, 0, &[]).is_empty());
    }

    #[test]
    fn methods_are_read_by_their_lowercase_names() {
        let names = ["none", "bonferroni", "sidak", "holm", "tukey", "dunnett", "joint"];
        for name in names {
            let method: Adjust = serde_json::from_str(&format!("\"{name}\"")).unwrap();
            assert_eq!(serde_json::to_string(&method).unwrap(), format!("\"{name}\""));
        }
    }
}
