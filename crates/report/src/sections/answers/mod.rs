//! The answers: each question as asked, its headline, means and differences with their intervals.
mod counted_table;
mod difference_table;
mod flagged;
mod mean_table;
pub mod verdict;

use crate::context::Context;
use crate::estimation::Estimation;
use crate::number::ByError;
use crate::page::{DrawingView, PageTable};
use crate::reader::Scale;
use crate::sections::not_told;
use crate::words;
use crosshouse_questions::answers::{Across, Answer, Space};

/// One question and its answer.
pub struct AnswerView {
    pub anchor: String,
    pub ask: String,
    pub headline: String,
    /// The same in the reader's other mass unit; empty for other quantities.
    pub other_unit: String,
    pub response: String,
    /// Which likelihood, and how far the answer moves with the other family; empty for a normal response.
    pub likelihood: Vec<String>,
    /// Numbers as counted, where no model tells of them.
    pub as_counted: Option<PageTable>,
    /// "24 at Tarn Hollow, 18 at Sedge Flats"
    pub units_used: String,
    /// What of this question cannot be told, in a line; the reasons stand at the top of the page.
    pub cannot_tell: String,
    pub spaces: Vec<SpaceView>,
    pub site_means: Option<PageTable>,
    pub site_differences: Option<PageTable>,
    pub flagged: Option<PageTable>,
    /// Said where there is no comparison without flagged rows.
    pub flagged_note: String,
    pub figures: Vec<DrawingView>,
    /// Cautions on claims that hold here.
    pub cautions: Vec<String>,
}

/// The answer in one inference space.
pub struct SpaceView {
    pub heading: String,
    pub explains: String,
    pub no_fit: String,
    pub means: Option<PageTable>,
    pub differences: Option<PageTable>,
}

pub fn view(context: &Context, answer: &Answer, stem: &str, figures: Vec<DrawingView>) -> AnswerView {
    let spaces = answer.across.iter().map(|across| space_view(context, answer, stem, across)).collect();
    let flagged = flagged::table(context, answer, stem);
    AnswerView {
        anchor: format!("question-{stem}"),
        ask: answer.ask.clone(),
        headline: answer.headline.clone(),
        other_unit: other_unit(context, answer),
        response: response(context, answer),
        likelihood: answer.likelihood.iter().flat_map(|l| std::iter::once(&l.in_words).chain(&l.beside)).cloned().collect(),
        as_counted: counted_table::table(context, answer, stem),
        units_used: units_used(context, answer),
        cannot_tell: cannot_tell(context, answer),
        spaces,
        site_means: mean_table::by_site(context, answer, stem),
        site_differences: difference_table::by_site(context, answer, stem),
        flagged_note: if flagged.is_none() { flagged::none_because(answer) } else { String::new() },
        flagged,
        figures,
        cautions: crate::sections::cautions::beside(context, answer),
    }
}

/// "marketable yield per plant, in lb per plant; treatments compared: growing medium, within container"
fn response(context: &Context, answer: &Answer) -> String {
    let name = |f: &String| context.words.factor(f).to_owned();
    let compared = words::list(&answer.compare.iter().map(name).collect::<Vec<_>>());
    let within = words::list(&answer.within.iter().map(name).collect::<Vec<_>>());
    let unit = context.scale(&answer.unit).unit;
    let label = if answer.response_label.is_empty() { &answer.response } else { &answer.response_label };
    let measured = if unit.is_empty() { label.clone() } else { format!("{label}, in {unit}") };
    let within = if within.is_empty() { String::new() } else { format!(", within each {within}") };
    format!("Measured: {measured}. Compared: {compared}{within}.")
}

fn cannot_tell(context: &Context, answer: &Answer) -> String {
    not_told::places(context, answer)
}

fn units_used(context: &Context, answer: &Answer) -> String {
    let at = |(site, n): &(String, u32)| format!("{} at {}", words::number_of((*n).into(), "unit", "units"), context.words.site(site));
    words::list(&answer.units_used.iter().map(at).collect::<Vec<_>>())
}

/// Differences of the first space in the unit that the page does not use: masses alone, four at most.
fn other_unit(context: &Context, answer: &Answer) -> String {
    let plain = |d: &crosshouse_questions::answers::Difference| d.shown.is_empty();
    if !Scale::is_mass(&answer.unit) || !answer.across.iter().flat_map(|a| &a.differences).all(plain) {
        return String::new();
    }
    let scale = Scale::of(&answer.unit, context.reader().other());
    let all = answer.across.first().map_or(&[] as &[_], |a| &a.differences);
    let one = |d: &crosshouse_questions::answers::Difference| {
        let by = ByError::of(scale.show(d.estimate), scale.show(d.se));
        let within = if d.within.is_empty() { String::new() } else { format!(" in {}", context.words.levels(&d.within)) };
        let pair = verdict::pair(&context.words, d);
        let (low, high) = verdict::family_limits(d, all.len());
        let (low, high) = (scale.show(low), scale.show(high));
        format!("{pair}{within}, {} ({})", by.show(scale.show(d.estimate)), by.interval(low, high))
    };
    match all {
        [] => String::new(),
        [_, _, _, _, _, ..] => String::new(),
        few => format!("In {}: {}.", scale.unit, few.iter().map(one).collect::<Vec<_>>().join("; ")),
    }
}

pub fn space_name(space: Space) -> &'static str {
    match space {
        Space::TheseSites => "At these sites",
        Space::SitesLikeThese => "At sites like these",
    }
}

fn explains(context: &Context, across: &Across) -> String {
    let names: Vec<&str> = across.sites.iter().map(|s| context.words.site(s)).collect();
    let over = if names.is_empty() { "the sites of the trial".to_owned() } else { words::list(&names) };
    match (across.space, names.len()) {
        (Space::TheseSites, 1) => format!("This answer holds for {over} alone, in this season."),
        (Space::TheseSites, _) => format!("This answer is the average over {over}, in this season. It makes no claim about other sites."),
        (Space::SitesLikeThese, _) => format!(
            "Here {over} count as a sample of sites run alike, so the interval also carries how much the difference \
             changes from site to site. Sites were not drawn by lot: whether they stand for yours is your judgement."
        ),
    }
}

fn space_view(context: &Context, answer: &Answer, stem: &str, across: &Across) -> SpaceView {
    SpaceView {
        heading: space_name(across.space).to_owned(),
        explains: explains(context, across),
        no_fit: across.no_fit.clone().unwrap_or_default(),
        means: mean_table::across(context, answer, stem, across),
        differences: difference_table::across(context, answer, stem, across),
    }
}

/// "95 % interval", by the level of the model.
fn interval_head(estimation: &Estimation) -> String {
    format!("{} interval", estimation.level_words())
}
