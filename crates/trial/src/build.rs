//! All sites of a season, one after the other.
use crate::design::FactorDecl;
use crate::responses::key;
use crate::tables::{HouseDay, NotGiven, SiteTrial, TrialTables};
use crate::yields::{Grown, measure_units};
use crate::{Settings, climate, design, water};
use crosshouse_logs::tables::{CleanTables, SiteTables};

/// The trial tables of clean tables that hold every climate record, with the design judged.
pub fn build(clean: &CleanTables, factors: &[FactorDecl], settings: &Settings) -> TrialTables {
    let houses = clean.sites.iter().map(|site| climate::house_days(&site.site, &site.climate, settings)).collect();
    build_with(clean, houses, factors, settings)
}

/// The same of clean tables without climate records. `houses`: the days of each site's loggers, joined by
/// [`together`](crate::together).
pub fn build_with(clean: &CleanTables, houses: Vec<Vec<HouseDay>>, factors: &[FactorDecl], settings: &Settings) -> TrialTables {
    let mut not_given = Vec::new();
    let measure_units = measure_units(&clean.sites, &mut not_given);
    let each = clean.sites.iter().zip(houses);
    let mut sites: Vec<SiteTrial> = each.filter_map(|(site, houses)| site_trial(site, houses, settings, &mut not_given)).collect();
    for unit in sites.iter_mut().flat_map(|s| &mut s.units) {
        let comparable = |name: &String| name.strip_prefix("measure:").is_none_or(|m| measure_units.contains_key(m));
        unit.responses.retain(|name, _| comparable(name));
        unit.responses_unflagged.retain(|name, _| comparable(name));
    }
    TrialTables { sites, design: design::judge(&clean.sites, factors), measure_units, not_given }
}

fn site_trial(tables: &SiteTables, houses: Vec<HouseDay>, settings: &Settings, not_given: &mut Vec<NotGiven>) -> Option<SiteTrial> {
    let grown = match Grown::new(tables, settings) {
        Ok(grown) => grown,
        Err(engine) => {
            not_given.push(unreadable(tables, &engine.to_string()));
            return None;
        }
    };
    let mut site = grown.site_trial(not_given);
    site.houses = houses;
    site.zones = water::zone_days(&tables.root_zone);
    site.water = water::seasons(tables, |house, zone| zone_yield(&site, house, zone), not_given);
    Some(site)
}

/// Marketable kg per plant set of the units on a line, on a bench or in a house.
fn zone_yield(site: &SiteTrial, house: &str, zone: &str) -> Option<f64> {
    let named = |id: &Option<String>| id.as_deref() == Some(zone);
    let units: Vec<_> = site.units.iter().filter(|u| u.house == house && (zone == house || named(&u.line) || named(&u.bench))).collect();
    let told = !units.is_empty() && units.iter().all(|u| u.responses.contains_key(key::MARKETABLE_PER_PLANT));
    let plants: f64 = units.iter().map(|u| f64::from(u.plants_set)).sum();
    (told && plants > 0.0).then(|| units.iter().map(|u| u.marketable).sum::<f64>() / plants)
}

fn unreadable(tables: &SiteTables, engine: &str) -> NotGiven {
    NotGiven {
        site: tables.site.id.clone(),
        what: key::MARKETABLE_PER_PLANT.to_owned(),
        why: format!("no results at {}: its picks could not be summed ({engine})", tables.site.name),
        mend: "report this as a fault of the program".to_owned(),
    }
}
