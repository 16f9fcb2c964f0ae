//! Doubts about picks that need the plan, the diary and the other picks.
use super::harvest::Harvest;
use super::plan::PlanTable;
use crate::account::Book;
use crate::declare::{Season, SiteDeclaration};
use crate::flags::{self, Doubt, Picks};
use crate::tables::DiaryEntry;
use crosshouse_readings::FileId;
use std::collections::BTreeMap;

pub(super) fn flag(
    season: &Season,
    site: &SiteDeclaration,
    plan: &PlanTable,
    diary: &[DiaryEntry],
    harvest: &mut Harvest,
    book: &mut Book,
) {
    let picks =
        Picks { crop: &season.crop, transplanted: site.transplanted, ended: site.ended, units: &plan.units, diary, picks: &harvest.picks };
    for doubt in flags::of_picks(&picks) {
        mark(doubt, harvest, book);
    }
}

fn mark(doubt: Doubt, harvest: &mut Harvest, book: &mut Book) {
    let mut by_file: BTreeMap<FileId, Vec<u32>> = BTreeMap::new();
    for i in &doubt.rows {
        if let Some(pick) = harvest.picks.get_mut(*i) {
            if !pick.flags.iter().any(|f| f == doubt.code) {
                pick.flags.push(doubt.code.to_owned());
            }
            by_file.entry(pick.source.file).or_default().push(pick.source.row);
        }
    }
    for (file, rows) in by_file {
        book.flag(file, doubt.code, doubt.told(rows.len(), "pick"), &rows);
    }
}
