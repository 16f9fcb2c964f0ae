//! Season means of climate and root zone, and the water of the season. Digits: temperature 0.1 °C, humidity 1 %, VPD
//! 0.01 kPa, DLI 0.1 mol, EC and pH 0.1 (common practice).
use super::{mean, sum};
use crate::context::Context;
use crate::number::{self, fixed_or_dash};
use crate::page::PageTable;
use crosshouse_trial::tables::{HouseDay, SiteTrial, ZoneDay};

/// Distinct names in the order they come.
fn distinct<'a>(names: impl Iterator<Item = &'a str>) -> Vec<&'a str> {
    let mut found: Vec<&str> = Vec::new();
    for name in names {
        if !found.contains(&name) {
            found.push(name);
        }
    }
    found
}

pub fn climate(context: &Context) -> Option<PageTable> {
    let mut table =
        PageTable::new("climate-table", "Climate of the season, house by house: means of the days").csv("climate-days.csv").words("House");
    for head in [
        "Days",
        "Record, %",
        "Mean, °C",
        "Day, °C",
        "Night, °C",
        "Lowest, °C",
        "Highest, °C",
        "Humidity, %",
        "VPD, kPa",
        "Light (DLI), mol m⁻² d⁻¹",
        "Degree days, °C d",
        "Hours outside the band",
    ] {
        table = table.number(head);
    }
    for site in context.sites() {
        for house in distinct(site.houses.iter().map(|d| d.house.as_str())) {
            table.row(house_row(site, house));
        }
    }
    table.note(
        "A day is 24 hours of the site’s standard time all season, daylight saving or not. Record: share of the time \
         covered. Light is given for days with at least 80 % of the light record; between 80 and 95 % it is an estimate.",
    );
    table.without_empty_columns().if_any()
}

fn house_row(site: &SiteTrial, house: &str) -> Vec<String> {
    let days: Vec<&HouseDay> = site.houses.iter().filter(|d| d.house == house).collect();
    let of = |get: fn(&HouseDay) -> Option<f64>| days.iter().copied().map(get).collect::<Vec<_>>();
    let average = |get: fn(&HouseDay) -> Option<f64>| mean(of(get).into_iter());
    let lowest = of(|d| d.minimum).into_iter().flatten().reduce(f64::min);
    let highest = of(|d| d.maximum).into_iter().flatten().reduce(f64::max);
    let covered = average(|d| Some(d.completeness)).map(|c| 100.0 * c);
    let numbers = [
        (covered, 0),
        (average(|d| d.mean), 1),
        (average(|d| d.day_mean), 1),
        (average(|d| d.night_mean), 1),
        (lowest, 1),
        (highest, 1),
        (average(|d| d.humidity), 0),
        (average(|d| d.vpd), 2),
        (average(|d| d.dli), 1),
        (sum(of(|d| d.degree_days).into_iter()), 0),
        (sum(of(|d| d.hours_outside_band).into_iter()), 0),
    ];
    let mut cells = vec![format!("{}, {house}", site.name), number::count(days.len() as u64)];
    cells.extend(numbers.into_iter().map(|(value, decimals)| fixed_or_dash(value, decimals)));
    cells
}

pub fn root_zone(context: &Context) -> Option<PageTable> {
    let mut table =
        PageTable::new("rootzone-table", "Feed and drain, zone by zone: means of the days").csv("rootzone-days.csv").words("Zone");
    for head in
        ["Days", "Drain, % of feed", "Feed EC, dS/m", "Drain EC, dS/m", "Drain − feed EC", "Feed pH", "Drain pH", "Moisture, % by volume"]
    {
        table = table.number(head);
    }
    for site in context.sites() {
        let zones = distinct(site.zones.iter().map(|z| z.zone.as_str()));
        if !zones.is_empty() {
            table.group(site.name.clone());
        }
        for zone in zones {
            table.row(zone_row(site, zone));
        }
    }
    table.note("EC at 25 °C. pH is averaged as read, although it is a logarithm.");
    table.without_empty_columns().if_any()
}

fn zone_row(site: &SiteTrial, zone: &str) -> Vec<String> {
    let days: Vec<&ZoneDay> = site.zones.iter().filter(|z| z.zone == zone).collect();
    let average = |get: fn(&ZoneDay) -> Option<f64>| mean(days.iter().copied().map(get));
    let numbers = [
        (average(|z| z.drain_fraction.map(|f| 100.0 * f)), 0),
        (average(|z| z.feed_ec), 1),
        (average(|z| z.drain_ec), 1),
        (average(|z| z.ec_rise), 1),
        (average(|z| z.feed_ph), 1),
        (average(|z| z.drain_ph), 1),
        (average(|z| z.moisture), 0),
    ];
    let mut cells = vec![zone.to_owned(), number::count(days.len() as u64)];
    cells.extend(numbers.into_iter().map(|(value, decimals)| fixed_or_dash(value, decimals)));
    cells
}

pub fn water(context: &Context) -> Option<PageTable> {
    let mut table = PageTable::new("water-table", "Water over the season, zone by zone").csv("water.csv").words("Zone");
    for head in
        ["Days", "Applied, L", "Drained, L", "Used, L", "Drain, % of feed", "Yield per water applied, kg/m³", "Yield per water used, kg/m³"]
    {
        table = table.number(head);
    }
    for site in context.sites().iter().filter(|s| !s.water.is_empty()) {
        table.group(site.name.clone());
        for w in &site.water {
            let share = w.drain_fraction.map(|f| 100.0 * f);
            table.row(vec![
                w.zone.clone(),
                number::count(w.days.into()),
                number::fixed(w.applied_l, 0),
                number::fixed(w.drained_l, 0),
                number::fixed(w.used_l, 0),
                fixed_or_dash(share, 0),
                fixed_or_dash(w.productivity_applied, 1),
                fixed_or_dash(w.productivity_used, 1),
            ]);
        }
    }
    table.note("Volumes are those of the plants that the log measures. Used: applied less drained. 1 kg/m³ is 1 g per litre.");
    table.without_empty_columns().if_any()
}
