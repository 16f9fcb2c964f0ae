//! Codes of the findings and their order, worst first.
use crate::tables::DesignFinding;

pub(super) const CONFOUNDED_WITH_SITE: &str = "confounded-with-site";
pub(super) const DISCONNECTED: &str = "disconnected";
pub(super) const CONFOUNDED_WITH_FACTOR: &str = "confounded-with-factor";
pub(super) const SINGLE_LEVEL: &str = "single-level";
pub(super) const ASSIGNMENT_CONTRADICTED: &str = "assignment-contradicted";
pub(super) const UNREPLICATED_ASSIGNMENT: &str = "unreplicated-assignment";
pub(super) const ONE_LEVEL_AT_SITE: &str = "one-level-at-site";
pub(super) const EMPTY_CELL: &str = "empty-cell";

const WORST_FIRST: [&str; 8] = [
    CONFOUNDED_WITH_SITE,
    DISCONNECTED,
    CONFOUNDED_WITH_FACTOR,
    SINGLE_LEVEL,
    ASSIGNMENT_CONTRADICTED,
    UNREPLICATED_ASSIGNMENT,
    ONE_LEVEL_AT_SITE,
    EMPTY_CELL,
];

pub(super) fn rank(code: &str) -> usize {
    WORST_FIRST.iter().position(|c| *c == code).unwrap_or(WORST_FIRST.len())
}

pub(super) fn finding(code: &str, factors: Vec<String>, sites: Vec<String>, text: String, mend: String) -> DesignFinding {
    DesignFinding { code: code.to_owned(), factors, sites, text, mend }
}
