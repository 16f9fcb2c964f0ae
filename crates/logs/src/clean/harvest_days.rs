//! Doubts about picks that need the plan, the diary and the other picks; and the picks that the season
//! leaves out for them.
use super::harvest::Harvest;
use super::left_out;
use super::plan::PlanTable;
use crate::account::Book;
use crate::declare::{Season, SiteDeclaration};
use crate::flags::{self, Doubt, Picks, Setting};
use crate::tables::{DiaryEntry, Pick, UnreadPick};
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
        Picks { seeded: site.seeded, transplanted: site.transplanted, ended: site.ended, units: &plan.units, diary, picks: &harvest.picks };
    for doubt in flags::of_picks(&picks, &Setting::of(season, &site.id, "")) {
        mark(doubt, season, harvest, book);
    }
    leave_out(season, harvest, book);
}

fn mark(doubt: Doubt, season: &Season, harvest: &mut Harvest, book: &mut Book) {
    let mut by_file: BTreeMap<FileId, Vec<u32>> = BTreeMap::new();
    let marks = flags::marks_rows(doubt.code);
    for i in &doubt.rows {
        if let Some(pick) = harvest.picks.get_mut(*i) {
            if marks && !pick.flags.iter().any(|f| f == doubt.code) {
                pick.flags.push(doubt.code.to_owned());
            }
            by_file.entry(pick.source.file).or_default().push(pick.source.row);
        }
    }
    let end = left_out::told(season, doubt.code, &book.site);
    for (file, rows) in by_file {
        book.flag(file, doubt.code, doubt.told(rows.len(), "pick") + end, &rows);
    }
}

/// Picks of a doubt that the season leaves out are neither harvests nor zeros.
fn leave_out(season: &Season, harvest: &mut Harvest, book: &mut Book) {
    let site = book.site.clone();
    let (out, kept): (Vec<Pick>, Vec<Pick>) =
        std::mem::take(&mut harvest.picks).into_iter().partition(|p| left_out::word(season, &p.flags, &site).is_some());
    harvest.picks = kept;
    for pick in out {
        if let Some(word) = left_out::word(season, &pick.flags, &site) {
            left_out::row(word, pick.source, &written(&pick), book);
        }
        harvest.unread.push(UnreadPick { unit: pick.unit, day: pick.day, code: left_out::CODE.to_owned(), source: pick.source });
    }
}

fn written(pick: &Pick) -> String {
    let mass = pick.mass.map(|m| format!("{m} kg"));
    let count = pick.count.map(|n| format!("{n} fruit"));
    [Some(pick.day.to_string()), mass, count].into_iter().flatten().collect::<Vec<_>>().join(" | ")
}
