//! What every part of the report needs at hand: the input, the wording, the file stems, and which tests the
//! design allows.
use crate::input::Input;
use crate::reader::{Reader, Scale};
use crate::words::Wording;
use crosshouse_logs::tables::Site;
use crosshouse_questions::answers::Answer;
use crosshouse_trial::tables::{DesignFinding, SiteTrial};

pub struct Context<'a> {
    pub input: &'a Input<'a>,
    pub words: Wording<'a>,
    /// One an answer, in order: the part of its file names and anchors that names it.
    pub stems: Vec<String>,
}

impl<'a> Context<'a> {
    pub fn new(input: &'a Input<'a>) -> Self {
        let declared = input.clean.sites.iter().map(|s| &s.site).map(|s| (s.id.as_str(), s.name.as_str()));
        let named = input.trial.sites.iter().map(|s| (s.site.as_str(), s.name.as_str()));
        let words = Wording::new(&input.trial.design, named.chain(declared));
        Context { input, words, stems: stems(input.answers.questions.iter().map(|a| a.id.as_str())) }
    }

    pub fn reader(&self) -> Reader {
        Reader::from_key(&self.input.season.reader_units).unwrap_or(Reader::Kilograms)
    }

    pub fn scale(&self, unit: &str) -> Scale {
        Scale::of(unit, self.reader())
    }

    /// The scale on which an answer was fitted, with its word: the response's own, or a link's.
    pub fn fitted_scale(&self, answer: &Answer) -> Scale {
        match &answer.likelihood {
            None => self.scale(&answer.unit),
            Some(l) if l.scale == "identity" => self.scale(&answer.unit),
            Some(l) => Scale { factor: 1.0, unit: format!("{} scale", l.scale), difference_unit: format!("{} scale", l.scale) },
        }
    }

    /// Answers with the stem of their files.
    pub fn answers(&self) -> impl Iterator<Item = (&'a Answer, &str)> {
        self.input.answers.questions.iter().zip(self.stems.iter().map(String::as_str))
    }

    /// What the sites declare, in the season file's order.
    pub fn declared(&self) -> impl Iterator<Item = &'a Site> {
        self.input.clean.sites.iter().map(|s| &s.site)
    }

    pub fn sites(&self) -> &'a [SiteTrial] {
        &self.input.trial.sites
    }

    /// Names of the treatment factors, in the season file's order.
    pub fn factors(&self) -> Vec<&'a str> {
        self.input.trial.design.factors.iter().map(|f| f.name.as_str()).collect()
    }

    /// Whether the design lets a comparison of `answer` over `sites` be tested.
    ///
    /// A factor given once a house, line or bench has no replicate of its unit of assignment in one site, and no p value
    /// of such a site is shown, whatever came in. Over several sites the sites themselves replicate it.
    pub fn testable(&self, answer: &Answer, sites: &[String]) -> bool {
        match sites {
            [site] => !self.unreplicated(answer).any(|f| covers(f, site)),
            _ => true,
        }
    }

    fn unreplicated<'b>(&'b self, answer: &'b Answer) -> impl Iterator<Item = &'b DesignFinding> {
        let concerns = |f: &&DesignFinding| f.factors.iter().any(|x| answer.compare.contains(x));
        let findings = self.input.trial.design.findings.iter();
        findings.filter(|f| f.code == "unreplicated-assignment").filter(concerns)
    }
}

fn covers(finding: &DesignFinding, site: &str) -> bool {
    finding.sites.is_empty() || finding.sites.iter().any(|s| s == site)
}

/// File-name-safe and distinct stems for the questions' identifiers.
fn stems<'b>(ids: impl Iterator<Item = &'b str>) -> Vec<String> {
    let mut taken: Vec<String> = Vec::new();
    for (index, id) in ids.enumerate() {
        let safe = slug(id);
        let name = if safe.is_empty() { format!("question-{}", index + 1) } else { safe };
        let mut stem = name.clone();
        let mut number = 2;
        while taken.contains(&stem) {
            stem = format!("{name}-{number}");
            number += 1;
        }
        taken.push(stem);
    }
    taken
}

/// Lower-case ASCII letters, digits and hyphens only: safe in file names, anchors and ids.
pub fn slug(text: &str) -> String {
    let mut out = String::new();
    for c in text.to_lowercase().chars() {
        match c {
            c if c.is_ascii_alphanumeric() => out.push(c),
            _ if !out.is_empty() && !out.ends_with('-') => out.push('-'),
            _ => {}
        }
    }
    out.truncate(80);
    out.trim_end_matches('-').to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_path_in_a_question_id_becomes_a_plain_name() {
        assert_eq!(slug("../../etc/passwd"), "etc-passwd");
        assert_eq!(slug("<script>"), "script");
    }

    #[test]
    fn two_questions_never_share_a_file() {
        assert_eq!(stems(["a", "A", "!"].into_iter()), ["a", "a-2", "question-3"]);
    }
}
