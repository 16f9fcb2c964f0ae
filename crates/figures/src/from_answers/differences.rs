//! Differences of a question, those that cannot be told among them.
use super::Told;
use crate::differences::{DifferenceGroup, DifferenceRow, DifferenceValue, DifferencesFigure, RowKind};
use crosshouse_questions::answers::{Across, CannotTell, Difference, Levels, Quantity, Space};

/// Above so many comparisons a figure shows them across sites only.
const COMPARISONS_BY_SITE: usize = 8;

impl Told<'_> {
    /// A group a comparison, or lists where comparisons are many.
    pub(super) fn differences(&self) -> DifferencesFigure {
        let asked = self.asked();
        let groups = if asked.len() <= COMPARISONS_BY_SITE { asked.iter().map(|a| self.group(a)).collect() } else { self.lists(&asked) };
        let (below, above) = self.directions(&asked);
        let quantity = self.quantity();
        let mut notes: Vec<String> = self.answer.likelihood.iter().flat_map(|l| l.quantities.last()).cloned().collect();
        if asked.len() > COMPARISONS_BY_SITE && !self.answer.across.is_empty() {
            notes.push("Site by site the differences stand in the table.".into());
        }
        DifferencesFigure {
            caption: self.caption("differences", self.differences_title(quantity), self.answer.headline.clone()),
            // The unit, percentage points, says that the difference is of shares.
            quantity: if quantity == Quantity::DifferenceOfShares { "difference".into() } else { quantity.words().into() },
            ratios: quantity.is_ratio(),
            response: self.answer.response_label.clone(),
            unit: self.scale.difference_unit.clone(),
            level: self.level(),
            adjusted: self.adjusted(),
            // A margin is of a difference in the response's unit.
            margin: self.answer.margin.map(|m| m * self.scale.factor).filter(|_| !quantity.is_ratio()),
            below,
            above,
            groups,
            notes,
            ..DifferencesFigure::default()
        }
    }

    /// What the published differences are; where none is told, what they would be.
    fn quantity(&self) -> Quantity {
        let all = self.answer.across.iter().flat_map(|a| &a.differences).chain(self.answer.by_site.iter().flat_map(|s| &s.differences));
        let told = all.map(|d| d.published().quantity).next();
        told.unwrap_or(match self.answer.likelihood.as_ref().map(|l| l.scale.as_str()) {
            Some("log") => Quantity::Ratio,
            Some("logit") => Quantity::DifferenceOfShares,
            Some("sqrt") => Quantity::DifferenceOfSquaredRoots,
            _ => Quantity::Difference,
        })
    }

    fn differences_title(&self, quantity: Quantity) -> String {
        let label = &self.answer.response_label;
        if quantity.is_ratio() { format!("Ratios of {label}") } else { format!("Differences in {label}") }
    }

    /// Comparisons told or refused anywhere, in order of appearance.
    fn asked(&self) -> Vec<Asked> {
        let mut asked: Vec<Asked> = Vec::new();
        let across = self.answer.across.iter().flat_map(|a| &a.differences);
        let by_site = self.answer.by_site.iter().flat_map(|s| &s.differences);
        let told = across.chain(by_site).map(Asked::of);
        let refused = self.refusals().filter(|c| !c.of.is_empty() && !c.minus.is_empty()).map(Asked::refused);
        for one in told.chain(refused) {
            if !asked.contains(&one) {
                asked.push(one);
            }
        }
        asked
    }

    fn refusals(&self) -> impl Iterator<Item = &CannotTell> {
        self.answer.by_site.iter().flat_map(|s| &s.cannot_tell).chain(&self.answer.cannot_tell).filter(|c| c.what != "mean")
    }

    /// One comparison: sites, then across them.
    fn group(&self, asked: &Asked) -> DifferenceGroup {
        let mut rows: Vec<DifferenceRow> = Vec::new();
        for site in &self.answer.by_site {
            let told = site.differences.iter().find(|d| asked.is(d)).map(|d| self.value(d));
            let refused = || refusal(&site.cannot_tell, asked).or_else(|| site.cannot_tell.first()).map(cannot_be_told);
            rows.extend(told.or_else(refused).map(|value| DifferenceRow { label: self.site_name(site), of: RowKind::Site, value }));
        }
        let told = |a: &Across| a.differences.iter().find(|d| asked.is(d)).map(|d| across_row(self.space(a), a.space, self.value(d)));
        let across: Vec<DifferenceRow> = self.answer.across.iter().filter_map(told).collect();
        if across.is_empty() {
            let overall: Vec<&CannotTell> = self.answer.cannot_tell.iter().filter(|c| c.sites.len() != 1).collect();
            let refused = overall.into_iter().find(|c| asked.is_refused(c) || c.of.is_empty());
            rows.extend(refused.map(|c| DifferenceRow { label: "across sites".into(), of: RowKind::TheseSites, value: cannot_be_told(c) }));
        }
        rows.extend(across);
        DifferenceGroup { title: self.title(asked), rows }
    }

    /// "blend − perlite (container: bucket)"
    fn title(&self, asked: &Asked) -> String {
        let minus = if asked.minus.is_empty() { "the average".to_owned() } else { self.words.levels(&asked.minus) };
        let sign = if self.quantity().is_ratio() { "/" } else { "−" };
        let pair = format!("{} {sign} {minus}", self.words.levels(&asked.of));
        let within: Vec<String> =
            asked.within.iter().map(|(f, l)| format!("{}: {}", self.words.factor(f), self.words.level(f, l))).collect();
        if within.is_empty() { pair } else { format!("{pair} ({})", within.join(", ")) }
    }

    /// Many comparisons: a list an inference space, or a list a site where there is none.
    fn lists(&self, asked: &[Asked]) -> Vec<DifferenceGroup> {
        let list = |title: String, differences: &[Difference], refused: &[CannotTell]| {
            let value = |a: &Asked| {
                let told = differences.iter().find(|d| a.is(d)).map(|d| self.value(d));
                told.or_else(|| refusal(refused, a).map(cannot_be_told))
            };
            let row = |a: &Asked| value(a).map(|value| DifferenceRow { label: self.title(a), of: RowKind::Site, value });
            DifferenceGroup { title, rows: asked.iter().filter_map(row).collect() }
        };
        let across = self.answer.across.iter().filter(|a| !a.differences.is_empty());
        let lists: Vec<DifferenceGroup> = across.map(|a| list(self.space(a), &a.differences, &self.answer.cannot_tell)).collect();
        if !lists.is_empty() {
            return lists;
        }
        self.answer.by_site.iter().map(|s| list(self.site_name(s), &s.differences, &s.cannot_tell)).collect()
    }

    /// The adjusted interval where there is one.
    fn value(&self, d: &Difference) -> DifferenceValue {
        let d = d.published();
        let (low, high) = (d.low_adjusted.unwrap_or(d.low), d.high_adjusted.unwrap_or(d.high));
        let shown = |v: f64| if d.quantity.is_ratio() { v } else { v * self.scale.factor };
        DifferenceValue::Told { estimate: shown(d.estimate), low: shown(low), high: shown(high) }
    }

    fn adjusted(&self) -> String {
        let all = self.answer.across.iter().flat_map(|a| &a.differences).chain(self.answer.by_site.iter().flat_map(|s| &s.differences));
        let key = all.filter(|d| d.low_adjusted.is_some()).map(|d| d.adjust.as_str()).find(|a| !a.is_empty() && *a != "none");
        key.map_or(String::new(), |k| format!("adjusted for the number of comparisons ({})", adjustment(k)))
    }

    /// Words for the sides of zero, where all comparisons are of one pair.
    fn directions(&self, asked: &[Asked]) -> (String, String) {
        let Some(first) = asked.first().filter(|f| asked.iter().all(|a| a.of == f.of && a.minus == f.minus)) else {
            return (String::new(), String::new());
        };
        let side = |levels: &Levels| format!("higher with {}", self.words.levels(levels));
        (side(&first.minus), side(&first.of))
    }
}

/// A comparison, whether told or refused.
#[derive(Debug, Clone, PartialEq)]
struct Asked {
    of: Levels,
    minus: Levels,
    within: Levels,
}

impl Asked {
    fn of(d: &Difference) -> Asked {
        Asked { of: d.of.clone(), minus: d.minus.clone(), within: d.within.clone() }
    }

    fn refused(c: &CannotTell) -> Asked {
        Asked { of: c.of.clone(), minus: c.minus.clone(), within: c.within.clone() }
    }

    fn is(&self, d: &Difference) -> bool {
        self.of == d.of && self.minus == d.minus && self.within == d.within
    }

    fn is_refused(&self, c: &CannotTell) -> bool {
        self.of == c.of && self.minus == c.minus && self.within == c.within
    }
}

fn refusal<'c>(all: &'c [CannotTell], asked: &Asked) -> Option<&'c CannotTell> {
    all.iter().find(|c| asked.is_refused(c))
}

/// The first clause of the reason: the whole stands in the report.
fn cannot_be_told(c: &CannotTell) -> DifferenceValue {
    let why = c.why.split(&[';', ':'][..]).next().unwrap_or_default().split(". ").next().unwrap_or_default();
    DifferenceValue::CannotBeTold { why: why.trim().trim_end_matches('.').into() }
}

fn across_row(label: String, space: Space, value: DifferenceValue) -> DifferenceRow {
    let of = match space {
        Space::TheseSites => RowKind::TheseSites,
        Space::SitesLikeThese => RowKind::SitesLikeThese,
    };
    DifferenceRow { label, of, value }
}

fn adjustment(key: &str) -> &str {
    match key {
        "tukey" => "Tukey–Kramer",
        "dunnett" => "Dunnett",
        "holm" => "Holm",
        "bonferroni" => "Bonferroni",
        "sidak" => "Šidák",
        "joint" => "joint distribution of the differences",
        other => other,
    }
}
