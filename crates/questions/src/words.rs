//! Names, numbers and lists as a person reads them.
use crate::answers::{Levels, Quantity, Shown as Published};
use crate::likelihood::{Law, things};
use crosshouse_trial::tables::TrialTables;

/// The wording of one response in a season.
pub struct Words<'a> {
    pub trial: &'a TrialTables,
    /// Key of the response.
    pub response: String,
    pub label: String,
    /// Unit of the tables.
    pub unit: String,
    /// Factor and unit of the sentences: of values, and of differences.
    pub shown: Shown,
}

/// What a value is multiplied by in a sentence, and the units written behind values and differences.
pub struct Shown {
    factor: f64,
    value: String,
    difference: String,
}

impl Shown {
    fn new(factor: f64, value: &str, difference: &str) -> Self {
        Shown { factor, value: value.into(), difference: difference.into() }
    }
}

const POUNDS_PER_KG: f64 = 1.0 / 0.453_592_37;

impl<'a> Words<'a> {
    pub fn new(trial: &'a TrialTables, response: &str, reader_units: &str) -> Self {
        let known = crosshouse_trial::responses().iter().find(|r| r.key == response);
        let (label, unit) = match known {
            Some(r) => (r.label.to_owned(), r.unit.to_owned()),
            None => (response.trim_start_matches("measure:").to_owned(), measure_unit(trial, response)),
        };
        let shown = match unit.strip_prefix("kg") {
            Some(rest) if reader_units == "lb" => Shown::new(POUNDS_PER_KG, &format!("lb{rest}"), &format!("lb{rest}")),
            None if unit == "1" => Shown::new(100.0, "%", "percentage points"),
            None if unit == "d" => Shown::new(1.0, "days", "days"),
            _ => Shown::new(1.0, &unit, &unit),
        };
        Words { trial, response: response.to_owned(), label, unit, shown }
    }

    pub fn response_label(&self) -> &str {
        &self.label
    }

    /// Which likelihood stands behind the numbers, where it is not the plain normal one.
    pub fn likelihood(&self, law: Law) -> Option<String> {
        let plain = !law.counts() && law.link() == crate::likelihood::Link::Identity;
        (!plain).then(|| law.in_words(&things(&self.response)))
    }

    pub fn site(&self, id: &str) -> String {
        self.trial.sites.iter().find(|s| s.site == id).map_or(id.to_owned(), |s| s.name.clone())
    }

    pub fn sites(&self, ids: &[String]) -> String {
        listed(&ids.iter().map(|s| self.site(s)).collect::<Vec<_>>())
    }

    fn level(&self, factor: &str, level: &str) -> String {
        let of = self.trial.design.factors.iter().find(|f| f.name == factor);
        of.and_then(|f| f.level_labels.get(level)).map_or(level.to_owned(), Clone::clone)
    }

    /// "blend in buckets": the levels, in the order of the season's factors.
    pub fn levels(&self, levels: &Levels) -> String {
        let order = |f: &String| self.trial.design.factors.iter().position(|g| g.name == *f).unwrap_or(usize::MAX);
        let mut named: Vec<(&String, &String)> = levels.iter().collect();
        named.sort_by_key(|(f, _)| order(f));
        named.iter().map(|(f, l)| self.level(f, l)).collect::<Vec<_>>().join(" · ")
    }

    pub fn factors(&self, names: &[String]) -> String {
        let label = |n: &String| self.trial.design.factors.iter().find(|f| f.name == *n).map_or(n.clone(), |f| f.label.clone());
        names.iter().map(label).collect::<Vec<_>>().join(" by ")
    }

    /// A value in the unit of the sentences, to the digits that its standard error bears.
    pub fn value(&self, x: f64, se: f64) -> String {
        rounded(x * self.shown.factor, se * self.shown.factor)
    }

    /// A published number: ratios as they are, all else in the unit of the sentences.
    pub fn published(&self, x: f64, of: &Published) -> String {
        if of.quantity.is_ratio() { rounded(x, of.se) } else { self.value(x, of.se) }
    }

    /// "gave 1.06 times the fruit count of", "gave 4.2 kg per plant more than".
    pub fn compared(&self, of: &Published) -> String {
        let (estimate, below, label) = (of.estimate, of.estimate < of.quantity.null(), &self.label);
        let size = self.published(estimate.abs(), of);
        match of.quantity {
            Quantity::Ratio => format!("gave {size} times the {label} of"),
            Quantity::OddsRatio => format!("had {size} times the odds in {label} of"),
            Quantity::DifferenceOfShares => {
                format!("had a {label} {size} {} {} than", self.difference_unit(), if below { "lower" } else { "higher" })
            }
            _ => format!("gave {size} {} {} than", self.difference_unit(), if below { "less" } else { "more" }),
        }
    }

    /// A stated margin, to two significant digits.
    pub fn margin(&self, margin: f64) -> String {
        let shown = margin * self.shown.factor;
        format!("{} {}", rounded(shown, shown.abs()), self.shown.difference)
    }

    pub fn value_unit(&self) -> &str {
        &self.shown.value
    }

    pub fn difference_unit(&self) -> &str {
        &self.shown.difference
    }
}

fn measure_unit(trial: &TrialTables, response: &str) -> String {
    trial.measure_units.get(response.trim_start_matches("measure:")).cloned().unwrap_or_default()
}

/// "a, b and c".
pub fn listed(items: &[String]) -> String {
    match items {
        [] => String::new(),
        [one] => one.clone(),
        [most @ .., last] => format!("{} and {last}", most.join(", ")),
    }
}

/// `x` to the decimal place of the second significant digit of its standard error.
pub fn rounded(x: f64, se: f64) -> String {
    let decimals = if se > 0.0 && se.is_finite() { (1.0 - se.log10().floor()).clamp(0.0, 8.0) as usize } else { 2 };
    let text = format!("{x:.decimals$}");
    if text.trim_start_matches('-').chars().all(|c| c == '0' || c == '.') {
        text.trim_start_matches('-').to_owned()
    } else {
        text.replace('-', "−")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_value_shows_the_digits_that_its_standard_error_bears() {
        assert_eq!(rounded(0.80412, 0.304), "0.80");
        assert_eq!(rounded(4959.583, 166.25), "4960");
        assert_eq!(rounded(-0.0001, 0.3), "0.00");
        assert_eq!(rounded(-1.26, 0.3), "−1.26");
    }

    #[test]
    fn lists_read_as_lists() {
        assert_eq!(listed(&["a".into(), "b".into(), "c".into()]), "a, b and c");
    }
}
