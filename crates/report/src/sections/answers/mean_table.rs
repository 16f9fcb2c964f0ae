//! Tables of adjusted means.
use super::interval_head;
use super::verdict::{adjustment, adjusts};
use crate::context::Context;
use crate::estimation::Estimation;
use crate::number::{self, ByError};
use crate::page::PageTable;
use crate::reader::Scale;
use crosshouse_questions::answers::{Across, Answer, Mean, Quantity};

/// Means of one inference space.
pub fn across(context: &Context, answer: &Answer, stem: &str, across: &Across) -> Option<PageTable> {
    let estimation = Estimation::read(&across.model_toml);
    let space = super::space_name(across.space);
    let id = format!("means-{stem}-{}", crate::context::slug(space));
    let weights = match estimation.weights.as_str() {
        "observed" => "averaged over the rest by units observed",
        _ => "averaged over the rest with equal weight",
    };
    let letters = across.means.iter().any(|m| m.letters.is_some());
    let caption = format!("Adjusted means, {}: {weights}", space.to_lowercase());
    let mut table = head(context, answer, &estimation, id, caption, stem, letters);
    add(context, &mut table, answer, &across.means, letters, None);
    table.notes(answer.likelihood.iter().flat_map(|l| l.quantities.first()).cloned());
    if letters {
        let adjust = across.differences.first().map_or("none", |d| d.adjust.as_str());
        table.note(letters_note(&estimation, adjust));
    }
    table.if_any()
}

/// Means of every site, a group each.
pub fn by_site(context: &Context, answer: &Answer, stem: &str) -> Option<PageTable> {
    let estimation = estimation_of(answer);
    let letters = answer.by_site.iter().flat_map(|s| &s.means).any(|m| m.letters.is_some());
    let caption = "Adjusted means, site by site".to_owned();
    let mut table = head(context, answer, &estimation, format!("means-{stem}-by-site"), caption, stem, letters);
    for site in &answer.by_site {
        add(context, &mut table, answer, &site.means, letters, Some(context.words.site(&site.site)));
    }
    if letters {
        let adjust = answer.by_site.iter().flat_map(|s| &s.differences).next().map_or("none", |d| d.adjust.as_str());
        table.note(letters_note(&estimation, adjust));
    }
    table.if_any()
}

pub fn estimation_of(answer: &Answer) -> Estimation {
    Estimation::read(answer.across.first().map_or("", |a| a.model_toml.as_str()))
}

fn head(context: &Context, answer: &Answer, estimation: &Estimation, id: String, caption: String, stem: &str, letters: bool) -> PageTable {
    let scale = context.scale(&answer.unit);
    let all = answer.across.iter().flat_map(|a| &a.means).chain(answer.by_site.iter().flat_map(|s| &s.means));
    let name = crate::words::capital(all.map(|m| m.published().quantity).next().unwrap_or(Quantity::Mean).words());
    let mean = if scale.unit.is_empty() { name } else { format!("{name}, {}", scale.unit) };
    let table = PageTable::new(id, caption).csv(format!("answers-{stem}-means.csv")).words("Treatment").number(mean);
    let table = if letters { table.words("Letters") } else { table };
    table.number(interval_head(estimation)).number("df").number("Units").number("Plain mean")
}

fn add(context: &Context, table: &mut PageTable, answer: &Answer, means: &[Mean], letters: bool, site: Option<&str>) {
    let scale = context.scale(&answer.unit);
    let mut group: Option<String> = None;
    for mean in means {
        let wanted = group_name(context, site, &mean.within);
        if group.as_deref() != Some(&wanted) {
            if !wanted.is_empty() {
                table.group(wanted.clone());
            }
            group = Some(wanted);
        }
        table.row(row(context, &scale, mean, letters));
    }
}

/// "Tarn Hollow, in bucket"; empty where there is neither.
pub fn group_name(context: &Context, site: Option<&str>, within: &crosshouse_questions::answers::Levels) -> String {
    let within = if within.is_empty() { String::new() } else { context.words.levels(within) };
    match (site, within.is_empty()) {
        (Some(site), true) => site.to_owned(),
        (Some(site), false) => format!("{site}: {within}"),
        (None, _) => crate::words::capital(&within),
    }
}

fn row(context: &Context, scale: &Scale, mean: &Mean, letters: bool) -> Vec<String> {
    let shown = mean.published();
    let by = ByError::of(scale.show(shown.estimate), scale.show(shown.se));
    let mut cells = vec![context.words.levels(&mean.of), by.show(scale.show(shown.estimate))];
    if letters {
        cells.push(mean.letters.clone().unwrap_or_default());
    }
    cells.extend([
        by.interval(scale.show(shown.low), scale.show(shown.high)),
        number::degrees(mean.df),
        number::count(mean.units.into()),
        mean.raw_mean.map_or_else(|| number::NONE.to_owned(), |m| by.show(scale.show(m))),
    ]);
    cells
}

fn letters_note(estimation: &Estimation, adjust: &str) -> String {
    let how = if adjusts(adjust) { format!("{} adjustment", adjustment(adjust)) } else { "not adjusted".to_owned() };
    format!(
        "Letters: means without a letter in common were shown to differ at the {} level ({how}). Means that share a \
         letter were not shown to differ; that does not mean that they are the same. Letters come from unrounded numbers.",
        estimation.alpha_words()
    )
}
