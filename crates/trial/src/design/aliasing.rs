//! Factors against each other: pairs whose levels went together, so that neither can be told apart.
use super::connected::parts;
use super::finding::{CONFOUNDED_WITH_FACTOR, finding};
use super::grown::{Grown, listed};
use super::rank::RowSpace;
use crate::tables::DesignFinding;
use std::collections::BTreeSet;

/// A pair of factors found confounded, everywhere (`None`) or at one site.
pub(super) type Aliased = BTreeSet<(usize, usize, Option<usize>)>;

pub(super) fn judge(grown: &Grown<'_>, findings: &mut Vec<DesignFinding>) -> Aliased {
    let mut aliased = Aliased::new();
    for (f, g) in pairs(grown.factors.len()) {
        if everywhere(grown, f, g) {
            aliased.insert((f, g, None));
            findings.push(confounded(grown, f, g));
            continue;
        }
        let here: Vec<usize> = (0..grown.sites.len()).filter(|site| at_site(grown, f, g, *site)).collect();
        aliased.extend(here.iter().map(|site| (f, g, Some(*site))));
        if !here.is_empty() {
            findings.push(confounded_at(grown, f, g, &here));
        }
    }
    findings.extend(jointly(grown, &aliased));
    aliased
}

pub(super) fn pairs(n: usize) -> impl Iterator<Item = (usize, usize)> {
    (0..n).flat_map(move |f| (f + 1..n).map(move |g| (f, g)))
}

/// Whether a contrast of either factor that sites alone allow is lost once the other is in the model.
fn everywhere(grown: &Grown<'_>, f: usize, g: usize) -> bool {
    let both = Additive::new(grown, &[f, g]);
    loses(grown, f, &both) || loses(grown, g, &both)
}

fn loses(grown: &Grown<'_>, f: usize, model: &Additive<'_>) -> bool {
    let alone = Additive::new(grown, &[f]);
    let levels: Vec<usize> = grown.levels(f).into_iter().collect();
    pairs(levels.len()).any(|(i, j)| match (levels.get(i), levels.get(j)) {
        (Some(&a), Some(&b)) => alone.tells(f, a, b) && !model.tells(f, a, b),
        _ => false,
    })
}

/// Whether at one site, with several levels of both, the table of the two falls apart.
fn at_site(grown: &Grown<'_>, f: usize, g: usize, site: usize) -> bool {
    let both_vary = grown.levels_at(f, site).len() > 1 && grown.levels_at(g, site).len() > 1;
    both_vary && parts(&grown.pairs(f, g, Some(site))).len() > 1
}

/// The additive model of sites and some factors on the cells that were grown.
struct Additive<'a> {
    grown: &'a Grown<'a>,
    factors: Vec<usize>,
    space: RowSpace,
}

impl<'a> Additive<'a> {
    fn new(grown: &'a Grown<'a>, factors: &[usize]) -> Self {
        let mut model = Additive { grown, factors: factors.to_vec(), space: RowSpace::default() };
        let cells: BTreeSet<(usize, Vec<usize>)> =
            grown.units.iter().filter_map(|u| Some((u.site, factors.iter().map(|f| u.level(*f)).collect::<Option<Vec<_>>>()?))).collect();
        let rows: Vec<Vec<i64>> = cells.iter().map(|(site, levels)| model.row(*site, levels)).collect();
        model.space = RowSpace::of(rows.iter().map(Vec::as_slice));
        model
    }

    fn offset(&self, position: usize) -> usize {
        let before = self.factors.iter().take(position).filter_map(|f| self.grown.factors.get(*f));
        self.grown.sites.len() + before.map(|f| f.levels.len()).sum::<usize>()
    }

    fn zeros(&self) -> Vec<i64> {
        vec![0; self.offset(self.factors.len())]
    }

    fn row(&self, site: usize, levels: &[usize]) -> Vec<i64> {
        let mut row = self.zeros();
        let ones = levels.iter().enumerate().map(|(k, level)| self.offset(k) + level).chain([site]);
        for at in ones {
            if let Some(x) = row.get_mut(at) {
                *x = 1;
            }
        }
        row
    }

    /// Whether level `a` − level `b` of factor `f` is estimable.
    fn tells(&self, f: usize, a: usize, b: usize) -> bool {
        let Some(position) = self.factors.iter().position(|x| *x == f) else { return false };
        let mut contrast = self.zeros();
        for (level, value) in [(a, 1), (b, -1)] {
            if let Some(x) = contrast.get_mut(self.offset(position) + level) {
                *x = value;
            }
        }
        self.space.holds(&contrast)
    }
}

fn confounded(grown: &Grown<'_>, f: usize, g: usize) -> DesignFinding {
    let sites: BTreeSet<usize> = grown.units.iter().filter(|u| u.level(f).is_some() && u.level(g).is_some()).map(|u| u.site).collect();
    let pooled = grown.pairs(f, g, None);
    let text = format!(
        "{} and {} went together at every site: {}. {}",
        grown.label(f),
        grown.label(g),
        going_together(grown, f, g, &pooled),
        what_remains(grown, f, g, &pooled)
    );
    finding(
        CONFOUNDED_WITH_FACTOR,
        vec![grown.name(f), grown.name(g)],
        grown.site_ids(sites.iter().copied()),
        text,
        mend(grown, f, g, sites.first().copied()),
    )
}

fn confounded_at(grown: &Grown<'_>, f: usize, g: usize, sites: &[usize]) -> DesignFinding {
    let told = |site: &usize| format!("at {} {}", grown.site_name(*site), going_together(grown, f, g, &grown.pairs(f, g, Some(*site))));
    let text = format!(
        "{} and {} cannot be told apart at {}: {}.",
        grown.label(f),
        grown.label(g),
        grown.site_words(sites.iter().copied()),
        sites.iter().map(told).collect::<Vec<_>>().join("; ")
    );
    let mends: Vec<String> = sites.iter().map(|site| mend(grown, f, g, Some(*site))).collect();
    finding(CONFOUNDED_WITH_FACTOR, vec![grown.name(f), grown.name(g)], grown.site_ids(sites.iter().copied()), text, mends.join("; "))
}

/// "blend with bucket only, perlite with pot only".
fn going_together(grown: &Grown<'_>, f: usize, g: usize, cells: &BTreeSet<(usize, usize)>) -> String {
    let words = |part: &super::connected::Part| {
        format!("{} with {} only", grown.level_words(f, part.left.iter().copied()), grown.level_words(g, part.right.iter().copied()))
    };
    parts(cells).iter().map(words).collect::<Vec<_>>().join(", ")
}

fn what_remains(grown: &Grown<'_>, f: usize, g: usize, cells: &BTreeSet<(usize, usize)>) -> String {
    let parts = parts(cells);
    if parts.iter().all(|p| p.left.len() == 1 && p.right.len() == 1) {
        let systems: Vec<String> = cells.iter().map(|cell| grown.pair(f, g, *cell)).collect();
        return format!("Neither can be told by itself; what can be compared are the systems {}.", listed(&systems));
    }
    format!("Differences across these sets cannot be told as {} or as {}; within a set they can.", grown.label(f), grown.label(g))
}

/// A cell that joins two sets that fall apart.
fn mend(grown: &Grown<'_>, f: usize, g: usize, site: Option<usize>) -> String {
    let parts = parts(&grown.pairs(f, g, site));
    let [first, second, ..] = parts.as_slice() else {
        return format!("grow every level of {} with every level of {} at one site", grown.label(f), grown.label(g));
    };
    let cell = |a: &BTreeSet<usize>, b: &BTreeSet<usize>| Some(grown.pair(f, g, (*a.first()?, *b.first()?)));
    let place = site.map_or_else(|| "one site".to_owned(), |s| grown.site_name(s));
    let cells: Vec<String> = [cell(&first.left, &second.right), cell(&second.left, &first.right)].into_iter().flatten().collect();
    format!("grow {} at {place} too", cells.join(" or "))
}

/// Factors that no pair confounds but all together do.
fn jointly(grown: &Grown<'_>, aliased: &Aliased) -> Option<DesignFinding> {
    let all: Vec<usize> = (0..grown.factors.len()).collect();
    if all.len() < 3 || aliased.iter().any(|(_, _, site)| site.is_none()) {
        return None;
    }
    let model = Additive::new(grown, &all);
    let lost: Vec<usize> = all.iter().copied().filter(|f| loses(grown, *f, &model)).collect();
    let labels: Vec<String> = lost.iter().map(|f| grown.label(*f).to_owned()).collect();
    let sites: BTreeSet<usize> = grown.units.iter().map(|u| u.site).collect();
    (!lost.is_empty()).then(|| {
        let text = format!("{} cannot be told apart: no two of them went together, but all of them did.", listed(&labels));
        let mend = format!("grow further combinations of {}", listed(&labels));
        finding(CONFOUNDED_WITH_FACTOR, lost.iter().map(|f| grown.name(*f)).collect(), grown.site_ids(sites), text, mend)
    })
}
