//! The plan: units, where they stand, what they were given.
use crate::columns::Column;
use crate::draft::{Chapter, Line, Question, Section, key, quoted, some};
use crate::kinds::{is_first, rival, twice, words};
use crate::known::{Factor, Known};
use crate::layout;
use crate::log::Log;
use crate::measured;

/// A column that holds levels of a factor.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct FactorColumn {
    /// Index among the log's columns.
    pub column: usize,
    /// Name in the season file.
    pub factor: String,
}

/// The factors among the columns: those of the season, or, where there is no season file yet, those named
/// by the headers.
pub(crate) fn factors(log: &Log, known: &Known) -> Vec<FactorColumn> {
    let named = |i: usize| log.choice(i).map(|c| c.is).filter(|is| matches!(*is, "medium" | "container" | "treatment"));
    let factor = |(i, column): (usize, &Column)| {
        let name = match &known.factors {
            None => named(i).map(str::to_owned),
            Some(factors) => of_season(column, named(i), factors),
        }?;
        Some(FactorColumn { column: i, factor: name })
    };
    let mut found: Vec<FactorColumn> = Vec::new();
    for f in log.columns.iter().enumerate().filter_map(factor) {
        if !found.iter().any(|g| g.factor == f.factor) {
            found.push(f);
        }
    }
    found
}

/// By its header, by the usual word for it, or by its levels.
fn of_season(column: &Column, named: Option<&str>, factors: &[Factor]) -> Option<String> {
    let header = column.header.to_lowercase();
    let by_name = factors.iter().find(|f| f.name.to_lowercase() == header || Some(f.name.as_str()) == named);
    let by_level =
        || factors.iter().find(|f| column.is_text() && column.words.keys().any(|w| f.levels.iter().any(|l| l.eq_ignore_ascii_case(w))));
    by_name.or_else(by_level).map(|f| f.name.clone())
}

/// `row_is_zone`: the feed log measures by the plan's rows.
pub(crate) fn chapter(log: &Log, sheet: Option<&str>, known: &Known, row_is_zone: bool) -> Chapter {
    let mut head = Section::new("[plan]");
    let others: Vec<&str> = log.body.files().into_iter().skip(1).collect();
    if !others.is_empty() {
        head.intro.push(format!("Written like a plan too, and not declared: {}.", some(others, 4)));
    }
    head.lines = layout::lines(log, sheet);
    let factors = factors(log, known);
    let mut columns = Section::new("[plan.columns]");
    columns.intro.extend(twice(log));
    for (i, column) in log.columns.iter().enumerate().filter(|(_, c)| is_first(log, c)) {
        columns.push(line(log, i, column, &factors, row_is_zone));
    }
    let mut sections = vec![head, columns];
    sections.extend(factors.iter().filter_map(|f| levels(log, f, known)));
    Chapter { title: String::new(), sections }
}

fn line(log: &Log, i: usize, column: &Column, factors: &[FactorColumn], row_is_zone: bool) -> Line {
    let header = key(&column.header);
    let plain = |is: &str, because: String| {
        Line::sure(format!("{header} = {{ is = \"{is}\" }}"), because).saying(format!("\"{}\" is the {is}", column.header))
    };
    if let Some(f) = factors.iter().find(|f| f.column == i) {
        let text = format!("{header} = {{ is = \"factor\", factor = {} }}", quoted(&f.factor));
        return Line::sure(text, words(column)).saying(format!("\"{}\" is the factor {}", column.header, f.factor));
    }
    if let Some(choice) = log.choice(i).filter(|c| c.rival && !matches!(c.is, "medium" | "container" | "treatment")) {
        return rival(log, column, choice.is);
    }
    match log.choice(i).map(|c| c.is) {
        Some("unit") => plain("unit", unit(log, column)),
        Some("row") if row_is_zone => {
            let ask = format!("is a \"{}\" an irrigation line? The feed log measures by it", column.header);
            let question =
                Question::new("is", ask, words(column)).or("line", "its plants share one feed").or("row", "a place in the house");
            Line { text: format!("{header} = {{ is = \"?\" }}"), questions: vec![question], ..Line::default() }
        }
        Some(is @ ("plants" | "area")) => measured::line(log, column, is),
        Some(is @ ("house" | "block" | "line" | "bench" | "row" | "position" | "guard")) => plain(is, words(column)),
        Some("medium" | "container" | "treatment") => other(column, "no factor of the season file"),
        Some(_) => other(column, "nothing of it is needed"),
        None => other(column, "no header word says what it is"),
    }
}

fn unit(log: &Log, column: &Column) -> String {
    let rows = log.body.rows();
    if column.words.len() == rows {
        format!("{rows} rows, {rows} different ids")
    } else {
        format!("{rows} rows, {} different ids", column.words.len())
    }
}

fn other(column: &Column, why: &str) -> Line {
    let several = column.words.len() > 1 && column.words.values().all(|n| *n > 1) && column.is_text();
    let hint = if several { "; if it is a treatment, write is = \"factor\" with its name in the season file" } else { "" };
    Line::likely(format!("{} = {{ is = \"ignored\" }}", key(&column.header)), format!("{why}{hint}; {}", words(column)))
}

/// The site's own words for the season's levels.
fn levels(log: &Log, factor: &FactorColumn, known: &Known) -> Option<Section> {
    let levels = &known.factors.as_ref()?.iter().find(|f| f.name == factor.factor)?.levels;
    let column = log.columns.get(factor.column)?;
    if levels.is_empty() || column.words.keys().all(|w| levels.contains(w)) {
        return None;
    }
    let mut section = Section::new(format!("[plan.levels.{}]", key(&factor.factor)));
    for (word, n) in &column.words {
        section.push(match levels.iter().find(|l| l.eq_ignore_ascii_case(word)) {
            Some(level) => Line::sure(format!("{} = {}", key(word), quoted(level)), "the season's own word"),
            None => {
                let ask = format!("which {} is \"{word}\"?", factor.factor);
                let question = Question::new(word, ask, format!("{} of the plan", layout::counted(*n, "unit")));
                Line::asked(question.or_each(levels.iter().map(String::as_str)))
            }
        });
    }
    Some(section)
}
