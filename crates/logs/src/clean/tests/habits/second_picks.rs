//! Several harvest logs of one site, and houses that pick on different days.
use super::text::masses;
use crate::trial_folder::{HARVEST, TrialFolder, aside, fault, flag};

/// A second harvest log, of other files and headers.
fn two_logs(first: &str, second: &str, other: &str) -> TrialFolder {
    let again = HARVEST
        .replace("picks*", "more*")
        .replace("same_day = \"add\"", second)
        .replace("\"kg\" = { is = \"mass\", unit = \"kg\" }", other);
    TrialFolder::new(&format!("{}{again}", HARVEST.replace("same_day = \"add\"", first)))
        .log("picks.csv", "Date,Bucket,kg,Fruit,Grade\n2031-06-02,B1-01,1,30,1\n2031-06-02,B1-02,2,40,1\n")
}

const GRAMS: &str = "\"g\" = { is = \"mass\", unit = \"g\" }";

#[test]
fn a_second_row_in_another_harvest_log_is_judged_as_one_in_the_same_log() {
    let read = |same: &str| two_logs(same, same, GRAMS).log("more.csv", "Date,Bucket,g,Fruit,Grade\n2031-06-02,B1-01,500,12,1\n").read();
    assert_eq!(masses(&read("same_day = \"add\"")), [Some(1.0), Some(2.0), Some(0.5)]);
    let replaced = read("same_day = \"replace\"");
    assert_eq!(masses(&replaced), [Some(2.0), Some(0.5)]);
    assert!(aside(&replaced, "replaced")[0].why.contains("(more.csv, row 2)"));
    let refused = read("same_day = \"fault\"");
    assert_eq!(masses(&refused), [Some(2.0)]);
    assert_eq!(aside(&refused, "duplicate-row").len(), 2);
    let asked = read("");
    assert_eq!(masses(&asked), [Some(2.0)]);
    assert!(fault(&asked, "same-day-undeclared").mend.contains("add to the first, replace it"));
}

#[test]
fn a_pick_copied_into_another_harvest_log_is_flagged() {
    let tables = two_logs("same_day = \"add\"", "same_day = \"add\"", GRAMS)
        .log("more.csv", "Date,Bucket,g,Fruit,Grade\n2031-06-02,B1-01,1000,30,1\n")
        .read();
    assert_eq!(flag(&tables, "same-row-in-two-files").file, "more.csv");
}

#[test]
fn harvest_logs_whose_rules_differ_are_asked_about() {
    let tables = two_logs("same_day = \"add\"", "same_day = \"replace\"", GRAMS)
        .log("more.csv", "Date,Bucket,g,Fruit,Grade\n2031-06-02,B1-01,500,12,1\n2031-06-03,B1-01,500,12,1\n")
        .read();
    assert_eq!(masses(&tables), [Some(2.0), Some(0.5)]);
    assert!(fault(&tables, "same-day-differs").mend.contains("write the same rule in both"));
}

#[test]
fn a_log_of_samples_completes_a_log_of_masses() {
    let brix = "\"Brix\" = { is = \"measure\", name = \"soluble solids\", unit = \"%\" }";
    let tables = two_logs("same_day = \"fault\"", "same_day = \"fault\"", brix)
        .log("more.csv", "Date,Bucket,Brix,Fruit,Grade\n2031-06-02,B1-01,7.5,,1\n")
        .read();
    assert_eq!(tables.sites[0].picks.len(), 3);
    assert!(tables.set_aside.is_empty(), "{:?}", tables.set_aside);
}

#[test]
fn houses_that_pick_on_different_days_have_pick_days_of_their_own() {
    let trial = TrialFolder::new(HARVEST)
        .edit("[plan]", "[[house]]\nid = \"tunnel\"\n[plan]")
        .edit("\"Line\" = { is = \"line\" }", "\"House\" = { is = \"house\" }")
        .log("plan.csv", "Bucket,House,Medium,Plants\nB1-01,glass-1,blend,2\nB1-02,glass-1,Per,2\nB1-03,tunnel,blend,2\n")
        .log("picks.csv", "Date,Bucket,kg,Fruit,Grade\n2031-06-02,B1-01,1,30,1\n2031-06-05,B1-03,1,30,1\n2031-06-09,B1-02,1,30,1\n");
    let tables = trial.read();
    let site = &tables.sites[0].site;
    let days = |house: &str| site.pick_days_of(house).iter().map(|d| d.day()).collect::<Vec<_>>();
    assert_eq!((days("glass-1"), days("tunnel")), (vec![2, 9], vec![5]));
    assert_eq!(site.pick_days.len(), 3);
    let told = tables.inferences.iter().find(|i| i.what == "pick days").unwrap();
    assert_eq!(told.as_read, "each house by its own: glass-1 2, tunnel 1");
}
