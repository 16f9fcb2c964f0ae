//! What each site declared, and the readings that hold for all of them.
use crate::context::Context;
use crate::page::PageTable;
use crate::reader::Reader;
use crate::sections::opening::house;
use crate::words;
use crosshouse_logs::tables::{Site, Unlisted};

pub fn table(context: &Context) -> Option<PageTable> {
    let mut table = PageTable::new("declared-table", "What each site declared");
    for head in ["Site", "Houses", "Seeded", "Transplanted", "Ended", "Clock", "A unit not listed on a pick day", "Area basis", "Practices"]
    {
        table = table.words(head);
    }
    for site in context.declared() {
        table.row(row(site));
    }
    table.if_any()
}

fn row(site: &Site) -> Vec<String> {
    let or_none = |text: String| if text.is_empty() { "none stated".to_owned() } else { text };
    let houses: Vec<String> = site.houses.iter().map(|h| house(&h.id, &h.kind)).collect();
    vec![
        site.name.clone(),
        or_none(words::list(&houses)),
        words::short_date_or_not(site.seeded),
        words::short_date_or_not(site.transplanted),
        words::short_date_or_not(site.ended),
        or_none(site.time_zone.clone()),
        unlisted(site.unlisted).to_owned(),
        or_none(areas(site)),
        or_none(words::list(&site.practices.iter().map(|p| p.replace('-', " ")).collect::<Vec<_>>())),
    ]
}

fn unlisted(meaning: Unlisted) -> &'static str {
    match meaning {
        Unlisted::Zero => "visited, nothing ready",
        Unlisted::Missed => "not visited",
        Unlisted::Undeclared => "not declared: an open question",
    }
}

fn areas(site: &Site) -> String {
    let mut bases: Vec<&str> = site.houses.iter().filter_map(|h| h.area_basis.as_deref()).collect();
    bases.dedup();
    words::list(&bases)
}

/// Readings fixed for every season, and the assumptions of the models.
pub fn assumptions(context: &Context) -> Vec<String> {
    let mass = match context.reader() {
        Reader::Kilograms => "Masses are shown in kilograms; the tables hold pounds as well (1 lb = 0.453 592 37 kg, exact).",
        Reader::Pounds => {
            "Masses are shown in pounds (1 lb = 0.453 592 37 kg, exact); everything was computed in kilograms, and the \
             tables hold both."
        }
    };
    let fixed = [
        "The experimental unit is the container, or group of containers, that one treatment was given to. Plants in a \
         unit and picks of a unit are never counted as replicates (Hurlbert 1984).",
        "Residuals and random effects are taken as normal, with the variances that the model names; the residual figures \
         show how far that holds.",
        "A pick has the site’s civil date. Climate days are 24 hours of standard time.",
        mass,
        "Every number was computed at full precision and rounded once, for the page: estimates and limits to the decimal \
         of the second significant digit of their standard error, halves to even. Verdicts and letters come from \
         unrounded numbers.",
        "What was worked out rather than declared is listed with its evidence under “The rows”.",
    ];
    fixed.into_iter().map(str::to_owned).collect()
}
