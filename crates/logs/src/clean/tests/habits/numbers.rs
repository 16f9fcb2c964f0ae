//! Marks of thousands, words for "nothing", values below detection.
use super::text::masses;
use crate::trial_folder::{HARVEST, TrialFolder, aside, fault};

#[test]
fn thousands_marks_are_read_where_declared() {
    for (decimal, mark, written) in [
        (".", ",", "\"1,250.5\""),
        (",", ".", "\"1.250,5\""),
        (",", " ", "\"1\u{202f}250,5\""),
        (",", " ", "\"1\u{a0}250,5\""),
        (".", "'", "1'250.5"),
        (".", "'", "1\u{2019}250.5"),
    ] {
        let trial = TrialFolder::new(HARVEST)
            .edit(
                "decimal = \".\"\ndate_style = \"year-month-day\"\nunlisted",
                &format!("decimal = \"{decimal}\"\nthousands = \"{mark}\"\ndate_style = \"year-month-day\"\nunlisted"),
            )
            .edit("unit = \"kg\"", "unit = \"g\"")
            .log("picks.csv", format!("Date,Bucket,kg,Fruit,Grade\n2031-06-02,B1-01,{written},30,1\n"));
        assert_eq!(masses(&trial.read()), [Some(1.2505)], "{written}");
    }
}

#[test]
fn codes_of_no_value_are_no_values_and_no_faults() {
    let trial = TrialFolder::new(HARVEST)
        .edit("unlisted = \"zero\"", "unlisted = \"zero\"\nmissing = [\"\", \"n/a\", \"-\", \".\", \"-999\"]")
        .log("picks.csv", "Date,Bucket,kg,Fruit,Grade\n2031-06-02,B1-01,n/a,1,1\n2031-06-03,B1-01,-,2,1\n2031-06-04,B1-01,.,3,1\n2031-06-05,B1-01,-999.0,4,1\n2031-06-06,B1-01,-999,,1\n");
    let tables = trial.read();
    assert_eq!(masses(&tables), [None, None, None, None]);
    assert_eq!(aside(&tables, "nothing-written").len(), 1);
    assert!(tables.faults.is_empty(), "{:#?}", tables.faults);
    let undeclared =
        TrialFolder::new(HARVEST).log("picks.csv", "Date,Bucket,kg,Fruit,Grade\n2031-06-02,B1-01,n/a,1,1\n2031-06-05,B1-01,-999,4,1\n");
    let tables = undeclared.read();
    assert_eq!((fault(&tables, "mass-unreadable").found.as_str(), fault(&tables, "mass-impossible").found.as_str()), ("n/a", "-999"));
}

const EC: &str = r#"
[[root_zone]]
files = ["drain.csv"]
house = "glass-1"
delimiter = ","
decimal = "."
date_style = "year-month-day"
[root_zone.columns]
"Date" = { is = "date" }
"EC in" = { is = "feed-ec", unit = "mS/cm" }
"EC out" = { is = "drain-ec", unit = "uS/cm" }
"#;

#[test]
fn values_below_detection_count_as_declared_and_are_asked_about_where_not() {
    let text = "Date,EC in,EC out\n2031-06-01,2,<100\n2031-06-02,2,Trace\n2031-06-03,2,2000\n";
    let read = |declared: &str| {
        let trial = TrialFolder::new(EC).edit("unit = \"uS/cm\"", &format!("unit = \"uS/cm\"{declared}")).log("drain.csv", text);
        let tables = trial.read();
        let ec: Vec<_> = tables.sites[0].root_zone.iter().map(|r| r.drain_ec).collect();
        (ec, tables)
    };
    let half = ", below_detection = \"half\", limit = 60, traces = [\"trace\"]";
    let (ec, tables) = read(half);
    assert_eq!(ec, [Some(0.05), Some(0.03), Some(2.0)]);
    let told = tables.inferences.iter().find(|i| i.what == "values below detection in column \"EC out\"").unwrap();
    assert_eq!(told.as_read, "2 cells read as half of the limit");
    assert_eq!(read(", below_detection = \"zero\", traces = [\"trace\"]").0, [Some(0.0), Some(0.0), Some(2.0)]);
    assert_eq!(read(", below_detection = \"missing\", traces = [\"trace\"]").0, [None, None, Some(2.0)]);
    let (ec, tables) = read("");
    assert_eq!(ec, [None, None, Some(2.0)]);
    let asked = fault(&tables, "below-detection-undeclared");
    assert!(asked.mend.starts_with("what does <100 count as: zero, half of the limit, or no value?"), "{}", asked.mend);
    let unlimited = TrialFolder::new(EC).edit("unit = \"uS/cm\"", "unit = \"uS/cm\", below_detection = \"half\", traces = [\"trace\"]");
    assert_eq!(unlimited.declarations().unwrap_err()[0].code, "limit-undeclared");
}

#[test]
fn fractions_dashes_and_words_for_pounds_and_ounces_are_read_as_declared() {
    let read = |unit: &str, cell: &str| {
        let trial = TrialFolder::new(HARVEST).edit("unit = \"kg\"", &format!("unit = \"{unit}\""));
        masses(&trial.log("picks.csv", format!("Date,Bucket,kg,Fruit,Grade\n2031-06-02,B1-01,{cell},30,1\n")).read())
    };
    // 1 lb = 0.453 592 37 kg and 1 oz = lb/16, exact by definition (NIST Handbook 44 appendix C).
    assert_eq!(read("lb", "2 1/4"), [Some(1.020_582_832_5)]);
    assert_eq!(read("lb", "2¼"), [Some(1.020_582_832_5)]);
    assert_eq!(read("lb oz", "2 lb 3 oz"), [Some(0.992_233_309_375)]);
    assert_eq!(read("lb-oz", "2-3"), [Some(0.992_233_309_375)]);
    assert_eq!(read("lb oz", "2-3"), [None]);
}

mod unit_of_entry {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #![proptest_config(ProptestConfig { cases: 16, ..ProptestConfig::default() })]

        /// One mass in whole ounces, entered in seven ways: the same kilograms to 1e-15 of them.
        #[test]
        fn the_unit_of_entry_changes_no_mass(ounces in 1u32..800) {
            let (lb, oz) = (ounces / 16, ounces % 16);
            let kg = f64::from(ounces) * 45_359_237.0 / 16e8;
            for (unit, cell) in [
                ("oz", format!("{ounces}")),
                ("lb", format!("{}", f64::from(ounces) / 16.0)),
                ("lb oz", format!("{lb} lb {oz} oz")),
                ("lb-oz", format!("{lb}-{oz}")),
                ("kg", format!("{kg}")),
                ("g", format!("{}", kg * 1000.0)),
            ] {
                let trial = TrialFolder::new(HARVEST).edit("unit = \"kg\"", &format!("unit = \"{unit}\""));
                let read = masses(&trial.log("picks.csv", format!("Date,Bucket,kg,Fruit,Grade\n2031-06-02,B1-01,{cell},30,1\n")).read());
                let mass = read[0].unwrap();
                prop_assert!((mass - kg).abs() <= 4.0 * f64::EPSILON * kg, "{unit} {cell}: {mass} {kg}");
            }
        }
    }
}
