//! Site files of every kind of log, with keys that an input switches on.

/// Site and plan.
pub const SITE: &str = r#"
[site]
name = "Tarn Hollow"
time_zone = "CST6CDT"
latitude = 46.9
longitude = -95.1
seeded = 2031-01-06
transplanted = 2031-03-24
ended = 2031-12-03
[[house]]
id = "glass-1"
kind = "glasshouse"
[[house]]
id = "glass-2"
kind = "glasshouse"
[unit_ids]
case = "ignore"
spaces = "drop"
zeros = "drop"
also = { "bucket one" = "B1-01" }
"#;

pub const PLAN: &str = r#"
[plan]
file = "plan.csv"
delimiter = ","
decimal = "."
[plan.columns]
"Bucket" = { is = "unit" }
"Line" = { is = "house" }
"Medium" = { is = "factor", factor = "medium" }
"Plants" = { is = "plants" }
[plan.levels.medium]
"Per" = "perlite"
"#;

/// One kind of log: its table up to where further keys go, and the rest.
pub struct Kind {
    pub name: &'static str,
    head: &'static str,
    tail: &'static str,
    /// The log of an input is the plan itself.
    pub is_plan: bool,
    /// The ending of the file.
    pub ending: &'static str,
}

const fn log(name: &'static str, head: &'static str, tail: &'static str) -> Kind {
    Kind { name, head, tail, is_plan: false, ending: "csv" }
}

const PICKS: &str = r#"
[harvest.columns]
"Date" = { is = "date" }
"Bucket" = { is = "unit" }
"kg" = { is = "mass", unit = "kg" }
"Fruit" = { is = "count" }
"Grade" = { is = "grade" }
"Brix" = { is = "measure", name = "soluble solids", unit = "%", combine = "mean" }
[harvest.grades]
"1" = "marketable"
"C" = "cull"
"#;

const OUNCES: &str = r#"
[harvest.columns]
"Date" = { is = "date" }
"Bucket" = { is = "unit" }
"Wt" = { is = "mass", unit = "lb oz" }
"Boxes" = { is = "count", unit = "box", content = "12" }
"Grade" = { is = "grade" }
"#;

const BY_DAY: &str = r#"
[harvest.columns]
"Bucket" = { is = "unit" }
"Sum" = { is = "ignored" }
[harvest.wide]
across = "date"
cells = { is = "mass", unit = "kg" }
"#;

const BY_UNIT: &str = r#"
[harvest.columns]
"Date" = { is = "date" }
[harvest.wide]
across = "unit"
[harvest.wide.columns]
"lb" = { is = "mass", unit = "lb" }
"oz" = { is = "mass", unit = "oz" }
"Out" = { is = "mass", unit = "g", grade = "C" }
[harvest.grades]
"C" = "cull"
"#;

const AIR: &str = r#"
[climate.columns]
"Time" = { is = "date-time" }
"T" = { is = "temperature", unit = "°F" }
"RH" = { is = "humidity", unit = "%" }
"PAR" = { is = "light", unit = "umol/m2/s" }
"CO2" = { is = "co2", unit = "ppm" }
"#;

const AIR_OF_HOUSES: &str = r#"
[climate.columns]
"Time" = { is = "date-time" }
"House" = { is = "house" }
"T" = { is = "temperature", unit = "°C" }
"RH" = { is = "humidity", unit = "%" }
"Lux" = { is = "light", unit = "lux", lamp = "sun and sky" }
"#;

const AIR_BY_DAY_AND_TIME: &str = r#"
[climate.columns]
"Date" = { is = "date" }
"Time" = { is = "time" }
"T" = { is = "temperature", unit = "°C" }
"RH" = { is = "humidity", unit = "%" }
"#;

const CHECKED: &str = r#"
[[climate.clock_checks]]
logger = "2031-07-01 06:00"
true = "2031-07-01 06:10"
[[climate.clock_checks]]
logger = "2031-11-03 06:00"
true = "2031-11-03 06:01"
[climate.columns]
"Time" = { is = "date-time" }
"T" = { is = "temperature", unit = "°C" }
"#;

const WATER: &str = r#"
[root_zone.columns]
"Date" = { is = "date" }
"Line" = { is = "zone" }
"Feed" = { is = "feed-volume", unit = "US gal" }
"Drain" = { is = "drain-volume", unit = "mL", below_detection = "half", traces = ["trace"], limit = 5.0 }
"EC in" = { is = "feed-ec", unit = "ppm", scale = 700 }
"EC out" = { is = "drain-ec", unit = "uS/cm", below_detection = "zero" }
"pH in" = { is = "feed-ph" }
"pH out" = { is = "drain-ph" }
"Moist" = { is = "moisture", unit = "%" }
"#;

const DIARY: &str = r#"
[diary.columns]
"Date" = { is = "date" }
"Until" = { is = "until" }
"Bucket" = { is = "unit" }
"House" = { is = "house" }
"Event" = { is = "event" }
"Plants" = { is = "plants" }
"Note" = { is = "note" }
[diary.events]
"plant died" = "plant-death"
"pump off" = "missed-irrigation"
"no pick" = "missed-pick"
"lost" = "lost-pick"
"logger" = "sensor-change"
"#;

const UNITS: &str = r#"
[plan.columns]
"Bucket" = { is = "unit" }
"House" = { is = "house" }
"Block" = { is = "block" }
"Line" = { is = "line" }
"Bench" = { is = "bench" }
"Row" = { is = "row" }
"Place" = { is = "position" }
"Medium" = { is = "factor", factor = "medium" }
"Plants" = { is = "plants" }
"Area" = { is = "area", unit = "ft2" }
"Guard" = { is = "guard" }
"#;

const HARVEST: &str = "[[harvest]]\nfiles = [\"log*\"]\nunlisted = \"zero\"\nsame_day = \"add\"\n";
const CLIMATE: &str = "[[climate]]\nfiles = [\"log*\"]\nhouse = \"glass-1\"\nclock = \"site\"\n";

/// A byte of the input chooses one.
pub const KINDS: &[Kind] = &[
    log("picks", HARVEST, PICKS),
    log("pounds and ounces", "[[harvest]]\nfiles = [\"log*\"]\nunlisted = \"missed\"\nsame_day = \"replace\"\n", OUNCES),
    log("a column a day", HARVEST, BY_DAY),
    log("a column a unit", HARVEST, BY_UNIT),
    Kind { ending: "xlsx", ..log("a sheet", "[[harvest]]\nfiles = [\"log*\"]\nsheet = \"Week *\"\n", PICKS) },
    log("air", CLIMATE, AIR),
    log("air of houses", "[[climate]]\nfiles = [\"log*\"]\nlight_is = \"mean\"\n", AIR_OF_HOUSES),
    log("air by day and time", "[[climate]]\nfiles = [\"log*\"]\nhouse = \"glass-2\"\nclock = \"standard\"\n", AIR_BY_DAY_AND_TIME),
    log("air by a checked clock", CLIMATE, CHECKED),
    log("water", "[[root_zone]]\nfiles = [\"log*\"]\nhouse = \"glass-1\"\nplants = 8\n", WATER),
    log("diary", "[[diary]]\nfiles = [\"log*\"]\n", DIARY),
    Kind { is_plan: true, ..log("units", "[plan]\nfile = \"log-0.csv\"\n", UNITS) },
];

/// Pairs of a key: none, the first or the second by two bits of the input.
const KEYS: &[[&str; 3]] = &[
    ["delimiter = \",\"", "delimiter = \";\"", "delimiter = \"tab\""],
    ["decimal = \".\"", "decimal = \",\"", "decimal = \".\"\nthousands = \",\""],
    ["date_style = \"year-month-day\"", "date_style = \"month/day/year\"", "date_style = \"day.month.year\""],
    ["encoding = \"utf-8\"", "encoding = \"windows-1252\"", "encoding = \"utf-16le\""],
    ["comment = \"#\"\ntotals = [\"Mean\", \"Total\"]", "ends_at = \"End\"", "trailer_lines = 1"],
    ["header_lines = 2", "unit_row = true", "skip_lines = 2"],
    ["time_style = \"12-hour\"", "missing = [\"\", \"NA\", \"-999\"]", "time_style = \"12-hour\"\nmissing = [\"-\"]"],
    ["interval_minutes = 5", "interval_minutes = 60", "interval_minutes = 0.5"],
];

/// Further date styles: weeks, names of months, dates without a year, serial days.
const STYLES: &[&str] = &[
    "date_style = \"year-week\"\nweek_day = \"monday\"",
    "date_style = \"week\"\nweek_day = \"sunday\"\nyear = 2031",
    "date_style = \"day-month_name-year\"",
    "date_style = \"month/day\"\nyear = 2031",
    "date_style = \"workbook\"",
    "date_style = \"yearmonthday\"",
    "date_style = \"year-week-weekday\"",
];

/// The site file that the input's first three bytes choose.
pub fn site(kind: &Kind, switches: u16) -> String {
    let mut keys = String::new();
    for (i, choices) in KEYS.iter().enumerate() {
        let bits = usize::from(switches >> (2 * i) & 3);
        let is_climate = kind.head.contains("climate");
        if let Some(key) = bits.checked_sub(1).and_then(|b| choices.get(b)).filter(|k| is_climate || !k.contains("interval")) {
            keys.push_str(key);
            keys.push('\n');
        } else if bits == 0 && i == 2 && !is_climate {
            // Of other logs than climate the interval's bits choose a further style.
            keys.push_str(STYLES[usize::from(switches >> 14) % STYLES.len()]);
            keys.push('\n');
        }
    }
    let plan = if kind.is_plan { "" } else { PLAN };
    format!("{SITE}{plan}{}{keys}{}", kind.head, kind.tail)
}
