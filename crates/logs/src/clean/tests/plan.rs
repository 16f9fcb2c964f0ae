use crate::trial_folder::{TrialFolder, aside, fault};

#[test]
fn levels_are_told_in_the_words_of_the_season() {
    let tables = TrialFolder::new("").read();
    let units = &tables.sites[0].units;
    assert_eq!(
        (units[1].id.as_str(), units[1].levels["medium"].as_str(), units[1].plants, units[1].house.as_str()),
        ("B1-02", "perlite", 2, "glass-1")
    );
    assert_eq!(units[1].line.as_deref(), Some("1"));
}

#[test]
fn an_unknown_level_and_a_unit_listed_twice_are_fatal_faults() {
    let trial = TrialFolder::new("")
        .log("plan.csv", "Bucket,Line,Medium,Plants\nB1-01,1,blend,2\nB1-02,1,Perl,2\nB1-03,2,blend,2\nB1-01,2,blend,2\nB1-04,2,blend,x\n");
    let tables = trial.read();
    assert_eq!(tables.sites[0].units.len(), 1);
    let level = fault(&tables, "level-unknown");
    assert_eq!((level.found.as_str(), level.expected.as_str(), level.fatal), ("Perl", "blend, perlite", true));
    assert_eq!(aside(&tables, "plan-unit-twice").len(), 2);
    assert_eq!(aside(&tables, "plants-missing").len(), 1);
}

#[test]
fn ids_made_of_several_columns_are_joined() {
    let site = "\n[unit_ids]\njoin = [\"House\", \"Row\", \"Pos\"]\nwith = \"-\"\nzeros = \"drop\"\n[[harvest]]\nfiles = [\"picks.csv\"]\ndate_style = \"year-month-day\"\nsame_day = \"add\"\nunlisted = \"zero\"\n[harvest.columns]\n\"Day\" = { is = \"date\" }\n\"Pos\" = { is = \"unit-part\" }\n\"House\" = { is = \"unit-part\" }\n\"Row\" = { is = \"unit-part\" }\n\"kg\" = { is = \"mass\", unit = \"kg\" }\n";
    let trial = TrialFolder::new(site)
        .edit("\"Bucket\" = { is = \"unit\" }", "\"Row\" = { is = \"row\" }")
        .log("plan.csv", "House,Row,Pos,Line,Medium,Plants\nN,1,1,1,blend,2\nN,1,2,1,blend,2\n")
        .log("picks.csv", "Day,House,Row,Pos,kg\n2031-06-01,N,1,02,1.5\n");
    let tables = trial.read();
    assert_eq!((tables.sites[0].units[1].id.as_str(), tables.sites[0].units[1].row), ("N-1-2", Some(1)));
    assert_eq!(tables.sites[0].picks[0].unit, 1);
}

#[test]
fn two_pots_with_one_area_unit_are_square_metres() {
    let trial = TrialFolder::new("")
        .edit("\"Plants\" =", "\"Area\" = { is = \"area\", unit = \"ft2\" }\n\"Plants\" =")
        .log("plan.csv", "Bucket,Line,Medium,Plants,Area\nB1-01,1,blend,2,10\n");
    // 1 ft² = 0.09290304 m² exactly (international foot).
    assert_eq!(trial.read().sites[0].units[0].area_m2, Some(0.929_030_4));
}

#[test]
fn a_unit_of_no_plants_is_kept_and_told() {
    let tables = TrialFolder::new("").log("plan.csv", "Bucket,Line,Medium,Plants\nB1-01,1,blend,0\nB1-02,1,Per,2\n").read();
    assert_eq!(tables.sites[0].units.len(), 2);
    assert_eq!(fault(&tables, "plants-none").found, "0 plants in \"B1-01\"");
}

#[test]
fn a_plan_without_units_is_told_once_and_not_once_a_unit() {
    let trial = TrialFolder::new(crate::trial_folder::HARVEST).log("plan.csv", "Bucket,Line,Medium,Plants\n");
    let tables = trial.log("picks.csv", "Date,Bucket,kg,Fruit,Grade\n2031-06-02,B1-01,1,30,1\n2031-06-02,B1-02,1,30,1\n").read();
    let codes: Vec<_> = tables.faults.iter().map(|f| f.code.as_str()).collect();
    assert_eq!(codes, ["no-rows", "plan-empty"]);
    assert_eq!(tables.files[1].set_aside, 2);
}
