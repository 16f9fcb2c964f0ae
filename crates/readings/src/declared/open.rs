//! Open questions of a drafted file: a value `"?"`, with the question and its answers in the comment
//! above it. A file with one does not run until a person has put an answer in its place.
//!
//! ```toml
//! # ? unlisted: what does a unit without a line on a pick day mean?
//! #   seen     on 3 of 12 pick days some unit has no line
//! #   answers  "zero" (nothing was ripe) · "missed" (nobody came to it)
//! unlisted = "?"
//! ```
use super::{DeTable, DeValue};

/// What stands where an answer is due.
pub const OPEN: &str = "?";

/// One unanswered question.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Open {
    pub key: String,
    pub line: u32,
    /// As the comment asks it; empty where nobody wrote one.
    pub question: String,
    pub seen: String,
    pub answers: String,
}

impl Open {
    /// What was found, in a sentence.
    pub fn found(&self) -> String {
        match (self.question.is_empty(), self.seen.is_empty()) {
            (true, _) => "\"?\"".to_owned(),
            (false, true) => self.question.clone(),
            (false, false) => format!("{} (seen: {})", self.question, self.seen),
        }
    }

    pub fn expected(&self) -> String {
        if self.answers.is_empty() { "an answer".to_owned() } else { self.answers.clone() }
    }
}

pub(super) fn is_open(value: &DeValue<'_>) -> bool {
    value.as_str() == Some(OPEN)
}

/// Whether a value of the table, or of one below it, is unanswered.
pub(super) fn any(table: &DeTable<'_>) -> bool {
    let mut places = Vec::new();
    collect(table, &mut places);
    !places.is_empty()
}

/// Every unanswered value of the file, in the order of its lines.
pub(super) fn all(table: &DeTable<'_>, text: &str) -> Vec<Open> {
    let mut places = Vec::new();
    collect(table, &mut places);
    places.sort_by_key(|(_, at)| *at);
    let lines: Vec<&str> = text.lines().collect();
    let mut open = Vec::with_capacity(places.len());
    for (key, at) in places {
        let line = text.as_bytes().iter().take(at).filter(|b| **b == b'\n').count();
        let (question, seen, answers) = asked(&lines, line, &key);
        open.push(Open { key, line: line as u32 + 1, question, seen, answers });
    }
    open
}

fn collect(table: &DeTable<'_>, places: &mut Vec<(String, usize)>) {
    for (key, value) in table {
        match value.get_ref() {
            DeValue::Table(below) => collect(below, places),
            DeValue::Array(list) => {
                list.iter().filter_map(|v| v.get_ref().as_table()).for_each(|below| collect(below, places));
            }
            other if is_open(other) => places.push((key.get_ref().to_string(), value.span().start)),
            _ => {}
        }
    }
}

/// Question, evidence and answers of a key, from the comment lines right above line `at` (from 0).
fn asked(lines: &[&str], at: usize, key: &str) -> (String, String, String) {
    let above = lines.get(..at).unwrap_or_default();
    let length = above.iter().rev().take_while(|l| l.trim_start().starts_with('#')).count();
    let block = above.get(at.saturating_sub(length)..).unwrap_or_default();
    let (mut question, mut seen, mut answers) = (String::new(), String::new(), String::new());
    let (mut within, mut part) = (false, 0);
    for line in block {
        let text = line.trim_start().trim_start_matches('#').trim();
        let rest = if let Some(asked) = text.strip_prefix("? ") {
            let words = asked.strip_prefix(key).and_then(|r| r.trim_start().strip_prefix(':'));
            (within, part) = (words.is_some(), 0);
            words.unwrap_or("")
        } else if let Some(rest) = text.strip_prefix("seen ") {
            part = 1;
            rest
        } else if let Some(rest) = text.strip_prefix("answers ") {
            part = 2;
            rest
        } else {
            text
        };
        if within {
            let into = [&mut question, &mut seen, &mut answers];
            into.into_iter().nth(part).into_iter().for_each(|t| append(t, rest));
        }
    }
    (question, seen, answers)
}

fn append(text: &mut String, more: &str) {
    if !text.is_empty() && !more.trim().is_empty() {
        text.push(' ');
    }
    text.push_str(more.trim());
}

#[cfg(test)]
mod tests {
    use crate::Fault;
    use crate::declared::Declared;

    const DRAFT: &str = "[site]\nname = \"North\"\n# ? time_zone: which time zone is the site in?\n#   answers  an IANA name\ntime_zone = \"?\"\n[[harvest]]\nunlisted = \"?\"\n[harvest.columns]\n# ? lamp: light of which lamp?\n#   seen     lux, up to\n#            54000\n#   answers  \"sun and sky\" ·\n#            \"metal halide\"\n# ? unit: which unit?\n#   answers  \"lux\"\n\"L\" = { is = \"light\", unit = \"?\", lamp = \"?\" }\n";

    fn faults(text: &str) -> Vec<Fault> {
        let file = Declared::new("north.toml", text);
        let root = file.root();
        let site = root.table("site").unwrap();
        assert_eq!(site.text("name").as_deref(), Some("North"));
        site.text("time_zone");
        site.finish();
        file.into_faults()
    }

    #[test]
    fn every_open_question_is_told_with_its_line_its_evidence_and_its_answers() {
        let faults = faults(DRAFT);
        let told: Vec<_> = faults.iter().map(|f| (f.place.row.unwrap(), f.place.column.clone().unwrap(), f.code.as_str())).collect();
        assert_eq!(
            told,
            [
                (5, "time_zone".into(), "question-open"),
                (7, "unlisted".into(), "question-open"),
                (16, "unit".into(), "question-open"),
                (16, "lamp".into(), "question-open")
            ]
        );
        assert_eq!(faults[0].found, "which time zone is the site in?");
        assert_eq!(faults[1].found, "\"?\"");
        assert_eq!(faults[2].expected, "\"lux\"");
        assert_eq!(faults[3].found, "light of which lamp? (seen: lux, up to 54000)");
        assert_eq!(faults[3].expected, "\"sun and sky\" · \"metal halide\"");
        assert!(faults.iter().all(|f| f.fatal));
    }

    #[test]
    fn an_answered_file_has_no_open_question() {
        let text = DRAFT.replace("\"?\"", "\"x\"");
        assert!(faults(&text).is_empty());
        assert!(!Declared::new("north.toml", &text).root().has_open());
    }

    #[test]
    fn an_unanswered_value_is_read_as_absent_and_known_to_be_there() {
        let file = Declared::new("north.toml", DRAFT);
        let site = file.root().table("site").unwrap();
        assert_eq!((site.text("time_zone"), site.has("time_zone"), site.has_open()), (None, true, true));
    }

    #[test]
    fn a_question_mark_in_a_list_is_a_code_like_any_other() {
        let file = Declared::new("north.toml", "missing = [\"\", \"?\"]\n");
        assert_eq!(file.root().texts("missing").unwrap(), ["", "?"]);
        assert!(file.into_faults().is_empty());
    }
}
