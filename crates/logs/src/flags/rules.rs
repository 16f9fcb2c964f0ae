//! The readable file of rules (`rules.toml`), and what a season changes in it.
use crate::declare::{LimitChange, Season};
use serde::Deserialize;
use std::collections::BTreeMap;
use std::sync::LazyLock;

const TEXT: &str = include_str!("rules.toml");

/// One number of a rule, with the words of where it comes from.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Limit {
    pub name: String,
    pub value: f64,
    pub unit: String,
    pub source: String,
    /// Of crops whose name holds this.
    #[serde(default)]
    pub crop: Option<String>,
    /// Of houses of this kind.
    #[serde(default)]
    pub house: Option<String>,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct RuleText {
    pub log: String,
    /// Whether rows carry this doubt.
    #[serde(default = "yes")]
    pub marks: bool,
    pub limits: Vec<Limit>,
}

fn yes() -> bool {
    true
}

/// Every rule, by its code.
pub(crate) type Rules = BTreeMap<String, RuleText>;

/// The rules as compiled in. A test reads the file; should it ever be unreadable, nothing is doubted.
pub(crate) fn rules() -> &'static Rules {
    static RULES: LazyLock<Rules> = LazyLock::new(|| toml::from_str(TEXT).unwrap_or_default());
    &RULES
}

/// Where a rule is applied: the season's changes, the crop, the site and the kind of house.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Setting<'s> {
    pub changes: &'s [LimitChange],
    pub crop: &'s str,
    pub site: &'s str,
    /// Kind of the house, as declared; empty where the rows are of no single house.
    pub house: &'s str,
}

impl<'s> Setting<'s> {
    pub fn of(season: &'s Season, site: &'s str, house: &'s str) -> Self {
        Setting { changes: &season.doubts, crop: &season.crop, site, house }
    }

    /// The season's last word on a limit here; with no `name`, on the rule as a whole.
    fn change(&self, rule: &str, name: Option<&str>) -> Option<&'s LimitChange> {
        let here = |c: &&LimitChange| c.site.as_deref().is_none_or(|s| s == self.site);
        self.changes.iter().rev().filter(here).find(|c| c.rule == rule && c.limit.as_deref() == name)
    }

    pub fn is_off(&self, rule: &str) -> bool {
        self.change(rule, None).is_some()
    }

    /// The limit that holds here. One that the file does not have is not a number, which no value exceeds.
    pub fn limit(&self, rule: &str, name: &str) -> Limit {
        let of_file = plain(rule, name, self.crop, self.house);
        let none = || Limit { name: name.into(), value: f64::NAN, unit: String::new(), source: String::new(), crop: None, house: None };
        let limit = of_file.cloned().unwrap_or_else(none);
        match self.change(rule, Some(name)) {
            Some(change) => Limit { value: change.value, source: format!("the season's own limit: {}", change.reason), ..limit },
            None => limit,
        }
    }

    pub fn value(&self, rule: &str, name: &str) -> f64 {
        self.limit(rule, name).value
    }
}

/// The file's limit for a crop and a kind of house: the longest crop name that fits comes first.
pub(crate) fn plain(rule: &str, name: &str, crop: &str, house: &str) -> Option<&'static Limit> {
    let crop = crop.to_lowercase();
    let fits = |l: &&Limit| {
        l.name == name && l.crop.as_deref().is_none_or(|c| crop.contains(c)) && l.house.as_deref().is_none_or(|h| house.contains(h))
    };
    let near = |l: &&Limit| (l.crop.as_deref().map_or(0, str::len), usize::from(l.house.is_some()));
    rules().get(rule)?.limits.iter().filter(fits).max_by_key(near)
}

/// "2 to 45 °C (common practice, no source)": two limits of one unit in words.
pub(crate) fn between(low: &Limit, high: &Limit) -> String {
    let source = if low.source == high.source { low.source.clone() } else { format!("below: {}; above: {}", low.source, high.source) };
    let unit = if low.unit.is_empty() { String::new() } else { format!(" {}", low.unit) };
    format!("{} to {}{unit} ({source})", low.value, high.value)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn change(rule: &str, limit: Option<&str>, value: f64) -> LimitChange {
        LimitChange {
            rule: rule.into(),
            limit: limit.map(str::to_owned),
            value,
            site: Some("a".into()),
            reason: "shaded".into(),
            ..LimitChange::default()
        }
    }

    #[test]
    fn every_limit_of_the_file_is_a_number_with_a_source() {
        let rules: Rules = toml::from_str(TEXT).unwrap();
        assert!(rules.len() > 40);
        for (code, rule) in &rules {
            assert!(["climate", "root zone", "harvest"].contains(&rule.log.as_str()), "{code}");
            for l in &rule.limits {
                assert!(l.value.is_finite() && l.source.len() > 8, "{code} {}", l.name);
            }
        }
    }

    #[test]
    fn the_limit_of_the_longest_crop_name_holds_and_then_that_of_the_house() {
        let setting = Setting { crop: "Snack Pepper, red", house: "high tunnel", ..Setting::default() };
        assert_eq!(setting.value("heavier-than-count", "fruit"), 120.0);
        assert_eq!(Setting { crop: "pepper", ..setting }.value("heavier-than-count", "fruit"), 500.0);
        assert_eq!(setting.value("temperature-unusual", "above"), 53.0);
        assert_eq!(Setting { house: "glasshouse", ..setting }.value("temperature-unusual", "above"), 45.0);
        assert!(Setting { crop: "leek", ..setting }.value("heavier-than-count", "fruit").is_nan());
    }

    #[test]
    fn a_season_changes_a_limit_at_the_site_it_names_and_says_why() {
        let changes = [change("temperature-unusual", Some("above"), 50.0), change("gap", None, f64::NAN)];
        let here = Setting { changes: &changes, site: "a", ..Setting::default() };
        assert_eq!(here.value("temperature-unusual", "above"), 50.0);
        assert_eq!(here.limit("temperature-unusual", "above").source, "the season's own limit: shaded");
        assert_eq!(Setting { site: "b", ..here }.value("temperature-unusual", "above"), 45.0);
        assert!(here.is_off("gap") && !Setting { site: "b", ..here }.is_off("gap") && !here.is_off("temperature-unusual"));
    }
}
