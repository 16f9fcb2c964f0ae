//! One site file: the site's facts, its plan, its unit-identity rules and its logs.
use super::column::Meaning;
use super::kinds::{ClimateLog, DiaryLog, HarvestLog, RootZoneLog, read_climate, read_diary, read_harvest, read_root_zone};
use super::log::{Context, Log, LogKind, read_log};
use crate::tables::House;
use crosshouse_readings::Fault;
use crosshouse_readings::declared::{Declared, Table, nearest};
use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// A site file, read and checked.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SiteDeclaration {
    pub id: String,
    pub name: String,
    /// Name of the site file.
    pub file: String,
    /// IANA name; empty where none is declared.
    pub time_zone: String,
    pub latitude: Option<f64>,
    pub longitude: Option<f64>,
    pub seeded: Option<Date>,
    pub transplanted: Option<Date>,
    pub ended: Option<Date>,
    pub practices: Vec<String>,
    pub houses: Vec<House>,
    pub plan: Option<Plan>,
    pub unit_ids: IdRules,
    pub harvest: Vec<HarvestLog>,
    pub climate: Vec<ClimateLog>,
    pub root_zone: Vec<RootZoneLog>,
    pub diary: Vec<DiaryLog>,
}

/// The table of units, and the site's own words for factor levels.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Plan {
    pub log: Log,
    /// Factor → written word → level of the season.
    pub levels: BTreeMap<String, BTreeMap<String, String>>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Case {
    #[default]
    Keep,
    Ignore,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Keep {
    #[default]
    Keep,
    Drop,
}

/// How written unit ids are compared.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct IdRules {
    pub case: Case,
    pub spaces: Keep,
    pub zeros: Keep,
    /// Headers of the columns that make an id, where it is made of several.
    pub join: Vec<String>,
    pub with: String,
    /// Written alias → unit of the plan.
    pub also: BTreeMap<String, String>,
}

/// Reads the text of a site file. `stem` names the site where the file does not.
pub(super) fn read_site(file: &str, stem: &str, text: &str, factors: &[String]) -> (Option<SiteDeclaration>, Vec<Fault>) {
    let declared = Declared::new(file, text);
    let site = site_of(&declared.root(), file, stem, factors);
    (site, declared.into_faults())
}

fn site_of(root: &Table<'_, '_>, file: &str, stem: &str, factors: &[String]) -> Option<SiteDeclaration> {
    let context = Context { site_file: file, factors };
    let Some(site) = root.table("site") else {
        root.fault("site", "key-missing", "the file has no [site]", "nothing", "a table [site] with at least a name", "add [site]");
        return None;
    };
    let tables = |key: &str| root.tables(key);
    let mut declaration = SiteDeclaration {
        id: site.text("id").unwrap_or_else(|| stem.to_owned()),
        name: site.text("name").unwrap_or_else(|| stem.to_owned()),
        file: file.to_owned(),
        time_zone: site.text("time_zone").unwrap_or_default(),
        latitude: degrees(&site, "latitude", 90.0),
        longitude: degrees(&site, "longitude", 180.0),
        seeded: site.date("seeded"),
        transplanted: site.date("transplanted"),
        ended: site.date("ended"),
        practices: site.texts("practices").unwrap_or_default(),
        houses: tables("house").iter().filter_map(house).collect(),
        plan: root.table("plan").map(|t| plan(&t, &context)),
        unit_ids: root.table("unit_ids").map(|t| id_rules(&t)).unwrap_or_default(),
        harvest: tables("harvest").iter().map(|t| read_harvest(t, &context)).collect(),
        climate: tables("climate").iter().map(|t| read_climate(t, &context)).collect(),
        root_zone: tables("root_zone").iter().map(|t| read_root_zone(t, &context)).collect(),
        diary: tables("diary").iter().map(|t| read_diary(t, &context)).collect(),
    };
    check_id(&site, &declaration.id);
    check_zone(&site, &declaration);
    check_days(&site, &declaration);
    check_houses(root, &mut declaration);
    check_plan(root, &declaration);
    site.finish();
    root.finish();
    Some(declaration)
}

fn degrees(site: &Table<'_, '_>, key: &str, limit: f64) -> Option<f64> {
    let value = site.number(key)?;
    if value.abs() <= limit {
        return Some(value);
    }
    site.fault(
        key,
        "degrees-impossible",
        "not a place on the earth",
        &value.to_string(),
        &format!("between -{limit} and {limit} degrees"),
        "correct the number",
    );
    None
}

fn house(table: &Table<'_, '_>) -> Option<House> {
    let id = table.required_text("id");
    let house =
        House { id: id.clone().unwrap_or_default(), kind: table.text("kind").unwrap_or_default(), area_basis: table.text("area_basis") };
    table.finish();
    id.map(|_| house)
}

fn plan(table: &Table<'_, '_>, context: &Context<'_>) -> Plan {
    let log = read_log(table, LogKind::Plan, context);
    let mut levels = BTreeMap::new();
    if let Some(all) = table.table("levels") {
        for (factor, _) in all.keys() {
            if !context.factors.contains(&factor) {
                all.has(&factor);
                let near = nearest(&factor, context.factors.iter().map(String::as_str))
                    .map_or_else(|| "remove it".to_owned(), |n| format!("did you mean \"{n}\"?"));
                all.fault(
                    &factor,
                    "factor-unknown",
                    "not a factor of the season",
                    &format!("\"{factor}\""),
                    &super::listed(context.factors, super::NO_FACTOR),
                    &near,
                );
            } else if let Some(words) = all.table(&factor) {
                let read = words
                    .keys()
                    .into_iter()
                    .filter_map(|(written, _)| words.text(&written).map(|level| (written.trim().to_owned(), level)))
                    .collect();
                levels.insert(factor, read);
            }
        }
        all.finish();
    }
    table.finish();
    Plan { log, levels }
}

fn keep_or_drop(table: &Table<'_, '_>, key: &str) -> Keep {
    if table.one_of(key, &["keep", "drop"]) == Some("drop") { Keep::Drop } else { Keep::Keep }
}

fn id_rules(table: &Table<'_, '_>) -> IdRules {
    let also = table
        .table("also")
        .map(|aliases| aliases.keys().into_iter().filter_map(|(alias, _)| aliases.text(&alias).map(|unit| (alias, unit))).collect());
    let rules = IdRules {
        case: if table.one_of("case", &["keep", "ignore"]) == Some("ignore") { Case::Ignore } else { Case::Keep },
        spaces: keep_or_drop(table, "spaces"),
        zeros: keep_or_drop(table, "zeros"),
        join: table.texts("join").unwrap_or_default(),
        with: table.text("with").unwrap_or_else(|| "-".to_owned()),
        also: also.unwrap_or_default(),
    };
    table.finish();
    rules
}

/// The id becomes part of file names and a level of models.
fn check_id(site: &Table<'_, '_>, id: &str) {
    let plain = |c: char| c.is_alphanumeric() || matches!(c, '-' | '_' | '.' | ' ');
    if id.trim().is_empty() || id.starts_with('.') || !id.chars().all(plain) {
        site.fault(
            "id",
            "site-id-unusable",
            "not an id for a site",
            &format!("\"{id}\""),
            "letters, digits, - _ and spaces",
            "write id = \"…\" in [site]",
        );
    }
}

fn check_zone(site: &Table<'_, '_>, declaration: &SiteDeclaration) {
    let zone = &declaration.time_zone;
    if zone.is_empty() {
        if !declaration.climate.is_empty() && !site.has_open() {
            site.fault(
                "time_zone",
                "key-missing",
                "a climate log needs the site's time zone",
                "nothing",
                "an IANA name such as \"CST6CDT\"",
                "add time_zone to [site]",
            );
        }
        return;
    }
    if jiff::tz::TimeZone::get(zone).is_err() {
        let names: Vec<String> = jiff::tz::db().available().map(|n| n.to_string()).collect();
        let near = nearest(zone, names.iter().map(String::as_str))
            .map_or_else(|| "write an IANA name".to_owned(), |n| format!("did you mean \"{n}\"?"));
        site.fault("time_zone", "time-zone-unknown", "not a time zone", &format!("\"{zone}\""), "an IANA name such as \"CST6CDT\"", &near);
    }
}

fn check_days(site: &Table<'_, '_>, declaration: &SiteDeclaration) {
    let order = [("seeded", declaration.seeded), ("transplanted", declaration.transplanted), ("ended", declaration.ended)];
    let days: Vec<_> = order.into_iter().filter_map(|(key, day)| day.map(|d| (key, d))).collect();
    for pair in days.windows(2) {
        if let [(before, first), (after, second)] = pair
            && first > second
        {
            site.fault(
                after,
                "days-out-of-order",
                "an earlier day than it can be",
                &format!("{after} {second}, but {before} {first}"),
                "seeded, then transplanted, then ended",
                "correct the dates",
            );
        }
    }
}

fn check_houses(root: &Table<'_, '_>, declaration: &mut SiteDeclaration) {
    let ids: Vec<String> = declaration.houses.iter().map(|h| h.id.clone()).collect();
    let declared =
        declaration.climate.iter().map(|c| ("climate", &c.house)).chain(declaration.root_zone.iter().map(|r| ("root_zone", &r.house)));
    for (key, house) in declared {
        if let Some(house) = house
            && !ids.contains(house)
        {
            let near = nearest(house, ids.iter().map(String::as_str))
                .map_or_else(|| "add a [[house]] with this id".to_owned(), |n| format!("did you mean \"{n}\"?"));
            root.fault(
                key,
                "house-unknown",
                "a log of a house that the site does not have",
                &format!("house = \"{house}\""),
                &super::listed(&ids, "a house of the site file, which declares none"),
                &near,
            );
        }
    }
}

fn check_plan(root: &Table<'_, '_>, declaration: &SiteDeclaration) {
    let Some(plan) = &declaration.plan else {
        root.fault(
            "plan",
            "key-missing",
            "the site has no plan",
            "nothing",
            "a table [plan] with the file that lists the units",
            "add [plan]",
        );
        return;
    };
    if root.has_open() {
        return;
    }
    let named = plan.log.has(&Meaning::Unit) || plan.log.has(&Meaning::UnitPart) || !declaration.unit_ids.join.is_empty();
    if !named && !plan.log.columns.is_empty() {
        root.fault(
            "plan",
            "column-undeclared",
            "the plan does not say which column names the unit",
            "no is = \"unit\"",
            "a column with is = \"unit\", or [unit_ids] with join",
            "name the column",
        );
    }
    if declaration.houses.len() != 1 && !plan.log.has(&Meaning::House) {
        root.fault(
            "plan",
            "column-undeclared",
            "the plan does not say which house a unit is in",
            &format!("{} houses and no is = \"house\"", declaration.houses.len()),
            "a column with is = \"house\", or exactly one [[house]]",
            "name the column",
        );
    }
}
