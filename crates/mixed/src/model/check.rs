//! Contradictions of a model that need no data to be seen.

use std::collections::BTreeSet;

use super::{Compare, Family, Freedom, Model, ModelFault, ModelFaultCode, Pairs, ResponseScale};

/// Faults found so far.
struct Found(Vec<ModelFault>);

impl Found {
    fn add(&mut self, code: ModelFaultCode, key: &str, found: String, expected: &str, mend: &str) {
        let (key, expected, mend) = (key.to_owned(), expected.to_owned(), mend.to_owned());
        self.0.push(ModelFault { code, key, line: None, found, expected, mend });
    }

    fn named_twice(&mut self, key: &str, names: &[String]) {
        let distinct: BTreeSet<&String> = names.iter().collect();
        if distinct.len() < names.len() {
            let found = format!("{names:?}");
            self.add(ModelFaultCode::NamedTwice, key, found, "each name once", "take the repetition out");
        }
    }

    fn must_be_categories(&mut self, model: &Model, key: &str, names: &[String]) {
        for name in names.iter().filter(|name| !model.is_category(name)) {
            self.add(
                ModelFaultCode::NotACategory,
                key,
                format!("\"{name}\", which is not among `categories`"),
                "columns read as categories",
                "add it to `categories`, or take it out here",
            );
        }
    }

    fn must_be_numeric(&mut self, model: &Model, key: &str, name: &str) {
        if model.is_category(name) {
            self.add(
                ModelFaultCode::IsACategory,
                key,
                format!("\"{name}\", which is among `categories`"),
                "a numeric column",
                "take it out of `categories`, or name another column",
            );
        }
    }
}

impl Model {
    /// Every contradiction that shows without data, in the order of the file; empty for a sound model.
    pub fn faults(&self) -> Vec<ModelFault> {
        let mut found = Found(Vec::new());
        self.check_response(&mut found);
        self.check_effects(&mut found);
        self.check_random(&mut found);
        self.check_residual(&mut found);
        self.check_estimation(&mut found);
        for (index, compare) in self.compare.iter().enumerate() {
            self.check_compare(&mut found, compare, &format!("compare[{}]", index + 1));
        }
        found.0
    }

    fn check_response(&self, found: &mut Found) {
        if self.response.is_empty() {
            let mend = "add a line response = \"…\"";
            found.add(ModelFaultCode::KeyMissing, "response", "no column".into(), "a numeric column", mend);
        }
        found.must_be_numeric(self, "response", &self.response);
        for (key, column) in [("trials", &self.trials), ("offset", &self.offset)] {
            if let Some(column) = column {
                found.must_be_numeric(self, key, column);
            }
        }
        self.check_trials(found);
        if self.family != Family::Normal && self.response_scale != ResponseScale::Identity {
            found.add(
                ModelFaultCode::DoesNotGoTogether,
                "response_scale",
                format!("a transformed scale with family \"{}\"", self.family.name()),
                "a transformed scale with family \"normal\" only",
                "take the line out: this family has its own link",
            );
        }
        found.named_twice("categories", &self.categories);
    }

    fn check_trials(&self, found: &mut Found) {
        let (expected, mend) = if self.family.has_trials() == self.trials.is_some() {
            return;
        } else if self.family.has_trials() {
            ("the column with the number of trials", "add a line trials = \"…\"")
        } else {
            ("`trials` with the binomial kinds only", "take the line out, or choose a binomial kind")
        };
        let what = format!("family \"{}\" {} `trials`", self.family.name(), { if self.trials.is_some() { "with" } else { "without" } });
        found.add(ModelFaultCode::Trials, "trials", what, expected, mend);
    }

    fn check_effects(&self, found: &mut Found) {
        let have: BTreeSet<BTreeSet<&String>> = self.effects.iter().map(|e| e.iter().collect()).collect();
        let mut seen = BTreeSet::new();
        for (index, effect) in self.effects.iter().enumerate() {
            let key = format!("effects[{}]", index + 1);
            self.check_names(found, &key, effect);
            if !seen.insert(effect.iter().collect::<BTreeSet<_>>()) {
                let what = format!("{effect:?} a second time");
                found.add(ModelFaultCode::NamedTwice, &key, what, "each effect once", "take it out");
            }
            self.check_parts(found, &key, effect, &have);
        }
    }

    fn check_names(&self, found: &mut Found, key: &str, names: &[String]) {
        if names.is_empty() {
            found.add(ModelFaultCode::KeyMissing, key, "an empty entry".into(), "column names", "take it out");
        }
        found.named_twice(key, names);
        if names.contains(&self.response) {
            let mend = "take it out";
            found.add(ModelFaultCode::NamedTwice, key, "the response".into(), "other columns", mend);
        }
    }

    fn check_parts(&self, found: &mut Found, key: &str, effect: &[String], have: &BTreeSet<BTreeSet<&String>>) {
        for leave_out in 0..effect.len() {
            let part: BTreeSet<&String> = effect.iter().enumerate().filter(|(i, _)| *i != leave_out).map(|(_, name)| name).collect();
            if part.is_empty() || have.contains(&part) || part.len() + 1 < effect.len() {
                continue;
            }
            found.add(
                ModelFaultCode::PartsMissing,
                key,
                format!("the interaction {effect:?} without {part:?} as an effect"),
                "every part of an interaction as an effect of its own",
                "add the part to `effects`",
            );
        }
    }

    fn check_random(&self, found: &mut Found) {
        for (index, group) in self.groups.iter().enumerate() {
            let key = format!("groups[{}]", index + 1);
            self.check_names(found, &key, group);
            found.must_be_categories(self, &key, group);
        }
        for (index, varying) in self.varying.iter().enumerate() {
            let key = format!("varying[{}]", index + 1);
            self.check_names(found, &format!("{key}.over"), &varying.over);
            found.must_be_categories(self, &format!("{key}.over"), &varying.over);
            if varying.effects.is_empty() {
                let mend = "name a covariate, or use `groups`";
                let effects = format!("{key}.effects");
                found.add(ModelFaultCode::KeyMissing, &effects, "no effect".into(), "covariates", mend);
            }
            for effect in &varying.effects {
                self.check_names(found, &format!("{key}.effects"), effect);
                for name in effect {
                    found.must_be_numeric(self, &format!("{key}.effects"), name);
                }
            }
        }
    }

    fn check_residual(&self, found: &mut Found) {
        let residual = &self.residual;
        if self.family != Family::Normal && !residual.is_plain() {
            let what = format!("a residual structure with family \"{}\"", self.family.name());
            let mend = "take the table out, or choose family \"normal\"";
            found.add(ModelFaultCode::DoesNotGoTogether, "residual", what, "family \"normal\"", mend);
        }
        found.named_twice("residual.variance_by", &residual.variance_by);
        found.must_be_categories(self, "residual.variance_by", &residual.variance_by);
        if let Some(serial) = &residual.serial {
            found.must_be_numeric(self, "residual.serial.order", &serial.order);
            found.named_twice("residual.serial.within", &serial.within);
            found.must_be_categories(self, "residual.serial.within", &serial.within);
        }
    }

    fn check_estimation(&self, found: &mut Found) {
        let estimation = &self.estimation;
        if !(estimation.level > 0.0 && estimation.level < 1.0) {
            let what = estimation.level.to_string();
            let mend = "write 0.95 for 95 % intervals";
            found.add(ModelFaultCode::OutOfRange, "estimation.level", what, "between 0 and 1", mend);
        }
        let small_sample = matches!(estimation.freedom, Some(Freedom::KenwardRoger | Freedom::Satterthwaite));
        if self.family != Family::Normal && small_sample {
            found.add(
                ModelFaultCode::DoesNotGoTogether,
                "estimation.freedom",
                format!("small-sample freedom with family \"{}\"", self.family.name()),
                "large-sample",
                "write \"large-sample\"",
            );
        }
        let scalar_terms = self.varying.iter().map(|varying| varying.effects.len() + usize::from(varying.base)).sum::<usize>();
        if self.family != Family::Normal && estimation.nodes.is_some_and(|n| n > 1) && self.groups.len() + scalar_terms != 1 {
            let what = format!("quadrature with {} random effects", self.groups.len() + scalar_terms);
            let mend = "take the line out, or keep a single grouping";
            found.add(ModelFaultCode::DoesNotGoTogether, "estimation.nodes", what, "one scalar random effect", mend);
        }
        if self.family == Family::Normal && estimation.nodes.is_some() {
            let mend = "take the line out";
            let what = "quadrature with family \"normal\"".into();
            found.add(ModelFaultCode::DoesNotGoTogether, "estimation.nodes", what, "another family", mend);
        }
    }

    fn check_compare(&self, found: &mut Found, compare: &Compare, key: &str) {
        let both: Vec<String> = compare.means_of.iter().chain(&compare.within).cloned().collect();
        if compare.means_of.is_empty() {
            let at = format!("{key}.means_of");
            found.add(ModelFaultCode::KeyMissing, &at, "no name".into(), "categories", "name a category");
        }
        found.named_twice(key, &both);
        found.must_be_categories(self, key, &both);
        for name in both.iter().filter(|name| self.is_category(name)) {
            if !self.effects.iter().any(|effect| effect.contains(name)) {
                let what = format!("\"{name}\", which is in no effect");
                let mend = "add it to `effects`, or compare something else";
                found.add(ModelFaultCode::NotInEffects, key, what, "categories of `effects`", mend);
            }
        }
        if matches!(compare.pairs, Pairs::Against(_)) && compare.means_of.len() > 1 {
            let at = format!("{key}.pairs");
            let what = "one level against several categories".into();
            let mend = "name one category in `means_of` and put the others into `within`";
            found.add(ModelFaultCode::DoesNotGoTogether, &at, what, "one name in `means_of`", mend);
        }
        self.check_margin(found, compare, key);
    }

    fn check_margin(&self, found: &mut Found, compare: &Compare, key: &str) {
        let Some(margin) = compare.margin else { return };
        let at = format!("{key}.margin");
        if !(margin > 0.0 && margin.is_finite()) {
            let mend = "write a positive number in response units";
            found.add(ModelFaultCode::OutOfRange, &at, margin.to_string(), "above zero", mend);
        }
        if self.response_scale != ResponseScale::Identity || self.family != Family::Normal {
            found.add(
                ModelFaultCode::DoesNotGoTogether,
                &at,
                "an equivalence margin on a transformed or link scale".into(),
                "a margin in response units",
                "fit on the identity scale, or leave the margin out",
            );
        }
    }
}
