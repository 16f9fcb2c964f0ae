//! The studentized range of k independent means.

use std::collections::BTreeMap;
use std::f64::consts::SQRT_2;
use std::sync::{Arc, PoisonError, RwLock};

use super::normal;
use super::root::falling_root_near;
use super::scale::{quantile, sum_until_negligible, t_density, t_two_sided_quantile, upper_tail};
use super::tabulated::{NormalTail, Tabulated};

/// Step of the trapezoidal rule in the largest deviate, whose density narrows with the number of means.
fn step(groups: usize) -> f64 {
    if groups <= MANY { 0.16 } else { 0.08 }
}

/// Above this number of means the finer step is taken.
const MANY: usize = 30;

/// Up to this q the tail is a number above zero, whatever the degrees of freedom.
const SURELY_POSITIVE: f64 = 30.0;

/// The range of `groups` independent standard normal deviates.
struct NormalRange {
    groups: usize,
}

impl NormalTail for NormalRange {
    /// P(range > w) = k ∫ φ(z) {Φ(z)ᵏ⁻¹ − [Φ(z) − Φ(z−w)]ᵏ⁻¹} dz, z being the largest.
    ///
    /// The braces are Φ(z)ᵏ⁻¹ times 1 − (1 − Φ(z−w)/Φ(z))ᵏ⁻¹, positive throughout and
    /// written so that small tails lose no digits.
    fn upper(&self, w: f64) -> f64 {
        let (others, step) = (self.groups as f64 - 1.0, step(self.groups));
        let term = |index: i64| {
            let z = 0.5 * w + step * index as f64;
            let below = normal::lower(z);
            if below <= 0.0 {
                return 0.0;
            }
            let outside = -(others * (-normal::lower(z - w) / below).ln_1p()).exp_m1();
            normal::density(z) * below.powf(others) * outside
        };
        let sum = sum_until_negligible(&term, 0, 1, 0.0);
        (step * self.groups as f64 * sum_until_negligible(&term, -1, -1, sum)).min(1.0)
    }

    fn decay(&self) -> f64 {
        0.5
    }
}

/// The table for `groups` means, made once in a process.
fn tabulated(groups: usize) -> Arc<Tabulated<NormalRange>> {
    static TABLES: RwLock<BTreeMap<usize, Arc<Tabulated<NormalRange>>>> = RwLock::new(BTreeMap::new());
    let known = TABLES.read().unwrap_or_else(PoisonError::into_inner).get(&groups).cloned();
    known.unwrap_or_else(|| {
        let mut tables = TABLES.write().unwrap_or_else(PoisonError::into_inner);
        let fresh = || Arc::new(Tabulated::new(NormalRange { groups }));
        Arc::clone(tables.entry(groups).or_insert_with(fresh))
    })
}

/// P(Q > q): upper tail of the studentized range, the range of `groups` independent
/// means in units of the estimated standard error of one mean.
///
/// * `q`: in those units; 1 is returned for q ≤ 0
/// * `groups`: at least 2, else NaN
/// * `df`: degrees of freedom of the standard error, positive, whole or not; `None` is a
///   known standard error
///
/// Relative error below 1e-9 down to tails of 1e-10 and beyond.
///
/// # Source
/// The double integral as in Harter (1960), Annals of Mathematical Statistics
/// 31:1122–1147, written for the tail instead of its complement.
pub fn studentized_range_upper(q: f64, groups: usize, df: Option<f64>) -> f64 {
    if groups < 2 {
        return f64::NAN;
    }
    // Bonferroni's bound: where it is no number above zero, neither is the tail.
    let pairs = 0.5 * groups as f64 * (groups as f64 - 1.0);
    if q > SURELY_POSITIVE && pairs * crate::distributions::t_two_sided(q / SQRT_2, df) == 0.0 {
        return 0.0;
    }
    let table = tabulated(groups);
    upper_tail(q, df, table.exact.decay(), |w| table.exact.upper(w), |w| table.upper(w))
}

/// The q that the studentized range stays below with probability `level` (for example
/// 0.95). NaN for fewer than 2 groups or degrees of freedom that are not positive.
///
/// Bonferroni's bound is near it where `level` is high.
pub fn studentized_range_quantile(level: f64, groups: usize, df: Option<f64>) -> f64 {
    if groups < 2 {
        return f64::NAN;
    }
    let alpha = 1.0 - level;
    let pairs = 0.5 * groups as f64 * (groups as f64 - 1.0);
    quantile(alpha, df, || {
        if groups == 2 {
            return SQRT_2 * t_two_sided_quantile(alpha, df);
        }
        let bonferroni = t_two_sided_quantile(alpha / pairs, df);
        let slope = -2.0 * t_density(bonferroni, df) * pairs / (alpha * SQRT_2);
        falling_root_near(|q| studentized_range_upper(q, groups, df), alpha, SQRT_2 * bonferroni, slope)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::multiplicity::scale::t_two_sided;

    #[test]
    fn range_of_two_means_is_student_t_times_root_two() {
        for df in [Some(1.0), Some(2.0), Some(7.25), Some(120.0), None] {
            for t in [0.1, 1.0, 3.0, 8.0, 20.0] {
                let ratio = studentized_range_upper(t * SQRT_2, 2, df) / t_two_sided(t, df);
                assert!((ratio - 1.0).abs() < 1e-11 || ratio.is_nan(), "{df:?} {t}: {ratio}");
            }
        }
    }

    #[test]
    fn q_of_four_means_and_20_degrees_of_freedom_is_3_95829() {
        // Harter (1960) gives 3.958; the further digits are common to printed tables.
        assert!((studentized_range_quantile(0.95, 4, Some(20.0)) - 3.95829).abs() < 1e-5);
        assert!((studentized_range_quantile(0.95, 3, Some(10.0)) - 3.87678).abs() < 1e-5);
        assert!((studentized_range_quantile(0.95, 5, Some(30.0)) - 4.10208).abs() < 1e-5);
    }

    #[test]
    fn the_tail_falls_with_q_and_rises_with_the_number_of_means() {
        for df in [Some(1.0), Some(9.0), None] {
            let mut before = 1.0;
            for step in 1..60 {
                let q = 0.25 * f64::from(step);
                let here = studentized_range_upper(q, 5, df);
                assert!(here < before && here < studentized_range_upper(q, 6, df));
                before = here;
            }
        }
    }

    #[test]
    fn a_quantile_turns_its_tail_back_for_few_and_for_many_means() {
        for groups in [2, 3, 10, 100, 300] {
            for df in [Some(1.0), Some(3.5), Some(40.0), Some(1e6), None] {
                for level in [0.05, 0.5, 0.95, 0.999] {
                    let q = studentized_range_quantile(level, groups, df);
                    let ratio = studentized_range_upper(q, groups, df) / (1.0 - level);
                    assert!((ratio - 1.0).abs() < 1e-10, "{groups} {df:?} {level}: {ratio}");
                }
            }
        }
    }

    #[test]
    fn one_mean_has_no_range() {
        assert!(studentized_range_upper(1.0, 1, None).is_nan());
        assert!(studentized_range_quantile(0.95, 0, Some(3.0)).is_nan());
        assert_eq!(studentized_range_upper(-1.0, 3, Some(3.0)), 1.0);
        assert_eq!(studentized_range_quantile(1.0, 3, None), f64::INFINITY);
    }
}
