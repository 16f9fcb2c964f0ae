//! Wide pick sheets.
use crate::tables::CleanTables;
use crate::trial_folder::{HARVEST, TrialFolder, aside, fault};
use proptest::prelude::*;

/// The harvest log of the small season, declared wide; its columns are told by each test.
fn wide(columns: &str, tail: &str) -> TrialFolder {
    let start = HARVEST.find("[harvest.columns]").unwrap();
    let head = HARVEST[..start].replace("date_style = \"year-month-day\"", "date_style = \"month/day/year\"\ntotals = [\"Total\"]");
    TrialFolder::new(&format!("{head}[harvest.columns]\n{columns}\n{tail}"))
}

fn picks(tables: &CleanTables) -> Vec<(usize, i8, Option<f64>)> {
    let mut picks: Vec<_> = tables.sites[0].picks.iter().map(|p| (p.unit, p.day.day(), p.mass)).collect();
    picks.sort_by(|a, b| a.partial_cmp(b).unwrap());
    picks
}

const A_DATE: &str = "[harvest.wide]\nacross = \"date\"\ncells = { is = \"mass\", unit = \"kg\" }\n";

#[test]
fn a_column_a_date_is_a_row_for_each_filled_cell() {
    let trial = wide("\"Bucket\" = { is = \"unit\" }\n\"Sum\" = { is = \"ignored\" }", A_DATE)
        .log("picks.csv", "Bucket,6/2/2031,6/9/2031,Sum,Remark\nB1-01,1.5,,1.5,good\nB1-02,0,0.5,0.5,\nB1-03,,,,\nTotal,1.5,0.5,2,\n");
    let tables = trial.read();
    assert_eq!(picks(&tables), [(0, 2, Some(1.5)), (1, 2, Some(0.0)), (1, 9, Some(0.5))]);
    let account = &tables.files[1];
    assert_eq!((account.read, account.kept, account.set_aside), (3, 3, 0));
    for kind in ["totals", "row without a pick"] {
        assert!(account.other_lines.contains(&(kind.to_owned(), 1)), "{:?}", account.other_lines);
    }
    assert!(tables.inferences.iter().any(|i| i.what == "columns not read" && i.as_read == "\"Remark\""));
    assert_eq!(tables.sites[0].picks[0].source.row, 2);
    assert!(tables.faults.is_empty(), "{:#?}", tables.faults);
}

#[test]
fn a_row_of_dates_stands_above_pairs_of_pounds_and_ounces() {
    let trial = wide(
        "\"Bucket\" = { is = \"unit\" }",
        "[harvest.wide]\nacross = \"date\"\n[harvest.wide.columns]\n\"lb\" = { is = \"mass\" }\n\"oz\" = { is = \"mass\" }\n",
    )
    .log("picks.csv", ",6/2/2031,,6/9/2031,\nBucket,lb,oz,lb,oz\nB1-01,2,3,,12\nB1-02,x,3,1,0\n");
    let tables = trial.read();
    assert_eq!(picks(&tables), [(0, 2, Some(0.992_233_309_375)), (0, 9, Some(0.340_194_277_5)), (1, 9, Some(0.453_592_37))]);
    assert_eq!((fault(&tables, "mass-unreadable").found.as_str(), tables.files[1].read, tables.files[1].set_aside), ("x", 4, 1));
}

#[test]
fn a_column_a_unit_is_a_row_for_each_filled_cell() {
    let trial = wide(
        "\"Date\" = { is = \"date\" }\n\"All\" = { is = \"ignored\" }",
        "[harvest.wide]\nacross = \"unit\"\ncells = { is = \"mass\", unit = \"kg\" }\n",
    )
    .log("picks.csv", "Date,B1-01,B1-02,All\n6/2/2031,1.5,,1.5\n6/9/2031,2,0.5,2.5\n");
    assert_eq!(picks(&trial.read()), [(0, 2, Some(1.5)), (0, 9, Some(2.0)), (1, 9, Some(0.5))]);
}

#[test]
fn a_head_that_is_no_day_sets_its_filled_cells_aside() {
    let trial =
        wide("\"Bucket\" = { is = \"unit\" }", A_DATE).log("picks.csv", "Bucket,6/2/2031,6/31/2031\nB1-01,1.5,2\nB1-02,1,\nB1-03,1,3,7\n");
    let tables = trial.read();
    assert_eq!(picks(&tables).len(), 2);
    assert_eq!(fault(&tables, "date-impossible").found, "6/31/2031");
    // The row with a cell beyond the header was set aside whole, before it was parted.
    assert_eq!((aside(&tables, "date-impossible").len(), aside(&tables, "row-ragged").len(), tables.files[1].read), (1, 1, 4));
}

#[test]
fn a_head_without_its_ounces_or_a_column_without_a_head_is_told() {
    let pairs = "[harvest.wide]\nacross = \"date\"\n[harvest.wide.columns]\n\"lb\" = { is = \"mass\" }\n\"oz\" = { is = \"mass\" }\n";
    let trial =
        wide("\"Bucket\" = { is = \"unit\" }", pairs).log("picks.csv", ",6/2/2031,,6/9/2031,\nBucket,lb,oz,lb,Oz.\nB1-01,2,3,,12\n");
    let told = trial.read();
    assert_eq!(
        (fault(&told, "column-missing").found.as_str(), fault(&told, "column-missing").fatal),
        ("no column \"oz\" under \"6/9/2031\"", true)
    );
    let headless = wide("\"Bucket\" = { is = \"unit\" }", A_DATE).log("picks.csv", "Bucket,6/2/2031,\nB1-01,1.5,2\nB1-02,,3\n").read();
    assert_eq!(fault(&headless, "head-missing").found, "2 cells in column 3 of the sheet");
}

#[test]
fn a_wide_sheet_that_does_not_say_what_its_columns_are_is_refused() {
    let faults = wide("\"Bucket\" = { is = \"unit\" }", "[harvest.wide]\nacross = \"date\"\n").declarations().unwrap_err();
    assert_eq!(faults[0].code, "wide-undeclared");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]

    /// One season of picks, kept long and kept wide: the same picks.
    #[test]
    fn wide_and_long_sheets_of_one_season_give_the_same_picks(cells in prop::collection::vec(prop::option::of(0u32..90), 12)) {
        let at = |unit: usize, day: usize| cells[unit * 4 + day].map(|x| format!("{}.{}", x / 10, x % 10));
        let mut long = "Date,Bucket,kg\n".to_owned();
        let mut table = "Bucket,6/2/2031,6/5/2031,6/9/2031,6/12/2031\n".to_owned();
        let days = [2, 5, 9, 12];
        for unit in 0..3 {
            table += &format!("B1-0{}", unit + 1);
            for (i, day) in days.iter().enumerate() {
                if let Some(kg) = at(unit, i) {
                    long += &format!("6/{day}/2031,B1-0{},{kg}\n", unit + 1);
                }
                table += &format!(",{}", at(unit, i).unwrap_or_default());
            }
            table += "\n";
        }
        let of_wide = wide("\"Bucket\" = { is = \"unit\" }", A_DATE).log("picks.csv", &table).read();
        let columns = "\"Date\" = { is = \"date\" }\n\"Bucket\" = { is = \"unit\" }\n\"kg\" = { is = \"mass\", unit = \"kg\" }";
        let of_long = wide(columns, "").log("picks.csv", &long).read();
        prop_assert_eq!(picks(&of_wide), picks(&of_long));
        prop_assert_eq!(of_wide.files[1].read, of_long.files[1].read);
    }
}
