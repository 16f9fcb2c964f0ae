//! The design as grown: treatments down, sites across, replication in the cells.
use crate::context::Context;
use crate::page::PageTable;
use crate::words;
use crosshouse_trial::tables::Cell;
use std::collections::BTreeMap;

pub fn table(context: &Context) -> Option<PageTable> {
    let cells = &context.input.trial.design.cells;
    let mut sites: Vec<&str> = Vec::new();
    let mut treatments: Vec<&BTreeMap<String, String>> = Vec::new();
    for cell in cells {
        if !sites.contains(&cell.site.as_str()) {
            sites.push(&cell.site);
        }
        if !treatments.contains(&&cell.levels) {
            treatments.push(&cell.levels);
        }
    }
    sites.sort_by_key(|s| context.sites().iter().position(|t| t.site == **s));
    treatments.sort_by_key(|levels| context.words.order(levels));
    let mut table = PageTable::new("design-table", "The design as grown: units, blocks and plants of each treatment at each site")
        .csv("design-cells.csv")
        .words("Treatment");
    for site in &sites {
        table = table.words(context.words.site(site));
    }
    for levels in treatments {
        let mut row = vec![context.words.levels(levels)];
        row.extend(sites.iter().map(|site| worded(cells.iter().find(|c| c.site == **site && c.levels == *levels))));
        table.row(row);
    }
    table.if_any()
}

fn worded(cell: Option<&Cell>) -> String {
    match cell {
        None => "not grown".to_owned(),
        Some(c) if c.units == 0 => "not grown".to_owned(),
        Some(c) => {
            let mut parts = vec![words::number_of(c.units.into(), "unit", "units")];
            if c.blocks > 0 {
                parts.push(words::number_of(c.blocks.into(), "block", "blocks"));
            }
            parts.push(words::number_of(c.plants.into(), "plant", "plants"));
            parts.iter().map(|p| p.replace(' ', "\u{a0}")).collect::<Vec<_>>().join(", ")
        }
    }
}
