//! Connected sets: levels that can be compared within sites, directly or by a chain of shared sites.
use super::finding::{DISCONNECTED, finding};
use super::grown::Grown;
use crate::tables::{ConnectedSet, DesignFinding};
use std::collections::BTreeSet;

/// One part of a bipartite graph.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct Part {
    pub left: BTreeSet<usize>,
    pub right: BTreeSet<usize>,
}

/// Connected parts of the bipartite graph with these edges, in order of their least left node.
pub(super) fn parts(edges: &BTreeSet<(usize, usize)>) -> Vec<Part> {
    let mut parts: Vec<Part> = Vec::new();
    for &(left, right) in edges {
        let touches = |p: &Part| p.left.contains(&left) || p.right.contains(&right);
        let mut joined = Part { left: BTreeSet::from([left]), right: BTreeSet::from([right]) };
        for part in parts.iter().filter(|p| touches(p)) {
            joined.left.extend(&part.left);
            joined.right.extend(&part.right);
        }
        parts.retain(|p| !touches(p));
        parts.push(joined);
    }
    parts.sort_by_key(|p| p.left.first().copied());
    parts
}

/// The connected sets of every factor over levels × sites; more than one set is a finding.
pub(super) fn sets(grown: &Grown<'_>, findings: &mut Vec<DesignFinding>) -> Vec<ConnectedSet> {
    let mut out = Vec::new();
    for f in 0..grown.factors.len() {
        let edges: BTreeSet<(usize, usize)> = grown.site_levels(f).into_iter().map(|(site, level)| (level, site)).collect();
        let parts = parts(&edges);
        if parts.len() > 1 {
            findings.push(disconnected(grown, f, &parts));
        }
        let level_names = |part: &Part| part.left.iter().filter_map(|l| grown.factors.get(f)?.levels.get(*l).cloned()).collect();
        out.extend(parts.iter().map(|part| ConnectedSet {
            factor: grown.name(f),
            levels: level_names(part),
            sites: grown.site_ids(part.right.iter().copied()),
        }));
    }
    out
}

fn disconnected(grown: &Grown<'_>, f: usize, parts: &[Part]) -> DesignFinding {
    let part_words =
        |p: &Part| format!("{} at {}", grown.level_words(f, p.left.iter().copied()), grown.site_words(p.right.iter().copied()));
    let text = format!(
        "{} falls into {} sets that share no site: {}. Levels of different sets cannot be compared: their difference is also the difference of the sites.",
        grown.label(f),
        parts.len(),
        parts.iter().map(part_words).collect::<Vec<_>>().join("; ")
    );
    let sites = grown.site_ids(parts.iter().flat_map(|p| p.right.iter().copied()).collect::<BTreeSet<_>>());
    finding(DISCONNECTED, vec![grown.name(f)], sites, text, links(grown, f, parts))
}

/// For each further set, one level of the largest set to grow beside it.
fn links(grown: &Grown<'_>, f: usize, parts: &[Part]) -> String {
    let Some(main) = parts.iter().max_by_key(|p| (p.right.len(), p.left.len())) else { return String::new() };
    let link = |p: &Part| -> Option<String> {
        let (level, site) = (p.left.first()?, p.right.first()?);
        let (main_level, main_site) = (main.left.first()?, main.right.first()?);
        Some(format!(
            "grow {} at {} too, or {} at {}",
            grown.level(f, *main_level),
            grown.site_name(*site),
            grown.level(f, *level),
            grown.site_name(*main_site)
        ))
    };
    parts.iter().filter(|p| *p != main).filter_map(link).collect::<Vec<_>>().join("; and ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_chain_of_shared_sites_is_one_part() {
        let edges = BTreeSet::from([(0, 0), (1, 0), (1, 1), (2, 1), (3, 2)]);
        let parts = parts(&edges);
        assert_eq!(parts.len(), 2);
        assert_eq!(parts[0], Part { left: BTreeSet::from([0, 1, 2]), right: BTreeSet::from([0, 1]) });
        assert_eq!(parts[1], Part { left: BTreeSet::from([3]), right: BTreeSet::from([2]) });
    }

    #[test]
    fn an_edge_that_comes_last_joins_earlier_parts() {
        assert_eq!(parts(&BTreeSet::from([(0, 0), (1, 1), (2, 0), (2, 1)])).len(), 1);
    }
}
