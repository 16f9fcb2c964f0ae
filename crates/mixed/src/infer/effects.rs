//! Which contrasts of an effect can be estimated, and their marginal test.
//!
//! An effect inside a larger one is tested only if all its contrasts can be estimated; one inside no
//! other is tested on those that can.

use super::Fixed;
use super::reason::{one_level, reason};
use crate::design::{Coding, Term};
use crate::freedom::Inference;
use crate::linear::{Matrix, dot};
use crate::notice::{Notice, NoticeCode};
use crate::result::{EffectTest, NotEstimable};

/// The estimable contrasts of an effect over all fixed-effect columns, or why there are none.
pub fn contrasts(fixed: &Fixed<'_>, term: &Term) -> Result<Vec<Vec<f64>>, String> {
    if term.len == 0 {
        return Err(one_level(fixed.table, term));
    }
    let all: Vec<Vec<f64>> = term.columns().map(|column| own_contrast(fixed.coding, column)).collect();
    let Some(bad) = all.iter().find(|contrast| !fixed.rank.is_estimable(contrast)) else { return Ok(all) };
    let why = || reason(fixed.coding, fixed.rank, fixed.table, bad, &term.effect);
    if fixed.coding.terms.iter().any(|other| term.is_inside(other)) {
        return Err(why());
    }
    let left = estimable_part(fixed, &all);
    if left.is_empty() { Err(why()) } else { Ok(left) }
}

/// The weights that give the coefficient of one column, covariates as measured.
fn own_contrast(coding: &Coding, column: usize) -> Vec<f64> {
    let mut contrast = vec![0.0; coding.columns()];
    coding.raw_weights(column).into_iter().for_each(|(other, weight)| contrast[other] = weight);
    contrast
}

/// A basis of the combinations of `all` that no dependency reaches.
fn estimable_part(fixed: &Fixed<'_>, all: &[Vec<f64>]) -> Vec<Vec<f64>> {
    let reach: Vec<Vec<f64>> = all.iter().map(|contrast| fixed.rank.reach(contrast)).collect();
    let directions = fixed.rank.null.len();
    let columns: Vec<Vec<f64>> = (0..directions).map(|d| reach.iter().map(|row| row[d]).collect()).collect();
    // Orthonormal basis of what is reached, then of its complement, by elimination of unit vectors.
    let mut basis: Vec<Vec<f64>> = Vec::new();
    columns.iter().for_each(|column| {
        extend(&mut basis, column.clone());
    });
    let reached = basis.len();
    for index in 0..all.len() {
        let mut unit = vec![0.0; all.len()];
        unit[index] = 1.0;
        extend(&mut basis, unit);
    }
    let combine = |weights: &Vec<f64>| {
        let mut total = vec![0.0; all[0].len()];
        for (weight, contrast) in weights.iter().zip(all) {
            crate::linear::axpy(&mut total, *weight, contrast);
        }
        total
    };
    basis[reached..].iter().map(combine).collect()
}

/// Adds what of `vector` is outside the basis, if more than rounding.
fn extend(basis: &mut Vec<Vec<f64>>, mut vector: Vec<f64>) {
    let before = dot(&vector, &vector).sqrt();
    for _ in 0..2 {
        for unit in basis.iter() {
            let share = dot(unit, &vector);
            crate::linear::axpy(&mut vector, -share, unit);
        }
    }
    let length = dot(&vector, &vector).sqrt();
    if length > 1e-8 * before && length > 0.0 {
        vector.iter_mut().for_each(|x| *x /= length);
        basis.push(vector);
    }
}

/// The marginal tests of all effects.
pub fn tests(fixed: &Fixed<'_>, inference: &Inference, notices: &mut Vec<Notice>) -> Vec<EffectTest> {
    let mut tests = Vec::new();
    for term in fixed.coding.terms.iter().skip(1) {
        let Ok(contrasts) = contrasts(fixed, term) else { continue };
        let kept: Vec<Vec<f64>> = contrasts.iter().map(|contrast| fixed.kept(contrast)).collect();
        let basis = Matrix::from_fn(fixed.rank.kept.len(), kept.len(), |row, col| kept[col][row]);
        match inference.test(&basis) {
            Some(tested) => {
                tests.push(EffectTest { effect: term.effect.clone(), f: tested.f, df_num: kept.len(), df_den: tested.df_den, p: tested.p })
            }
            None => {
                notices.push(NoticeCode::FreedomUndefined.says(format!(
                    "the test of {} is left out: the method for degrees of freedom gives none here",
                    term.effect.join(" × ")
                )))
            }
        }
    }
    tests
}

/// The effects that cannot be estimated.
pub fn not_estimable(fixed: &Fixed<'_>) -> Vec<NotEstimable> {
    let entry = |term: &Term| {
        let why = contrasts(fixed, term).err()?;
        Some(NotEstimable::Effect { effect: term.effect.clone(), why })
    };
    fixed.coding.terms.iter().skip(1).filter_map(entry).collect()
}
