//! Freedom of comparisons of counts and shares, whose fits have none of their own: by containment.
//!
//! METHOD: maximum likelihood treats the fixed effects as known, so that the spread it finds is too small and normal
//! quantiles too near. A comparison is judged in the stratum in which its treatment was given out: its freedom there
//! is what is left when effects and coarser strata are taken off (the containment rule of the analysis of variance),
//! its intervals are Student's t on that freedom, and its standard error is widened by the root of (freedom of the stratum /
//! freedom left), as restricted likelihood does for normal responses (Patterson & Thompson 1971). Where the fit finds
//! no spread beyond the family's own there is nothing to widen.
use crate::rank::Span;
use crate::records::Record;
use crosshouse_mixed::{Fit, Model};

/// How differences and means are judged.
#[derive(Debug, Clone, PartialEq)]
pub struct Judged {
    /// Degrees of freedom of the differences.
    pub df: f64,
    /// Degrees of freedom of the means: the least of any stratum.
    pub df_means: f64,
    /// What standard errors are multiplied by.
    pub widening: f64,
    pub in_words: String,
}

/// One stratum: its own freedom, and what the fixed effects leave of it.
struct Stratum {
    name: String,
    own: usize,
    left: usize,
    /// Holds the compared treatment: all its records have one level.
    holds: bool,
    is_residual: bool,
}

/// The freedom of comparing the levels of `compared`.
///
/// # Errors
/// A sentence, where nothing is left to judge by.
pub fn judged(records: &[Record], model: &Model, fit: &Fit, compared: &[String]) -> Result<Judged, String> {
    let strata = strata(records, model, compared);
    let held: Vec<&Stratum> = strata.iter().filter(|s| s.holds).collect();
    let judging = held.iter().min_by_key(|s| s.left).copied().or_else(|| strata.iter().find(|s| s.is_residual));
    let Some(stratum) = judging.filter(|s| s.left > 0) else {
        return Err("no freedom is left to judge a difference by: every unit or carrier stands for a treatment, block or site".into());
    };
    let spreads = fit.dispersion.is_some() && !fit.notices.iter().any(|n| n.code == "dispersion-at-edge");
    let widens = !stratum.is_residual || spreads;
    let widening = if widens { (stratum.own as f64 / stratum.left as f64).sqrt() } else { 1.0 };
    let df_means = strata.iter().map(|s| s.left).filter(|left| *left > 0).min().unwrap_or(stratum.left);
    Ok(Judged { df: stratum.left as f64, df_means: df_means as f64, widening, in_words: words(stratum, widening) })
}

fn words(stratum: &Stratum, widening: f64) -> String {
    let wide = if widening > 1.0 {
        format!(
            "; standard errors are widened by the root of {} / {}, since maximum likelihood does not take off the freedom that the effects use",
            stratum.own, stratum.left
        )
    } else {
        "; the records show no spread beyond the family's own, so that standard errors stand as they are".to_owned()
    };
    format!(
        "intervals and p values are Student's t on {} degrees of freedom by containment, those of {} that effects and coarser strata leave{wide}",
        stratum.left, stratum.name
    )
}

fn classes<'r>(records: &'r [Record], columns: &[String]) -> Vec<Vec<&'r str>> {
    records.iter().map(|r| columns.iter().map(|c| r.category(c)).collect()).collect()
}

fn distinct<K: Ord>(classes: &[K]) -> usize {
    classes.iter().collect::<std::collections::BTreeSet<_>>().len()
}

/// The random terms from coarse to fine, then the units.
fn strata(records: &[Record], model: &Model, compared: &[String]) -> Vec<Stratum> {
    let (mut with, mut without) = (Span::default(), Span::default());
    without.add_classes(&vec![0u8; records.len()]);
    with.add_classes(&vec![0u8; records.len()]);
    for effect in &model.effects {
        with.add_classes(&classes(records, effect));
    }
    let mut groups: Vec<&Vec<String>> = model.groups.iter().collect();
    groups.sort_by_key(|g| distinct(&classes(records, g)));
    let mut strata = Vec::new();
    for group in groups {
        let (before, before_without) = (with.rank(), without.rank());
        let of_group = classes(records, group);
        with.add_classes(&of_group);
        without.add_classes(&of_group);
        strata.push(Stratum {
            name: format!("{} in the random part", group.join(" by ")),
            own: without.rank() - before_without,
            left: with.rank() - before,
            holds: compared.iter().any(|name| is_constant(records, &of_group, name)),
            is_residual: false,
        });
    }
    strata.push(Stratum {
        name: "the units".into(),
        own: records.len() - without.rank(),
        left: records.len() - with.rank(),
        holds: false,
        is_residual: true,
    });
    strata
}

/// Whether all records of a class have one level of the factor.
fn is_constant(records: &[Record], classes: &[Vec<&str>], factor: &str) -> bool {
    let pairs: Vec<(&Vec<&str>, &str)> = classes.iter().zip(records.iter().map(|r| r.category(factor))).collect();
    distinct(&pairs) == distinct(classes)
}
