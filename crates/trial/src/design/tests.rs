use super::finding::*;
use super::*;
use crate::made::{site, unit};
use crate::tables::DesignFinding;
use crosshouse_logs::tables::Unit;

fn decl(name: &str, given_to: &str) -> FactorDecl {
    FactorDecl { name: name.into(), unit_of_assignment: given_to.into(), ..FactorDecl::default() }
}

/// A site with `n` units of each cell; a cell is a level of each factor.
fn grew(id: &str, factors: &[&str], cells: &[&[&str]], n: usize) -> SiteTables {
    let of = |cell: &[&str], i: usize| {
        let levels: Vec<(&str, &str)> = factors.iter().copied().zip(cell.iter().copied()).collect();
        unit(&format!("{}-{i}", cell.join("-")), &levels)
    };
    site(id, cells.iter().flat_map(|cell| (0..n).map(move |i| of(cell, i))).collect())
}

fn judged(sites: &[SiteTables], factors: &[&str]) -> Design {
    judge(sites, &factors.iter().map(|f| decl(f, "unit")).collect::<Vec<_>>())
}

fn codes(design: &Design) -> Vec<&str> {
    design.findings.iter().map(|f| f.code.as_str()).collect()
}

fn only<'d>(design: &'d Design, code: &str) -> &'d DesignFinding {
    let found: Vec<_> = design.findings.iter().filter(|f| f.code == code).collect();
    assert_eq!(found.len(), 1, "{code} in {:?}", codes(design));
    found[0]
}

const FACTORIAL: [&[&str]; 4] = [&["x", "p"], &["x", "q"], &["y", "p"], &["y", "q"]];

#[test]
fn a_factorial_at_every_site_has_no_findings() {
    let design = judged(&[grew("a", &["m", "c"], &FACTORIAL, 3), grew("b", &["m", "c"], &FACTORIAL, 3)], &["m", "c"]);
    assert_eq!(codes(&design), Vec::<&str>::new());
    assert_eq!((design.cells.len(), design.cells[0].units, design.cells[0].plants), (8, 3, 6));
    assert_eq!(design.connected.len(), 2);
    assert_eq!(design.connected[0].sites, ["a", "b"]);
}

#[test]
fn a_level_grown_at_one_site_only_is_confounded_with_that_site() {
    let design = judged(&[grew("a", &["m"], &[&["x"]], 3), grew("b", &["m"], &[&["y"]], 3)], &["m"]);
    let first = &design.findings[0];
    assert_eq!((first.code.as_str(), first.sites.as_slice()), (CONFOUNDED_WITH_SITE, ["a".to_owned()].as_slice()));
    assert!(first.text.contains("cannot be told") && first.mend.contains("grow y at A too, or x at B"), "{first:?}");
    assert_eq!(only(&design, DISCONNECTED).sites, ["a", "b"]);
    assert_eq!(design.connected.len(), 2);
}

#[test]
fn a_level_grown_at_one_site_beside_others_speaks_for_that_site_alone() {
    let design = judged(&[grew("a", &["m"], &[&["x"], &["y"]], 3), grew("b", &["m"], &[&["y"]], 3)], &["m"]);
    let finding = only(&design, CONFOUNDED_WITH_SITE);
    assert!(finding.text.contains("x was grown at A only, beside y"), "{}", finding.text);
    assert_eq!(finding.mend, "grow x at B too");
    let site = only(&design, ONE_LEVEL_AT_SITE);
    assert!(site.text.contains("B grew y only") && site.mend == "grow x at B too");
    assert_eq!(design.connected.len(), 1);
}

#[test]
fn sites_without_a_shared_level_fall_into_sets_with_the_link_that_joins_them() {
    let design = judged(
        &[grew("a", &["m"], &[&["w"], &["x"]], 2), grew("b", &["m"], &[&["w"], &["x"]], 2), grew("c", &["m"], &[&["y"], &["z"]], 2)],
        &["m"],
    );
    let finding = only(&design, DISCONNECTED);
    assert!(finding.text.contains("w and x at A and B; y and z at C"), "{}", finding.text);
    assert_eq!(finding.mend, "grow w at C too, or y at A");
    let sets: Vec<_> = design.connected.iter().map(|s| s.levels.join(" ")).collect();
    assert_eq!(sets, ["w x", "y z"]);
}

#[test]
fn a_chain_of_sites_connects_levels_that_never_met() {
    let design = judged(&[grew("a", &["m"], &[&["x"], &["y"]], 2), grew("b", &["m"], &[&["y"], &["z"]], 2)], &["m"]);
    assert_eq!(design.connected.len(), 1);
    assert!(!codes(&design).contains(&DISCONNECTED));
}

#[test]
fn two_factors_that_went_together_everywhere_cannot_be_told_apart() {
    let cells: [&[&str]; 2] = [&["x", "p"], &["y", "q"]];
    let design = judged(&[grew("a", &["m", "c"], &cells, 3), grew("b", &["m", "c"], &cells, 3)], &["m", "c"]);
    assert_eq!(codes(&design), [CONFOUNDED_WITH_FACTOR]);
    let finding = only(&design, CONFOUNDED_WITH_FACTOR);
    assert!(finding.text.contains("x with p only, y with q only") && finding.text.contains("systems x × p and y × q"), "{}", finding.text);
    assert_eq!(finding.mend, "grow x × q or y × p at A too");
    assert_eq!(finding.factors, ["m", "c"]);
}

#[test]
fn two_factors_that_went_together_at_one_site_are_told_for_that_site() {
    let design = judged(&[grew("a", &["m", "c"], &FACTORIAL, 3), grew("b", &["m", "c"], &[&["x", "p"], &["y", "q"]], 3)], &["m", "c"]);
    let finding = only(&design, CONFOUNDED_WITH_FACTOR);
    assert_eq!(finding.sites, ["b"]);
    assert!(finding.text.contains("at B x with p only, y with q only"), "{}", finding.text);
}

#[test]
fn opposite_pairings_at_two_sites_are_told_apart_by_both_sites_together() {
    let design = judged(
        &[grew("a", &["m", "c"], &[&["x", "p"], &["y", "q"]], 2), grew("b", &["m", "c"], &[&["x", "q"], &["y", "p"]], 2)],
        &["m", "c"],
    );
    let finding = only(&design, CONFOUNDED_WITH_FACTOR);
    assert_eq!(finding.sites, ["a", "b"], "confounded at each site, not everywhere: {}", finding.text);
    assert!(finding.text.contains("cannot be told apart at A and B"));
}

#[test]
fn levels_nested_in_another_factor_are_told_within_it_only() {
    let cells: [&[&str]; 4] = [&["x", "p"], &["x", "q"], &["y", "r"], &["y", "s"]];
    let design = judged(&[grew("a", &["m", "variety"], &cells, 3), grew("b", &["m", "variety"], &cells, 3)], &["m", "variety"]);
    let finding = only(&design, CONFOUNDED_WITH_FACTOR);
    assert!(
        finding.text.contains("x with p and q only, y with r and s only") && finding.text.contains("within a set they can"),
        "{}",
        finding.text
    );
}

#[test]
fn a_combination_that_nobody_grew_is_an_empty_cell() {
    let design = judged(&[grew("a", &["m", "c"], &FACTORIAL[..3], 3), grew("b", &["m", "c"], &FACTORIAL[..3], 3)], &["m", "c"]);
    assert_eq!(codes(&design), [EMPTY_CELL]);
    let finding = only(&design, EMPTY_CELL);
    assert!(finding.text.contains("No site grew y × q"), "{}", finding.text);
    assert_eq!(finding.mend, "grow y × q at A; y × q at B");
}

#[test]
fn a_combination_missing_at_one_site_is_named_with_the_site() {
    let design = judged(&[grew("a", &["m", "c"], &FACTORIAL, 3), grew("b", &["m", "c"], &FACTORIAL[1..], 3)], &["m", "c"]);
    let finding = only(&design, EMPTY_CELL);
    assert_eq!((finding.sites.as_slice(), finding.mend.as_str()), (["b".to_owned()].as_slice(), "grow x × p at B"));
    assert!(!finding.text.contains("No site grew"));
}

#[test]
fn a_half_of_a_three_factor_design_has_empty_combinations_and_main_effects() {
    let half: [&[&str]; 4] = [&["0", "0", "0"], &["0", "1", "1"], &["1", "0", "1"], &["1", "1", "0"]];
    let design = judged(&[grew("a", &["f", "g", "h"], &half, 2)], &["f", "g", "h"]);
    assert_eq!(codes(&design), [EMPTY_CELL]);
    assert!(only(&design, EMPTY_CELL).text.contains("0 × 0 × 1"));
}

#[test]
fn three_factors_confounded_only_together_are_told() {
    // h = f + g over three cells with a common base: pairs are estimable, all three are not
    let cells: [&[&str]; 3] = [&["0", "0", "0"], &["0", "1", "1"], &["1", "0", "1"]];
    let design = judged(&[grew("a", &["f", "g", "h"], &cells, 2)], &["f", "g", "h"]);
    let finding = only(&design, CONFOUNDED_WITH_FACTOR);
    assert_eq!(finding.factors, ["f", "g", "h"]);
}

#[test]
fn a_factor_with_one_level_compares_nothing() {
    let design = judged(&[grew("a", &["m"], &[&["x"]], 3)], &["m"]);
    assert_eq!(codes(&design), [SINGLE_LEVEL]);
}

#[test]
fn one_line_a_level_in_one_house_is_no_replication() {
    let on = |line: &str, id: &str, level: &str| Unit { line: Some(line.into()), ..unit(id, &[("m", level)]) };
    let units = vec![on("l1", "u1", "x"), on("l1", "u2", "x"), on("l2", "u3", "y"), on("l2", "u4", "y")];
    let design = judge(&[site("a", units.clone())], &[decl("m", "line")]);
    let finding = only(&design, UNREPLICATED_ASSIGNMENT);
    assert!(finding.text.contains("one line carries each level") && finding.mend.contains("two or more lines"), "{}", finding.text);
    let mut second = units;
    second.extend([on("l3", "u5", "x"), on("l4", "u6", "y")]);
    assert!(codes(&judge(&[site("a", second)], &[decl("m", "line")])).is_empty());
}

#[test]
fn the_same_line_in_three_houses_is_three_lines() {
    let on = |house: &str, line: &str, level: &str| Unit {
        house: house.into(),
        line: Some(line.into()),
        ..unit(&format!("{house}-{line}"), &[("m", level)])
    };
    let units = ["h1", "h2", "h3"].iter().flat_map(|h| [on(h, "l1", "x"), on(h, "l2", "y")]).collect();
    assert!(codes(&judge(&[site("a", units)], &[decl("m", "line")])).is_empty());
}

#[test]
fn a_line_with_two_levels_contradicts_assignment_by_line() {
    let on = |id: &str, level: &str| Unit { line: Some("l1".into()), ..unit(id, &[("m", level)]) };
    let design = judge(&[site("a", vec![on("u1", "x"), on("u2", "y")])], &[decl("m", "line")]);
    assert_eq!(codes(&design), [ASSIGNMENT_CONTRADICTED]);
}

#[test]
fn guards_make_no_cells() {
    let mut site = grew("a", &["m"], &[&["x"], &["y"]], 2);
    site.units.push(Unit { guard: true, ..unit("g", &[("m", "z")]) });
    let design = judged(&[site], &["m"]);
    assert_eq!(design.cells.len(), 2);
    assert_eq!(design.factors[0].levels, ["x", "y"]);
}

#[test]
fn declared_order_and_wording_of_levels_are_kept() {
    let declared = FactorDecl {
        label: "growing medium".into(),
        levels: vec!["y".into(), "x".into()],
        level_labels: BTreeMap::from([("y".to_owned(), "fine mix".to_owned())]),
        ..decl("m", "unit")
    };
    let design = judge(&[grew("a", &["m"], &[&["x"], &["y"]], 2), grew("b", &["m"], &[&["y"]], 2)], &[declared]);
    assert_eq!(design.factors[0].levels, ["y", "x"]);
    assert!(only(&design, ONE_LEVEL_AT_SITE).text.contains("B grew fine mix only: it can tell nothing about growing medium"));
}

#[test]
fn a_season_without_factors_or_units_is_judged_without_findings() {
    assert_eq!(judge(&[site("a", Vec::new())], &[]), Design::default());
    assert!(judge(&[site("a", Vec::new())], &[decl("m", "unit")]).findings.is_empty());
}

#[test]
fn the_order_of_units_moves_no_finding() {
    let mut one = grew("a", &["m", "c"], &FACTORIAL[..3], 3);
    let design = judged(&[one.clone()], &["m", "c"]);
    one.units.reverse();
    assert_eq!(judged(&[one], &["m", "c"]), design);
}
