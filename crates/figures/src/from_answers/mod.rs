//! Figures of the answers: means, differences, residual checks of every question.
mod differences;
mod means;
mod residuals;
#[cfg(test)]
mod tests;

use crate::drawing::{Caption, Drawing};
use crate::faults::FigureFault;
use crate::names::file_safe;
use crate::reader::{Reader, Scale};
use crate::wording::Wording;
use crosshouse_questions::answers::{Across, Answer, Answers, SiteAnswer, Space};
use crosshouse_trial::tables::TrialTables;

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

impl Told<'_> {
    fn caption(&self, kind: &str, title: String, finding: String) -> Caption {
        Caption { name: format!("{kind}-{}", self.stem), title, finding, table: format!("answers-{}-{kind}", self.stem) }
    }

    /// Confidence level, %, from the model file as fitted.
    fn level(&self) -> f64 {
        100.0 * self.answer.across.first().and_then(|a| stated(a, "level")).unwrap_or(0.95)
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
}

fn space_name(space: Space) -> &'static str {
    match space {
        Space::TheseSites => "at these sites",
        Space::SitesLikeThese => "at sites like these",
    }
}

/// A number of the `[estimation]` table of the model file as fitted.
fn stated(across: &Across, key: &str) -> Option<f64> {
    let table: toml::Table = across.model_toml.parse().ok()?;
    table.get("estimation")?.as_table()?.get(key)?.as_float()
}
