//! Means of a question: of what was asked, and of every treatment grown.
use super::Told;
use crate::drawing::Caption;
use crate::means::{FactorWords, MeanRow, MeanValue, MeansFigure, MeansPanel};
use crosshouse_questions::answers::{AsCounted, Mean};

/// Panels with the levels behind each row, before absent rows are filled in.
type Panels<'a> = Vec<(String, Option<&'a str>, Rows<'a>)>;
type Rows<'a> = Vec<(Vec<String>, &'a Mean)>;

impl Told<'_> {
    /// Means of what was asked, site by site, then across sites.
    pub(super) fn means(&self) -> MeansFigure {
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
    pub(super) fn cells(&self) -> Option<MeansFigure> {
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
        let filled = |(title, site, rows): (String, Option<&str>, Rows)| {
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
            notes: self.answer.likelihood.iter().flat_map(|l| l.quantities.first()).cloned().collect(),
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
        let told = mean.published();
        MeanValue::Told { estimate: shown(told.estimate), low: shown(told.low), high: shown(told.high), letters: mean.letters.clone() }
    }

    /// "0 of 12 counted": a cell that no model can tell of, since nothing or everything was counted.
    fn as_counted(&self, site: &str, factors: &[String], levels: &[String]) -> Option<String> {
        let cells = self.answer.likelihood.iter().flat_map(|l| &l.as_counted).filter(|c| c.left_out && c.site.as_deref() == Some(site));
        let is_it = |c: &&AsCounted| factors.len() == c.of.len() && factors.iter().zip(levels).all(|(f, l)| c.of.get(f) == Some(l));
        let number = |x: f64| crate::numbers::fixed(x, if x.fract().abs() < 1e-9 { 0 } else { 1 });
        cells.clone().find(is_it).map(|c| format!("{} of {} counted", number(c.number), number(c.out_of)))
    }

    /// Not grown at the site, or grown and yet not told.
    fn absent(&self, site: Option<&str>, factors: &[String], levels: &[String]) -> MeanValue {
        let grown = |site: &str| {
            let has = |cell: &crosshouse_trial::tables::Cell| {
                cell.site == site && factors.iter().zip(levels).all(|(f, l)| l.is_empty() || cell.levels.get(f) == Some(l))
            };
            self.trial.design.cells.iter().any(has)
        };
        let counted = site.and_then(|s| self.as_counted(s, factors, levels));
        let why = counted.unwrap_or_else(|| if site.is_none_or(grown) { "cannot be told".into() } else { "not grown".into() });
        MeanValue::NotTold { why }
    }
}

/// The level of each factor in the mean; empty where it was averaged over.
fn levels_of(mean: &Mean, factors: &[String]) -> Vec<String> {
    factors.iter().map(|f| mean.of.get(f).or_else(|| mean.within.get(f)).cloned().unwrap_or_default()).collect()
}
