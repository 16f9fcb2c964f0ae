use crate::trial_folder::{TrialFolder, aside, fault, flag};

const ROOT_ZONE: &str = r#"
[[root_zone]]
files = ["drain.csv"]
house = "glass-1"
plants = 24
delimiter = ","
date_style = "year-month-day"
[root_zone.columns]
"Date" = { is = "date" }
"Line" = { is = "zone" }
"Feed" = { is = "feed-volume", unit = "L" }
"Drain" = { is = "drain-volume", unit = "mL" }
"EC in" = { is = "feed-ec", unit = "mS/cm" }
"EC out" = { is = "drain-ec", unit = "ppm", scale = 700 }
"pH in" = { is = "feed-ph" }
"#;

#[test]
fn volumes_ec_and_ph_come_in_canonical_units() {
    let trial = TrialFolder::new(ROOT_ZONE).log("drain.csv", "Date,Line,Feed,Drain,EC in,EC out,pH in\n2031-06-01,1,24,4800,2.4,1960,5.8\n2031-06-01,2,24,25000,2.4,1960,58\n2031-06-01,9,24,4800,2.4,1960,5.8\n2031-06-01,1,24,4800,2.4,1960,5.8\n2031-06-01,1,10,1000,2.4,1960,5.8\n");
    let tables = trial.read();
    let rows = &tables.sites[0].root_zone;
    assert_eq!(
        (rows[0].zone.as_str(), rows[0].feed_volume, rows[0].drain_volume, rows[0].drain_ec, rows[0].plants),
        ("1", Some(24.0), Some(4.8), Some(2.8), Some(24.0))
    );
    assert_eq!(rows.len(), 3); // two readings of one day are both kept, an identical row is not
    assert_eq!(aside(&tables, "duplicate-identical")[0].place.row, Some(5));
    assert_eq!(flag(&tables, "drain-above-feed").first_row, 3);
    assert_eq!(rows.iter().find(|r| r.zone == "2").unwrap().feed_ph, None);
    assert_eq!(fault(&tables, "feed-ph-impossible").found, "58");
    assert_eq!(fault(&tables, "zone-unknown").expected, "1, 2, glass-1");
}

#[test]
fn ppm_without_a_scale_is_a_question_and_the_rest_is_read() {
    let trial = TrialFolder::new(ROOT_ZONE)
        .edit(", scale = 700", "")
        .log("drain.csv", "Date,Line,Feed,Drain,EC in,EC out,pH in\n2031-06-01,1,24,4800,2.4,1960,5.8\n");
    let tables = trial.read();
    assert_eq!((tables.sites[0].root_zone[0].drain_ec, tables.sites[0].root_zone[0].feed_ec), (None, Some(2.4)));
    assert!(fault(&tables, "unit-undeclared").mend.contains("which scale does the meter use?"));
}
