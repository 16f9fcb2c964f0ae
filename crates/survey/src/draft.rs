//! A drafted declaration: lines with their evidence, and the questions that only a person can answer.
use std::fmt::Write;

/// How sure a line is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Sure {
    /// Every cell says so, and nothing else would fit.
    Sure,
    /// Harmless if wrong, or told by one sign alone: to be looked at.
    Likely,
}

/// Something that the files do not show.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Question {
    pub key: String,
    pub ask: String,
    /// What the files show of it.
    pub seen: String,
    /// As they are to be written, each with what it means.
    pub answers: Vec<(String, String)>,
}

/// One line of the file.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Line {
    pub text: String,
    pub sure: Option<Sure>,
    pub because: String,
    pub questions: Vec<Question>,
    /// For the summary; empty: not told there.
    pub said: String,
}

/// A table of the file.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Section {
    /// `[[harvest]]`; empty: comments alone.
    pub head: String,
    pub intro: Vec<String>,
    pub lines: Vec<Line>,
}

/// All that belongs to one log, or to the site: its sections, and a sentence for the summary.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Chapter {
    pub title: String,
    pub sections: Vec<Section>,
}

impl Question {
    pub fn new(key: &str, ask: impl Into<String>, seen: impl Into<String>) -> Self {
        Question { key: key.to_owned(), ask: ask.into(), seen: seen.into(), answers: Vec::new() }
    }

    /// Adds an answer in quotes.
    pub fn or(mut self, answer: &str, meaning: impl Into<String>) -> Self {
        self.answers.push((quoted(answer), meaning.into()));
        self
    }

    /// Adds an answer as it stands: a number, a date, a hint.
    pub fn or_plain(mut self, answer: impl Into<String>, meaning: impl Into<String>) -> Self {
        self.answers.push((answer.into(), meaning.into()));
        self
    }

    pub fn or_each<'a>(self, answers: impl IntoIterator<Item = &'a str>) -> Self {
        answers.into_iter().fold(self, |q, a| q.or(a, ""))
    }

    /// `"zero" (nothing was ripe) · "missed" (nobody came to it)`
    pub fn answers_in_words(&self) -> String {
        let one = |(answer, meaning): &(String, String)| if meaning.is_empty() { answer.clone() } else { format!("{answer} ({meaning})") };
        self.answers.iter().map(one).collect::<Vec<_>>().join(" · ")
    }
}

impl Line {
    pub fn sure(text: impl Into<String>, because: impl Into<String>) -> Self {
        Line { text: text.into(), sure: Some(Sure::Sure), because: because.into(), ..Line::default() }
    }

    pub fn likely(text: impl Into<String>, because: impl Into<String>) -> Self {
        Line { text: text.into(), sure: Some(Sure::Likely), because: because.into(), ..Line::default() }
    }

    pub fn plain(text: impl Into<String>) -> Self {
        Line { text: text.into(), ..Line::default() }
    }

    /// A key whose value only a person knows.
    pub fn asked(question: Question) -> Self {
        Line { text: format!("{} = \"?\"", key(&question.key)), questions: vec![question], ..Line::default() }
    }

    pub fn saying(mut self, said: impl Into<String>) -> Self {
        self.said = said.into();
        self
    }
}

impl Section {
    pub fn new(head: impl Into<String>) -> Self {
        Section { head: head.into(), ..Section::default() }
    }

    pub fn push(&mut self, line: Line) {
        self.lines.push(line);
    }
}

/// A text as TOML writes it.
pub(crate) fn quoted(text: &str) -> String {
    let mut out = String::with_capacity(text.len() + 2);
    out.push('"');
    for c in text.chars() {
        match c {
            '"' | '\\' => {
                out.push('\\');
                out.push(c);
            }
            '\n' => out.push_str("\\n"),
            '\t' => out.push_str("\\t"),
            c if c.is_control() => {
                let _ = write!(out, "\\u{:04X}", c as u32);
            }
            c => out.push(c),
        }
    }
    out.push('"');
    out
}

/// A key, in quotes where it needs them.
pub(crate) fn key(text: &str) -> String {
    let bare = !text.is_empty() && text.chars().all(|c| c.is_ascii_alphanumeric() || matches!(c, '_' | '-'));
    if bare { text.to_owned() } else { quoted(text) }
}

pub(crate) fn list(texts: &[String]) -> String {
    format!("[{}]", texts.iter().map(|t| quoted(t)).collect::<Vec<_>>().join(", "))
}

/// 2880 as "2,880".
pub(crate) fn many(n: usize) -> String {
    let digits = n.to_string();
    let mut out = String::new();
    for (i, c) in digits.chars().enumerate() {
        if i > 0 && (digits.len() - i).is_multiple_of(3) {
            out.push(',');
        }
        out.push(c);
    }
    out
}

/// Some words of many, in quotes.
pub(crate) fn some<'a>(words: impl IntoIterator<Item = &'a str>, most: usize) -> String {
    let all: Vec<String> = words.into_iter().map(|w| format!("\"{w}\"")).collect();
    let shown = all.iter().take(most).cloned().collect::<Vec<_>>().join(", ");
    if all.len() > most { format!("{shown} and {} more", all.len() - most) } else { shown }
}
