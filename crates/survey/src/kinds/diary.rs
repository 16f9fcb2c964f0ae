//! The diary: what each written entry means.
use crate::draft::{Chapter, Line, Question, Section, key, quoted};
use crate::kinds::columns;
use crate::known::Known;
use crate::layout;
use crate::log::Log;
use crate::words::{EVENTS, event};

pub(crate) fn chapter(log: &Log, sheet: Option<&str>, known: &Known) -> Chapter {
    let mut head = Section::new("[[diary]]");
    head.lines = layout::lines(log, sheet);
    let mut sections = vec![head, columns(log, "diary", known)];
    sections.extend(events(log));
    Chapter { title: String::new(), sections }
}

fn events(log: &Log) -> Option<Section> {
    let column = log.column("event")?;
    let note = log.column("note");
    let mut section = Section::new("[diary.events]");
    for (word, n) in &column.words {
        let line = match event(word) {
            Some(known) => {
                Line::sure(format!("{} = {}", key(word), quoted(known)), layout::counted(*n, "entry").replace("entrys", "entries"))
            }
            None => {
                let remark =
                    log.rows().filter(|r| r.cell(column).text == word).find_map(|r| note.map(|c| r.cell(c).text).filter(|t| !t.is_empty()));
                let seen = remark.map_or_else(String::new, |t| format!("\"{t}\""));
                let mut question = Question::new(word, format!("what happened where the diary says \"{word}\"?"), seen);
                for (answer, meaning) in EVENTS {
                    question = question.or(answer, meaning);
                }
                Line::asked(question)
            }
        };
        section.push(line);
    }
    (!section.lines.is_empty()).then_some(section)
}
