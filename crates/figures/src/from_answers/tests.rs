//! A question of two sites, one of which cannot tell.
use super::*;
use crate::inspection::printed;
use crosshouse_questions::answers::{CannotTell, Difference, Levels, Mean, Quantity, Shown};
use crosshouse_trial::tables::{Cell, Design, Factor, SiteTrial};

fn levels(pairs: &[(&str, &str)]) -> Levels {
    pairs.iter().map(|(f, l)| ((*f).to_string(), (*l).to_string())).collect()
}

fn trial() -> TrialTables {
    let site = |key: &str, name: &str| SiteTrial {
        site: key.into(),
        name: name.into(),
        transplanted: None,
        ended: None,
        first_pick: None,
        last_pick: None,
        pick_days: 0,
        units: vec![],
        weeks: vec![],
        states: vec![],
        cumulative: vec![],
        houses: vec![],
        zones: vec![],
        water: vec![],
    };
    let factor = Factor {
        name: "medium".into(),
        label: "growing medium".into(),
        levels: vec!["perlite".into(), "blend".into()],
        level_labels: [("blend".to_string(), "coir blend".to_string())].into(),
        unit_of_assignment: "unit".into(),
    };
    let cell = |site: &str, medium: &str| Cell { site: site.into(), levels: levels(&[("medium", medium)]), units: 4, blocks: 4, plants: 8 };
    TrialTables {
        sites: vec![site("tarn", "Tarn <b>Hollow"), site("withy", "Withy End")],
        design: Design {
            factors: vec![factor],
            cells: vec![cell("tarn", "perlite"), cell("tarn", "blend"), cell("withy", "perlite")],
            ..Design::default()
        },
        ..TrialTables::default()
    }
}

fn mean(medium: &str, estimate: f64) -> Mean {
    let of = levels(&[("medium", medium)]);
    let (low, high) = (estimate - 0.5, estimate + 0.5);
    Mean { of, within: Levels::new(), estimate, se: 0.2, df: Some(9.0), low, high, letters: None, units: 4, raw_mean: None, shown: None }
}

fn difference() -> Difference {
    Difference {
        of: levels(&[("medium", "blend")]),
        minus: levels(&[("medium", "perlite")]),
        within: Levels::new(),
        estimate: 1.0,
        se: 0.2,
        df: Some(9.0),
        low: 0.5,
        high: 1.5,
        p: None,
        p_adjusted: None,
        low_adjusted: None,
        high_adjusted: None,
        adjust: "none".into(),
        margin: None,
        p_equivalent: None,
        shown: vec![],
    }
}

fn answers() -> Answers {
    let refused = CannotTell {
        what: "difference".into(),
        of: difference().of,
        minus: difference().minus,
        within: Levels::new(),
        sites: vec!["withy".into()],
        lacking: vec![],
        why: "Withy End did not grow coir blend; it grew perlite".into(),
        mend: String::new(),
    };
    let site = |site: &str, means, differences, cannot_tell| SiteAnswer {
        site: site.into(),
        name: String::new(),
        means,
        differences,
        cells: vec![],
        cannot_tell,
    };
    let answer = Answer {
        id: "blend".into(),
        ask: "does the blend hold up?".into(),
        response: "marketable-yield-per-plant".into(),
        response_label: "marketable yield".into(),
        unit: "kg per plant".into(),
        compare: vec!["medium".into()],
        within: vec![],
        margin: Some(0.3),
        headline: "One kilogram more.".into(),
        cannot_tell: vec![],
        across: vec![],
        by_site: vec![
            site("tarn", vec![mean("perlite", 5.0), mean("blend", 6.0)], vec![difference()], vec![]),
            site("withy", vec![], vec![], vec![refused]),
        ],
        units_used: vec![],
        without_flagged: None,
        cautions: vec![],
        likelihood: None,
    };
    Answers { questions: vec![answer.clone(), answer] }
}

fn drawn(reader: Reader) -> Vec<Drawing> {
    drawings(&answers(), &trial(), reader).unwrap()
}

fn has(drawing: &Drawing, text: &str) -> bool {
    printed(drawing).iter().any(|t| t.text == text)
}

#[test]
fn figures_bear_the_stem_of_their_question_and_name_its_tables() {
    let names: Vec<(String, String)> = drawn(Reader::Kilograms).into_iter().map(|d| (d.name, d.table)).collect();
    let pair = |a: &str, b: &str| (a.to_string(), b.to_string());
    assert_eq!(
        names,
        [
            pair("differences-blend", "answers-blend-differences"),
            pair("means-blend", "answers-blend-means"),
            pair("differences-blend-2", "answers-blend-2-differences"),
            pair("means-blend-2", "answers-blend-2-means"),
        ]
    );
}

#[test]
fn a_site_that_cannot_tell_keeps_its_row_with_the_reason() {
    let all = drawn(Reader::Kilograms);
    assert!(has(&all[0], "Withy End") && has(&all[0], "cannot be told: Withy End did not grow coir blend"));
    assert!(has(&all[0], "1.00 (0.50 to 1.50)"));
    assert_eq!(all[0].finding, "One kilogram more.");
}

#[test]
fn a_medium_not_grown_at_a_site_is_told_from_one_without_an_answer() {
    let all = drawn(Reader::Kilograms);
    assert!(has(&all[1], "not grown") && has(&all[1], "cannot be told"));
    assert!(has(&all[1], "Tarn <b>Hollow"));
}

#[test]
fn a_reader_in_pounds_gets_pounds() {
    let all = drawn(Reader::Pounds);
    assert!(has(&all[0], "2.2 (1.1 to 3.3)"));
    assert!(all[1].alt.contains("lb per plant"));
}

/// The same answers with each difference as a ratio, exp of the difference.
fn ratios() -> Answers {
    let mut all = answers();
    let sites = all.questions.iter_mut().flat_map(|a| &mut a.by_site);
    for d in sites.flat_map(|s| &mut s.differences) {
        let (estimate, low, high) = (d.estimate.exp(), d.low.exp(), d.high.exp());
        d.shown =
            vec![Shown { quantity: Quantity::Ratio, estimate, se: estimate * d.se, low, high, low_adjusted: None, high_adjusted: None }];
    }
    all
}

#[test]
fn ratios_stand_on_a_logarithmic_axis_with_one_for_no_difference() {
    let all = drawings(&ratios(), &trial(), Reader::Pounds).unwrap();
    let words: Vec<String> = printed(&all[0]).iter().map(|t| t.text.clone()).collect();
    // exp of 1, 0.5 and 1.5, whatever the reader's unit.
    assert!(words.contains(&"2.7 (1.6 to 4.5)".to_owned()), "{words:?}");
    assert!(words.iter().any(|w| w.contains("logarithmic axis; 1: no difference")), "{words:?}");
    assert!(words.contains(&"coir blend / perlite".to_owned()));
    assert_eq!(all[0].title, "Ratios of marketable yield");
    let is = |text: &str, value: f64| text.parse() == Ok(value);
    let place = |value: f64| printed(&all[0]).iter().find(|t| is(&t.text, value)).map(|t| (t.left + t.right) / 2.0).unwrap();
    let (one, two, four) = (place(1.0), place(2.0), place(4.0));
    assert!(two - one > 5.0 && ((two - one) - (four - two)).abs() < 0.5, "doubling is one step: {one} {two} {four}");
}

#[test]
fn a_question_without_a_single_number_has_no_figure_of_differences() {
    let mut all = answers();
    all.questions.iter_mut().flat_map(|a| &mut a.by_site).for_each(|s| s.differences.clear());
    let names: Vec<String> = drawings(&all, &trial(), Reader::Kilograms).unwrap().into_iter().map(|d| d.name).collect();
    assert_eq!(names, ["means-blend", "means-blend-2"]);
}
