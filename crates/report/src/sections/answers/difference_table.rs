//! Tables of differences: estimate, interval, freedom, p, the adjusted ones, and the margin in words.
use super::interval_head;
use super::mean_table::{estimation_of, group_name};
use super::verdict;
use crate::context::Context;
use crate::estimation::Estimation;
use crate::number::{self, ByError, NONE};
use crate::page::PageTable;
use crate::reader::Scale;
use crate::words;
use crosshouse_questions::answers::{Across, Answer, Difference, Quantity};

/// Which columns a set of differences needs.
#[derive(Clone, Copy)]
struct Columns {
    p: bool,
    adjusted: bool,
    adjusted_interval: bool,
    margin: bool,
    /// A second quantity beside the published one: the odds ratio.
    second: bool,
}

impl Columns {
    /// `sets`: differences with whether the design lets them be tested.
    fn of<'a>(sets: impl Iterator<Item = (&'a Difference, bool)> + Clone) -> Self {
        let adjusts = |d: &Difference| verdict::adjusts(&d.adjust);
        Columns {
            p: sets.clone().any(|(d, ok)| ok && d.p.is_some()),
            adjusted: sets.clone().any(|(d, ok)| ok && adjusts(d) && d.p_adjusted.is_some()),
            adjusted_interval: sets.clone().any(|(d, _)| adjusts(d) && d.low_adjusted.is_some()),
            margin: sets.clone().any(|(d, ok)| ok && d.margin.is_some()),
            second: sets.clone().any(|(d, _)| d.shown.len() > 1),
        }
    }
}

/// Differences of one inference space.
pub fn across(context: &Context, answer: &Answer, stem: &str, across: &Across) -> Option<PageTable> {
    let estimation = Estimation::read(&across.model_toml);
    let testable = context.testable(answer, &across.sites);
    let columns = Columns::of(across.differences.iter().map(|d| (d, testable)));
    let space = super::space_name(across.space);
    let id = format!("differences-{stem}-{}", crate::context::slug(space));
    let caption = format!("{}, {}", kind(across.differences.first()), space.to_lowercase());
    let mut table = head(context, answer, &across.differences, &estimation, columns, PageTable::new(id, caption), stem);
    add(context, &mut table, answer, &across.differences, &estimation, columns, (None, testable));
    note(&mut table, testable);
    table.notes(answer.likelihood.iter().flat_map(|l| l.quantities.last()).cloned());
    table.if_any()
}

/// Differences of every site, a group each.
pub fn by_site(context: &Context, answer: &Answer, stem: &str) -> Option<PageTable> {
    let estimation = estimation_of(answer);
    let testable = |site: &String| context.testable(answer, std::slice::from_ref(site));
    let sets = answer.by_site.iter().flat_map(|s| s.differences.iter().map(move |d| (d, testable(&s.site))));
    let columns = Columns::of(sets.clone());
    let id = format!("differences-{stem}-by-site");
    let first = answer.by_site.iter().flat_map(|s| &s.differences).next();
    let table = PageTable::new(id, format!("{}, site by site", kind(first)));
    let all: Vec<&Difference> = sets.map(|(d, _)| d).collect();
    let mut table = head(context, answer, &all, &estimation, columns, table, stem);
    for site in &answer.by_site {
        let place = (Some(context.words.site(&site.site)), testable(&site.site));
        add(context, &mut table, answer, &site.differences, &estimation, columns, place);
    }
    let tested_or_empty = |s: &crosshouse_questions::answers::SiteAnswer| s.differences.is_empty() || testable(&s.site);
    note(&mut table, answer.by_site.iter().all(tested_or_empty));
    table.if_any()
}

fn kind(first: Option<&Difference>) -> &'static str {
    if first.is_some_and(|d| d.published().quantity.is_ratio()) { "Ratios" } else { "Differences" }
}

fn head<D: std::borrow::Borrow<Difference>>(
    context: &Context,
    answer: &Answer,
    all: &[D],
    estimation: &Estimation,
    columns: Columns,
    table: PageTable,
    stem: &str,
) -> PageTable {
    let unit = context.scale(&answer.unit).difference_unit;
    let quantity = all.first().map_or(Quantity::Difference, |d| d.borrow().published().quantity);
    let name = if quantity == Quantity::Difference { "Estimate".to_owned() } else { words::capital(quantity.words()) };
    let estimate = if unit.is_empty() || quantity.is_ratio() { name } else { format!("{name}, {unit}") };
    let mut table = table
        .csv(format!("answers-{stem}-differences.csv"))
        .words(if quantity.is_ratio() { "Ratio of" } else { "Difference" })
        .number(estimate)
        .number(interval_head(estimation))
        .number("df");
    let adjusted = adjustment(all);
    if columns.p {
        table = table.number("p");
    }
    if columns.adjusted {
        table = table.number(format!("p, {adjusted}"));
    }
    if columns.adjusted_interval {
        table = table.number(format!("{}, {adjusted}", interval_head(estimation)));
    }
    if columns.second {
        table = table.number("Odds ratio").number(interval_head(estimation));
    }
    if columns.p {
        table = table.words("Reading");
    }
    let margin = all.iter().find_map(|d| d.borrow().margin).filter(|_| columns.margin);
    match margin {
        Some(m) => table.words(format!("Within {}?", verdict::margin_words(m, &context.scale(&answer.unit)))),
        None => table,
    }
}

/// "adjusted (Tukey–Kramer)"
fn adjustment<D: std::borrow::Borrow<Difference>>(all: &[D]) -> String {
    let key = all.iter().map(|d| d.borrow().adjust.as_str()).find(|a| verdict::adjusts(a));
    format!("adjusted ({})", verdict::adjustment(key.unwrap_or_default()))
}

fn add(
    context: &Context,
    table: &mut PageTable,
    answer: &Answer,
    all: &[Difference],
    estimation: &Estimation,
    columns: Columns,
    (site, testable): (Option<&str>, bool),
) {
    let scale = context.scale(&answer.unit);
    let mut group: Option<String> = None;
    for d in all {
        let wanted = group_name(context, site, &d.within);
        if group.as_deref() != Some(&wanted) {
            if !wanted.is_empty() {
                table.group(wanted.clone());
            }
            group = Some(wanted);
        }
        table.row(row(context, &scale, d, estimation, columns, testable));
    }
}

fn row(context: &Context, scale: &Scale, d: &Difference, estimation: &Estimation, columns: Columns, testable: bool) -> Vec<String> {
    let shown = d.published();
    let show = |x: f64| verdict::shown(&shown, scale, x);
    let by = ByError::of(show(shown.estimate), show(shown.se));
    let p = |p: Option<f64>| p.filter(|_| testable).map_or_else(|| NONE.to_owned(), number::p_value);
    let limits = |low: Option<f64>, high: Option<f64>| match (low, high) {
        (Some(low), Some(high)) => by.interval(show(low), show(high)),
        _ => NONE.to_owned(),
    };
    let mut cells = vec![verdict::pair(&context.words, d), by.show(show(shown.estimate))];
    cells.extend([limits(Some(shown.low), Some(shown.high)), number::degrees(d.df)]);
    let odds = d.shown.get(1).map(|o| (ByError::of(o.estimate, o.se), o));
    let odds_ratio = odds.map_or_else(|| NONE.to_owned(), |(by, o)| by.show(o.estimate));
    let odds_limits = odds.map_or_else(|| NONE.to_owned(), |(by, o)| by.interval(o.low, o.high));
    let further = [
        (columns.p, p(d.p)),
        (columns.adjusted, p(d.p_adjusted)),
        (columns.adjusted_interval, limits(shown.low_adjusted, shown.high_adjusted)),
        (columns.second, odds_ratio),
        (columns.second, odds_limits),
        (columns.p, verdict::reading(d, estimation, testable).to_owned()),
        (columns.margin, verdict::within_margin(d, testable)),
    ];
    cells.extend(further.into_iter().filter(|(shown, _)| *shown).map(|(_, text)| text));
    cells
}

fn note(table: &mut PageTable, tested: bool) {
    if !tested {
        table.note(
            "Where the treatment was given to one house, line or bench only, its units are not replicates of it: the \
             estimate stands, but no p value is given there.",
        );
    }
}
