//! What the design cannot tell: said first, with the site, the cells and what would mend it.
use crate::context::Context;
use crate::words::{self, Wording};
use crosshouse_questions::answers::{Answer, CannotTell};
use crosshouse_trial::tables::DesignFinding;

/// One thing that cannot be told.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NotTold {
    /// What and where: "blend − perlite, in bucket, at Marl Ridge".
    pub what: String,
    pub why: String,
    /// What would mend it; may be empty.
    pub mend: String,
}

/// Findings on the whole design, then what each question cannot be told; the same reason is told once.
pub fn all(context: &Context) -> Vec<NotTold> {
    let mut told: Vec<NotTold> = Vec::new();
    let findings = context.input.trial.design.findings.iter().map(|f| of_finding(&context.words, f));
    let answers = context.answers().flat_map(|(answer, _)| of_answer(&context.words, answer));
    for item in findings.chain(answers) {
        match told.iter_mut().find(|t| t.why == item.why) {
            Some(known) if known.what != item.what && !known.what.contains(&item.what) => {
                known.what = format!("{}; {}", known.what, item.what);
            }
            Some(_) => {}
            None => told.push(item),
        }
    }
    told
}

fn of_finding(words: &Wording, finding: &DesignFinding) -> NotTold {
    let factors: Vec<&str> = finding.factors.iter().map(|f| words.factor(f)).collect();
    let mut what = words::capital(&words::list(&factors));
    if !finding.sites.is_empty() {
        what = format!("{what}, at {}", site_names(words, &finding.sites));
    }
    NotTold { what, why: finding.text.clone(), mend: finding.mend.clone() }
}

fn site_names(words: &Wording, sites: &[String]) -> String {
    words::list(&sites.iter().map(|s| words.site(s)).collect::<Vec<_>>())
}

/// Everything that one question cannot be told, over the sites and site by site.
pub fn of_answer(words: &Wording, answer: &Answer) -> Vec<NotTold> {
    let by_site = answer.by_site.iter().flat_map(|s| s.cannot_tell.iter().map(|c| of_one(words, c, Some(&s.site))));
    let mut told: Vec<NotTold> = Vec::new();
    for item in answer.cannot_tell.iter().map(|c| of_one(words, c, None)).chain(by_site) {
        if !told.iter().any(|t| t.why == item.why && t.what == item.what) {
            told.push(item);
        }
    }
    told
}

fn of_one(words: &Wording, c: &CannotTell, site: Option<&str>) -> NotTold {
    let mut what = match c.what.as_str() {
        "difference" => format!("{} − {}", words.levels(&c.of), words.levels(&c.minus)),
        "mean" => format!("Mean of {}", words.levels(&c.of)),
        _ if c.of.is_empty() => words::capital(&c.what),
        _ => format!("Effect of {}", words.levels(&c.of)),
    };
    if !c.within.is_empty() {
        what = format!("{what}, in {}", words.levels(&c.within));
    }
    match (site, c.sites.as_slice()) {
        (Some(site), _) => what = format!("{what}, at {}", words.site(site)),
        (None, [_, ..]) => what = format!("{what}, at {}", site_names(words, &c.sites)),
        (None, []) => {}
    }
    NotTold { what: crate::words::capital(&what), why: c.why.clone(), mend: c.mend.clone() }
}
