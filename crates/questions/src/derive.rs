//! From the design to the model, with the reason in words.
use crate::declare::Question;
use crate::likelihood::Law;
use crate::records::{LOG_EXPOSURE, Record, TRIALS};
use crate::replication::{carrier, distinct};
use crate::words::{Words, listed};
use crosshouse_mixed::{Adjust, Compare, Criterion, Estimation, Family, Freedom, Model, Pairs, Residual, Weights};
use crosshouse_trial::tables::Factor;

/// A derived model with its words.
pub struct Derived {
    pub model: Model,
    pub in_words: String,
    pub why: Vec<String>,
}

/// What a model is derived from.
pub struct Ground<'a> {
    pub records: &'a [Record],
    /// Every factor of the season that varies in these records.
    pub factors: Vec<&'a Factor>,
    pub question: &'a Question,
    pub law: Law,
    pub words: &'a Words<'a>,
}

type Terms = Vec<Vec<String>>;

/// All main effects and interactions of the factors, smaller ones first.
pub fn factorial(factors: &[&Factor]) -> Terms {
    let mut terms: Terms = (1_usize..1 << factors.len().min(6))
        .map(|set| factors.iter().enumerate().filter(|(i, _)| set >> i & 1 == 1).map(|(_, f)| f.name.clone()).collect())
        .collect();
    terms.sort_by_key(Vec::len);
    terms
}

fn with_site(term: &[String]) -> Vec<String> {
    std::iter::once("site".to_owned()).chain(term.iter().cloned()).collect()
}

fn strings(columns: &[&str]) -> Vec<String> {
    columns.iter().map(|c| (*c).to_owned()).collect()
}

/// Columns, as a grouping of the records, with the words for it.
struct Stratum {
    columns: Vec<&'static str>,
    said: String,
}

impl Ground<'_> {
    fn several_sites(&self) -> bool {
        distinct(self.records, &["site"]) > 1
    }

    /// The strata that the randomisation made: houses, blocks, and the carriers of factors coarser than the unit.
    fn strata(&self) -> Vec<Stratum> {
        let sites = distinct(self.records, &["site"]);
        let houses = distinct(self.records, &["site", "house"]);
        let mut strata = Vec::new();
        if houses > sites {
            strata.push(Stratum {
                columns: vec!["site", "house"],
                said: "houses in a site are random, since units of one house share its climate".into(),
            });
        }
        let block: Vec<&'static str> = if houses > sites { vec!["site", "house", "block"] } else { vec!["site", "block"] };
        let blocks = distinct(self.records, &block);
        if blocks > houses && blocks < self.records.len() {
            strata.push(Stratum { columns: block, said: "blocks are random, since treatments were laid out block by block".into() });
        }
        for factor in &self.factors {
            self.add_carrier(factor, &mut strata);
        }
        strata
    }

    fn add_carrier(&self, factor: &Factor, strata: &mut Vec<Stratum>) {
        let columns = carrier(&factor.unit_of_assignment).to_vec();
        let carriers = distinct(self.records, &columns);
        let known = strata.iter().any(|s| distinct(self.records, &s.columns) == carriers);
        if columns.is_empty() || known || carriers == self.records.len() {
            return;
        }
        let said = format!(
            "each {} is random, since {} was given to the {} and not to the single unit",
            factor.unit_of_assignment, factor.label, factor.unit_of_assignment
        );
        strata.push(Stratum { columns, said });
    }

    /// Sites and site × treatment fixed: the answer is for these sites.
    pub fn at_these_sites(&self) -> Derived {
        let terms = factorial(&self.factors);
        let mut effects = terms.clone();
        if self.several_sites() {
            effects.insert(0, vec!["site".into()]);
            effects.extend(terms.iter().map(|t| with_site(t)));
        }
        let strata = self.strata();
        let fixed = if self.several_sites() {
            format!("Site, {} and all their interactions are fixed: the answer is for these sites and no others", self.factor_words())
        } else {
            format!("{} and their interactions are fixed", self.factor_words())
        };
        let groups = strata.iter().map(|s| strings(&s.columns)).collect();
        self.derived(effects, groups, fixed, strata.into_iter().map(|s| s.said).collect())
    }

    /// Sites and site × treatment random: the answer is for sites of which these are a sample.
    pub fn at_sites_like_these(&self) -> Derived {
        let effects = factorial(&self.factors);
        let strata = self.strata();
        let mut why: Vec<String> = strata.iter().map(|s| s.said.clone()).collect();
        let mut groups: Terms = vec![vec!["site".into()]];
        for term in &effects {
            self.add_site_term(term, &strata, &mut groups, &mut why);
        }
        groups.extend(strata.iter().map(|s| strings(&s.columns)));
        why.insert(0, "sites and their deviations from the common treatment effects are random, so that treatments are judged against how much their effects change from site to site".into());
        let fixed = format!(
            "{} and their interactions are fixed; site and site by treatment are random: the answer is for sites of which these are a sample",
            self.factor_words()
        );
        self.derived(effects, groups, fixed, why)
    }

    /// Adds site × term as a random group, unless each such cell is one unit (then it is the residual) or one carrier (then it is that stratum).
    fn add_site_term(&self, term: &[String], strata: &[Stratum], groups: &mut Terms, why: &mut Vec<String>) {
        let columns = with_site(term);
        let names: Vec<&str> = columns.iter().map(String::as_str).collect();
        let cells = distinct(self.records, &names);
        let crossed = |s: &Stratum| {
            let both: Vec<&str> = names.iter().copied().chain(s.columns.iter().copied()).collect();
            distinct(self.records, &both) == cells && distinct(self.records, &s.columns) == cells
        };
        if cells == self.records.len() {
            why.push("each treatment stands once at each site, so its deviation there is the residual".into());
        } else if strata.iter().any(crossed) {
            why.push(format!(
                "the deviation of {} at a site cannot be told from its {}: one term stands for both",
                self.words.factors(term),
                "carrier there"
            ));
        } else if !groups.iter().any(|g| distinct(self.records, &g.iter().map(String::as_str).collect::<Vec<_>>()) == cells) {
            groups.push(columns);
        }
    }

    fn factor_words(&self) -> String {
        listed(&self.factors.iter().map(|f| f.label.clone()).collect::<Vec<_>>())
    }

    fn derived(&self, effects: Terms, groups: Terms, fixed: String, why: Vec<String>) -> Derived {
        let (effects, groups, why) = match &self.question.model {
            Some(own) => (
                own.effects.clone(),
                own.groups.clone(),
                vec![format!("the statistician's own model stands in place of the derived one: {}", own.reason)],
            ),
            None => (effects, groups, why),
        };
        let mut in_words = format!("One record is one unit's {}. {}.", self.words.response_label(), capital(&fixed));
        if let Some(likelihood) = self.words.likelihood(self.law) {
            in_words.push_str(&format!(" {}.", capital(&likelihood)));
        }
        for reason in &why {
            in_words.push_str(&format!(" {}.", capital(reason)));
        }
        Derived { model: self.model(effects, groups), in_words, why }
    }

    fn model(&self, effects: Terms, groups: Terms) -> Model {
        let mut categories: Vec<String> = Vec::new();
        for name in effects.iter().chain(&groups).flatten() {
            if !categories.contains(name) {
                categories.push(name.clone());
            }
        }
        let counts = self.law.counts();
        let by_site = self.question.variance_by_site && self.several_sites() && !counts;
        let variance_by = if by_site { vec!["site".to_owned()] } else { Vec::new() };
        if by_site && !categories.iter().any(|c| c == "site") {
            categories.push("site".into());
        }
        let restricted = || Estimation { criterion: Some(Criterion::Reml), freedom: Some(Freedom::KenwardRoger), ..Estimation::default() };
        Model {
            response: "response".into(),
            family: self.law.family,
            response_scale: self.law.scale,
            trials: self.law.family.has_trials().then(|| TRIALS.to_owned()),
            offset: matches!(self.law.family, Family::Poisson | Family::NegativeBinomial).then(|| LOG_EXPOSURE.to_owned()),
            categories,
            effects,
            groups,
            residual: Residual { variance_by, serial: None },
            estimation: if counts { Estimation::default() } else { restricted() },
            compare: self.compares(),
            ..Model::default()
        }
    }

    /// The comparison asked for; of counts all pairs besides, which tell how the means vary together.
    fn compares(&self) -> Vec<Compare> {
        let asked = self.compare();
        if !self.law.counts() || asked.pairs == Pairs::All {
            return vec![asked];
        }
        let every = Compare { pairs: Pairs::All, adjust: Adjust::None, letters: false, ..asked.clone() };
        vec![asked, every]
    }

    fn compare(&self) -> Compare {
        let q = self.question;
        Compare {
            means_of: q.compare.clone(),
            within: q.within.clone(),
            pairs: Pairs::from(q.pairs.clone()),
            adjust: adjustment(&q.adjust),
            weights: Weights::Equal,
            margin: q.margin,
            letters: q.letters,
        }
    }
}

/// The same model with factors of one level named in it, so that their means can be asked for; nothing is compared.
pub fn with_single_levels(model: &Model, single: &[&Factor]) -> Model {
    let mut more = model.clone();
    for name in single.iter().map(|f| f.name.clone()).filter(|n| !model.categories.contains(n)) {
        more.effects.push(vec![name.clone()]);
        more.categories.push(name);
    }
    let known = |c: &Compare| c.means_of.iter().chain(&c.within).all(|n| more.categories.contains(n));
    let kept: Vec<Compare> = more.compare.iter().filter(|c| known(c)).cloned().collect();
    more.compare = kept;
    for compare in &mut more.compare {
        *compare = Compare { pairs: Pairs::None, adjust: Adjust::None, margin: None, letters: false, ..compare.clone() };
    }
    more
}

/// The same model with another family of means added: every cell, no differences.
pub fn with_cell_means(model: &Model, factors: &[&Factor]) -> Model {
    let mut more = model.clone();
    let mut cells = Compare::means_of(factors.iter().map(|f| f.name.clone()));
    cells.pairs = Pairs::None;
    more.compare.push(cells);
    more
}

pub fn adjustment(word: &str) -> Adjust {
    match word {
        "bonferroni" => Adjust::Bonferroni,
        "sidak" => Adjust::Sidak,
        "holm" => Adjust::Holm,
        "tukey" => Adjust::Tukey,
        "dunnett" => Adjust::Dunnett,
        "joint" => Adjust::Joint,
        _ => Adjust::None,
    }
}

pub fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or(String::new(), |c| c.to_uppercase().chain(letters).collect())
}
