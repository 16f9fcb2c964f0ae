//! Over sites: each difference over the sites that can tell it, which are named.
use super::from_fit::Fitted;
use super::{Asked, Case};
use crate::answers::{Across, Beside, CannotTell, Difference, Space};
use crate::cells::Combination;
use crate::declare::SiteSpace;
use crate::derive::capital;
use crate::likelihood::things;
use crate::records::{self, Record};
use crosshouse_mixed::Model;
use crosshouse_trial::tables::TrialTables;
use std::collections::BTreeSet;

impl Case<'_> {
    /// A difference over all sites, where some site cannot tell it.
    pub(super) fn cannot_tell_across(&self) -> Vec<CannotTell> {
        let all: Vec<String> = self.sites.clone();
        let mut list = Vec::new();
        for a in self.asked.iter().filter(|_| all.len() > 1) {
            let silent: Vec<String> = all.iter().filter(|s| !self.lacking(s, a).is_empty()).cloned().collect();
            if silent.is_empty() {
                continue;
            }
            let reasons = self.reasons(&silent, a);
            let telling = self.sites_that_tell(a);
            let (why, mend) = if telling.is_empty() {
                let grown = silent.iter().any(|s| self.lacking_grown(s, a).is_empty());
                let (what, mend) = if grown {
                    ("no site can tell it", "more units would tell: until something is counted in each, the numbers stand as counted")
                } else {
                    ("no site grew both side by side", "grow both at one site at least, in the same containers and blocks")
                };
                (format!("{what}: {}", reasons.join("; ")), mend.to_owned())
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

    /// Why each of these sites cannot tell; those of which nothing or everything was counted in one breath.
    fn reasons(&self, sites: &[String], a: &Asked) -> Vec<String> {
        let (grown, others): (Vec<String>, Vec<String>) = sites.iter().cloned().partition(|s| self.lacking_grown(s, a).is_empty());
        let mut reasons: Vec<String> = others.iter().map(|s| self.lacking_words(s, &self.lacking(s, a)).0).collect();
        if !grown.is_empty() {
            let things = things(&self.q.response);
            reasons.insert(
                0,
                format!(
                    "at {} some treatments had no {} at all, or nothing else, which has no finite estimate on the {} scale",
                    self.words.sites(&grown),
                    things.number,
                    self.law.link().word()
                ),
            );
        }
        reasons
    }

    pub(super) fn across(&self) -> Vec<Across> {
        let several = self.sites.len() > 1;
        let mut list = Vec::new();
        if self.q.sites != SiteSpace::LikeThese {
            list.extend(self.in_space(Space::TheseSites));
        }
        if self.q.sites != SiteSpace::These && several {
            list.extend(self.in_space(Space::SitesLikeThese));
        }
        list.sort_by_key(|a| (std::cmp::Reverse(a.differences.len()), std::cmp::Reverse(a.sites.len()), a.space == Space::SitesLikeThese));
        list
    }

    /// One answer a set of sites that can tell the same differences.
    fn in_space(&self, space: Space) -> Vec<Across> {
        let telling: Vec<(&Asked, Vec<String>)> = self.asked.iter().map(|a| (a, self.sites_that_tell_in(space, a))).collect();
        let sets: BTreeSet<Vec<String>> = telling.iter().map(|(_, sites)| sites.clone()).collect();
        let several = self.sites.len() > 1;
        let replicated = |s: &Vec<String>| space == Space::SitesLikeThese || !s.iter().any(|s| self.unreplicated.contains(s));
        let sets = sets.into_iter().filter(|s| s.len() > 1 || (s.len() == 1 && !several)).filter(replicated);
        // Every difference that all sites of a set can tell, so that the table over them is whole.
        let asked = |sites: &[String]| -> Vec<&Asked> {
            telling.iter().filter(|(_, t)| sites.iter().all(|s| t.contains(s))).map(|(a, _)| *a).collect()
        };
        sets.map(|sites| self.over(space, &sites, &asked(&sites))).collect()
    }

    pub(super) fn over(&self, space: Space, sites: &[String], asked: &[&Asked]) -> Across {
        let records = self.records_of(space, sites);
        let ground = self.ground(&records);
        let derived = match space {
            Space::TheseSites => ground.at_these_sites(),
            Space::SitesLikeThese => ground.at_sites_like_these(),
        };
        let mut across = Across {
            space,
            sites: sites.to_vec(),
            model_toml: derived.model.to_toml().unwrap_or_default(),
            table: records::table(&records, &derived.model),
            model_in_words: derived.in_words,
            why: derived.why,
            fit: None,
            no_fit: None,
            means: vec![],
            differences: vec![],
            residuals: vec![],
            beside: vec![],
        };
        if space == Space::SitesLikeThese && sites.len() < 3 {
            across.no_fit = Some(format!(
                "{} sites are too few to say how much treatment effects change from site to site: at least three are needed",
                sites.len()
            ));
            return across;
        }
        match self.run(&derived.model, &records) {
            Ok(fitted) => self.fill(&mut across, fitted, &records, asked),
            Err(why) => across.no_fit = Some(why),
        }
        if space == Space::TheseSites || self.q.sites == SiteSpace::LikeThese {
            across.beside = self.beside(&derived.model, &records, asked).into_iter().collect();
        }
        across
    }

    /// The same model by the other family: once a question, where units are judged against each other.
    fn beside(&self, model: &Model, records: &[Record], asked: &[&Asked]) -> Option<Beside> {
        let other = Model { family: self.law.other()?, ..model.clone() };
        let family = other.family.name().to_owned();
        Some(match self.run(&other, records) {
            Ok(fitted) => Beside { family, differences: self.differences(&fitted.told, |a| asked.contains(&a)), no_fit: None },
            Err(why) => Beside { family, differences: Vec::new(), no_fit: Some(why) },
        })
    }

    pub(super) fn fill(&self, across: &mut Across, fitted: Fitted, records: &[Record], asked: &[&Asked]) {
        across.differences = self.differences(&fitted.told, |a| asked.contains(&a));
        let named: BTreeSet<(&Combination, &Combination)> =
            asked.iter().flat_map(|a| [(&a.of, &a.within), (&a.minus, &a.within)]).collect();
        across.means = self.means(&fitted.told, records, |of, within| named.contains(&(of, within)));
        if let Some(judged) = fitted.judged {
            across.model_in_words.push_str(&format!(" {}.", capital(&judged.in_words)));
            across.why.push(judged.in_words);
        }
        across.residuals = fitted.residuals;
        across.fit = Some(fitted.fit);
    }

    pub(super) fn without_flagged(&self, trial: &TrialTables, across: &[Across]) -> Option<Vec<Difference>> {
        let first = across.iter().find(|a| a.fit.is_some())?;
        let with: Vec<Record> = self.records_of(first.space, &first.sites);
        let kept = |r: &Record| first.sites.contains(&r.site) && self.cells_of(first.space).tells(r);
        let without: Vec<Record> = records::records(trial, &self.q.response, true).into_iter().filter(kept).collect();
        let same =
            with.len() == without.len() && with.iter().zip(&without).all(|(a, b)| a.response == b.response && a.counted == b.counted);
        if same {
            return None;
        }
        let ground = self.ground(&without);
        let derived = if first.space == Space::TheseSites { ground.at_these_sites() } else { ground.at_sites_like_these() };
        let fitted = self.run(&derived.model, &without).ok()?;
        Some(self.differences(&fitted.told, |a| {
            first.differences.iter().any(|d| d.of == self.of(&a.of) && d.minus == self.of(&a.minus) && d.within == self.within(&a.within))
        }))
    }
}
