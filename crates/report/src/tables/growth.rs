//! Climate, root zone, water and the mean cumulative yield.
use super::sheet::{Cell, Sheet};
use crate::cells;
use crate::context::Context;
use crate::reader::{Reader, Scale};

pub fn sheets(context: &Context) -> Vec<Sheet> {
    vec![cumulative(context), climate(context), root_zone(context), water(context)]
}

fn cumulative(context: &Context) -> Sheet {
    let mut head = vec!["site".to_owned()];
    head.extend(context.factors().iter().map(|f| (*f).to_owned()));
    let numbers = ["day_after_transplanting", "mean_kg_per_plant", "mean_lb_per_plant", "units"];
    head.extend(numbers.map(str::to_owned));
    let mut sheet = Sheet::new("cumulative-yield", "Mean cumulative marketable yield", head);
    let pounds = Scale::of("kg per plant", Reader::Pounds);
    for site in context.sites() {
        for p in &site.cumulative {
            let mut row = cells![site.site];
            row.extend(context.factors().iter().map(|f| p.levels.get(*f).cell()));
            row.extend(cells![p.day, p.mean_kg_per_plant, pounds.show(p.mean_kg_per_plant), p.units]);
            sheet.row(row);
        }
    }
    sheet
}

fn climate(context: &Context) -> Sheet {
    let head = [
        "site",
        "house",
        "day",
        "records",
        "completeness",
        "mean_degC",
        "minimum_degC",
        "maximum_degC",
        "day_mean_degC",
        "night_mean_degC",
        "humidity_percent",
        "vpd_kPa",
        "dli_mol_per_m2_d",
        "dli_is_estimate",
        "degree_days_degC_d",
        "outside_band_h",
        "flagged_records",
    ];
    let mut sheet = Sheet::new("climate-days", "Climate of every house and day (24 hours of standard time)", head);
    for site in context.sites() {
        for d in &site.houses {
            sheet.row(cells![
                site.site,
                d.house,
                d.day,
                d.records,
                d.completeness,
                d.mean,
                d.minimum,
                d.maximum,
                d.day_mean,
                d.night_mean,
                d.humidity,
                d.vpd,
                d.dli,
                d.dli_is_estimate,
                d.degree_days,
                d.hours_outside_band,
                d.flagged,
            ]);
        }
    }
    sheet
}

fn root_zone(context: &Context) -> Sheet {
    let head = [
        "site",
        "house",
        "zone",
        "day",
        "feed_L",
        "drain_L",
        "drain_fraction",
        "feed_ec_dS_per_m",
        "drain_ec_dS_per_m",
        "ec_rise_dS_per_m",
        "feed_ph",
        "drain_ph",
        "ph_drift",
        "water_used_L",
        "moisture_percent_by_volume",
        "flagged",
    ];
    let mut sheet = Sheet::new("rootzone-days", "Feed and drain of every zone and day", head);
    for site in context.sites() {
        for z in &site.zones {
            sheet.row(cells![
                site.site,
                z.house,
                z.zone,
                z.day,
                z.feed_volume,
                z.drain_volume,
                z.drain_fraction,
                z.feed_ec,
                z.drain_ec,
                z.ec_rise,
                z.feed_ph,
                z.drain_ph,
                z.ph_drift,
                z.water_used,
                z.moisture,
                z.flagged,
            ]);
        }
    }
    sheet
}

fn water(context: &Context) -> Sheet {
    let head = [
        "site",
        "house",
        "zone",
        "days",
        "applied_L",
        "drained_L",
        "used_L",
        "drain_fraction",
        "productivity_applied_kg_per_m3",
        "productivity_used_kg_per_m3",
    ];
    let mut sheet = Sheet::new("water", "Water of every zone over the season", head);
    for site in context.sites() {
        for w in &site.water {
            sheet.row(cells![
                site.site,
                w.house,
                w.zone,
                w.days,
                w.applied_l,
                w.drained_l,
                w.used_l,
                w.drain_fraction,
                w.productivity_applied,
                w.productivity_used,
            ]);
        }
    }
    sheet
}
