//! Over sites: each difference over the sites that can tell it, which are named.
use super::from_fit::{Fitted, residuals, run};
use super::{Asked, Case};
use crate::answers::{Across, CannotTell, Difference, Space};
use crate::cells::Combination;
use crate::declare::SiteSpace;
use crate::records::{self, Record};
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

    pub(super) fn across(&self) -> Vec<Across> {
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

    pub(super) fn over(&self, space: Space, sites: &[String], asked: &[&Asked]) -> Across {
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

    pub(super) fn fill(&self, across: &mut Across, fitted: Fitted, records: &[Record], asked: &[&Asked]) {
        across.differences = self.differences(&fitted.fit, |a| asked.contains(&a));
        let named: BTreeSet<(&Combination, &Combination)> =
            asked.iter().flat_map(|a| [(&a.of, &a.within), (&a.minus, &a.within)]).collect();
        across.means = self.means(&fitted.fit, records, |of, within| named.contains(&(of, within)));
        across.residuals = residuals(&fitted.details, records);
        across.fit = Some(fitted.fit);
    }

    pub(super) fn without_flagged(&self, trial: &TrialTables, across: &[Across]) -> Option<Vec<Difference>> {
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
}
