//! One declared column: its written header and what it means.
use super::log::LogKind;
use crate::tables::Combine;
use crosshouse_readings::declared::{Table, nearest};
use serde::{Deserialize, Serialize};

/// A column of a log, as the site file names it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Column {
    /// The header as written in the log.
    pub header: String,
    pub meaning: Meaning,
    /// Unit as the site file writes it.
    pub unit: Option<String>,
    /// Lamp of a lux or foot-candle column.
    pub lamp: Option<String>,
    /// Scale of an EC column in ppm: 500, 640 or 700.
    pub scale: Option<u32>,
    /// What one box, tray or flat holds: a mass such as `25 lb`, or a number of fruit.
    pub content: Option<String>,
    /// Missing-value codes of this column alone, in place of the log's.
    pub missing: Option<Vec<String>>,
    /// What a cell such as `<0.1` means; `None`: not declared.
    pub below_detection: Option<BelowDetection>,
    /// Limit of detection of the words in `traces`, in the column's unit.
    pub limit: Option<f64>,
    /// Words that mean "below the limit", such as `trace`.
    pub traces: Vec<String>,
    /// Where the cells stand.
    pub from: Supply,
    /// Grade of what stands under a head of a wide sheet, where several grades stand side by side.
    pub grade: Option<String>,
    /// Line of the site file.
    pub line: u32,
}

impl Column {
    /// A column of which nothing but its header and meaning is declared.
    pub fn plain(header: &str, meaning: Meaning) -> Self {
        Column {
            header: header.to_owned(),
            meaning,
            unit: None,
            lamp: None,
            scale: None,
            content: None,
            missing: None,
            below_detection: None,
            limit: None,
            traces: Vec::new(),
            from: Supply::Header,
            grade: None,
            line: 0,
        }
    }
}

/// Where the cells of a declared column stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Supply {
    /// Under the written header.
    Header,
    /// The name of the sheet: one value for all its rows.
    SheetName,
    /// The name of the file: one value for all its rows.
    FileName,
    /// The heads of the columns of a wide sheet.
    Heads,
    /// Under each of these heads.
    UnderHeads,
    /// The grade that the site file gives to the cells under a head.
    GradeUnderHeads,
}

/// What a value below the limit of detection is read as.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum BelowDetection {
    Zero,
    Half,
    Missing,
}

impl BelowDetection {
    pub fn words(self) -> &'static str {
        match self {
            BelowDetection::Zero => "zero",
            BelowDetection::Half => "half of the limit",
            BelowDetection::Missing => "no value",
        }
    }
}

/// What the cells of a column mean.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Meaning {
    Unit,
    UnitPart,
    House,
    Block,
    Line,
    Bench,
    /// Level of the named factor.
    Factor(String),
    Plants,
    Area,
    Row,
    Position,
    Guard,
    Date,
    Time,
    DateTime,
    Until,
    Mass,
    Count,
    Grade,
    Measure {
        name: String,
        combine: Combine,
    },
    Temperature,
    Humidity,
    Light,
    Co2,
    Zone,
    FeedVolume,
    DrainVolume,
    FeedEc,
    DrainEc,
    FeedPh,
    DrainPh,
    Moisture,
    Event,
    Note,
    Ignored,
}

/// The words that `is` may say in each kind of log.
fn allowed(kind: LogKind) -> &'static [&'static str] {
    match kind {
        LogKind::Plan => {
            &["unit", "unit-part", "house", "block", "line", "bench", "factor", "plants", "area", "row", "position", "guard", "ignored"]
        }
        LogKind::Harvest => &["date", "date-time", "unit", "unit-part", "mass", "count", "grade", "measure", "ignored"],
        LogKind::Climate => &["date", "time", "date-time", "house", "temperature", "humidity", "light", "co2", "ignored"],
        LogKind::RootZone => &[
            "date",
            "time",
            "date-time",
            "zone",
            "house",
            "plants",
            "feed-volume",
            "drain-volume",
            "feed-ec",
            "drain-ec",
            "feed-ph",
            "drain-ph",
            "moisture",
            "ignored",
        ],
        LogKind::Diary => &["date", "until", "unit", "unit-part", "house", "event", "plants", "note", "ignored"],
    }
}

fn plain_meaning(word: &str) -> Option<Meaning> {
    Some(match word {
        "unit" => Meaning::Unit,
        "unit-part" => Meaning::UnitPart,
        "house" => Meaning::House,
        "block" => Meaning::Block,
        "line" => Meaning::Line,
        "bench" => Meaning::Bench,
        "plants" => Meaning::Plants,
        "area" => Meaning::Area,
        "row" => Meaning::Row,
        "position" => Meaning::Position,
        "guard" => Meaning::Guard,
        "date" => Meaning::Date,
        "time" => Meaning::Time,
        "date-time" => Meaning::DateTime,
        "until" => Meaning::Until,
        "mass" => Meaning::Mass,
        "count" => Meaning::Count,
        "grade" => Meaning::Grade,
        "temperature" => Meaning::Temperature,
        "humidity" => Meaning::Humidity,
        "light" => Meaning::Light,
        "co2" => Meaning::Co2,
        "zone" => Meaning::Zone,
        "feed-volume" => Meaning::FeedVolume,
        "drain-volume" => Meaning::DrainVolume,
        "feed-ec" => Meaning::FeedEc,
        "drain-ec" => Meaning::DrainEc,
        "feed-ph" => Meaning::FeedPh,
        "drain-ph" => Meaning::DrainPh,
        "moisture" => Meaning::Moisture,
        "event" => Meaning::Event,
        "note" => Meaning::Note,
        "ignored" => Meaning::Ignored,
        _ => return None,
    })
}

/// Reads the `[….columns]` table under `log`, in the order of the file.
pub(super) fn read_columns(log: &Table<'_, '_>, kind: LogKind, factors: &[String]) -> Vec<Column> {
    let Some(table) = log.table("columns") else {
        log.fault(
            "columns",
            "key-missing",
            "no columns are declared",
            "nothing",
            "a table of written headers and their meanings",
            "add the columns of this log",
        );
        return Vec::new();
    };
    let mut keys = table.keys();
    keys.sort_by_key(|(_, line)| *line);
    let columns: Vec<Column> = keys.into_iter().filter_map(|(header, line)| read_column(&table, header, line, kind, factors)).collect();
    table.finish();
    columns
}

/// The column that `key` of a log declares outside its `columns`: the name of the sheet or file, the
/// cells of a wide sheet.
pub(super) fn read_single(log: &Table<'_, '_>, key: &str, header: &str, from: Supply, kind: LogKind, factors: &[String]) -> Option<Column> {
    if !log.has(key) {
        return None;
    }
    let column = read_column(log, key.to_owned(), log.line_of(key), kind, factors)?;
    Some(Column { header: header.to_owned(), from, ..column })
}

pub(super) fn read_column(table: &Table<'_, '_>, header: String, line: u32, kind: LogKind, factors: &[String]) -> Option<Column> {
    let keys = table.table(&header)?;
    let words = allowed(kind);
    if !keys.has("is") {
        table.fault(
            &header,
            "key-missing",
            "the column says no meaning",
            "no `is`",
            &words.join(" · "),
            "write, for example, { is = \"ignored\" }",
        );
        keys_asked(&keys);
        keys.finish();
        return None;
    }
    let word = keys.one_of("is", words);
    let meaning = match word {
        Some("factor") => factor(&keys, factors),
        Some("measure") => measure(&keys),
        Some(plain) => plain_meaning(plain),
        None => None,
    };
    let column = Column {
        header: header.trim().to_owned(),
        unit: keys.text("unit"),
        lamp: keys.text("lamp"),
        scale: scale(&keys),
        content: keys.text("content"),
        missing: keys.texts("missing"),
        below_detection: below_detection(&keys),
        limit: keys.number("limit"),
        traces: keys.texts("traces").unwrap_or_default(),
        from: Supply::Header,
        grade: keys.text("grade"),
        line,
        meaning: meaning.clone().unwrap_or(Meaning::Ignored),
    };
    if meaning.is_none() {
        keys_asked(&keys);
    }
    check_traces(&keys, &column);
    keys.finish();
    meaning.map(|_| column)
}

/// Marks the keys of a column as known, so that one fault is not followed by five others.
fn keys_asked(keys: &Table<'_, '_>) {
    for key in
        ["is", "factor", "name", "combine", "unit", "lamp", "scale", "content", "missing", "below_detection", "limit", "traces", "grade"]
    {
        keys.has(key);
    }
}

fn below_detection(keys: &Table<'_, '_>) -> Option<BelowDetection> {
    Some(match keys.one_of("below_detection", &["zero", "half", "missing"])? {
        "zero" => BelowDetection::Zero,
        "half" => BelowDetection::Half,
        _ => BelowDetection::Missing,
    })
}

/// Half of a limit that nobody knows is no number.
fn check_traces(keys: &Table<'_, '_>, column: &Column) {
    if !column.traces.is_empty() && column.below_detection.is_none() {
        keys.fault(
            "traces",
            "below-detection-undeclared",
            "words for values below detection, and no meaning of them",
            "no `below_detection`",
            "below_detection = \"zero\", \"half\" or \"missing\"",
            "what does a value below the limit of detection count as?",
        );
    }
    if !column.traces.is_empty() && column.below_detection == Some(BelowDetection::Half) && column.limit.is_none() {
        keys.fault(
            "traces",
            "limit-undeclared",
            "half of a limit that is not declared",
            "no `limit`",
            "limit = the method's limit of detection, in the column's unit",
            "what is the limit of detection?",
        );
    }
}

fn scale(keys: &Table<'_, '_>) -> Option<u32> {
    let number = keys.count("scale")?;
    let known = [500, 640, 700].into_iter().find(|s| u64::from(*s) == number);
    if known.is_none() {
        keys.fault(
            "scale",
            "key-unknown-word",
            "not an EC scale",
            &number.to_string(),
            "500 · 640 · 700",
            "see the meter's manual for its scale",
        );
    }
    known
}

fn factor(keys: &Table<'_, '_>, factors: &[String]) -> Option<Meaning> {
    let name = keys.required_text("factor")?;
    if factors.contains(&name) {
        return Some(Meaning::Factor(name));
    }
    let near = nearest(&name, factors.iter().map(String::as_str))
        .map_or_else(|| "add it to the season file's factors".to_owned(), |n| format!("did you mean \"{n}\"?"));
    keys.fault(
        "factor",
        "factor-unknown",
        "not a factor of the season",
        &format!("\"{name}\""),
        &super::listed(factors, super::NO_FACTOR),
        &near,
    );
    None
}

fn measure(keys: &Table<'_, '_>) -> Option<Meaning> {
    let name = keys.required_text("name");
    let combine = keys.one_of("combine", &["mean", "sum"]);
    let combine = if combine == Some("sum") { Combine::Sum } else { Combine::Mean };
    Some(Meaning::Measure { name: name?, combine })
}
