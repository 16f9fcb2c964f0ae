//! Factors against sites: levels grown at one site only, sites that grew one level, factors with one level.
use super::finding::{CONFOUNDED_WITH_SITE, ONE_LEVEL_AT_SITE, SINGLE_LEVEL, finding};
use super::grown::Grown;
use crate::tables::DesignFinding;
use std::collections::BTreeSet;

pub(super) fn judge(grown: &Grown<'_>, findings: &mut Vec<DesignFinding>) {
    for f in 0..grown.factors.len() {
        let levels = grown.levels(f);
        match levels.len() {
            0 => {}
            1 => findings.push(single_level(grown, f, &levels)),
            _ => {
                findings.extend(levels.iter().filter_map(|level| one_site(grown, f, *level)));
                findings.extend((0..grown.sites.len()).filter_map(|site| one_level(grown, f, site, &levels)));
            }
        }
    }
}

fn single_level(grown: &Grown<'_>, f: usize, levels: &BTreeSet<usize>) -> DesignFinding {
    let grown_level = grown.level_words(f, levels.iter().copied());
    let text = format!("{} has one level only, {grown_level}: nothing was grown to compare it with.", grown.label(f));
    let sites: BTreeSet<usize> = grown.site_levels(f).into_iter().map(|(site, _)| site).collect();
    let mend = format!("grow a second level of {} beside {grown_level} at every site", grown.label(f));
    finding(SINGLE_LEVEL, vec![grown.name(f)], grown.site_ids(sites), text, mend)
}

/// A level grown at one site only, of a season with several sites.
fn one_site(grown: &Grown<'_>, f: usize, level: usize) -> Option<DesignFinding> {
    let sites: BTreeSet<usize> = grown.site_levels(f).into_iter().filter(|(_, l)| *l == level).map(|(site, _)| site).collect();
    let (&site, several) = (sites.first()?, grown.sites.len() > 1);
    if sites.len() > 1 || !several {
        return None;
    }
    let (words, place) = (grown.level(f, level), grown.site_name(site));
    let beside: BTreeSet<usize> = grown.levels_at(f, site).into_iter().filter(|l| *l != level).collect();
    let text = if beside.is_empty() {
        format!(
            "{words} was grown at {place} only, and {place} grew no other {}: its difference from any other level is also the difference of the sites, and cannot be told.",
            grown.label(f)
        )
    } else {
        format!(
            "{words} was grown at {place} only, beside {}: what is said of it is said of {place} alone; an answer over all sites cannot be told.",
            grown.level_words(f, beside.iter().copied())
        )
    };
    let elsewhere: Vec<usize> = (0..grown.sites.len()).filter(|s| *s != site).collect();
    let mend = match (beside.is_empty(), elsewhere.first()) {
        (true, _) => {
            let other = grown.levels(f).into_iter().find(|l| *l != level).map_or_else(String::new, |l| grown.level(f, l));
            format!("grow {other} at {place} too, or {words} at {}", grown.site_words(elsewhere.iter().copied()))
        }
        _ => format!("grow {words} at {} too", grown.site_words(elsewhere.iter().copied())),
    };
    Some(finding(CONFOUNDED_WITH_SITE, vec![grown.name(f)], grown.site_ids([site]), text, mend))
}

/// A site that grew one of several levels.
fn one_level(grown: &Grown<'_>, f: usize, site: usize, levels: &BTreeSet<usize>) -> Option<DesignFinding> {
    let here = grown.levels_at(f, site);
    let only = *here.first().filter(|_| here.len() == 1)?;
    let (words, place) = (grown.level(f, only), grown.site_name(site));
    let text = format!("{place} grew {words} only: it can tell nothing about {}.", grown.label(f));
    let others = grown.level_words(f, levels.iter().copied().filter(|l| *l != only));
    Some(finding(ONE_LEVEL_AT_SITE, vec![grown.name(f)], grown.site_ids([site]), text, format!("grow {others} at {place} too")))
}
