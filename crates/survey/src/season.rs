//! The season file: its factors where it is there already, else a draft of it.
use crate::draft::{Chapter, Line, Question, Section, key, list, quoted};
use crate::kinds::plan;
use crate::known::{Factor, Known};
use crate::log::Log;
use crate::{measured, write};
use crosshouse_logs::declare::LogKind;
use crosshouse_readings::declared::Declared;
use std::collections::{BTreeMap, BTreeSet};

/// Factors of a season file's text, in its order. Its faults are told when it is run.
pub fn factors_of(text: &str) -> Vec<Factor> {
    let file = Declared::new("", text);
    let Some(all) = file.root().table("factors") else { return Vec::new() };
    let mut keys = all.keys();
    keys.sort_by_key(|(_, line)| *line);
    keys.into_iter()
        .filter_map(|(name, _)| all.table(&name).map(|t| Factor { levels: t.texts("levels").unwrap_or_default(), name }))
        .collect()
}

/// The text and its chapters. `logs_folder` and `site_file` are as the season file is to write them.
pub(crate) fn draft(logs: &[Log], known: &Known, site: &str, logs_folder: &str, site_file: &str) -> (String, Chapter) {
    let intro = ["Drafted by crosshouse survey. Answer every \"?\" (the question stands above it), then run crosshouse check.".to_owned()];
    let mut sections = vec![head(logs, site, logs_folder, site_file)];
    // A second plan is not declared in the site file either.
    if let Some(log) = logs.iter().find(|l| l.assigned.kind == LogKind::Plan) {
        for factor in plan::factors(log, known) {
            sections.push(factor_section(log, &factor));
            sections.extend(question(log, &factor));
        }
    }
    let chapter = Chapter { title: "The season file".into(), sections };
    (write::toml(&intro, std::slice::from_ref(&chapter)), chapter)
}

fn head(logs: &[Log], site: &str, logs_folder: &str, site_file: &str) -> Section {
    let mut section = Section::new("[season]");
    let last = logs.iter().filter_map(|l| l.sorted_days().last().copied()).max();
    let year = last.map_or(2000, jiff::civil::Date::year);
    section.push(Line::likely(format!("title = {}", quoted(&format!("Trial of {year} at {site}"))), "the heading of the report"));
    section.push(Line::asked(Question::new("crop", "what was grown?", "").or_plain("a name such as \"snack pepper\"", "")));
    section.push(Line::sure(format!("year = \"{year}\""), "the logs' days"));
    section.push(Line::likely(format!("seed = {}", i32::from(year) * 10_000 + 101), "any number: whatever is drawn by lot begins with it"));
    section.push(Line::sure(format!("logs = {}", quoted(logs_folder)), "the folder of logs, from here"));
    section.push(Line::sure(format!("sites = {}", list(&[site_file.to_owned()])), "add the other sites' files"));
    let pounds = logs.iter().filter(|l| l.assigned.kind == LogKind::Harvest).flat_map(|l| &l.columns).any(|c| {
        let named = measured::named_unit(c, crosshouse_readings::units::Quantity::Mass).and_then(|n| n.known());
        c.is_pounds_ounces() || matches!(named, Some("lb" | "oz"))
    });
    let word = if pounds { "lb" } else { "kg" };
    section.push(Line::likely(format!("reader_units = \"{word}\""), "the words of the report; tables hold both"));
    section
}

/// Levels as the plan writes them, and what each was given to.
fn factor_section(log: &Log, factor: &plan::FactorColumn) -> Section {
    let mut section = Section::new(format!("[factors.{}]", key(&factor.factor)));
    let Some(column) = log.columns.get(factor.column) else { return section };
    let levels: Vec<String> = column.words.keys().cloned().collect();
    section
        .push(Line::likely(format!("levels = {}", list(&levels)), "the words of the plan; rename them here and map them in [plan.levels]"));
    let carriers = carriers(log, factor.column);
    let ask = format!("what was each {} given to?", factor.factor);
    if levels.len() < 2 {
        section.push(Line::likely("unit_of_assignment = \"unit\"", "one level alone is in the plan: nothing can be compared here"));
        return section;
    }
    if carriers.is_empty() {
        section.push(Line::sure("unit_of_assignment = \"unit\"", "levels change within every house, block, line and bench"));
        return section;
    }
    let seen = format!("no {} holds two levels", carriers.join(", no "));
    let mut question = Question::new("unit_of_assignment", ask, seen).or("unit", "each container had its own lot");
    for carrier in carriers {
        question = question.or(carrier, "all of it was given one level");
    }
    section.push(Line::asked(question));
    section
}

/// Carriers of the plan that hold one level each.
fn carriers(log: &Log, factor: usize) -> Vec<&'static str> {
    let Some(levels) = log.columns.get(factor) else { return Vec::new() };
    let constant = |is: &&'static str| {
        let Some(column) = log.column(is) else { return false };
        let mut held: BTreeMap<&str, BTreeSet<&str>> = BTreeMap::new();
        for row in log.rows() {
            held.entry(row.cell(column).text).or_default().insert(row.cell(levels).text);
        }
        held.len() > 1 && held.values().all(|l| l.len() == 1)
    };
    if levels.words.len() < 2 {
        return Vec::new();
    }
    ["house", "line", "bench", "block"].into_iter().filter(constant).collect()
}

/// A first question of the trial: which level bears more.
fn question(log: &Log, factor: &plan::FactorColumn) -> Option<Section> {
    let levels = log.columns.get(factor.column)?.words.len();
    if levels < 2 {
        return None;
    }
    let mut section = Section::new("[[question]]");
    section.push(Line::likely(format!("id = {}", quoted(&crate::site::id_of(&factor.factor))), "a first question; write your own"));
    section.push(Line::plain(format!("ask = {}", quoted(&format!("Which {} bears more?", factor.factor)))));
    section.push(Line::plain("response = \"marketable-yield-per-plant\""));
    section.push(Line::plain(format!("compare = {}", list(std::slice::from_ref(&factor.factor)))));
    section.push(Line::plain("pairs = \"all\""));
    section.push(Line::plain("adjust = \"tukey\""));
    section.push(Line::plain("sites = \"these\""));
    Some(section)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn factors_come_in_the_order_of_the_file() {
        let found = factors_of("[factors.soil]\nlevels = [\"b\", \"a\"]\n[factors.pot]\nunit_of_assignment = \"unit\"\n");
        assert_eq!(found.iter().map(|f| f.name.as_str()).collect::<Vec<_>>(), ["soil", "pot"]);
        assert_eq!(found[0].levels, ["b", "a"]);
    }
}
