use crate::trial_folder::{HARVEST, TrialFolder, fault};
use jiff::civil::date;
use rust_xlsxwriter::{ExcelDateTime, Format, Workbook};

fn picks() -> Vec<u8> {
    let mut book = Workbook::new();
    let day = Format::new().set_num_format("m/d/yyyy");
    for (name, text) in [("Week 1", "2031-06-02"), ("Week 2", "2031-06-09")] {
        let sheet = book.add_worksheet().set_name(name).unwrap();
        for (i, header) in ["Date", "Bucket", "kg", "Fruit", "Grade"].into_iter().enumerate() {
            sheet.write(0, i as u16, header).unwrap();
        }
        sheet.merge_range(1, 0, 2, 0, "", &day).unwrap();
        sheet.write_with_format(1, 0, ExcelDateTime::parse_from_str(text).unwrap(), &day).unwrap();
        sheet.write_row(1, 1, ["B1-01", "1.25"]).unwrap();
        sheet.write(1, 3, 30).unwrap();
        sheet.write(1, 4, 1).unwrap();
        sheet.write(2, 1, "B1-02").unwrap();
        sheet.write(2, 2, 0.75).unwrap();
        sheet.write(2, 4, "1").unwrap();
    }
    book.add_worksheet().set_name("Notes").unwrap();
    book.save_to_buffer().unwrap()
}

#[test]
fn sheets_by_pattern_typed_dates_text_numbers_and_merged_dates() {
    let trial = TrialFolder::new(HARVEST)
        .edit("files = [\"picks*.csv\"]", "files = [\"picks.xlsx\"]\nsheet = \"Week *\"")
        .log("picks.xlsx", picks());
    let tables = trial.read();
    let read: Vec<_> = tables.sites[0].picks.iter().map(|p| (p.day, p.unit, p.mass, p.count)).collect();
    let (first, second) = (date(2031, 6, 2), date(2031, 6, 9));
    assert_eq!(
        read,
        [
            (first, 0, Some(1.25), Some(30.0)),
            (first, 1, Some(0.75), None),
            (second, 0, Some(1.25), Some(30.0)),
            (second, 1, Some(0.75), None)
        ]
    );
    assert_eq!(tables.files[1].file, "picks.xlsx / Week 1");
    assert!(tables.inferences.iter().any(|i| i.what == "merged cells" && i.as_read.starts_with("1 cell ")));
    assert!(tables.faults.is_empty(), "{:#?}", tables.faults);
}

#[test]
fn a_workbook_of_several_sheets_needs_one_named() {
    let trial = TrialFolder::new(HARVEST).edit("files = [\"picks*.csv\"]", "files = [\"picks.xlsx\"]").log("picks.xlsx", picks());
    assert_eq!(fault(&trial.read(), "sheet-undeclared").found, "the sheets \"Week 1\", \"Week 2\", \"Notes\"");
}
