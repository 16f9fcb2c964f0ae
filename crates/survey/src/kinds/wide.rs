//! A pick sheet with a column a day: what its heads and its cells are.
use crate::assign::{Assigned, as_kind};
use crate::columns::Column;
use crate::dates::{self, DayColumn, Style};
use crate::draft::{Chapter, Line, Question, Section, key, many, quoted, some};
use crate::kinds::columns;
use crate::kinds::harvest::grades;
use crate::known::Known;
use crate::layout;
use crate::log::Log;
use crate::numbers::{self, is_pounds_ounces};
use crate::ranges::{self, ByRange};
use crate::{weeks, words};
use crosshouse_logs::declare::LogKind;
use crosshouse_readings::units::Quantity;

/// `None`: no column beside the days names the units.
pub(crate) fn assign(columns: &[Column], known: &Known) -> Option<Assigned> {
    Some(as_kind(columns, LogKind::Harvest, known)).filter(|a| a.position("unit").is_some())
}

pub(crate) fn chapter(log: &Log, sheet: Option<&str>, known: &Known) -> Chapter {
    let mut head = Section::new("[[harvest]]");
    head.lines = layout::lines(log, sheet);
    head.lines.extend(days(log).map(|d| layout::date_style("the heads", &d)).unwrap_or_default());
    head.push(blank(log));
    head.push(Line::sure("same_day = \"fault\"", "each cell is one pick"));
    let mut wide = Section::new("[harvest.wide]");
    let heads = log.body.head_spots();
    let because = format!("{} heads are days: {}", many(heads.len()), some(heads.iter().map(|s| s.cell.text), 2));
    wide.push(Line::sure("across = \"date\"", because).saying("each head is a day"));
    let under = under(log);
    if under.is_none() {
        wide.push(cells(log));
    }
    let mut sections = vec![head, columns(log, "harvest", known), wide];
    sections.extend(under);
    sections.extend(grades(log));
    Chapter { title: String::new(), sections }
}

fn days(log: &Log) -> Option<DayColumn> {
    let spots = log.body.head_spots();
    let filled = spots.len();
    match weeks::of_texts(spots.iter().map(|s| s.cell.text), false) {
        Some(found) => {
            let style = Style::Weeks(found);
            Some(DayColumn { style, twelve_hour: false, days: filled, filled, timed: 0, with_offset: 0, not_days: Vec::new() })
        }
        None => dates::judge_spots(&log.body, spots),
    }
}

/// Several columns under each day, by the lower line of the header; `None`: one.
fn under(log: &Log) -> Option<Section> {
    let mut names: Vec<&str> = log.body.heads().iter().filter_map(|c| log.body.lower_header(*c)).collect();
    names.sort_unstable();
    names.dedup();
    let mut section = Section::new("[harvest.wide.columns]");
    for name in &names {
        let header = key(name);
        let means = words::meanings(name, LogKind::Harvest).first().map_or("", |m| m.is);
        section.push(match (words::in_header(name, Quantity::Mass), means) {
            (Some(words::HeaderUnit::Known(unit)), _) => {
                Line::sure(format!("{header} = {{ is = \"mass\", unit = {} }}", quoted(unit)), "unit by the header")
            }
            (_, "count") => Line::sure(format!("{header} = {{ is = \"count\" }}"), "the header says so"),
            (_, "grade") => Line::sure(format!("{header} = {{ is = \"grade\" }}"), "the header says so"),
            (_, "mass") => {
                let unit = Question::new("unit", format!("in which unit is \"{name}\"?"), "").or_each(ranges::units("mass"));
                Line { text: format!("{header} = {{ is = \"mass\", unit = \"?\" }}"), questions: vec![unit], ..Line::default() }
            }
            _ => Line::likely(format!("{header} = {{ is = \"ignored\" }}"), "no header word says what it is"),
        });
    }
    (!names.is_empty()).then_some(section)
}

/// What a blank cell means.
fn blank(log: &Log) -> Line {
    let (style, heads) = (log.style(), log.body.heads());
    let all = log.body.rows() * heads.len();
    let filled: usize = heads.iter().map(|c| log.body.filled(*c).count()).sum();
    let zeros: usize = heads.iter().map(|c| log.body.filled(*c).filter(|s| numbers::value(s, style) == Some(0.0)).count()).sum();
    let seen = format!("{} of {} cells are blank; a 0 is written in {}", many(all - filled), many(all), many(zeros));
    Line::asked(
        Question::new("unlisted", "what does a blank cell mean?", seen)
            .or("zero", "nothing on the unit was ripe")
            .or("missed", "nobody came to it"),
    )
}

/// `cells = { is = "mass", unit = "?" }`
fn cells(log: &Log) -> Line {
    let spots = || log.body.heads().iter().flat_map(|c| log.body.filled(*c));
    if spots().filter(|s| is_pounds_ounces(s.cell.text)).count() * 2 > spots().count() {
        return Line::sure("cells = { is = \"mass\", unit = \"lb oz\" }", "pounds and ounces in one cell")
            .saying("the cells are masses in lb oz");
    }
    let mut values: Vec<f64> = log.body.heads().iter().flat_map(|c| numbers::sorted(&log.body, *c, log.style())).collect();
    values.sort_by(f64::total_cmp);
    let whole = values.iter().all(|x| x.fract() == 0.0);
    let title = log.body.parts.first().map(|p| p.frame.preamble.join(" ")).unwrap_or_default();
    let named = title.split(|c: char| !c.is_alphanumeric()).filter(|w| w.len() > 1).find_map(|w| words::named(w, Quantity::Mass));
    if let Some(words::HeaderUnit::Known(unit)) = named {
        let text = format!("cells = {{ is = \"mass\", unit = {} }}", quoted(unit));
        return Line::sure(text, format!("the lines above say {unit}")).saying(format!("the cells are masses in {unit}"));
    }
    let seen = match ranges::judge("mass", &values) {
        ByRange::Open { seen } | ByRange::Sure { because: seen, .. } => seen,
    };
    let unit = Question::new("unit", "in which unit are the cells?", seen.clone()).or_each(ranges::units("mass"));
    let mut line = Line { text: "cells = { is = \"mass\", unit = \"?\" }".into(), questions: vec![unit], ..Line::default() };
    if whole {
        line.text = line.text.replace("is = \"mass\"", "is = \"?\"");
        let is = Question::new("is", "are the cells masses or numbers of fruit?", seen)
            .or("mass", "")
            .or("count", "then write unit = \"fruit\"");
        line.questions = vec![is, line.questions.remove(0).or("fruit", "if they are counted")];
    }
    line
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::columns;
    use crate::testing::body;

    fn drafted(text: &str) -> String {
        let body = body(text);
        let columns = columns::of(&body);
        let assigned = assign(&columns, &Known::default()).unwrap();
        crate::write::toml(&[], &[chapter(&Log::new(body, columns, assigned), None, &Known::default())])
    }

    #[test]
    fn a_column_a_day_is_declared_with_its_unit_asked() {
        let text = drafted("Tag;13.06.2031;20.06.2031;27.06.2031;Note\nB1;1,25;0,80;;\nB2;0,75;0;1,10;x\n");
        for line in [
            "across = \"date\"",
            "cells = { is = \"mass\", unit = \"?\" }",
            "date_style = \"day.month.year\"",
            "decimal = \",\"",
            "Tag = { is = \"unit\" }",
        ] {
            assert!(text.contains(line), "{line}\n{text}");
        }
        assert!(text.contains("1 of 6 cells are blank; a 0 is written in 1"), "{text}");
        assert!(!text.contains("20.06.2031\" = "), "{text}");
    }

    #[test]
    fn pairs_of_pounds_and_ounces_under_each_day_are_declared_by_the_lower_line() {
        let text = drafted("Picks\n,13.06.2031,,20.06.2031,\nTag,lb,oz,lb,oz\nB1,1,4,0,12\nB2,0,9,1,2\n");
        for line in ["header_lines = 2", "Tag = { is = \"unit\" }", "[harvest.wide.columns]", "oz = { is = \"mass\", unit = \"oz\" }"] {
            assert!(text.contains(line), "{line}\n{text}");
        }
        assert!(!text.contains("cells = {") && text.contains("date_style = \"day.month.year\""), "{text}");
    }

    #[test]
    fn weeks_ask_for_their_year_and_their_day_and_a_title_may_name_the_unit() {
        let text = drafted("Picks in kg\nTag,KW 24,KW 25,KW 26\nB1,1.2,0.8,0.5\nB2,0.7,0,1.1\n");
        for line in ["date_style = \"week\"", "year = \"?\"", "week_day = \"?\"", "cells = { is = \"mass\", unit = \"kg\" }"] {
            assert!(text.contains(line), "{line}\n{text}");
        }
    }
}
