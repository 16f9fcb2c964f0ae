//! One site: its plan first, then the diary, then the logs that lean on both.
use super::plan::PlanTable;
use super::season::{Reading, find};
use super::{climate, diary, harvest, harvest_days, plan, root_zone};
use crate::account::{Book, Draft};
use crate::declare::{Season, SiteDeclaration};
use crate::source::Found;
use crate::tables::{Event, MissedPick, Pick, Site, SiteTables, Unlisted};
use jiff::civil::Date;
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

/// The files of a site's logs, by log.
pub(super) struct SiteFiles {
    plan: Vec<Found>,
    diary: Vec<Vec<Found>>,
    harvest: Vec<Vec<Found>>,
    climate: Vec<Vec<Found>>,
    root_zone: Vec<Vec<Found>>,
}

impl SiteFiles {
    pub fn find(site: &SiteDeclaration, folder: &Path, book: &mut Book) -> Self {
        SiteFiles {
            plan: site.plan.as_ref().map(|p| find(&p.log, folder, book)).unwrap_or_default(),
            diary: site.diary.iter().map(|d| find(&d.log, folder, book)).collect(),
            harvest: site.harvest.iter().map(|h| find(&h.log, folder, book)).collect(),
            climate: site.climate.iter().map(|c| find(&c.log, folder, book)).collect(),
            root_zone: site.root_zone.iter().map(|r| find(&r.log, folder, book)).collect(),
        }
    }

    pub fn count(&self) -> usize {
        let several = [&self.diary, &self.harvest, &self.climate, &self.root_zone];
        self.plan.len() + several.iter().flat_map(|list| list.iter()).map(Vec::len).sum::<usize>()
    }
}

pub(super) fn read_site(season: &Season, declared: &SiteDeclaration, files: &SiteFiles, reading: &mut Reading<'_>) -> SiteTables {
    let plan = plan::read(season, declared, &files.plan, reading);
    let diary = diary::read(declared, &files.diary, &plan, reading);
    let mut harvest = harvest::read(declared, &files.harvest, &plan, reading);
    harvest_days::flag(season, declared, &plan, &diary, &mut harvest, &mut reading.book);
    let climate = climate::read(declared, &files.climate, reading);
    let root_zone = root_zone::read(declared, &files.root_zone, &plan, reading);
    for source in plan.units.iter().map(|u| u.source).chain(diary.iter().map(|d| d.source)) {
        reading.book.keep(source, false);
    }
    for pick in &harvest.picks {
        reading.book.keep(pick.source, !pick.flags.is_empty());
    }
    let site = Site {
        id: declared.id.clone(),
        name: declared.name.clone(),
        time_zone: declared.time_zone.clone(),
        latitude: declared.latitude,
        longitude: declared.longitude,
        seeded: declared.seeded,
        transplanted: declared.transplanted,
        ended: declared.ended,
        unlisted: unlisted(declared, &mut reading.book),
        pick_days: pick_days(&harvest.picks, |_| true),
        house_pick_days: house_pick_days(&harvest.picks, &plan, declared, &mut reading.book),
        missed_days: missed(&diary),
        houses: declared.houses.clone(),
        practices: declared.practices.clone(),
    };
    SiteTables {
        site,
        units: plan.units,
        picks: harvest.picks,
        unread: harvest.unread,
        measures: harvest.measures,
        climate,
        root_zone,
        diary,
    }
}

/// Days with at least one kept row. A sample measured on another day is no pick: where any row has
/// a mass or a count, rows of free measures alone make no pick day.
fn pick_days(picks: &[Pick], of: impl Fn(&Pick) -> bool) -> Vec<Date> {
    let picked = |p: &&Pick| p.mass.is_some() || p.count.is_some();
    let any = picks.iter().any(|p| picked(&p));
    let mut days: Vec<Date> = picks.iter().filter(|p| (!any || picked(p)) && of(p)).map(|p| p.day).collect();
    days.sort();
    days.dedup();
    days
}

/// The pick days of each house that was picked at all; told where they differ. A house of the plan without
/// any kept row has no pick days of its own: nothing shows when it was visited.
fn house_pick_days(picks: &[Pick], plan: &PlanTable, site: &SiteDeclaration, book: &mut Book) -> BTreeMap<String, Vec<Date>> {
    let house = |p: &Pick| plan.units.get(p.unit).map(|u| u.house.as_str());
    let names: BTreeSet<&str> = plan.units.iter().map(|u| u.house.as_str()).collect();
    let days: BTreeMap<String, Vec<Date>> =
        names.into_iter().map(|name| (name.to_owned(), pick_days(picks, |p| house(p) == Some(name)))).collect();
    let mut lists = days.values();
    let first = lists.next();
    if lists.any(|list| Some(list) != first) {
        let counts: Vec<String> = days.iter().map(|(name, list)| format!("{name} {}", list.len())).collect();
        book.infer(
            &site.file,
            "pick days",
            format!("each house by its own: {}", counts.join(", ")),
            "the houses were picked on different days: a unit without a row is judged on the days of its house",
        );
    }
    days
}

/// Spells without picking, of the whole site or one house; a missed pick of one unit stays in the diary.
fn missed(diary: &[crate::tables::DiaryEntry]) -> Vec<MissedPick> {
    let mut list: Vec<MissedPick> = diary
        .iter()
        .filter(|d| d.event == Event::MissedPick && d.unit.is_none())
        .map(|d| MissedPick { from: d.day, to: d.until, house: d.house.clone(), reason: d.note.clone() })
        .collect();
    list.sort_by(|a, b| (a.from, a.to, &a.house).cmp(&(b.from, b.to, &b.house)));
    list
}

/// What an unlisted unit means, by the site's harvest logs together.
fn unlisted(declared: &SiteDeclaration, book: &mut Book) -> Unlisted {
    let weighs = |h: &&crate::declare::HarvestLog| {
        h.log.columns.iter().any(|c| matches!(c.meaning, crate::declare::Meaning::Mass | crate::declare::Meaning::Count))
    };
    // A log of free measures alone speaks only where no log of masses or counts does.
    let any = declared.harvest.iter().any(|h| weighs(&h));
    let said: Vec<(Unlisted, u32)> = declared.harvest.iter().filter(|h| !any || weighs(h)).map(|h| (h.unlisted, h.log.line)).collect();
    let declared_ones: Vec<(Unlisted, u32)> = said.iter().copied().filter(|(u, _)| *u != Unlisted::Undeclared).collect();
    let said = if declared_ones.is_empty() { said } else { declared_ones };
    let Some((first, line)) = said.first().copied() else { return Unlisted::Undeclared };
    let draft = |code: &str, title: &str, found: String| Draft {
        code: code.to_owned(),
        title: title.to_owned(),
        file: declared.file.clone(),
        row: Some(line),
        column: Some("unlisted".to_owned()),
        found,
        expected: "unlisted = \"zero\" (visited, nothing ready) or \"missed\" (not visited)".to_owned(),
        mend: "what does a unit without a row on a pick day mean here? Answer with `unlisted` under [[harvest]]".to_owned(),
        ..Draft::default()
    };
    if said.iter().any(|(u, _)| *u != first) {
        book.fault(draft(
            "unlisted-differs",
            "harvest logs of one site say different things of an unlisted unit",
            "different answers".to_owned(),
        ));
        return Unlisted::Undeclared;
    }
    if first == Unlisted::Undeclared {
        book.fault(draft("unlisted-undeclared", "what an unlisted unit means is not declared", "no `unlisted`".to_owned()));
    }
    first
}
