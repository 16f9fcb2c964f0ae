//! One declared log: where its files are and which columns they have.
use super::column::{Column, Meaning, Supply, read_columns, read_single};
use super::layout::{Layout, read_layout};
use crosshouse_readings::declared::Table;
use serde::{Deserialize, Serialize};

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum LogKind {
    Plan,
    Harvest,
    Climate,
    RootZone,
    Diary,
}

impl LogKind {
    /// The word that set-aside rows, flags and file accounts carry.
    pub fn word(self) -> &'static str {
        match self {
            LogKind::Plan => "plan",
            LogKind::Harvest => "harvest",
            LogKind::Climate => "climate",
            LogKind::RootZone => "root zone",
            LogKind::Diary => "diary",
        }
    }
}

/// Files, layout and columns, the same keys for every kind of log.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Log {
    pub kind: LogKind,
    /// Name of the site file and line of this table in it.
    pub declared_in: String,
    pub line: u32,
    /// Patterns with `*` and `?`, relative to the season's folder of logs.
    pub files: Vec<String>,
    /// Sheet name or pattern of a workbook.
    pub sheet: Option<String>,
    pub layout: Layout,
    pub columns: Vec<Column>,
    /// The heads of a wide sheet's columns are values of each row.
    pub wide: bool,
}

impl Log {
    pub fn has(&self, wanted: &Meaning) -> bool {
        self.columns.iter().any(|c| c.meaning == *wanted)
    }

    pub fn of<'c>(&'c self, wanted: &'c Meaning) -> impl Iterator<Item = &'c Column> {
        self.columns.iter().filter(move |c| c.meaning == *wanted)
    }
}

/// What a log's table is read with.
pub(super) struct Context<'c> {
    pub site_file: &'c str,
    pub factors: &'c [String],
}

pub(super) fn read_log(table: &Table<'_, '_>, kind: LogKind, context: &Context<'_>) -> Log {
    let files = match kind {
        LogKind::Plan => table.required_text("file").into_iter().collect(),
        _ if table.has("files") => table.texts("files").unwrap_or_default(),
        _ => {
            table.fault("files", "key-missing", "the log names no files", "nothing", "a list of paths or patterns", "add files = [\"…\"]");
            Vec::new()
        }
    };
    let mut columns = read_columns(table, kind, context.factors);
    for (key, header, from) in [("sheet_name", "name of the sheet", Supply::SheetName), ("file_name", "name of the file", Supply::FileName)]
    {
        columns.extend(read_single(table, key, header, from, kind, context.factors));
    }
    let wide = table.table("wide").filter(|_| kind == LogKind::Harvest);
    let mut layout = read_layout(table);
    if let Some(wide) = &wide {
        columns.extend(super::wide::read(wide, &mut layout, context));
    }
    let log = Log {
        kind,
        declared_in: context.site_file.to_owned(),
        line: table.line(),
        files,
        sheet: table.text("sheet"),
        layout,
        columns,
        wide: wide.is_some(),
    };
    check_needed(table, &log);
    log
}

/// The columns without which no row of the log has a place.
fn check_needed(table: &Table<'_, '_>, log: &Log) {
    if table.has_open() {
        return;
    }
    let has = |m: &Meaning| log.has(m);
    let dated = has(&Meaning::Date) || has(&Meaning::DateTime);
    let unit = has(&Meaning::Unit) || has(&Meaning::UnitPart);
    let need = |met: bool, what: &str| {
        if !met && !log.columns.is_empty() {
            table.fault(
                "columns",
                "column-undeclared",
                "a needed column is not declared",
                "none of the columns says it",
                what,
                "name the column that holds it",
            );
        }
    };
    match log.kind {
        LogKind::Plan => {}
        LogKind::Harvest => {
            need(dated, "a column with is = \"date\"");
            need(unit, "a column with is = \"unit\" (or \"unit-part\")");
        }
        LogKind::Climate => {
            let timed = has(&Meaning::DateTime) || (has(&Meaning::Date) && has(&Meaning::Time));
            need(timed, "is = \"date-time\", or both is = \"date\" and is = \"time\"");
        }
        LogKind::RootZone | LogKind::Diary => need(dated, "a column with is = \"date\""),
    }
    for single in [
        Meaning::Unit,
        Meaning::Date,
        Meaning::Time,
        Meaning::DateTime,
        Meaning::House,
        Meaning::Grade,
        Meaning::Zone,
        Meaning::Temperature,
        Meaning::Humidity,
        Meaning::Light,
        Meaning::Co2,
        Meaning::Event,
        Meaning::Until,
        Meaning::Plants,
    ] {
        let headers: Vec<&str> = log.of(&single).map(|c| c.header.as_str()).collect();
        if headers.len() > 1 {
            table.fault(
                "columns",
                "column-declared-twice",
                "two columns have one meaning",
                &headers.join(", "),
                "one column of this meaning",
                "mark the others is = \"ignored\"",
            );
        }
    }
}
