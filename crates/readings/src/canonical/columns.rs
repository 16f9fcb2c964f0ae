//! The columns, as data. A published table is a contract: a change here is a line in CHANGELOG.
use super::Column;
use super::Holds::{self, *};

const fn must(name: &'static str, holds: Holds, unit: &'static str, description: &'static str) -> Column {
    Column { name, holds, unit, description, optional: false }
}

const fn may(name: &'static str, holds: Holds, unit: &'static str, description: &'static str) -> Column {
    Column { name, holds, unit, description, optional: true }
}

const SITE: Column = must("site", Text, "", "identifier of the site");
const FILE: Column = must("source_file", Text, "", "raw file (and sheet) that the row came from, relative to the folder of logs");
const ROW: Column = must("source_row", Whole, "1", "row in that file, counted from 1 at its first line");
const FLAGS: Column = may("flags", Codes, "", "codes of the doubts about this row, separated by blanks; empty = none");

#[rustfmt::skip]
pub(super) static UNITS: &[Column] = &[
    SITE,
    must("unit", Text, "", "experimental unit: the container or group of containers that one treatment was given to"),
    must("house", Text, "", "glasshouse or high tunnel"),
    may("block", Text, "", "block within the house"),
    may("line", Text, "", "irrigation line"),
    may("bench", Text, "", "bench"),
    must("plants", Whole, "{plant}", "plants set in the unit"),
    may("area", Number, "m2", "ground area of the unit, by the area basis that the house states"),
    may("row", Whole, "1", "row of the house plan, from 1"),
    may("position", Whole, "1", "position along the row, from 1"),
    must("guard", YesNo, "", "a guard unit: listed, never analysed"),
    FILE, ROW,
];

#[rustfmt::skip]
pub(super) static HARVEST: &[Column] = &[
    SITE,
    must("unit", Text, "", "experimental unit picked"),
    must("day", Day, "", "civil date of the pick at the site"),
    may("grade", Text, "", "grade as written"),
    must("kind", Text, "", "marketable or cull, as the site file says of the grade"),
    may("mass", Number, "kg", "mass picked"),
    may("count", Number, "{fruit}", "fruit picked"),
    FLAGS, FILE, ROW,
];

#[rustfmt::skip]
pub(super) static CLIMATE: &[Column] = &[
    SITE,
    must("house", Text, "", "house of the logger"),
    must("instant", Instant, "", "instant of the record, UTC"),
    must("day", Day, "", "date of the record in the site's standard time, all season"),
    may("temperature", Number, "Cel", "air temperature"),
    may("humidity", Number, "%", "relative humidity"),
    may("light", Number, "umol/m2/s", "photosynthetic photon flux density, 400 to 700 nm"),
    may("co2", Number, "umol/mol", "carbon dioxide in the air"),
    must("flagged", YesNo, "", "true where the record carries a doubt"),
    FILE, ROW,
];

#[rustfmt::skip]
pub(super) static ROOT_ZONE: &[Column] = &[
    SITE,
    must("zone", Text, "", "irrigation line, bench or house whose containers are measured"),
    must("house", Text, "", "house of the zone"),
    must("day", Day, "", "civil date at the site"),
    may("feed_volume", Number, "L", "feed that entered the measured containers"),
    may("drain_volume", Number, "L", "drain caught from the same containers"),
    may("feed_ec", Number, "dS/m", "electrical conductivity of the feed at 25 °C"),
    may("drain_ec", Number, "dS/m", "electrical conductivity of the drain at 25 °C"),
    may("feed_ph", Number, "[pH]", "pH of the feed"),
    may("drain_ph", Number, "[pH]", "pH of the drain"),
    may("moisture", Number, "%", "water content of the medium by volume"),
    may("plants", Number, "{plant}", "plants whose water the volumes are, where declared"),
    FLAGS, FILE, ROW,
];

#[rustfmt::skip]
pub(super) static DIARY: &[Column] = &[
    SITE,
    must("day", Day, "", "first day of the entry"),
    must("until", Day, "", "last day of the entry"),
    must("event", Text, "", "plant-death, missed-irrigation, missed-pick, lost-pick, sensor-change or note"),
    may("unit", Text, "", "experimental unit concerned"),
    may("house", Text, "", "house concerned"),
    may("plants", Whole, "{plant}", "plants that died"),
    may("note", Text, "", "note as written"),
    FILE, ROW,
];
