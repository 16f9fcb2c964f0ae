//! The draft in sentences: what each file is, what is sure, what is to be looked at, what is asked.
use crate::draft::{Chapter, Line, Sure};
use crate::layout::is_sure;
use crate::write::plain;

pub(crate) fn text(chapters: &[Chapter]) -> String {
    let mut text = String::new();
    for chapter in chapters {
        let lines: Vec<&Line> = chapter.sections.iter().flat_map(|s| &s.lines).collect();
        if chapter.title.is_empty() {
            continue;
        }
        text.push_str(&format!("{}\n", plain(&chapter.title)));
        let said: Vec<&str> = lines.iter().filter(|l| is_sure(l) && !l.said.is_empty()).map(|l| l.said.as_str()).collect();
        if !said.is_empty() {
            text.push_str(&hanging("sure", &said.join(", ")));
        }
        for line in lines.iter().filter(|l| l.sure == Some(Sure::Likely) && l.questions.is_empty()) {
            text.push_str(&hanging("look at", &format!("{} ({})", line.text, line.because)));
        }
        for question in lines.iter().flat_map(|l| &l.questions) {
            let seen = if question.seen.is_empty() { String::new() } else { format!(" Seen: {}.", question.seen) };
            text.push_str(&hanging("asked", &format!("{}{seen} Answers: {}.", question.ask, question.answers_in_words())));
        }
    }
    text
}

pub(crate) fn questions(chapters: &[Chapter]) -> usize {
    chapters.iter().flat_map(|c| &c.sections).flat_map(|s| &s.lines).map(|l| l.questions.len()).sum()
}

fn hanging(label: &str, said: &str) -> String {
    let mut text = String::new();
    let mut line = format!("  {label:<8} ");
    let mut empty = true;
    for word in plain(said).split(' ').filter(|w| !w.is_empty()) {
        if !empty && line.chars().count() + 1 + word.chars().count() > 100 {
            text.push_str(&line);
            text.push('\n');
            line = " ".repeat(11);
            empty = true;
        }
        if !empty {
            line.push(' ');
        }
        line.push_str(word);
        empty = false;
    }
    format!("{text}{line}\n")
}
