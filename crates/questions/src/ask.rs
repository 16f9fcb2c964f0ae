//! One question: what can be told where, the fits, and the answer.
use crate::answers::*;
use crate::cells::{Cells, Combination, Wanted};
use crate::declare::{Question, SiteSpace};
use crate::derive::{Derived, Ground, with_cell_means};
use crate::records::{self, Record};
use crate::replication::unreplicated_sites;
use crate::words::{Words, listed};
use crate::{Setting, cautions, headline};
use crosshouse_mixed::{AdjustedMean, Fit, FitDetails, Model};
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
    cells: Cells,
    /// Sites with records, in the season's order.
    sites: Vec<String>,
    asked: Vec<Asked>,
    /// Sites where a factor that the question compares is not replicated at its unit of assignment.
    pub unreplicated: Vec<String>,
}

/// A fit with the table that it was made from.
struct Fitted {
    fit: Fit,
    details: FitDetails,
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
    let case = Case { q, words, records: all, factors, cells, sites, asked, unreplicated: unreplicated.into_iter().collect() };
    case.answer(trial)
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
        let means = if a.minus.is_empty() { self.cells.combinations(&self.q.compare) } else { vec![a.of.clone(), a.minus.clone()] };
        means.into_iter().flat_map(|of| self.mean_lacking(site, &of, &a.within)).collect()
    }

    fn mean_lacking(&self, site: &str, of: &Combination, within: &Combination) -> Vec<Levels> {
        self.cells.lacking(site, &self.q.compare, &self.q.within, &Wanted { of: of.clone(), within: within.clone() })
    }

    fn sites_that_tell(&self, a: &Asked) -> Vec<String> {
        self.sites.iter().filter(|s| self.lacking(s, a).is_empty()).cloned().collect()
    }

    fn records_of(&self, sites: &[String]) -> Vec<Record> {
        self.records.iter().filter(|r| sites.contains(&r.site)).cloned().collect()
    }

    fn answer(&self, trial: &TrialTables) -> Answer {
        let by_site: Vec<SiteAnswer> = self.sites.iter().map(|s| self.at_site(s)).collect();
        let across = self.across();
        let mut cannot_tell: Vec<CannotTell> = by_site.iter().flat_map(|s| s.cannot_tell.clone()).collect();
        cannot_tell.extend(self.cannot_tell_across());
        if self.factors.iter().all(|f| !self.q.compare.contains(&f.name)) {
            cannot_tell.push(self.nothing_varies());
        }
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

    // ---- one site -------------------------------------------------------------------------------

    fn at_site(&self, site: &str) -> SiteAnswer {
        let one = [site.to_owned()];
        let mut cannot_tell = self.cannot_tell_at(site);
        let mut given = SiteAnswer {
            site: site.to_owned(),
            name: self.words.site(site),
            means: vec![],
            differences: vec![],
            cells: vec![],
            cannot_tell: vec![],
        };
        let unreplicated = self.unreplicated.iter().any(|s| s == site);
        if !unreplicated && let Some((derived, records)) = self.site_model(&one) {
            match run(&derived.model, &records) {
                Ok(fitted) => {
                    given.differences = self.differences(&fitted.fit, |a| self.lacking(site, a).is_empty());
                    given.means = self.means(&fitted.fit, &records, |of, within| self.mean_lacking(site, of, within).is_empty());
                    given.cells = self.cell_means(&fitted.fit, &records);
                }
                Err(why) => cannot_tell.extend(self.no_fit_at(site, &why)),
            }
        }
        given.cannot_tell = cannot_tell;
        given
    }

    fn site_model(&self, site: &[String]) -> Option<(Derived, Vec<Record>)> {
        let records = self.records_of(site);
        let ground = self.ground(&records);
        if ground.factors.is_empty() {
            return None;
        }
        let varies = |list: &[String]| list.iter().all(|n| ground.factors.iter().any(|f| f.name == *n));
        let mut derived = ground.at_these_sites();
        if !varies(&self.q.compare) || !varies(&self.varying_within()) {
            // What is asked has one level here: only the means of the cells grown can be given.
            derived.model.compare.clear();
        }
        derived.model = with_cell_means(&derived.model, &ground.factors);
        Some((derived, records))
    }

    fn varying_within(&self) -> Vec<String> {
        self.q.within.iter().filter(|n| self.cells.factors().contains(n)).cloned().collect()
    }

    fn ground<'g>(&'g self, records: &'g [Record]) -> Ground<'g> {
        let varies = |f: &&&Factor| records.iter().map(|r| r.category(&f.name)).collect::<BTreeSet<_>>().len() > 1;
        Ground { records, factors: self.factors.iter().filter(varies).copied().collect(), question: self.q, words: &self.words }
    }

    fn cannot_tell_at(&self, site: &str) -> Vec<CannotTell> {
        let mut list = Vec::new();
        for a in &self.asked {
            let lacking = self.lacking(site, a);
            if !lacking.is_empty() {
                let (why, mend) = self.lacking_words(site, &lacking);
                list.push(self.refusal("difference", a, vec![site.to_owned()], why, mend));
            } else if self.unreplicated.iter().any(|s| s == site) {
                let (why, mend) = self.unreplicated_words(site);
                list.push(self.refusal("difference", a, vec![site.to_owned()], why, mend));
            }
        }
        list
    }

    fn lacking_words(&self, site: &str, lacking: &[Levels]) -> (String, String) {
        let cells: BTreeSet<String> = lacking.iter().map(|c| self.words.levels(c)).collect();
        let grown: Vec<String> = self.cells.grown(site).iter().map(|c| self.words.levels(c)).collect();
        let (name, cells) = (self.words.site(site), listed(&cells.into_iter().collect::<Vec<_>>()));
        (
            format!("{name} did not grow {cells}; it grew {}", listed(&grown)),
            format!("grow {cells} at {name} beside what it grows, in every block"),
        )
    }

    fn unreplicated_words(&self, site: &str) -> (String, String) {
        let factor = self.factors.iter().find(|f| self.q.compare.contains(&f.name) && !unreplicated_sites(&self.records, f).is_empty());
        let (label, carrier) = factor.map_or(("the treatment", "carrier"), |f| (f.label.as_str(), f.unit_of_assignment.as_str()));
        let name = self.words.site(site);
        (
            format!(
                "at {name} each level of {label} was given to a single {carrier}: its units are subsamples of that {carrier}, so there is no error to judge a difference by"
            ),
            format!("give each level of {label} to at least two {carrier}s at {name}, or compare over several sites"),
        )
    }

    fn no_fit_at(&self, site: &str, why: &str) -> Vec<CannotTell> {
        let told = self.asked.iter().filter(|a| self.lacking(site, a).is_empty());
        told.map(|a| {
            self.refusal(
                "difference",
                a,
                vec![site.to_owned()],
                format!("at {}: {why}", self.words.site(site)),
                "grow more units of each treatment there".into(),
            )
        })
        .collect()
    }

    // ---- across sites ---------------------------------------------------------------------------

    /// A difference over all sites, where some site cannot tell it.
    fn cannot_tell_across(&self) -> Vec<CannotTell> {
        let all: Vec<String> = self.sites.clone();
        let mut list = Vec::new();
        for a in self.asked.iter().filter(|_| all.len() > 1) {
            let silent: Vec<String> = all.iter().filter(|s| !self.lacking(s, a).is_empty()).cloned().collect();
            if silent.is_empty() {
                continue;
            }
            let reasons: Vec<String> = silent.iter().map(|s| self.lacking_words(s, &self.lacking(s, a)).0).collect();
            let telling = self.sites_that_tell(a);
            let (why, mend) = if telling.is_empty() {
                (
                    format!("no site grew both side by side: {}", reasons.join("; ")),
                    "grow both at one site at least, in the same containers and blocks".to_owned(),
                )
            } else {
                (
                    format!("not over all {} sites: {}", all.len(), reasons.join("; ")),
                    format!("read the answer over {}, or grow the missing cells", self.words.sites(&telling)),
                )
            };
            list.push(self.refusal("difference", a, all.clone(), why, mend));
        }
        list
    }

    fn across(&self) -> Vec<Across> {
        let mut list = Vec::new();
        let telling: Vec<(&Asked, Vec<String>)> = self.asked.iter().map(|a| (a, self.sites_that_tell(a))).collect();
        let sets: BTreeSet<Vec<String>> = telling.iter().map(|(_, sites)| sites.clone()).collect();
        let several = self.sites.len() > 1;
        for sites in sets.into_iter().filter(|s| s.len() > 1 || (s.len() == 1 && !several)) {
            // Every difference that all of these sites can tell, so that the table over them is whole.
            let asked: Vec<&Asked> = telling.iter().filter(|(_, t)| sites.iter().all(|s| t.contains(s))).map(|(a, _)| *a).collect();
            if self.q.sites != SiteSpace::LikeThese && !sites.iter().any(|s| self.unreplicated.contains(s)) {
                list.push(self.over(Space::TheseSites, &sites, &asked));
            }
            if self.q.sites != SiteSpace::These && several {
                list.push(self.over(Space::SitesLikeThese, &sites, &asked));
            }
        }
        list.sort_by_key(|a| (std::cmp::Reverse(a.differences.len()), std::cmp::Reverse(a.sites.len()), a.space == Space::SitesLikeThese));
        list
    }

    fn over(&self, space: Space, sites: &[String], asked: &[&Asked]) -> Across {
        let records = self.records_of(sites);
        let ground = self.ground(&records);
        let derived = match space {
            Space::TheseSites => ground.at_these_sites(),
            Space::SitesLikeThese => ground.at_sites_like_these(),
        };
        let mut across = Across {
            space,
            sites: sites.to_vec(),
            model_toml: derived.model.to_toml().unwrap_or_default(),
            table: records::table(&records, &derived.model.categories),
            model_in_words: derived.in_words,
            why: derived.why,
            fit: None,
            no_fit: None,
            means: vec![],
            differences: vec![],
            residuals: vec![],
        };
        if space == Space::SitesLikeThese && sites.len() < 3 {
            across.no_fit = Some(format!(
                "{} sites are too few to say how much treatment effects change from site to site: at least three are needed",
                sites.len()
            ));
            return across;
        }
        match run(&derived.model, &records) {
            Ok(fitted) => self.fill(&mut across, fitted, &records, asked),
            Err(why) => across.no_fit = Some(why),
        }
        across
    }

    fn fill(&self, across: &mut Across, fitted: Fitted, records: &[Record], asked: &[&Asked]) {
        across.differences = self.differences(&fitted.fit, |a| asked.contains(&a));
        let named: BTreeSet<(&Combination, &Combination)> =
            asked.iter().flat_map(|a| [(&a.of, &a.within), (&a.minus, &a.within)]).collect();
        across.means = self.means(&fitted.fit, records, |of, within| named.contains(&(of, within)));
        across.residuals = residuals(&fitted.details, records);
        across.fit = Some(fitted.fit);
    }

    fn without_flagged(&self, trial: &TrialTables, across: &[Across]) -> Option<Vec<Difference>> {
        let first = across.iter().find(|a| a.fit.is_some())?;
        let with: Vec<Record> = self.records_of(&first.sites);
        let without: Vec<Record> =
            records::records(trial, &self.q.response, true).into_iter().filter(|r| first.sites.contains(&r.site)).collect();
        let same = with.len() == without.len() && with.iter().zip(&without).all(|(a, b)| a.response == b.response);
        if same {
            return None;
        }
        let ground = self.ground(&without);
        let derived = if first.space == Space::TheseSites { ground.at_these_sites() } else { ground.at_sites_like_these() };
        let fitted = run(&derived.model, &without).ok()?;
        Some(self.differences(&fitted.fit, |a| {
            first.differences.iter().any(|d| d.of == self.of(&a.of) && d.minus == self.of(&a.minus) && d.within == self.within(&a.within))
        }))
    }

    // ---- from a fit -----------------------------------------------------------------------------

    fn combination(&self, names: &[String], levels: &crosshouse_mixed::Levels) -> Combination {
        names.iter().filter_map(|n| levels.get(n).map(str::to_owned)).collect()
    }

    fn differences(&self, fit: &Fit, keep: impl Fn(&Asked) -> bool) -> Vec<Difference> {
        let asked = |d: &crosshouse_mixed::Difference| Asked {
            of: self.combination(&self.q.compare, &d.of),
            minus: self.combination(&self.q.compare, &d.minus),
            within: self.combination(&self.q.within, &d.within),
        };
        fit.differences.iter().filter(|d| keep(&asked(d))).map(difference).collect()
    }

    fn means(&self, fit: &Fit, records: &[Record], keep: impl Fn(&Combination, &Combination) -> bool) -> Vec<Mean> {
        let of_question = |m: &&AdjustedMean| m.of.0.len() == self.q.compare.len() && m.within.0.len() == self.varying_within().len();
        let kept = |m: &&AdjustedMean| keep(&self.combination(&self.q.compare, &m.of), &self.combination(&self.q.within, &m.within));
        let mut list: Vec<Mean> = Vec::new();
        for m in fit.adjusted_means.iter().filter(of_question).filter(kept) {
            let mean = mean(m, records);
            if !list.iter().any(|other| other.of == mean.of && other.within == mean.within) {
                list.push(mean);
            }
        }
        list
    }

    /// The means of single cells, from the family that the site's model adds.
    fn cell_means(&self, fit: &Fit, records: &[Record]) -> Vec<Mean> {
        let most = fit.adjusted_means.iter().map(|m| m.of.0.len()).max().unwrap_or(0);
        let cells = fit.adjusted_means.iter().filter(|m| m.of.0.len() == most && m.within.is_empty());
        let mut list: Vec<Mean> = Vec::new();
        for mut m in cells.map(|m| mean(m, records)).filter(|m| m.units > 0) {
            for f in self.factors.iter().filter(|f| !m.of.contains_key(&f.name)).collect::<Vec<_>>() {
                // A factor of one level here is part of the cell's name all the same.
                m.of.extend(records.first().map(|r| (f.name.clone(), r.category(&f.name).to_owned())));
            }
            if !list.iter().any(|other| other.of == m.of) {
                list.push(m);
            }
        }
        list
    }
}

fn at(site: &str, mut cell: Levels) -> Levels {
    cell.insert("site".into(), site.to_owned());
    cell
}

fn run(model: &Model, records: &[Record]) -> Result<Fitted, String> {
    let columns = records::columns(records, &model.categories).map_err(|e| e.to_string())?;
    let (fit, details) = crosshouse_mixed::fit_with_details(&columns, model).map_err(|e| e.to_string())?;
    Ok(Fitted { fit, details })
}

fn residuals(details: &FitDetails, records: &[Record]) -> Vec<Residual> {
    let one = |((row, fitted), residual): ((&usize, &f64), &f64)| {
        records.get(*row).map(|r| Residual { site: r.site.clone(), unit: r.unit.clone(), fitted: *fitted, residual: *residual })
    };
    details.rows.iter().zip(&details.predicted).zip(&details.residuals).filter_map(one).collect()
}

fn levels(of: &crosshouse_mixed::Levels) -> Levels {
    of.0.iter().cloned().collect()
}

fn mean(m: &AdjustedMean, records: &[Record]) -> Mean {
    let (of, within) = (levels(&m.of), levels(&m.within));
    let behind: Vec<f64> =
        records.iter().filter(|r| of.iter().chain(&within).all(|(f, l)| r.category(f) == l)).map(|r| r.response).collect();
    let raw_mean = (!behind.is_empty()).then(|| behind.iter().sum::<f64>() / behind.len() as f64);
    Mean {
        of,
        within,
        estimate: m.estimate,
        se: m.se,
        df: m.df,
        low: m.low,
        high: m.high,
        letters: m.letters.clone(),
        units: behind.len() as u32,
        raw_mean,
    }
}

fn difference(d: &crosshouse_mixed::Difference) -> Difference {
    let adjust = serde_json::to_value(d.adjust).ok().and_then(|v| v.as_str().map(str::to_owned)).unwrap_or_default();
    Difference {
        of: levels(&d.of),
        minus: levels(&d.minus),
        within: levels(&d.within),
        estimate: d.estimate,
        se: d.se,
        df: d.df,
        low: d.low,
        high: d.high,
        p: Some(d.p),
        p_adjusted: d.p_adjusted,
        low_adjusted: d.low_adjusted,
        high_adjusted: d.high_adjusted,
        adjust,
        margin: d.margin,
        p_equivalent: d.p_equivalent,
    }
}
