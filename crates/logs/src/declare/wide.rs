//! Wide sheets: the heads of the columns are days (or units), the cells under them are picks.
use super::column::{Column, Meaning, Supply, read_column, read_single};
use super::layout::Layout;
use super::log::{Context, LogKind};
use crosshouse_readings::declared::Table;

/// The columns that `[harvest.wide]` adds: what the heads are, and what stands under each.
pub(super) fn read(wide: &Table<'_, '_>, layout: &mut Layout, context: &Context<'_>) -> Vec<Column> {
    let across = wide.one_of("across", &["date", "unit"]);
    let meaning = if across == Some("unit") { Meaning::Unit } else { Meaning::Date };
    let mut columns = vec![Column { from: Supply::Heads, line: wide.line(), ..Column::plain("head of the column", meaning) }];
    columns.extend(read_single(wide, "cells", "cells", Supply::UnderHeads, LogKind::Harvest, context.factors));
    let under = under(wide, context);
    if !under.is_empty() && layout.header_lines < 2 {
        layout.header_lines = 2;
    }
    columns.extend(under);
    if columns.len() == 1 || across.is_none() {
        wide.fault(
            "across",
            "wide-undeclared",
            "a wide sheet that does not say what its columns are",
            "no `across`, or neither `cells` nor `columns`",
            "across = \"date\" or \"unit\", and cells = { is = \"mass\", unit = \"…\" } or [harvest.wide.columns]",
            "say what the heads of the columns are, and what stands under them",
        );
    }
    wide.finish();
    columns
}

/// Several columns under each head, by the header's last line.
fn under(wide: &Table<'_, '_>, context: &Context<'_>) -> Vec<Column> {
    let Some(table) = wide.table("columns") else { return Vec::new() };
    let mut keys = table.keys();
    keys.sort_by_key(|(_, line)| *line);
    let read = |(header, line)| read_column(&table, header, line, LogKind::Harvest, context.factors);
    let columns = keys.into_iter().filter_map(read).map(|c| Column { from: Supply::UnderHeads, ..c }).collect();
    table.finish();
    columns
}
