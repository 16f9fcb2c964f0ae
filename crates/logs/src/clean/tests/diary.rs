use crate::tables::Event;
use crate::trial_folder::{HARVEST, TrialFolder, fault, flag};
use jiff::civil::date;

const DIARY: &str = r#"
[[diary]]
files = ["diary.csv"]
delimiter = ","
date_style = "year-month-day"
[diary.columns]
"Date" = { is = "date" }
"Until" = { is = "until" }
"Bucket" = { is = "unit" }
"House" = { is = "house" }
"What" = { is = "event" }
"Plants" = { is = "plants" }
"Note" = { is = "note" }
[diary.events]
"plant died" = "plant-death"
"no pick" = "missed-pick"
"#;

#[test]
fn deaths_missed_picks_and_notes_are_understood() {
    let trial = TrialFolder::new(DIARY).log("diary.csv", "Date,Until,Bucket,House,What,Plants,Note\n2031-06-01,,B1-01,,plant died,2,wilt\n2031-06-09,2031-06-15,,glass-1,no pick,,storm\n2031-06-20,,,,note,,vents mended\n2031-06-21,,B1-02,,plant died,,\n");
    let tables = trial.read();
    let site = &tables.sites[0];
    assert_eq!(
        site.diary.iter().map(|d| d.event).collect::<Vec<_>>(),
        [Event::PlantDeath, Event::MissedPick, Event::Note, Event::PlantDeath]
    );
    assert_eq!((site.diary[0].unit, site.diary[0].plants, site.diary[3].plants), (Some(0), Some(2), Some(1)));
    let missed = &site.site.missed_days[0];
    assert_eq!(
        (missed.from, missed.to, missed.house.as_deref(), missed.reason.as_str()),
        (date(2031, 6, 9), date(2031, 6, 15), Some("glass-1"), "storm")
    );
    assert_eq!(tables.files[1].kept, 4);
    assert!(tables.inferences.iter().any(|i| i.what == "plants that died in row 5"));
}

#[test]
fn a_word_that_is_not_explained_is_asked_about() {
    let trial =
        TrialFolder::new(DIARY).log("diary.csv", "Date,Until,Bucket,House,What,Plants,Note\n2031-06-01,,B1-01,,plant dead,2,wilt\n");
    let tables = trial.read();
    assert!(fault(&tables, "event-undeclared").mend.starts_with("did you mean \"plant died\"? If not, say in [diary.events]"));
    assert_eq!(tables.files[1].set_aside, 1);
}

#[test]
fn a_pick_after_the_recorded_death_of_all_plants_is_flagged() {
    let trial = TrialFolder::new(&format!("{DIARY}{HARVEST}"))
        .log("diary.csv", "Date,Until,Bucket,House,What,Plants,Note\n2031-06-01,,B1-01,,plant died,2,wilt\n")
        .log("picks.csv", "Date,Bucket,kg,Fruit,Grade\n2031-06-02,B1-01,1,30,1\n2031-06-02,B1-02,1,30,1\n");
    let tables = trial.read();
    assert_eq!(flag(&tables, "after-death").rows, 1);
    assert_eq!(tables.sites[0].picks[0].flags, ["after-death"]);
}

#[test]
fn an_entry_that_ends_before_it_begins_is_of_one_day_and_told() {
    let trial = TrialFolder::new(DIARY).log("diary.csv", "Date,Until,Bucket,House,What,Plants,Note\n2031-06-10,2031-06-01,,,no pick,,\n");
    let tables = trial.read();
    assert_eq!(tables.sites[0].diary[0].until, tables.sites[0].diary[0].day);
    assert_eq!(fault(&tables, "until-before-start").expected, "2031-06-10 or a later day");
}
