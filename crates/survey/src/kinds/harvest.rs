//! Picks: grades, what an unlisted unit means, what a second row means.
use crate::draft::{Chapter, Line, Question, Section, key, many, quoted};
use crate::kinds::columns;
use crate::known::Known;
use crate::layout;
use crate::log::Log;
use crate::numbers;
use crate::words::{is_cull, is_marketable};
use crosshouse_logs::raw::same_id;
use crosshouse_readings::quantity::pounds_ounces;
use jiff::civil::Date;
use std::collections::{BTreeMap, BTreeSet};

pub(crate) fn chapter(log: &Log, sheet: Option<&str>, known: &Known) -> Chapter {
    let picks = picks(log, known);
    let mut head = Section::new("[[harvest]]");
    head.lines = layout::lines(log, sheet);
    head.push(unlisted(&picks, known));
    head.push(same_day(&picks));
    let mut sections = vec![head, columns(log, "harvest", known)];
    sections.extend(grades(log));
    Chapter { title: String::new(), sections }
}

/// One row that has a day, a unit and a mass or count that reads.
struct Pick {
    unit: String,
    day: Date,
    grade: String,
    zero: bool,
    place: String,
}

fn picks(log: &Log, known: &Known) -> Vec<Pick> {
    let (Some(day), Some(days), Some(unit)) = (log.day_column(), log.days(), log.column("unit")) else { return Vec::new() };
    let weighed: Vec<_> = log.chosen().filter(|(_, c)| matches!(c.is, "mass" | "count")).map(|(c, _)| c).collect();
    let grade = log.column("grade");
    let style = log.style();
    let read = |spot: &crate::body::Spot<'_>| numbers::value(spot, style).or_else(|| pounds_ounces(spot.cell.text, style).ok());
    let pick = |row: crate::log::Row<'_>| {
        let day = days.read(row.cell(day))?.day;
        let masses: Vec<f64> = weighed.iter().filter_map(|c| read(&row.spot(c))).collect();
        let unreadable =
            weighed.iter().any(|c| !row.cell(c).text.is_empty() && read(&row.spot(c)).is_none() && !c.codes.contains_key(row.cell(c).text));
        (!masses.is_empty() && !unreadable).then(|| Pick {
            unit: same_id(row.cell(unit).text, &known.rules),
            day,
            grade: grade.map_or("", |g| row.cell(g).text).to_owned(),
            zero: masses.iter().all(|m| *m == 0.0),
            place: row.place(),
        })
    };
    log.rows().filter_map(pick).collect()
}

/// Units of the plan without a row on a day on which others have one.
fn unlisted(picks: &[Pick], known: &Known) -> Line {
    let mut days: BTreeMap<Date, BTreeSet<&str>> = BTreeMap::new();
    for pick in picks {
        days.entry(pick.day).or_default().insert(&pick.unit);
    }
    let units: BTreeSet<String> = known.units.iter().filter(|u| !known.guards.contains(*u)).map(|u| same_id(u, &known.rules)).collect();
    let lacking = |seen: &BTreeSet<&str>| units.iter().filter(|u| !seen.contains(u.as_str())).count();
    let short: Vec<(&Date, usize)> = days.iter().map(|(d, s)| (d, lacking(s))).filter(|(_, n)| *n > 0).collect();
    if !units.is_empty() && short.is_empty() && !days.is_empty() {
        return Line::likely("unlisted = \"missed\"", "every unit has a row on every pick day, so that it makes no difference");
    }
    let zeros = picks.iter().filter(|p| p.zero).count();
    let mut seen = match short.first() {
        Some((day, n)) => {
            format!("on {} of {} pick days a unit has no row ({n} of {} on {day})", many(short.len()), many(days.len()), many(units.len()))
        }
        None => format!("{} pick days, and no plan to tell who lacks", many(days.len())),
    };
    seen.push_str(&match zeros {
        0 => "; no 0 is written anywhere".to_owned(),
        n => format!("; a 0 is written in {}", layout::counted(n, "row")),
    });
    Line::asked(
        Question::new("unlisted", "what does it mean that a unit has no row on a pick day?", seen)
            .or("zero", "nothing on it was ripe")
            .or("missed", "nobody came to it"),
    )
}

fn same_day(picks: &[Pick]) -> Line {
    let mut seen: BTreeMap<(&str, Date, &str), &Pick> = BTreeMap::new();
    let mut twice: Vec<String> = Vec::new();
    for pick in picks {
        if let Some(first) = seen.insert((&pick.unit, pick.day, &pick.grade), pick) {
            twice.push(format!("{} and {}", first.place, pick.place));
        }
    }
    if twice.is_empty() {
        return Line::sure("same_day = \"fault\"", "no unit has a second row of one grade on one day; should one come, it is told");
    }
    let example = twice.iter().take(2).cloned().collect::<Vec<_>>().join("; ");
    let seen = format!("{}: {example}", layout::counted(twice.len(), "such row"));
    Line::asked(
        Question::new("same_day", "what does a second row of one unit, day and grade mean?", seen)
            .or("add", "a second tray of the same pick")
            .or("replace", "a correction of the first")
            .or("fault", "one of the two is wrong"),
    )
}

pub(crate) fn grades(log: &Log) -> Option<Section> {
    let column = log.column("grade")?;
    let mut section = Section::new("[harvest.grades]");
    let of: usize = column.words.values().sum();
    for (word, n) in &column.words {
        let rows = format!("{} of {} rows", many(*n), many(of));
        section.push(match () {
            () if is_marketable(word) => Line::sure(format!("{} = {}", key(word), quoted("marketable")), rows),
            () if is_cull(word) => Line::sure(format!("{} = {}", key(word), quoted("cull")), rows),
            () => Line::asked(
                Question::new(word, format!("is fruit of grade \"{word}\" marketable?"), rows).or("marketable", "").or("cull", ""),
            ),
        });
    }
    (!section.lines.is_empty()).then_some(section)
}
