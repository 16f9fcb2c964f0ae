//! Workbooks as offices keep them.
use super::text::masses;
use crate::tables::CleanTables;
use crate::trial_folder::{HARVEST, TrialFolder, aside, fault};
use rust_xlsxwriter::{ExcelDateTime, Format, Formula, Workbook, Worksheet};
use std::io::{Cursor, Read, Write};
use zip::write::SimpleFileOptions;

const HEADERS: [&str; 5] = ["Date", "Bucket", "kg", "Fruit", "Grade"];

/// The small season's picks in a workbook, with `sheet` of the site file.
fn workbook(sheet: &str, name: &str, bytes: Vec<u8>) -> TrialFolder {
    TrialFolder::new(HARVEST).edit("files = [\"picks*.csv\"]", &format!("files = [\"{name}\"]\n{sheet}")).log(name, bytes)
}

fn pick(sheet: &mut Worksheet, row: u32, bucket: &str, kg: f64) {
    sheet.write_row(row, 0, ["2031-06-02", bucket]).unwrap();
    sheet.write(row, 2, kg).unwrap();
    sheet.write(row, 4, 1).unwrap();
}

fn told<'t>(tables: &'t CleanTables, what: &str) -> &'t str {
    &tables.inferences.iter().find(|i| i.what.starts_with(what)).unwrap_or_else(|| panic!("no {what} in {:#?}", tables.inferences)).as_read
}

#[test]
fn hidden_rows_and_columns_formulas_and_numbers_as_text_are_read_and_counted() {
    let mut book = Workbook::new();
    let sheet = book.add_worksheet();
    sheet.write_row(0, 0, HEADERS).unwrap();
    pick(sheet, 1, "B1-01", 1.5);
    pick(sheet, 2, "B1-02", 2.5);
    pick(sheet, 3, "B1-03", 0.0);
    sheet.write_formula(3, 2, Formula::new("C2+0.25").set_result("1.75")).unwrap();
    sheet.write(2, 2, "2.5").unwrap();
    sheet.set_row_hidden(2).unwrap();
    sheet.set_column_hidden(3).unwrap();
    let tables = workbook("", "picks.xlsx", book.save_to_buffer().unwrap()).read();
    assert_eq!(masses(&tables), [Some(1.5), Some(2.5), Some(1.75)]);
    assert_eq!(told(&tables, "hidden rows"), "1 hidden row read like the others");
    assert_eq!(told(&tables, "hidden columns"), "1 hidden column read like the others");
    assert_eq!(told(&tables, "formulas"), "1 formula read by their stored values");
    assert_eq!(told(&tables, "numbers stored as text in column \"kg\""), "1 cell read as the numbers they write");
}

#[test]
fn error_cells_and_dates_made_of_masses_are_set_aside_with_their_reason() {
    let mut book = Workbook::new();
    let sheet = book.add_worksheet();
    sheet.write_row(0, 0, HEADERS).unwrap();
    for (row, bucket) in [(1, "B1-01"), (2, "B1-02"), (3, "B1-03")] {
        pick(sheet, row, bucket, 1.0);
    }
    sheet.write_formula(1, 2, Formula::new("1/0").set_result("#DIV/0!")).unwrap();
    let day = Format::new().set_num_format("d-mmm");
    sheet.write_with_format(2, 2, ExcelDateTime::parse_from_str("2031-02-03").unwrap(), &day).unwrap();
    let tables = workbook("", "picks.xlsx", book.save_to_buffer().unwrap()).read();
    assert_eq!(fault(&tables, "formula-error").place.row, Some(2));
    assert_eq!(fault(&tables, "date-for-number").place.row, Some(3));
    assert_eq!(aside(&tables, "nothing-left").len(), 2);
    assert_eq!(masses(&tables), [Some(1.0)]);
}

#[test]
fn the_name_of_the_sheet_supplies_the_block_or_the_day() {
    let mut book = Workbook::new();
    for (name, kg) in [("Block B1", 1.0), ("Block B2", 2.0)] {
        let sheet = book.add_worksheet().set_name(name).unwrap();
        sheet.write_row(0, 0, HEADERS).unwrap();
        pick(sheet, 1, "01", kg);
    }
    let by_block = workbook("sheet = \"Block *\"\nsheet_name = { is = \"unit-part\" }", "picks.xlsx", book.save_to_buffer().unwrap())
        .edit("[[harvest]]", "[unit_ids]\njoin = [\"name of the sheet\", \"Bucket\"]\n[[harvest]]")
        .edit(
            "\"Date\" = { is = \"date\" }\n\"Bucket\" = { is = \"unit\" }",
            "\"Date\" = { is = \"date\" }\n\"Bucket\" = { is = \"unit-part\" }",
        )
        .log("plan.csv", "Bucket,Line,Medium,Plants\nB1-01,1,blend,2\nB2-01,1,Per,2\n")
        .read();
    assert_eq!(masses(&by_block), [Some(1.0), Some(2.0)]);
    assert!(by_block.faults.is_empty(), "{:#?}", by_block.faults);

    let mut book = Workbook::new();
    for name in ["Week 23", "Week 24"] {
        let sheet = book.add_worksheet().set_name(name).unwrap();
        sheet.write_row(0, 1, HEADERS.into_iter().skip(1)).unwrap();
        sheet.write_row(1, 1, ["B1-01", "1.5", "30", "1"]).unwrap();
    }
    let by_week = workbook(
        "sheet = \"Week *\"\nsheet_name = { is = \"date\" }\nyear = 2031\nweek_day = \"monday\"",
        "picks.xlsx",
        book.save_to_buffer().unwrap(),
    )
    .edit("date_style = \"year-month-day\"", "date_style = \"week\"")
    .edit("\"Date\" = { is = \"date\" }\n", "")
    .read();
    let days: Vec<_> = by_week.sites[0].picks.iter().map(|p| p.day.to_string()).collect();
    assert_eq!(days, ["2031-06-02", "2031-06-09"]);
}

#[test]
fn the_name_of_the_file_supplies_the_day() {
    let text = "Bucket,kg,Fruit,Grade\nB1-01,1,30,1\n";
    let tables = TrialFolder::new(HARVEST)
        .edit("files = [\"picks*.csv\"]", "files = [\"picks-*.csv\"]\nfile_name = { is = \"date\" }")
        .edit("\"Date\" = { is = \"date\" }\n", "")
        .log("picks-2031-06-02.csv", text)
        .log("picks-2031-06-09.csv", text)
        .read();
    let days: Vec<_> = tables.sites[0].picks.iter().map(|p| p.day.to_string()).collect();
    assert_eq!(days, ["2031-06-02", "2031-06-09"]);
}

/// The same workbook with some text of one part replaced.
fn edited(bytes: &[u8], part: &str, from: &str, to: &str) -> Vec<u8> {
    let mut from_zip = zip::ZipArchive::new(Cursor::new(bytes)).unwrap();
    let mut into = zip::ZipWriter::new(Cursor::new(Vec::new()));
    for i in 0..from_zip.len() {
        let mut entry = from_zip.by_index(i).unwrap();
        let name = entry.name().unwrap().into_owned();
        let mut text = Vec::new();
        entry.read_to_end(&mut text).unwrap();
        if name == part {
            let old = String::from_utf8(text).unwrap();
            assert!(old.contains(from), "{old}");
            text = old.replacen(from, to, 1).into_bytes();
        }
        into.start_file(name, SimpleFileOptions::default()).unwrap();
        into.write_all(&text).unwrap();
    }
    into.finish().unwrap().into_inner()
}

#[test]
fn serial_days_of_both_epochs_are_the_same_day() {
    // 2031-06-02 is serial day 48001 of the 1900 system, and 1462 days fewer of the 1904 system (ECMA-376 part 1, 18.17.4.1).
    let read = |serial: f64, epoch_1904: bool, format: &str, style: &str| {
        let mut book = Workbook::new();
        let sheet = book.add_worksheet();
        sheet.write_row(0, 0, HEADERS).unwrap();
        pick(sheet, 1, "B1-01", 1.0);
        sheet.write_number_with_format(1, 0, serial, &Format::new().set_num_format(format)).unwrap();
        let mut bytes = book.save_to_buffer().unwrap();
        if epoch_1904 {
            bytes = edited(&bytes, "xl/workbook.xml", "<workbookPr ", "<workbookPr date1904=\"1\" ");
        }
        let trial = workbook("", "picks.xlsx", bytes).edit("date_style = \"year-month-day\"", &format!("date_style = \"{style}\""));
        let tables = trial.read();
        tables.sites[0].picks.iter().map(|p| p.day.to_string()).collect::<Vec<_>>()
    };
    for style in ["workbook", "year-month-day"] {
        assert_eq!(read(48_001.0, false, "m/d/yyyy", style), ["2031-06-02"], "{style}");
        assert_eq!(read(46_539.0, true, "m/d/yyyy", style), ["2031-06-02"], "{style}");
    }
    assert_eq!(read(48_001.0, false, "0", "workbook"), ["2031-06-02"]);
    assert_eq!(read(46_539.0, true, "0", "workbook"), ["2031-06-02"]);
    assert!(read(48_001.0, false, "0", "year-month-day").is_empty());
}

/// An OpenDocument workbook of one sheet with these rows.
fn open_document(rows: &str) -> Vec<u8> {
    let content = format!(
        r#"<?xml version="1.0" encoding="UTF-8"?><office:document-content xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0" xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0" xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0" office:version="1.3"><office:body><office:spreadsheet><table:table table:name="Picks"><table:table-column table:number-columns-repeated="3"/><table:table-column table:visibility="collapse"/><table:table-column/>{rows}</table:table></office:spreadsheet></office:body></office:document-content>"#
    );
    let manifest =
        r#"<?xml version="1.0" encoding="UTF-8"?><manifest:manifest xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0"/>"#;
    let mut into = zip::ZipWriter::new(Cursor::new(Vec::new()));
    let stored = SimpleFileOptions::default().compression_method(zip::CompressionMethod::Stored);
    into.start_file("mimetype", stored).unwrap();
    into.write_all(b"application/vnd.oasis.opendocument.spreadsheet").unwrap();
    for (name, text) in [("META-INF/manifest.xml", manifest), ("content.xml", &content)] {
        into.start_file(name, SimpleFileOptions::default()).unwrap();
        into.write_all(text.as_bytes()).unwrap();
    }
    into.finish().unwrap().into_inner()
}

#[test]
fn an_open_document_sheet_fills_merged_cells_and_counts_hidden_rows_and_formulas() {
    let text = |t: &str| format!(r#"<table:table-cell office:value-type="string"><text:p>{t}</text:p></table:table-cell>"#);
    let number =
        |x: f64| format!(r#"<table:table-cell office:value-type="float" office:value="{x}"><text:p>{x}</text:p></table:table-cell>"#);
    let header: String = HEADERS.iter().map(|h| text(h)).collect();
    let merged = r#"<table:table-cell table:number-rows-spanned="2" office:value-type="date" office:date-value="2031-06-02"><text:p>6/2</text:p></table:table-cell>"#;
    let formula = r#"<table:table-cell table:formula="of:=1+0.5" office:value-type="float" office:value="1.5"><text:p>1.5</text:p></table:table-cell>"#;
    let rows = format!(
        r#"<table:table-row>{header}</table:table-row><table:table-row>{merged}{}{formula}{}{}</table:table-row><table:table-row table:visibility="collapse"><table:covered-table-cell/>{}{}{}{}</table:table-row>"#,
        text("B1-01"),
        number(30.0),
        number(1.0),
        text("B1-02"),
        number(0.5),
        number(9.0),
        text("C"),
    );
    let tables = workbook("", "picks.ods", open_document(&rows)).read();
    let read: Vec<_> = tables.sites[0].picks.iter().map(|p| (p.day.to_string(), p.mass)).collect();
    assert_eq!(read, [("2031-06-02".to_owned(), Some(1.5)), ("2031-06-02".to_owned(), Some(0.5))]);
    assert_eq!(told(&tables, "merged cells"), "1 cell filled from the corner of their merged block");
    assert_eq!(told(&tables, "hidden rows"), "1 hidden row read like the others");
    assert_eq!(told(&tables, "hidden columns"), "1 hidden column read like the others");
    assert_eq!(told(&tables, "formulas"), "1 formula read by their stored values");
}
