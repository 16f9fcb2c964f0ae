//! Words for a difference: shown to differ or not shown to differ, and how it stands to the margin. A difference that
//! is not shown is never called none.
use crate::estimation::Estimation;
use crate::number;
use crate::reader::Scale;
use crate::words::Wording;
use crosshouse_questions::answers::{Difference, Shown};

/// Risk of each of the two one-sided tests (Schuirmann 1987).
const EQUIVALENCE_RISK: f64 = 0.05;

/// "blend − perlite", or "blend / perlite" of a ratio.
pub fn pair(words: &Wording, d: &Difference) -> String {
    let sign = if d.published().quantity.is_ratio() { "/" } else { "−" };
    format!("{} {sign} {}", words.levels(&d.of), words.levels(&d.minus))
}

/// A published number as shown to the reader: ratios have no unit.
pub fn shown(of: &Shown, scale: &Scale, value: f64) -> f64 {
    if of.quantity.is_ratio() { value } else { scale.show(value) }
}

/// The limits a sentence shows: the adjusted ones where the family has several differences, as the headline does.
pub fn family_limits(d: &Difference, family: usize) -> (f64, f64) {
    match (d.low_adjusted, d.high_adjusted) {
        (Some(low), Some(high)) if family > 1 => (low, high),
        _ => (d.low, d.high),
    }
}

/// The p value that decides: adjusted where there is one, none where the design allows no test.
pub fn deciding_p(d: &Difference, testable: bool) -> Option<f64> {
    d.p_adjusted.or(d.p).filter(|p| testable && p.is_finite())
}

/// "shown to differ", "not shown to differ" or "no test".
pub fn reading(d: &Difference, estimation: &Estimation, testable: bool) -> &'static str {
    match deciding_p(d, testable) {
        None => "no test",
        Some(p) if p < estimation.alpha() => "shown to differ",
        Some(_) => "not shown to differ",
    }
}

/// "±0.551 lb per plant"
pub fn margin_words(margin: f64, scale: &Scale) -> String {
    let shown = number::significant(scale.show(margin), 3);
    format!("±{} {}", trimmed(&shown), scale.difference_unit).trim_end().to_owned()
}

/// Whether the difference is shown to lie within the declared margin, with its p value.
pub fn within_margin(d: &Difference, testable: bool) -> String {
    let Some(margin) = d.margin else { return String::new() };
    let beyond = d.low > margin || d.high < -margin;
    match d.p_equivalent.filter(|p| testable && p.is_finite()) {
        None => "no test".to_owned(),
        Some(p) if p < EQUIVALENCE_RISK => format!("shown ({})", number::p_words(p)),
        Some(p) if beyond => format!("beyond it ({})", number::p_words(p)),
        Some(p) => format!("not shown ({})", number::p_words(p)),
    }
}

fn trimmed(text: &str) -> &str {
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { text }
}

/// What an adjustment is called in a caption.
pub fn adjustment(key: &str) -> String {
    match key {
        "tukey" => "Tukey–Kramer".to_owned(),
        "dunnett" => "Dunnett".to_owned(),
        "holm" => "Holm".to_owned(),
        "bonferroni" => "Bonferroni".to_owned(),
        "sidak" => "Šidák".to_owned(),
        "joint" => "joint distribution of the differences".to_owned(),
        other => other.to_owned(),
    }
}

/// Whether the key names an adjustment at all.
pub fn adjusts(key: &str) -> bool {
    !key.is_empty() && key != "none"
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reader::Reader;

    fn difference(p: Option<f64>) -> Difference {
        Difference {
            of: [("medium".to_owned(), "blend".to_owned())].into(),
            minus: [("medium".to_owned(), "perlite".to_owned())].into(),
            within: Default::default(),
            estimate: 0.1,
            se: 0.1,
            df: Some(20.0),
            low: -0.1,
            high: 0.3,
            p,
            p_adjusted: None,
            low_adjusted: None,
            high_adjusted: None,
            adjust: "none".into(),
            margin: Some(0.25),
            p_equivalent: Some(0.07),
            shown: Vec::new(),
        }
    }

    #[test]
    fn a_large_p_is_not_shown_to_differ_and_never_the_same() {
        assert_eq!(reading(&difference(Some(0.3)), &Estimation::read(""), true), "not shown to differ");
    }

    #[test]
    fn where_the_unit_of_assignment_is_not_replicated_there_is_no_test() {
        assert_eq!(reading(&difference(Some(0.001)), &Estimation::read(""), false), "no test");
    }

    #[test]
    fn the_adjusted_p_decides() {
        let d = Difference { p_adjusted: Some(0.06), ..difference(Some(0.03)) };
        assert_eq!(reading(&d, &Estimation::read(""), true), "not shown to differ");
    }

    #[test]
    fn equivalence_is_said_against_the_margin_in_the_readers_unit() {
        assert_eq!(margin_words(0.25, &Scale::of("kg per plant", Reader::Pounds)), "±0.551 lb per plant");
        assert_eq!(margin_words(0.25, &Scale::of("kg per plant", Reader::Kilograms)), "±0.25 kg per plant");
        let d = Difference { p_equivalent: Some(0.02), ..difference(Some(0.3)) };
        assert_eq!(within_margin(&d, true), "shown (p\u{a0}=\u{a0}0.020)");
        assert_eq!(within_margin(&difference(Some(0.3)), true), "not shown (p\u{a0}=\u{a0}0.070)");
        let far = Difference { low: 0.3, high: 0.5, p_equivalent: Some(0.9), ..difference(Some(0.01)) };
        assert_eq!(within_margin(&far, true), "beyond it (p\u{a0}=\u{a0}0.90)");
        assert_eq!(within_margin(&d, false), "no test");
    }
}
