//! What the design cannot tell: said first, with the site, the cells and what would mend it.
use crate::context::Context;
use crate::words::{self, Wording};
use crosshouse_questions::answers::{Answer, CannotTell, Levels};
use crosshouse_trial::tables::DesignFinding;

/// What cannot be told at one place, for one reason.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NotTold {
    /// Where, or about what: "At Marl Ridge".
    pub what: String,
    pub why: String,
    /// Every comparison concerned, with the cells that it needs; empty for a finding on the whole design.
    pub comparisons: Vec<String>,
    /// What would mend it; may be empty.
    pub mend: String,
}

/// Findings on the whole design, then place by place every comparison that a question asks for and cannot be told.
pub fn all(context: &Context) -> Vec<NotTold> {
    let mut told: Vec<NotTold> = context.input.trial.design.findings.iter().map(|f| of_finding(&context.words, f)).collect();
    for (answer, _) in context.answers() {
        for c in every(answer) {
            add(context, &c, &mut told);
        }
    }
    told
}

/// What a question cannot be told, over the sites and site by site, each once.
fn every(answer: &Answer) -> Vec<CannotTell> {
    let mut list: Vec<CannotTell> = Vec::new();
    for c in answer.by_site.iter().flat_map(|s| &s.cannot_tell).chain(&answer.cannot_tell) {
        if !list.contains(c) {
            list.push(c.clone());
        }
    }
    list
}

fn of_finding(words: &Wording, finding: &DesignFinding) -> NotTold {
    let factors: Vec<&str> = finding.factors.iter().map(|f| words.factor(f)).collect();
    let mut what = words::capital(&words::list(&factors));
    if !finding.sites.is_empty() {
        what = format!("{what}, at {}", site_names(words, &finding.sites));
    }
    NotTold { what, why: finding.text.clone(), comparisons: Vec::new(), mend: finding.mend.clone() }
}

fn site_names(words: &Wording, sites: &[String]) -> String {
    words::list(&sites.iter().map(|s| words.site(s)).collect::<Vec<_>>())
}

/// Puts one comparison under its place and reason.
fn add(context: &Context, c: &CannotTell, told: &mut Vec<NotTold>) {
    let place = place(context, c);
    let comparison = comparison(context, c);
    match told.iter_mut().find(|t| t.what == place.what && t.why == place.why) {
        Some(known) if !known.comparisons.contains(&comparison) => known.comparisons.push(comparison),
        Some(_) => {}
        None => told.push(NotTold { comparisons: vec![comparison], ..place }),
    }
}

fn place(context: &Context, c: &CannotTell) -> NotTold {
    let words = &context.words;
    let what = match c.sites.as_slice() {
        [] => "At no site".to_owned(),
        [one] => format!("At {}", words.site(one)),
        several if several.len() == context.input.trial.sites.len() => format!("Over all {} sites", several.len()),
        several => format!("Over {}", site_names(words, several)),
    };
    let (why, mend) = match (c.sites.as_slice(), c.lacking.is_empty()) {
        ([one], false) if !grown_all_the_same(context, one, c) => at_one_site(context, one),
        (several @ [_, _, ..], false) if !several.iter().any(|s| grown_all_the_same(context, s, &of_site(c, s))) => over_sites(words, c),
        _ => (c.why.clone(), c.mend.clone()),
    };
    NotTold { what, why, comparisons: Vec::new(), mend }
}

/// What the comparison lacks at one of its sites.
fn of_site(c: &CannotTell, site: &str) -> CannotTell {
    let here = |l: &&Levels| l.get("site").is_some_and(|s| s == site);
    CannotTell { lacking: c.lacking.iter().filter(here).cloned().collect(), ..c.clone() }
}

/// Whether a cell that the comparison lacks was grown: then its response is what is not on record.
fn grown_all_the_same(context: &Context, site: &str, c: &CannotTell) -> bool {
    c.lacking.iter().any(|lacking| was_grown(context, site, lacking))
}

fn was_grown(context: &Context, site: &str, lacking: &Levels) -> bool {
    let cells = context.input.trial.design.cells.iter().filter(|cell| cell.site == site && cell.units > 0);
    let wanted = without_site(lacking);
    cells.into_iter().any(|cell| wanted.iter().all(|(f, l)| cell.levels.get(f) == Some(l)))
}

/// What a site grew, beside which each comparison names the cells that it needs.
fn at_one_site(context: &Context, site: &str) -> (String, String) {
    let words = &context.words;
    let cells = context.input.trial.design.cells.iter().filter(|c| c.site == site && c.units > 0);
    let grown: Vec<String> = cells.map(|c| words.levels(&c.levels)).collect();
    let why = format!("{} grew only {}.", words.site(site), words::list(&grown));
    (why, "grow there the cells that the comparison needs, in every block, beside what is grown".into())
}

fn over_sites(words: &Wording, c: &CannotTell) -> (String, String) {
    let mut silent: Vec<&str> = c.lacking.iter().filter_map(|l| l.get("site")).map(|s| words.site(s)).collect();
    silent.sort_unstable();
    silent.dedup();
    if silent.len() == c.sites.len() {
        return ("No site grew both side by side.".into(), c.mend.clone());
    }
    (format!("{} cannot tell them; the answers below are over the sites that can, and name them.", words::list(&silent)), String::new())
}

/// "blend − perlite, in bucket: needs blend, bucket". What was grown is not needed, whatever was counted of it.
fn comparison(context: &Context, c: &CannotTell) -> String {
    let said = of_one(&context.words, c);
    let [site] = c.sites.as_slice() else { return said };
    let absent = c.lacking.iter().filter(|l| !was_grown(context, site, l));
    let mut needs: Vec<String> = absent.map(|l| context.words.levels(&without_site(l))).collect();
    needs.dedup();
    if needs.is_empty() { said } else { format!("{said}: needs {}", words::list(&needs)) }
}

fn without_site(cell: &Levels) -> Levels {
    cell.iter().filter(|(f, _)| *f != "site").map(|(f, l)| (f.clone(), l.clone())).collect()
}

/// The places of what one question cannot be told, for the note under its answer.
pub fn places(context: &Context, answer: &Answer) -> String {
    let mut list: Vec<String> = Vec::new();
    for c in every(answer) {
        let place = place(context, &c).what;
        if !list.contains(&place) {
            list.push(place);
        }
    }
    list.iter().map(|p| lower(p)).collect::<Vec<_>>().join("; ")
}

fn lower(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or(String::new(), |c| c.to_lowercase().chain(letters).collect())
}

fn of_one(words: &Wording, c: &CannotTell) -> String {
    let mut what = match c.what.as_str() {
        "difference" if c.minus.is_empty() => format!("{} − the average", words.levels(&c.of)),
        "difference" => format!("{} − {}", words.levels(&c.of), words.levels(&c.minus)),
        "mean" => format!("mean of {}", words.levels(&c.of)),
        _ if c.of.is_empty() => "anything asked".to_owned(),
        _ => format!("effect of {}", words.levels(&c.of)),
    };
    if !c.within.is_empty() {
        what = format!("{what}, in {}", words.levels(&c.within));
    }
    what
}
