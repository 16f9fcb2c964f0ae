//! One question: what can be told where, the fits, and the answer.
mod across;
mod counted;
mod from_fit;
mod site;

use crate::answers::*;
use crate::cells::{Cells, Combination, Wanted};
use crate::declare::Question;
use crate::likelihood::Law;
use crate::records::{self, Record};
use crate::replication::unreplicated_sites;
use crate::words::{Words, listed};
use crate::{Setting, cautions, headline};
use crosshouse_trial::tables::{Factor, TrialTables};
use std::collections::BTreeSet;

/// One difference that the question asks for.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
struct Asked {
    of: Combination,
    /// Empty: the average of the family.
    minus: Combination,
    within: Combination,
}

/// Everything about one question while it is being answered.
pub struct Case<'a> {
    pub q: &'a Question,
    pub words: Words<'a>,
    pub records: Vec<Record>,
    pub factors: Vec<&'a Factor>,
    pub law: Law,
    /// Start of the numbers that are drawn for this question.
    seed: u64,
    cells: Cells,
    /// The same for sites like these, where a cell is silent only if it is so over all sites.
    cells_like: Cells,
    /// What was counted in the cells that are silent.
    counted_cells: Vec<AsCounted>,
    /// Sites with records, in the season's order.
    sites: Vec<String>,
    asked: Vec<Asked>,
    /// Sites where a factor that the question compares is not replicated at its unit of assignment.
    pub unreplicated: Vec<String>,
}

pub fn answer(q: &Question, trial: &TrialTables, setting: &Setting) -> Answer {
    let words = Words::new(trial, &q.response, &setting.reader_units);
    let all: Vec<Record> = records::records(trial, &q.response, false);
    let names: Vec<String> = trial.design.factors.iter().map(|f| f.name.clone()).collect();
    let cells = Cells::new(&all, &names);
    let factors: Vec<&Factor> = trial.design.factors.iter().filter(|f| cells.factors().contains(&f.name)).collect();
    let asked = asked(q, &cells);
    let sites = trial.sites.iter().map(|s| s.site.clone()).filter(|s| cells.sites().any(|c| c == s)).collect();
    let compared = factors.iter().filter(|f| q.compare.contains(&f.name));
    let unreplicated: BTreeSet<String> = compared.flat_map(|f| unreplicated_sites(&all, f)).collect();
    let law = Law::of(q, &all);
    let (silent, counted_cells) = if law.counts() && q.model.is_none() { counted::silent(&all, &cells, law) } else { Default::default() };
    let case = Case {
        q,
        words,
        factors,
        law,
        seed: seed_of(setting.seed, &q.id),
        cells_like: cells.silenced(counted::silent_everywhere(&all, &cells, &silent)),
        cells: cells.silenced(silent),
        counted_cells,
        records: all,
        sites,
        asked,
        unreplicated: unreplicated.into_iter().collect(),
    };
    case.answer(trial)
}

/// A start of its own for each question: FNV-1a of its id on the season's seed.
fn seed_of(seed: u64, id: &str) -> u64 {
    id.bytes().fold(seed ^ 0xcbf2_9ce4_8422_2325, |h, b| (h ^ u64::from(b)).wrapping_mul(0x0100_0000_01b3))
}

/// The differences asked for, at every combination of `within`.
fn asked(q: &Question, cells: &Cells) -> Vec<Asked> {
    let levels = cells.combinations(&q.compare);
    let mut list = Vec::new();
    for within in cells.combinations(&q.within) {
        for (i, of) in levels.iter().enumerate() {
            for minus in partners(q, &levels, i) {
                list.push(Asked { of: of.clone(), minus, within: within.clone() });
            }
        }
    }
    list
}

fn partners(q: &Question, levels: &[Combination], i: usize) -> Vec<Combination> {
    match q.pairs.strip_prefix("against ") {
        Some("average") => vec![Vec::new()],
        Some(control) => levels.iter().filter(|l| l[0] == control && **l != levels[i]).cloned().collect(),
        None => levels[i + 1..].to_vec(),
    }
}

impl Case<'_> {
    fn levels(&self, names: &[String], combination: &Combination) -> Levels {
        let varying = names.iter().filter(|n| self.cells.factors().contains(n));
        varying.cloned().zip(combination.iter().cloned()).collect()
    }

    fn of(&self, combination: &Combination) -> Levels {
        self.levels(&self.q.compare, combination)
    }

    fn within(&self, combination: &Combination) -> Levels {
        self.levels(&self.q.within, combination)
    }

    /// Cells that a difference needs and a site lacks.
    fn lacking(&self, site: &str, a: &Asked) -> Vec<Levels> {
        self.lacking_in(&self.cells, site, a)
    }

    /// Of these the cells that were not grown.
    fn lacking_grown(&self, site: &str, a: &Asked) -> Vec<Levels> {
        self.lacking_in(&self.cells.silenced(BTreeSet::new()), site, a)
    }

    fn lacking_in(&self, cells: &Cells, site: &str, a: &Asked) -> Vec<Levels> {
        let means = if a.minus.is_empty() { cells.combinations(&self.q.compare) } else { vec![a.of.clone(), a.minus.clone()] };
        let lacking = |of| cells.lacking(site, &self.q.compare, &self.q.within, &Wanted { of, within: a.within.clone() });
        means.into_iter().flat_map(lacking).collect()
    }

    fn mean_lacking(&self, site: &str, of: &Combination, within: &Combination) -> Vec<Levels> {
        self.cells.lacking(site, &self.q.compare, &self.q.within, &Wanted { of: of.clone(), within: within.clone() })
    }

    fn sites_that_tell(&self, a: &Asked) -> Vec<String> {
        self.sites_that_tell_in(Space::TheseSites, a)
    }

    fn sites_that_tell_in(&self, space: Space, a: &Asked) -> Vec<String> {
        self.sites.iter().filter(|s| self.lacking_in(self.cells_of(space), s, a).is_empty()).cloned().collect()
    }

    fn cells_of(&self, space: Space) -> &Cells {
        if space == Space::TheseSites { &self.cells } else { &self.cells_like }
    }

    /// The records of these sites that a fit can use.
    fn records_of(&self, space: Space, sites: &[String]) -> Vec<Record> {
        let cells = self.cells_of(space);
        self.records.iter().filter(|r| sites.contains(&r.site) && cells.tells(r)).cloned().collect()
    }

    fn answer(&self, trial: &TrialTables) -> Answer {
        let by_site: Vec<SiteAnswer> = self.sites.iter().map(|s| self.at_site(s)).collect();
        let across = self.across();
        let mut cannot_tell: Vec<CannotTell> = by_site.iter().flat_map(|s| s.cannot_tell.clone()).collect();
        cannot_tell.extend(self.cannot_tell_across());
        if self.factors.iter().all(|f| !self.q.compare.contains(&f.name)) {
            cannot_tell.push(self.nothing_varies());
        }
        cannot_tell.extend(self.no_such_control());
        let mut answer = Answer {
            id: self.q.id.clone(),
            ask: self.q.ask.clone(),
            response: self.q.response.clone(),
            response_label: self.words.label.clone(),
            unit: self.words.unit.clone(),
            compare: self.q.compare.clone(),
            within: self.q.within.clone(),
            margin: self.q.margin,
            headline: String::new(),
            without_flagged: self.without_flagged(trial, &across),
            units_used: self.units_used(&across, &by_site),
            by_site: if self.q.by_site { by_site } else { Vec::new() },
            cannot_tell,
            likelihood: self.likelihood(&across),
            across,
            cautions: Vec::new(),
        };
        answer.headline = headline::headline(&answer, &self.words);
        answer.cautions = cautions::cautions(&answer, self, trial);
        answer
    }

    /// Units of the sites that enter an answer.
    fn units_used(&self, across: &[Across], by_site: &[SiteAnswer]) -> Vec<(String, u32)> {
        let enters = |site: &&String| {
            across.iter().any(|a| a.sites.contains(site)) || by_site.iter().any(|s| s.site == **site && !s.differences.is_empty())
        };
        let count = |site: &String| self.records.iter().filter(|r| r.site == *site).count() as u32;
        self.sites.iter().filter(enters).map(|s| (s.clone(), count(s))).collect()
    }

    fn nothing_varies(&self) -> CannotTell {
        let factors = self.words.factors(&self.q.compare);
        let why = if self.records.is_empty() {
            format!("no unit has a value of {}", self.words.label)
        } else {
            format!("only one level of {factors} was grown at any site")
        };
        self.refusal(
            "effect",
            &Asked { of: vec![], minus: vec![], within: vec![] },
            self.sites.clone(),
            why,
            format!("grow at least two levels of {factors} at one site"),
        )
    }

    /// A control that nobody grew.
    fn no_such_control(&self) -> Option<CannotTell> {
        let control = self.q.pairs.strip_prefix("against ").filter(|c| *c != "average")?;
        let levels = self.cells.combinations(&self.q.compare);
        if levels.is_empty() || levels.iter().any(|l| l.iter().any(|name| name == control)) {
            return None;
        }
        let grown: Vec<String> = levels.into_iter().flatten().collect();
        let why =
            format!("the control \"{control}\" is no level of {}; grown were {}", self.words.factors(&self.q.compare), listed(&grown));
        let nothing = Asked { of: vec![], minus: vec![], within: vec![] };
        Some(self.refusal("effect", &nothing, self.sites.clone(), why, "name one of these levels under `pairs`".into()))
    }

    fn refusal(&self, what: &str, a: &Asked, sites: Vec<String>, why: String, mend: String) -> CannotTell {
        let lacking = sites.iter().flat_map(|s| self.lacking(s, a).into_iter().map(move |c| at(s, c))).collect();
        CannotTell {
            what: what.into(),
            of: self.of(&a.of),
            minus: self.of(&a.minus),
            within: self.within(&a.within),
            sites,
            lacking,
            why,
            mend,
        }
    }
}

fn at(site: &str, mut cell: Levels) -> Levels {
    cell.insert("site".into(), site.to_owned());
    cell
}
