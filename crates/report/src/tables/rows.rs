//! The account of every file's rows, and what was said of them.
use super::sheet::Sheet;
use crate::cells;
use crate::context::Context;
use crate::input::ReportFault;
use crosshouse_logs::tables::CleanTables;

pub fn sheets(context: &Context) -> Vec<Sheet> {
    let told = context.input.clean;
    vec![accounts(told), flags(told), season_says(told), inferences(told), faults(told)]
}

fn accounts(told: &CleanTables) -> Sheet {
    let head = [
        "file",
        "site",
        "log",
        "rows_read",
        "rows_kept",
        "rows_flagged",
        "rows_set_aside",
        "other_lines",
        "other_lines_by_kind",
        "size_bytes",
        "sha256",
    ];
    let mut sheet = Sheet::new("rows", "Rows of every file: read = kept + set aside", head);
    for f in &told.files {
        let other: u64 = f.other_lines.iter().map(|(_, n)| n).sum();
        let kinds: Vec<String> = f.other_lines.iter().map(|(kind, n)| format!("{kind} {n}")).collect();
        sheet.row(cells![f.file, f.site, f.log, f.read, f.kept, f.flagged, f.set_aside, other, kinds.join("; "), f.bytes, f.sha256,]);
    }
    sheet
}

fn flags(told: &CleanTables) -> Sheet {
    let head = ["file", "first_row", "last_row", "rows", "site", "log", "code", "text"];
    let mut sheet = Sheet::new("flags", "Doubts about values that are kept", head);
    for f in &told.flags {
        sheet.row(cells![f.file, f.first_row, f.last_row, f.rows, f.site, f.log, f.code, f.text]);
    }
    sheet
}

fn season_says(told: &CleanTables) -> Sheet {
    let head = ["doubt", "limit", "value", "unit", "instead_of", "rows", "site", "reason"];
    let mut sheet = Sheet::new("doubts", "Limits of doubts that the season changed, and doubts whose rows it leaves out", head);
    for c in &told.limit_changes {
        let value = c.limit.as_ref().map(|_| c.value);
        let rows = if c.limit.is_some() { "kept" } else { "not raised" };
        sheet.row(cells![c.rule, c.limit, value, c.unit, c.instead_of, rows, c.site, c.reason]);
    }
    for l in &told.left_out {
        let none: Option<f64> = None;
        sheet.row(cells![l.doubt, "", none, "", none, "left out", l.site, l.reason]);
    }
    sheet
}

fn inferences(told: &CleanTables) -> Sheet {
    let head = ["site", "file", "what", "as_read", "because"];
    let mut sheet = Sheet::new("inferences", "What was worked out because no one declared it", head);
    for i in &told.inferences {
        sheet.row(cells![i.site, i.file, i.what, i.as_read, i.because]);
    }
    sheet
}

fn faults(told: &CleanTables) -> Sheet {
    let head = ["file", "row", "column", "code", "title", "found", "expected", "mend", "also_rows", "fatal"];
    let mut sheet = Sheet::new("faults", "Faults to mend", head);
    for f in &told.faults {
        let also: Vec<String> = f.also_rows.iter().map(ToString::to_string).collect();
        let p = &f.place;
        sheet.row(cells![p.file, p.row, p.column, f.code, f.title, f.found, f.expected, f.mend, also.join(" "), f.fatal,]);
    }
    sheet
}

/// `set-aside.csv`: one line for every row or cell kept out.
pub fn set_aside(context: &Context) -> Result<String, ReportFault> {
    let head = ["file", "row", "column", "found", "why", "site", "log", "whole_row", "code"];
    let mut sheet = Sheet::new("set-aside", "Rows and cells set aside", head);
    for s in &context.input.clean.set_aside {
        let p = &s.place;
        sheet.row(cells![p.file, p.row, p.column, s.found, s.why, s.site, s.log, s.whole_row, s.code]);
    }
    sheet.text()
}
