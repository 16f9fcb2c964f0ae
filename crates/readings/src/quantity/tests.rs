use super::*;
use proptest::prelude::*;

const POINT: NumberStyle = NumberStyle { decimal: '.', thousands: None };
const COMMA: NumberStyle = NumberStyle { decimal: ',', thousands: None };
const ENGLISH: NumberStyle = NumberStyle { decimal: '.', thousands: Some(',') };
const GERMAN: NumberStyle = NumberStyle { decimal: ',', thousands: Some('.') };
const SPACED: NumberStyle = NumberStyle { decimal: ',', thousands: Some(' ') };

#[test]
fn numbers_are_read_by_the_declared_marks() {
    for (text, style, value) in [
        ("2.5", POINT, 2.5),
        (" 2.5\u{a0}", POINT, 2.5),
        ("-0.25", POINT, -0.25),
        ("\u{2212}3", POINT, -3.0),
        ("+3", POINT, 3.0),
        (".5", POINT, 0.5),
        ("5.", POINT, 5.0),
        ("1.2E+03", POINT, 1200.0),
        ("2,5", COMMA, 2.5),
        ("1,234.5", ENGLISH, 1234.5),
        ("1.234.567,5", GERMAN, 1_234_567.5),
        ("1 234,5", SPACED, 1234.5),
        ("1\u{202f}234,5", SPACED, 1234.5),
        ("0.1", POINT, 0.1),
    ] {
        assert_eq!(number(text, style), Ok(value), "{text}");
    }
}

#[test]
fn vulgar_fractions_are_read() {
    for (text, value) in [("2 1/4", 2.25), ("1/2", 0.5), ("2¼", 2.25), ("2 ¾", 2.75), ("-1 1/2", -1.5), ("2-3/8", 2.375), ("⅓", 1.0 / 3.0)]
    {
        assert_eq!(number(text, POINT), Ok(value), "{text}");
    }
}

#[test]
fn the_other_decimal_mark_is_never_taken_in_silence() {
    for (text, style) in [("2,5", POINT), ("1,234", POINT), ("2.5", COMMA), ("1.234,5", POINT), ("1,234,5", POINT)] {
        let fault = number(text, style).unwrap_err();
        assert_eq!(fault.code(), "decimal-mark", "{text}");
        assert!(fault.mend.contains("declare decimal"), "{text}");
    }
}

#[test]
fn thousands_marks_must_part_groups_of_three() {
    for (text, style) in [("12,34", ENGLISH), ("1,2345.0", ENGLISH), ("1,,234", ENGLISH), (",234", ENGLISH), ("1.5", GERMAN)] {
        assert!(number(text, style).is_err(), "{text}");
    }
}

#[test]
fn words_dates_and_infinities_are_no_numbers() {
    for text in [
        "",
        "-",
        "+",
        ".",
        "e5",
        "1e",
        "n/a",
        "NaN",
        "inf",
        "2.5 kg",
        "3/24",
        "3/24/2031",
        "5/0",
        "1 5/4",
        "0x10",
        "1_000",
        "--1",
        "1e99999",
    ] {
        assert_eq!(number(text, POINT).unwrap_err().code(), "number-unreadable", "{text}");
    }
    assert_eq!(number("1e999", POINT).unwrap_err().code(), "number-out-of-range");
}

// 1 lb = 0.453 592 37 kg and 1 oz = lb/16, exact by definition (NIST Handbook 44 appendix C).
#[test]
fn two_pounds_three_ounces_is_0_992233309375_kg() {
    for text in ["2 lb 3 oz", "2lb3oz", "2 LB, 3 OZ", "2 lbs. 3 oz.", "2 pounds 3 ounces", "35 oz", "2 lb 3oz "] {
        assert_eq!(pounds_ounces(text, POINT), Ok(0.992_233_309_375), "{text}");
    }
}

#[test]
fn four_pounds_six_ounces_is_1_98446661875_kg() {
    assert_eq!(pounds_ounces("4 lb 6 oz", POINT), Ok(1.984_466_618_75));
}

#[test]
fn pounds_or_ounces_alone_may_have_fractions() {
    assert_eq!(pounds_ounces("2 lb", POINT), Ok(0.907_184_74));
    assert_eq!(pounds_ounces("2.5 lb", POINT), pounds_ounces("40 oz", POINT));
    assert_eq!(pounds_ounces("2,5 lbs", COMMA), pounds_ounces("40 oz", POINT));
    assert_eq!(pounds_ounces("2 1/2 lb", POINT), pounds_ounces("40 oz", POINT));
    assert_eq!(pounds_ounces("1 lb 3 1/2 oz", POINT), pounds_ounces("19.5 oz", POINT));
    assert_eq!(pounds_ounces("0 oz", POINT), Ok(0.0));
}

#[test]
fn what_is_no_mass_is_refused_with_an_example() {
    for text in [
        "2 lb 30z",
        "2",
        "2 lb 3",
        "3 oz 2 lb",
        "2 lb 3 oz 4 oz",
        "2 lb 16 oz",
        "2.5 lb 3 oz",
        "-2 lb",
        "2 1b 3 oz",
        "lb",
        "2 kg",
        "",
        "two lb",
        "2 lb 3 lb",
    ] {
        let fault = pounds_ounces(text, POINT).unwrap_err();
        assert_eq!(fault.code(), "mass-unreadable", "{text}");
        assert!(fault.expected.contains("2 lb 3 oz"), "{text}");
    }
}

#[test]
fn pounds_dash_ounces_are_read_where_declared() {
    for text in ["2-3", "2 - 3", "2\u{2013}3", "2 lb 3 oz"] {
        assert_eq!(pounds_dash_ounces(text, POINT), Ok(0.992_233_309_375), "{text}");
    }
    assert_eq!(pounds_dash_ounces("0-12 1/2", POINT), pounds_ounces("12.5 oz", POINT));
    for text in ["2", "2-16", "2.5-3", "-3", "2-3-1", "2--3", "1/4-3"] {
        let fault = pounds_dash_ounces(text, POINT).unwrap_err();
        assert!(fault.expected.contains("\"2-3\""), "{text}");
    }
    assert!(pounds_ounces("2-3", POINT).is_err());
}

#[test]
fn spaces_and_apostrophes_of_every_kind_part_thousands() {
    for space in [' ', '\u{a0}', '\u{202f}', '\u{2009}', '\u{2007}'] {
        assert_eq!(number(&format!("1{space}234,5"), SPACED), Ok(1234.5), "{space:?}");
    }
    let swiss = NumberStyle { decimal: '.', thousands: Some('\'') };
    for text in ["1'234'567.5", "1\u{2019}234\u{2019}567.5"] {
        assert_eq!(number(text, swiss), Ok(1_234_567.5), "{text}");
    }
    assert!(number("1\u{2019}23", swiss).is_err());
}

proptest! {
    #[test]
    fn thousands_marks_change_no_number(x in 0u64..1_000_000_000_000, mark in prop::sample::select(vec![' ', '\'', '.', ','])) {
        let digits = x.to_string();
        let mut grouped = String::new();
        for (i, c) in digits.chars().enumerate() {
            if i > 0 && (digits.len() - i) % 3 == 0 {
                grouped.push(mark);
            }
            grouped.push(c);
        }
        let style = NumberStyle { decimal: if mark == ',' { '.' } else { ',' }, thousands: Some(mark) };
        prop_assert_eq!(number(&grouped, style), Ok(x as f64));
    }

    #[test]
    fn a_mass_is_the_same_in_every_way_of_writing_it(ounces in 0u32..4000) {
        let (lb, oz) = (ounces / 16, ounces % 16);
        let mass = pounds_ounces(&format!("{ounces} oz"), POINT).unwrap();
        prop_assert_eq!(pounds_dash_ounces(&format!("{lb}-{oz}"), POINT), Ok(mass));
        prop_assert_eq!(pounds_ounces(&format!("{lb} lb {oz} oz"), POINT), Ok(mass));
        prop_assert_eq!(pounds_ounces(&format!("{} lb", f64::from(ounces) / 16.0), POINT), Ok(mass));
    }

    #[test]
    fn a_number_written_out_is_read_back(x in -1e9..1e9f64) {
        prop_assert_eq!(number(&format!("{x}"), POINT), Ok(x));
        prop_assert_eq!(number(&format!("{x:e}"), POINT), Ok(x));
        prop_assert_eq!(number(&format!("{x}").replace('.', ","), COMMA), Ok(x));
    }

    #[test]
    fn no_text_is_read_badly(text in ".{0,24}") {
        for style in [POINT, COMMA, ENGLISH, GERMAN, SPACED] {
            prop_assert!(number(&text, style).map_or(true, f64::is_finite));
            prop_assert!(pounds_ounces(&text, style).map_or(true, |kg| kg.is_finite() && kg >= 0.0));
        }
    }

    #[test]
    fn pounds_and_ounces_written_out_are_read_back(lb in 0u32..200, oz in 0u32..16) {
        let expected = f64::from(lb * 16 + oz) * 0.028_349_523_125;
        let read = pounds_ounces(&format!("{lb} lb {oz} oz"), POINT).unwrap();
        prop_assert!((read - expected).abs() <= 1e-15 * expected);
    }
}
