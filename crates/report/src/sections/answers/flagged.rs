//! The same answer with and without the rows that carry a flag.
use super::mean_table::{estimation_of, group_name};
use super::verdict;
use crate::context::Context;
use crate::number::{ByError, NONE};
use crate::page::PageTable;
use crate::reader::Scale;
use crosshouse_questions::answers::{Across, Answer, Difference};

pub fn table(context: &Context, answer: &Answer, stem: &str) -> Option<PageTable> {
    let without = answer.without_flagged.as_ref()?;
    let across = answer.across.first()?;
    let scale = context.scale(&answer.unit);
    let estimation = estimation_of(answer);
    let interval = super::interval_head(&estimation);
    let caption = format!("With and without flagged rows, {}", super::space_name(across.space).to_lowercase());
    let mut table = PageTable::new(format!("flagged-{stem}"), caption)
        .csv(format!("answers-{stem}-differences.csv"))
        .words("Difference")
        .number(heading(across, &scale))
        .number(interval.clone())
        .number("Without flagged rows")
        .number(interval)
        .number("Change");
    for d in &across.differences {
        let pair = without.iter().find(|w| w.of == d.of && w.minus == d.minus && w.within == d.within);
        let within = group_name(context, None, &d.within);
        let name = verdict::pair(&context.words, d);
        let name = if within.is_empty() { name } else { format!("{name}, in {}", context.words.levels(&d.within)) };
        table.row(row(&scale, name, d, pair));
    }
    table.if_any()
}

fn heading(across: &Across, scale: &Scale) -> String {
    match across.differences.first().map(|d| d.published().quantity) {
        Some(q) if q.is_ratio() => format!("All kept rows, {}", q.words()),
        _ => format!("All kept rows, {}", scale.difference_unit),
    }
}

fn row(scale: &Scale, name: String, all: &Difference, without: Option<&Difference>) -> Vec<String> {
    let published = all.published();
    let show = |x: f64| verdict::shown(&published, scale, x);
    let by = ByError::of(show(published.estimate), show(published.se));
    let shown = |d: &Difference| {
        let d = d.published();
        [by.show(show(d.estimate)), by.interval(show(d.low), show(d.high))]
    };
    let [estimate, interval] = shown(all);
    let [left, left_interval] = without.map_or([NONE.to_owned(), NONE.to_owned()], shown);
    let change = without.map_or_else(|| NONE.to_owned(), |w| by.show(show(w.published().estimate - published.estimate)));
    vec![name, estimate, interval, left, left_interval, change]
}

pub fn none_because(answer: &Answer) -> String {
    if answer.across.iter().all(|a| a.differences.is_empty()) {
        return String::new();
    }
    "No harvest row behind this answer carries a flag, so there is no second answer without flagged rows.".to_owned()
}
