//! One site on its own: its model, its answer, and what it cannot tell.
use super::Case;
use crate::answers::{CannotTell, Levels, SiteAnswer, Space};
use crate::derive::{Derived, Ground, with_cell_means, with_single_levels};
use crate::likelihood::things;
use crate::records::Record;
use crate::replication::unreplicated_sites;
use crate::words::listed;
use crosshouse_trial::tables::Factor;
use std::collections::BTreeSet;

impl Case<'_> {
    pub(super) fn at_site(&self, site: &str) -> SiteAnswer {
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
            match self.run(&derived.model, &records) {
                Ok(fitted) => {
                    given.differences = self.differences(&fitted.told, |a| self.lacking(site, a).is_empty());
                    given.means = self.means(&fitted.told, &records, |of, within| self.mean_lacking(site, of, within).is_empty());
                    given.cells = self.cell_means(&fitted.told, &records);
                }
                Err(why) => cannot_tell.extend(self.no_fit_at(site, &why)),
            }
        }
        given.cannot_tell = cannot_tell;
        given
    }

    pub(super) fn site_model(&self, site: &[String]) -> Option<(Derived, Vec<Record>)> {
        let records = self.records_of(Space::TheseSites, site);
        let ground = self.ground(&records);
        if ground.factors.is_empty() {
            return None;
        }
        let varies = |list: &[String]| list.iter().all(|n| ground.factors.iter().any(|f| f.name == *n));
        let mut derived = ground.at_these_sites();
        let mut factors = ground.factors.clone();
        if !varies(&self.q.compare) || !varies(&self.varying_within()) {
            // What is asked has one level here: its mean can be given, and no difference.
            let asked = |f: &&&Factor| self.q.compare.contains(&f.name) || self.q.within.contains(&f.name);
            let single: Vec<&Factor> =
                self.factors.iter().filter(asked).filter(|f| !factors.iter().any(|g| g.name == f.name)).copied().collect();
            derived.model = with_single_levels(&derived.model, &single);
            factors.extend(single);
        }
        derived.model = with_cell_means(&derived.model, &factors);
        Some((derived, records))
    }

    pub(super) fn varying_within(&self) -> Vec<String> {
        self.q.within.iter().filter(|n| self.cells.factors().contains(n)).cloned().collect()
    }

    pub(super) fn ground<'g>(&'g self, records: &'g [Record]) -> Ground<'g> {
        let varies = |f: &&&Factor| records.iter().map(|r| r.category(&f.name)).collect::<BTreeSet<_>>().len() > 1;
        Ground {
            records,
            factors: self.factors.iter().filter(varies).copied().collect(),
            question: self.q,
            law: self.law,
            words: &self.words,
        }
    }

    pub(super) fn cannot_tell_at(&self, site: &str) -> Vec<CannotTell> {
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

    /// A cell that was not grown, or one that was grown and of which the response is not on record.
    pub(super) fn lacking_words(&self, site: &str, lacking: &[Levels]) -> (String, String) {
        let silent = self.silent_words(site, lacking);
        if !silent.is_empty() {
            let why = format!(
                "{} counted {}: on the {} scale that has no finite estimate and no standard error; the numbers stand as counted, with exact intervals",
                self.words.site(site),
                listed(&silent),
                self.law.link().word()
            );
            return (why, format!("more {} would tell", things(&self.q.response).of));
        }
        let (grown, absent): (Vec<&Levels>, Vec<&Levels>) = lacking.iter().partition(|c| self.was_grown(site, c));
        let (name, said) = (self.words.site(site), |cells: &[&Levels]| self.said(cells.iter().copied()));
        if absent.is_empty() {
            let why = format!("{name} has no {} of {} on record", self.words.response_label(), said(&grown));
            return (why, format!("mend the rows of {} that were set aside at {name}", said(&grown)));
        }
        let here = self.cells.grown(site);
        let why = format!("{name} did not grow {}; it grew {}", said(&absent), self.said(here.iter()));
        (why, format!("grow {} at {name} beside what it grows, in every block", said(&absent)))
    }

    /// Of the lacking cells those that were grown and of which nothing or everything was counted, as counted.
    fn silent_words(&self, site: &str, lacking: &[Levels]) -> Vec<String> {
        let is_of = |c: &&crate::answers::AsCounted| c.site.as_deref() == Some(site) && lacking.contains(&c.of);
        let of_cell = self.counted_cells.iter().filter(|c| c.left_out).filter(is_of);
        let things = things(&self.q.response);
        of_cell
            .map(|c| format!("{:.0} {} of {:.0} {} in {}", c.number, things.number, c.out_of, things.of, self.words.levels(&c.of)))
            .collect()
    }

    fn was_grown(&self, site: &str, cell: &Levels) -> bool {
        let cells = &self.words.trial.design.cells;
        cells.iter().any(|c| c.site == site && c.units > 0 && cell.iter().all(|(f, l)| c.levels.get(f) == Some(l)))
    }

    fn said<'l>(&self, cells: impl Iterator<Item = &'l Levels>) -> String {
        let names: BTreeSet<String> = cells.map(|c| self.words.levels(c)).collect();
        listed(&names.into_iter().collect::<Vec<_>>())
    }

    pub(super) fn unreplicated_words(&self, site: &str) -> (String, String) {
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

    pub(super) fn no_fit_at(&self, site: &str, why: &str) -> Vec<CannotTell> {
        let told = self.asked.iter().filter(|a| self.lacking(site, a).is_empty());
        told.map(|a| self.refusal("difference", a, vec![site.to_owned()], why.to_owned(), "grow more units of each treatment there".into()))
            .collect()
    }
}
