//! Free measures: told in the unit as declared, combined over a unit's picks as declared.
use crate::tables::NotGiven;
use crosshouse_logs::tables::{Combine, SiteTables};
use std::collections::BTreeMap;

/// The season's value of each measure of one unit.
pub(super) fn of_unit(tables: &SiteTables, unit: usize, flagged: bool) -> Vec<(String, f64)> {
    let rows: Vec<_> = tables.picks.iter().filter(|p| p.unit == unit && (flagged || p.flags.is_empty())).collect();
    let value = |i: usize, combine: Combine| {
        let mut values: Vec<f64> = rows.iter().filter_map(|p| *p.measures.get(i)?).collect();
        // sorted by value, so that the order of rows in the logs moves no digit
        values.sort_by(f64::total_cmp);
        match combine {
            Combine::Sum => (!values.is_empty()).then(|| values.iter().sum()),
            Combine::Mean => crate::drain::mean(values),
        }
    };
    tables.measures.iter().enumerate().filter_map(|(i, m)| Some((m.name.clone(), value(i, m.combine)?))).collect()
}

/// Unit of each measure, by name. A measure that sites log in different units has none and is not comparable.
pub(crate) fn units(sites: &[SiteTables], not_given: &mut Vec<NotGiven>) -> BTreeMap<String, String> {
    let mut units: BTreeMap<String, String> = BTreeMap::new();
    let mut refused: Vec<String> = Vec::new();
    for (site, measure) in sites.iter().flat_map(|s| s.measures.iter().map(move |m| (s, m))) {
        let unit = units.entry(measure.name.clone()).or_insert_with(|| measure.unit.clone());
        if *unit != measure.unit {
            not_given.push(NotGiven {
                site: site.site.id.clone(),
                what: format!("measure:{}", measure.name),
                why: format!(
                    "{} is logged in \"{}\" at {} and in \"{unit}\" elsewhere: free measures are not converted",
                    measure.name, measure.unit, site.site.name
                ),
                mend: "log it in one unit, or give it two names".to_owned(),
            });
            refused.push(measure.name.clone());
        }
    }
    units.retain(|name, _| !refused.contains(name));
    units
}
