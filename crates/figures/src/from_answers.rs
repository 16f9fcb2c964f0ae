//! Figures of the answers: means, differences, residual checks of every question.
use crate::differences::{DifferenceGroup, DifferenceRow, DifferenceValue, DifferencesFigure, RowKind};
use crate::drawing::{Caption, Drawing};
use crate::faults::FigureFault;
use crate::means::{FactorWords, MeanRow, MeanValue, MeansFigure, MeansPanel};
use crate::names::file_safe;
use crate::reader::{Reader, Scale};
use crate::residuals::{ResidualPoint, ResidualsFigure};
use crate::wording::Wording;
use crosshouse_questions::answers::{Across, Answer, Answers, CannotTell, Difference, Levels, Mean, SiteAnswer, Space};
use crosshouse_trial::tables::TrialTables;

/// Above so many comparisons a figure shows them across sites only.
const COMPARISONS_BY_SITE: usize = 8;

/// The drawings of all answers, question by question.
pub fn drawings(answers: &Answers, trial: &TrialTables, reader: Reader) -> Result<Vec<Drawing>, FigureFault> {
    let mut stems: Vec<String> = Vec::new();
    let mut all = Vec::new();
    for (i, answer) in answers.questions.iter().enumerate() {
        let stem = stem(&answer.id, i, &stems);
        let of = Told { answer, trial, words: Wording::of(trial), scale: Scale::of(&answer.unit, reader), stem: stem.clone() };
        stems.push(stem);
        all.extend(of.differences().draw()?);
        all.extend(of.means().draw()?);
        if let Some(cells) = of.cells().filter(|_| !shown_elsewhere(answers, i)) {
            all.extend(cells.draw()?);
        }
        all.extend(of.residuals().draw()?);
    }
    Ok(all)
}

/// Whether an earlier question has shown every treatment of the same response, or another asks for just that.
fn shown_elsewhere(answers: &Answers, index: usize) -> bool {
    let Some(answer) = answers.questions.get(index) else { return true };
    let varies = |a: &Answer| a.by_site.iter().flat_map(|s| &s.cells).map(|m| m.of.len()).max().unwrap_or(0);
    let all = varies(answer);
    let same = |(i, other): (usize, &Answer)| {
        let asked = other.compare.len() + other.within.len();
        i != index && other.response == answer.response && (asked == all || (i < index && varies(other) == all))
    };
    answers.questions.iter().enumerate().any(same)
}

/// The part of file names that names the question, as the report's tables have it.
fn stem(id: &str, index: usize, taken: &[String]) -> String {
    let name = if id.chars().any(|c| c.is_ascii_alphanumeric()) { file_safe(id) } else { format!("question-{}", index + 1) };
    let numbered = (2..).map(|n| format!("{name}-{n}"));
    std::iter::once(name.clone()).chain(numbered).find(|n| !taken.contains(n)).unwrap_or_default()
}

/// One answer with what is needed to word it.
struct Told<'a> {
    answer: &'a Answer,
    trial: &'a TrialTables,
    words: Wording<'a>,
    scale: Scale,
    stem: String,
}

/// Panels with the levels behind each row, before absent rows are filled in.
type Panels<'a> = Vec<(String, Option<&'a str>, Vec<(Vec<String>, &'a Mean)>)>;

impl Told<'_> {
    fn caption(&self, kind: &str, title: String, finding: String) -> Caption {
        Caption { name: format!("{kind}-{}", self.stem), title, finding, table: format!("answers-{}-{kind}", self.stem) }
    }

    /// Confidence level, %, from the model file as fitted.
    fn level(&self) -> f64 {
        100.0 * self.answer.across.first().and_then(|a| stated(a, "level")).unwrap_or(0.95)
    }

    /// Means of what was asked, site by site, then across sites.
    fn means(&self) -> MeansFigure {
        let factors: Vec<String> = self.answer.compare.iter().chain(&self.answer.within).cloned().collect();
        let mut panels: Panels = Vec::new();
        for site in &self.answer.by_site {
            panels.push((self.site_name(site), Some(&site.site), site.means.iter().map(|m| (levels_of(m, &factors), m)).collect()));
        }
        for across in &self.answer.across {
            panels.push((self.space(across), None, across.means.iter().map(|m| (levels_of(m, &factors), m)).collect()));
        }
        let title = format!("Adjusted means of {}", self.answer.response_label);
        self.means_figure(self.caption("means", title, String::new()), &factors, panels)
    }

    /// Means of every cell grown, where more factors vary than were asked about.
    fn cells(&self) -> Option<MeansFigure> {
        let mut factors: Vec<String> = self.answer.by_site.iter().flat_map(|s| &s.cells).flat_map(|m| m.of.keys().cloned()).collect();
        factors.sort_by_key(|f| (self.words.rank(f), f.clone()));
        factors.dedup();
        if factors.len() <= self.answer.compare.len() + self.answer.within.len() {
            return None;
        }
        let panels: Panels = self
            .answer
            .by_site
            .iter()
            .map(|s| (self.site_name(s), Some(s.site.as_str()), s.cells.iter().map(|m| (levels_of(m, &factors), m)).collect()))
            .collect();
        let title = format!("Adjusted means of {} of every treatment", self.answer.response_label);
        let caption = Caption { name: format!("means-{}-treatments", self.stem), ..self.caption("means", title, String::new()) };
        Some(self.means_figure(caption, &factors, panels))
    }

    fn means_figure(&self, caption: Caption, factors: &[String], panels: Panels) -> MeansFigure {
        let mut seen: Vec<Vec<String>> = panels.iter().flat_map(|(_, _, rows)| rows.iter().map(|r| r.0.clone())).collect();
        seen.sort();
        seen.dedup();
        let filled = |(title, site, rows): (String, Option<&str>, Vec<(Vec<String>, &Mean)>)| {
            let row = |levels: &Vec<String>| MeanRow {
                levels: factors.iter().zip(levels).map(|(f, l)| self.level_words(f, l)).collect(),
                value: rows.iter().find(|r| r.0 == *levels).map_or_else(|| self.absent(site, factors, levels), |r| self.told(r.1)),
            };
            MeansPanel { title, rows: seen.iter().map(row).collect() }
        };
        let mut figure = MeansFigure {
            caption,
            response: self.answer.response_label.clone(),
            unit: self.scale.unit.clone(),
            level: self.level(),
            panels: panels.into_iter().map(filled).collect(),
            ..MeansFigure::default()
        };
        figure.factors = factors.iter().enumerate().map(|(i, f)| self.factor_words(f, i, &figure.panels)).collect();
        figure
    }

    /// The factor's levels as declared, then what else the rows hold.
    fn factor_words(&self, factor: &str, index: usize, panels: &[MeansPanel]) -> FactorWords {
        let held: Vec<&String> = panels.iter().flat_map(|p| &p.rows).filter_map(|r| r.levels.get(index)).collect();
        let mut levels: Vec<String> = self.words.levels_of(factor);
        levels.retain(|l| held.contains(&l));
        for level in held {
            if !levels.contains(level) {
                levels.push(level.clone());
            }
        }
        FactorWords { label: self.words.factor(factor), levels }
    }

    fn level_words(&self, factor: &str, level: &str) -> String {
        if level.is_empty() { "average".into() } else { self.words.level(factor, level) }
    }

    fn told(&self, mean: &Mean) -> MeanValue {
        let shown = |v: f64| v * self.scale.factor;
        MeanValue::Told { estimate: shown(mean.estimate), low: shown(mean.low), high: shown(mean.high), letters: mean.letters.clone() }
    }

    /// Not grown at the site, or grown and yet not told.
    fn absent(&self, site: Option<&str>, factors: &[String], levels: &[String]) -> MeanValue {
        let grown = |site: &str| {
            let has = |cell: &crosshouse_trial::tables::Cell| {
                cell.site == site && factors.iter().zip(levels).all(|(f, l)| l.is_empty() || cell.levels.get(f) == Some(l))
            };
            self.trial.design.cells.iter().any(has)
        };
        let why = if site.is_none_or(grown) { "cannot be told" } else { "not grown" };
        MeanValue::NotTold { why: why.into() }
    }

    /// "at these sites"; with their names where several answers are each at some of the sites.
    fn space(&self, across: &Across) -> String {
        let alike = self.answer.across.iter().filter(|a| a.space == across.space).count();
        if alike < 2 {
            return space_name(across.space).into();
        }
        let names: Vec<String> = across.sites.iter().map(|s| self.words.site(s)).collect();
        match across.space {
            Space::TheseSites => format!("at {}", names.join(", ")),
            Space::SitesLikeThese => format!("at sites like {}", names.join(", ")),
        }
    }

    fn site_name(&self, site: &SiteAnswer) -> String {
        if site.name.is_empty() { self.words.site(&site.site) } else { site.name.clone() }
    }

    /// A group a comparison, or lists where comparisons are many.
    fn differences(&self) -> DifferencesFigure {
        let asked = self.asked();
        let groups = if asked.len() <= COMPARISONS_BY_SITE {
            asked.iter().map(|a| self.group(a)).collect()
        } else {
            self.lists(&asked)
        };
        let (below, above) = self.directions(&asked);
        let mut notes = Vec::new();
        if asked.len() > COMPARISONS_BY_SITE && !self.answer.across.is_empty() {
            notes.push("Site by site the differences stand in the table.".into());
        }
        DifferencesFigure {
            caption: self.caption("differences", format!("Differences in {}", self.answer.response_label), self.answer.headline.clone()),
            response: self.answer.response_label.clone(),
            unit: self.scale.difference_unit.clone(),
            level: self.level(),
            adjusted: self.adjusted(),
            margin: self.answer.margin.map(|m| m * self.scale.factor),
            below,
            above,
            groups,
            notes,
            ..DifferencesFigure::default()
        }
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
        let pair = format!("{} − {}", self.words.levels(&asked.of), self.words.levels(&asked.minus));
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
        let lists: Vec<DifferenceGroup> =
            across.map(|a| list(self.space(a), &a.differences, &self.answer.cannot_tell)).collect();
        if !lists.is_empty() {
            return lists;
        }
        self.answer.by_site.iter().map(|s| list(self.site_name(s), &s.differences, &s.cannot_tell)).collect()
    }

    /// The adjusted interval where there is one.
    fn value(&self, d: &Difference) -> DifferenceValue {
        let (low, high) = (d.low_adjusted.unwrap_or(d.low), d.high_adjusted.unwrap_or(d.high));
        let shown = |v: f64| v * self.scale.factor;
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

    /// Of the first fit that has them.
    fn residuals(&self) -> ResidualsFigure {
        let across = self.answer.across.iter().find(|a| !a.residuals.is_empty());
        let rows = across.map_or(&[][..], |a| a.residuals.as_slice());
        let keys: Vec<&str> = self.trial.sites.iter().map(|s| s.site.as_str()).filter(|s| rows.iter().any(|r| r.site == *s)).collect();
        let normal = across.is_none_or(|a| !a.model_toml.contains("family = \"") || a.model_toml.contains("family = \"normal\""));
        let model = || "scale of the model".to_string();
        let (factor, unit, residual_unit) = if normal {
            (self.scale.factor, self.scale.unit.clone(), self.scale.difference_unit.clone())
        } else {
            (1.0, model(), model())
        };
        let point = |r: &crosshouse_questions::answers::Residual| {
            let site = keys.iter().position(|k| *k == r.site)?;
            Some(ResidualPoint { site, fitted: r.fitted * factor, residual: r.residual * factor })
        };
        ResidualsFigure {
            caption: self.caption("residuals", format!("Residual checks of {}", self.answer.response_label), String::new()),
            response: self.answer.response_label.clone(),
            unit,
            residual_unit,
            points: rows.iter().filter_map(point).collect(),
            sites: keys.iter().map(|k| self.words.site(k)).collect(),
            ..ResidualsFigure::default()
        }
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

fn space_name(space: Space) -> &'static str {
    match space {
        Space::TheseSites => "at these sites",
        Space::SitesLikeThese => "at sites like these",
    }
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

/// The level of each factor in the mean; empty where it was averaged over.
fn levels_of(mean: &Mean, factors: &[String]) -> Vec<String> {
    factors.iter().map(|f| mean.of.get(f).or_else(|| mean.within.get(f)).cloned().unwrap_or_default()).collect()
}

/// A number of the `[estimation]` table of the model file as fitted.
fn stated(across: &Across, key: &str) -> Option<f64> {
    let table: toml::Table = across.model_toml.parse().ok()?;
    table.get("estimation")?.as_table()?.get(key)?.as_float()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::inspection::printed;
    use crosshouse_trial::tables::{Cell, Design, Factor, SiteTrial};

    fn levels(pairs: &[(&str, &str)]) -> Levels {
        pairs.iter().map(|(f, l)| ((*f).to_string(), (*l).to_string())).collect()
    }

    fn trial() -> TrialTables {
        let site = |key: &str, name: &str| SiteTrial {
            site: key.into(),
            name: name.into(),
            transplanted: None,
            ended: None,
            first_pick: None,
            last_pick: None,
            pick_days: 0,
            units: vec![],
            weeks: vec![],
            states: vec![],
            cumulative: vec![],
            houses: vec![],
            zones: vec![],
            water: vec![],
        };
        let factor = Factor {
            name: "medium".into(),
            label: "growing medium".into(),
            levels: vec!["perlite".into(), "blend".into()],
            level_labels: [("blend".to_string(), "coir blend".to_string())].into(),
            unit_of_assignment: "unit".into(),
        };
        let cell = |site: &str, medium: &str| Cell { site: site.into(), levels: levels(&[("medium", medium)]), units: 4, blocks: 4, plants: 8 };
        TrialTables {
            sites: vec![site("tarn", "Tarn <b>Hollow"), site("withy", "Withy End")],
            design: Design {
                factors: vec![factor],
                cells: vec![cell("tarn", "perlite"), cell("tarn", "blend"), cell("withy", "perlite")],
                ..Design::default()
            },
            ..TrialTables::default()
        }
    }

    fn mean(medium: &str, estimate: f64) -> Mean {
        let of = levels(&[("medium", medium)]);
        let (low, high) = (estimate - 0.5, estimate + 0.5);
        Mean { of, within: Levels::new(), estimate, se: 0.2, df: Some(9.0), low, high, letters: None, units: 4, raw_mean: None }
    }

    fn difference() -> Difference {
        Difference {
            of: levels(&[("medium", "blend")]),
            minus: levels(&[("medium", "perlite")]),
            within: Levels::new(),
            estimate: 1.0,
            se: 0.2,
            df: Some(9.0),
            low: 0.5,
            high: 1.5,
            p: None,
            p_adjusted: None,
            low_adjusted: None,
            high_adjusted: None,
            adjust: "none".into(),
            margin: None,
            p_equivalent: None,
        }
    }

    fn answers() -> Answers {
        let refused = CannotTell {
            what: "difference".into(),
            of: difference().of,
            minus: difference().minus,
            within: Levels::new(),
            sites: vec!["withy".into()],
            lacking: vec![],
            why: "Withy End did not grow coir blend; it grew perlite".into(),
            mend: String::new(),
        };
        let site = |site: &str, means, differences, cannot_tell| SiteAnswer { site: site.into(), name: String::new(), means, differences, cells: vec![], cannot_tell };
        let answer = Answer {
            id: "blend".into(),
            ask: "does the blend hold up?".into(),
            response: "marketable-yield-per-plant".into(),
            response_label: "marketable yield".into(),
            unit: "kg per plant".into(),
            compare: vec!["medium".into()],
            within: vec![],
            margin: Some(0.3),
            headline: "One kilogram more.".into(),
            cannot_tell: vec![],
            across: vec![],
            by_site: vec![
                site("tarn", vec![mean("perlite", 5.0), mean("blend", 6.0)], vec![difference()], vec![]),
                site("withy", vec![], vec![], vec![refused]),
            ],
            units_used: vec![],
            without_flagged: None,
            cautions: vec![],
        };
        Answers { questions: vec![answer.clone(), answer] }
    }

    fn drawn(reader: Reader) -> Vec<Drawing> {
        drawings(&answers(), &trial(), reader).unwrap()
    }

    fn has(drawing: &Drawing, text: &str) -> bool {
        printed(drawing).iter().any(|t| t.text == text)
    }

    #[test]
    fn figures_bear_the_stem_of_their_question_and_name_its_tables() {
        let names: Vec<(String, String)> = drawn(Reader::Kilograms).into_iter().map(|d| (d.name, d.table)).collect();
        let pair = |a: &str, b: &str| (a.to_string(), b.to_string());
        assert_eq!(
            names,
            [
                pair("differences-blend", "answers-blend-differences"),
                pair("means-blend", "answers-blend-means"),
                pair("differences-blend-2", "answers-blend-2-differences"),
                pair("means-blend-2", "answers-blend-2-means"),
            ]
        );
    }

    #[test]
    fn a_site_that_cannot_tell_keeps_its_row_with_the_reason() {
        let all = drawn(Reader::Kilograms);
        assert!(has(&all[0], "Withy End") && has(&all[0], "cannot be told: Withy End did not grow coir blend"));
        assert!(has(&all[0], "1.00 (0.50 to 1.50)"));
        assert_eq!(all[0].finding, "One kilogram more.");
    }

    #[test]
    fn a_medium_not_grown_at_a_site_is_told_from_one_without_an_answer() {
        let all = drawn(Reader::Kilograms);
        assert!(has(&all[1], "not grown") && has(&all[1], "cannot be told"));
        assert!(has(&all[1], "Tarn <b>Hollow"));
    }

    #[test]
    fn a_reader_in_pounds_gets_pounds() {
        let all = drawn(Reader::Pounds);
        assert!(has(&all[0], "2.2 (1.1 to 3.3)"));
        assert!(all[1].alt.contains("lb per plant"));
    }
}
