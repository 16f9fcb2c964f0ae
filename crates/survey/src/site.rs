//! The site's own facts: what the logs show of them, and what only a person knows.
use crate::dates::Style;
use crate::draft::{Chapter, Line, Question, Section, quoted, some};
use crate::known::Known;
use crate::log::Log;
use crosshouse_logs::declare::LogKind;
use jiff::civil::Date;

/// An id made of a folder's name: letters, digits, - and _.
pub(crate) fn id_of(folder: &str) -> String {
    let plain: String = folder.chars().map(|c| if c.is_alphanumeric() || c == '_' { c } else { '-' }).collect();
    let trimmed = plain.trim_matches('-').to_lowercase();
    if trimmed.is_empty() { "site".to_owned() } else { trimmed }
}

fn name_of(id: &str) -> String {
    let capital = |w: &str| w.chars().take(1).flat_map(char::to_uppercase).chain(w.chars().skip(1)).collect::<String>();
    id.split(['-', '_']).filter(|w| !w.is_empty()).map(capital).collect::<Vec<_>>().join(" ")
}

pub(crate) fn chapter(id: &str, logs: &[Log], known: &Known) -> Chapter {
    let mut site = Section::new("[site]");
    site.push(Line::likely(format!("id = {}", quoted(id)), "the name of the folder; it is used in tables"));
    site.push(Line::likely(format!("name = {}", quoted(&name_of(id))), "the name of the folder; it is used in the report"));
    if logs.iter().any(|l| l.assigned.kind == LogKind::Climate) {
        site.push(Line::asked(
            Question::new("time_zone", "which time zone is the site in?", "")
                .or_plain("an IANA name such as \"CST6CDT\", \"EST5EDT\" or \"CET\"", "it knows the days of the clock changes"),
        ));
    }
    site.push(day("transplanted", "when were the plants set out?", &first_days(logs)));
    site.push(day("ended", "what was the last day of the trial here?", &last_days(logs)));
    Chapter { title: String::new(), sections: std::iter::once(site).chain(houses(logs, known)).collect() }
}

fn day(key: &str, ask: &str, seen: &[String]) -> Line {
    Line::asked(Question::new(key, ask, seen.join("; ")).or_plain("a date such as 2031-03-24", "without quotes"))
}

/// Logs with their days, of which style there is no doubt.
fn spans(logs: &[Log]) -> Vec<(&'static str, Date, Date)> {
    let sure = |l: &&Log| l.day_column().and_then(|c| c.day.as_ref()).is_some_and(|d| matches!(d.style, Style::Workbook | Style::Only(_)));
    let span = |l: &Log| {
        let days = l.sorted_days();
        Some((l.assigned.kind.word(), *days.first()?, *days.last()?))
    };
    logs.iter().filter(|l| l.assigned.kind != LogKind::Plan).filter(sure).filter_map(span).collect()
}

/// The first or last day of each kind of log.
fn extremes(logs: &[Log], first: bool) -> Vec<String> {
    let mut found: Vec<(&'static str, Date)> = Vec::new();
    for (kind, from, to) in spans(logs) {
        let day = if first { from } else { to };
        match found.iter_mut().find(|(k, _)| *k == kind) {
            Some((_, d)) => *d = if first { (*d).min(day) } else { (*d).max(day) },
            None => found.push((kind, day)),
        }
    }
    let word = if first { "begins" } else { "ends" };
    found.into_iter().map(|(kind, day)| format!("{kind} {word} {day}")).collect()
}

fn first_days(logs: &[Log]) -> Vec<String> {
    let mut seen = extremes(logs, true);
    seen.extend(planted(logs));
    seen
}

fn last_days(logs: &[Log]) -> Vec<String> {
    extremes(logs, false)
}

/// A diary entry that speaks of planting.
fn planted(logs: &[Log]) -> Option<String> {
    const WORDS: [&str; 9] =
        ["transplant", "set out", "planted", "planting", "gepflanzt", "pflanzung", "trasplant", "plantación", "repiqu"];
    for log in logs.iter().filter(|l| l.assigned.kind == LogKind::Diary) {
        let (Some(column), Some(days)) = (log.day_column(), log.days()) else { continue };
        let texts: Vec<_> = ["event", "note"].into_iter().filter_map(|is| log.column(is)).collect();
        for row in log.rows() {
            let said = texts.iter().map(|c| row.cell(c).text).find(|t| WORDS.iter().any(|w| t.to_lowercase().contains(w)));
            if let (Some(said), Some(day)) = (said, days.read(row.cell(column))) {
                return Some(format!("the diary says \"{said}\" on {}", day.day));
            }
        }
    }
    None
}

fn houses(logs: &[Log], known: &Known) -> Vec<Section> {
    let area = logs.iter().any(|l| l.assigned.kind == LogKind::Plan && l.column("area").is_some());
    let named = logs.iter().any(|l| l.column("house").is_some_and(|c| c.filled > 0));
    let section = |house: &String| {
        let mut section = Section::new("[[house]]");
        let text = format!("id = {}", quoted(house));
        section.push(match named {
            true => Line::sure(text, "so named in the logs"),
            false => Line::likely(text, "no log names a house: one is taken; any other name will do, in every place"),
        });
        if area {
            section.push(area_basis());
        }
        section
    };
    known.houses.iter().map(section).collect()
}

fn area_basis() -> Line {
    Line::asked(
        Question::new("area_basis", "of which ground is the plan's area?", "")
            .or("house floor incl. share of aisle", "")
            .or("bed incl. share of aisle", "")
            .or_plain("or take the line out", "then no yield per square metre is told"),
    )
}

/// The houses that plan or logs name; one without a name where none does.
pub(crate) fn house_names(logs: &[Log]) -> Vec<String> {
    let of = |l: &Log| l.column("house").map(|c| c.words.keys().cloned().collect::<Vec<_>>()).unwrap_or_default();
    let mut plan: Vec<String> = logs.iter().filter(|l| l.assigned.kind == LogKind::Plan).flat_map(of).collect();
    if plan.is_empty() {
        plan = logs.iter().flat_map(of).collect();
    }
    plan.sort();
    plan.dedup();
    if plan.is_empty() { vec!["house-1".to_owned()] } else { plan }
}

/// A site without a plan cannot run: the file is asked for.
pub(crate) fn no_plan() -> Chapter {
    let mut plan = Section::new("[plan]");
    plan.push(Line::asked(
        Question::new("file", "which file lists the units, one row each, with what they were given?", "none of the files looks like it")
            .or_plain("a path inside the folder of logs", "then survey it too, and take over its [plan.columns]"),
    ));
    let columns = Section::new("[plan.columns]");
    Chapter { title: "No plan was among the files.".into(), sections: vec![plan, columns] }
}

/// Files and sheets that are no log of any kind.
pub(crate) fn not_understood(list: &[(String, String)]) -> Option<Chapter> {
    if list.is_empty() {
        return None;
    }
    let mut section = Section::default();
    section.intro.push("Not understood, and not declared here. What kind of log is it? If one is needed, write its table by hand.".into());
    section.intro.extend(list.iter().map(|(name, why)| format!("  {name}: {why}")));
    let names: Vec<&str> = list.iter().map(|(n, _)| n.as_str()).collect();
    Some(Chapter { title: format!("Not understood: {}.", some(names, 12)), sections: vec![section] })
}
