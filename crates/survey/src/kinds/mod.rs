//! What each kind of log declares beside files, layout and measured columns.
pub(crate) mod climate;
pub(crate) mod diary;
pub(crate) mod harvest;
pub(crate) mod plan;
pub(crate) mod root_zone;
pub(crate) mod wide;

use crate::columns::Column;
use crate::draft::{Line, Question, Section, key, many, some};
use crate::known::Known;
use crate::log::Log;
use crate::measured;

/// `[harvest.columns]` and the like: every column of the header, with what it is.
pub(crate) fn columns(log: &Log, head: &str, known: &Known) -> Section {
    let mut section = Section::new(format!("[{head}.columns]"));
    section.intro.extend(twice(log));
    for (i, column) in log.columns.iter().enumerate().filter(|(_, c)| is_first(log, c)) {
        let line = match log.choice(i) {
            Some(choice) if choice.rival => rival(log, column, choice.is),
            Some(choice) if choice.is == "ignored" => ignored(column, "nothing of it is needed"),
            Some(choice) if measured::quantity(choice.is).is_some() => measured::line(log, column, choice.is),
            Some(choice) => plain(column, choice.is, known),
            None => ignored(column, "no header word says what it is"),
        };
        section.push(line);
    }
    section
}

/// Whether no column further left has the same header: a site file names a header once.
pub(crate) fn is_first(log: &Log, column: &Column) -> bool {
    log.columns.iter().find(|c| c.header == column.header).is_none_or(|c| c.index == column.index)
}

/// Headers that two columns share, with what must be done about it.
pub(crate) fn twice(log: &Log) -> Option<String> {
    let shared: Vec<&str> = log.columns.iter().filter(|c| !is_first(log, c)).map(|c| c.header.as_str()).collect();
    (!shared.is_empty())
        .then(|| format!("Two columns have one header: {}. Rename one of each in the file, then survey it again.", some(shared, 6)))
}

/// A column that is no measured value.
fn plain(column: &Column, is: &str, known: &Known) -> Line {
    let text = format!("{} = {{ is = \"{is}\" }}", key(&column.header));
    let because = match is {
        "date" | "date-time" | "until" => days(column),
        "unit" => units(column, known),
        "zone" => zone(column, known),
        "time" => format!("{} of {} cells are times of day", many(column.times), many(column.filled)),
        _ => words(column),
    };
    let said = format!("\"{}\" is the {}", column.header, spoken(is));
    let unproved = is == "unit" && !known.units.is_empty() && known.share_of_units(column) < 0.5 && column.filled > 0;
    let line = if unproved { Line::likely(text, because) } else { Line::sure(text, because) };
    line.saying(said)
}

/// A meaning as a person says it.
fn spoken(is: &str) -> &str {
    match is {
        "until" => "last day",
        "date-time" => "day and time",
        "event" => "kind of entry",
        other => other,
    }
}

fn days(column: &Column) -> String {
    column.day.as_ref().map_or_else(String::new, |d| {
        let but = if d.not_days.is_empty() { String::new() } else { format!("; {} is none", d.not_days.join(" nor ")) };
        let timed = if d.timed * 2 > d.days { ", with a time" } else { "" };
        format!("{} of {} cells are days{timed}{but}", many(d.days), many(d.filled))
    })
}

fn units(column: &Column, known: &Known) -> String {
    if column.filled == 0 {
        return words(column);
    }
    if known.units.is_empty() {
        return format!(
            "the header says so; {} ids such as {}",
            many(column.words.len()),
            some(column.words.keys().map(String::as_str), 2)
        );
    }
    let share = known.share_of_units(column);
    format!("{} of {} cells are units of the plan", many((share * column.filled as f64).round() as usize), many(column.filled))
}

fn zone(column: &Column, known: &Known) -> String {
    known.zone_of(column).map_or_else(
        || words(column),
        |is| format!("all its words are a {is} of the plan: {}", some(column.words.keys().map(String::as_str), 4)),
    )
}

/// "4 words: …".
pub(crate) fn words(column: &Column) -> String {
    match column.words.len() {
        0 => "the header says so; no cell is filled".to_owned(),
        1 => format!("the header says so; always {}", some(column.words.keys().map(String::as_str), 1)),
        n if n <= 6 => format!("the header says so; {}", some(column.words.keys().map(String::as_str), 6)),
        n => format!("the header says so; {} different texts", many(n)),
    }
}

pub(crate) fn rival(log: &Log, column: &Column, is: &str) -> Line {
    let others: Vec<&str> = log.chosen().filter(|(_, c)| c.is == is && c.rival).map(|(c, _)| c.header.as_str()).collect();
    let ask = format!("is \"{}\" the {}? Of {} one alone can be", column.header, is.replace('-', " "), some(others, 4));
    let mut line = measured::quantity(is).map_or_else(Line::default, |_| measured::line(log, column, is));
    if line.text.is_empty() {
        line.text = format!("{} = {{ is = \"?\" }}", key(&column.header));
    } else {
        line.text = line.text.replacen(&format!("is = \"{is}\""), "is = \"?\"", 1);
    }
    line.questions.insert(0, Question::new("is", ask, "").or(is, "").or("ignored", "it is another"));
    line.said = String::new();
    line
}

fn ignored(column: &Column, why: &str) -> Line {
    let content = match () {
        () if column.filled == 0 => "no cell is filled".to_owned(),
        () if column.is_numeric() => format!("numbers such as {}", some(column.words.keys().map(String::as_str), 2)),
        () => format!("texts such as {}", some(column.words.keys().map(|w| w.get(..w.len().min(24)).unwrap_or(w.as_str())), 2)),
    };
    Line::likely(format!("{} = {{ is = \"ignored\" }}", key(&column.header)), format!("{why}; {content}"))
}

/// The house of a log that names none.
pub(crate) fn house(log: &Log, known: &Known) -> Option<Line> {
    if log.column("house").is_some() {
        return None;
    }
    Some(match known.houses.as_slice() {
        [only] => Line::sure(format!("house = {}", crate::draft::quoted(only)), "the site has no other"),
        several => {
            let ask = format!("which house is {} of?", some(log.body.files(), 3));
            Line::asked(Question::new("house", ask, "").or_each(several.iter().map(String::as_str)))
        }
    })
}
