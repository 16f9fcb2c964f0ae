//! The draft as TOML text: evidence beside each line, questions above it.
use crate::draft::{Chapter, Line, Question, Section, Sure};

const WIDTH: usize = 118;
/// Column at which evidence begins, where the line leaves room.
const BESIDE: usize = 44;

pub(crate) fn toml(intro: &[String], chapters: &[Chapter]) -> String {
    let mut text = String::new();
    for line in intro {
        comment(&mut text, line, "# ", "# ");
    }
    for section in chapters.iter().flat_map(|c| &c.sections) {
        text.push('\n');
        write_section(&mut text, section);
    }
    text
}

fn write_section(text: &mut String, section: &Section) {
    for line in &section.intro {
        comment(text, line, "# ", "# ");
    }
    if !section.head.is_empty() {
        text.push_str(&section.head);
        text.push('\n');
    }
    for line in &section.lines {
        write_line(text, line);
    }
}

fn write_line(text: &mut String, line: &Line) {
    for question in &line.questions {
        write_question(text, question);
    }
    text.push_str(&line.text);
    if let Some(sure) = line.sure.filter(|_| !line.because.is_empty()) {
        let word = match sure {
            _ if !line.questions.is_empty() => "so far",
            Sure::Sure => "sure",
            Sure::Likely => "likely",
        };
        let gap = BESIDE.saturating_sub(line.text.chars().count()).max(2);
        text.push_str(&format!("{}# {word}: {}", " ".repeat(gap), plain(&line.because)));
    }
    text.push('\n');
}

fn write_question(text: &mut String, question: &Question) {
    comment(text, &format!("{}: {}", question.key, question.ask), "# ? ", "#          ");
    if !question.seen.is_empty() {
        comment(text, &question.seen, "#   seen     ", "#            ");
    }
    comment(text, &question.answers_in_words(), "#   answers  ", "#            ");
}

/// A comment, broken at spaces; text from a log cannot leave it.
fn comment(text: &mut String, said: &str, first: &str, then: &str) {
    let mut line = first.to_owned();
    let mut empty = true;
    for word in plain(said).split(' ').filter(|w| !w.is_empty()) {
        if !empty && line.chars().count() + 1 + word.chars().count() > WIDTH {
            text.push_str(line.trim_end());
            text.push('\n');
            line = then.to_owned();
            empty = true;
        }
        if !empty {
            line.push(' ');
        }
        line.push_str(word);
        empty = false;
    }
    text.push_str(line.trim_end());
    text.push('\n');
}

/// On one line, without signs that steer a terminal or turn the direction of writing.
pub(crate) fn plain(text: &str) -> String {
    let steers = |c: char| c.is_control() || matches!(c, '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}');
    text.chars().map(|c| if steers(c) { ' ' } else { c }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::draft::quoted;
    use crosshouse_readings::declared::Declared;

    #[test]
    fn a_drafted_question_is_refused_with_its_own_words() {
        let ask = "is a thing whose name is long enough to be broken into two lines, at the least, the one thing or is it the other thing";
        let question = Question::new("unlisted", ask, "row 3 \"x\"\n[site]").or("zero", "nothing ripe").or("missed", "");
        let mut section = Section::new("[[harvest]]");
        section.push(Line::sure("files = [\"a\"]", "it is"));
        section.push(Line::asked(question));
        let text = toml(&[], &[Chapter { title: String::new(), sections: vec![section] }]);
        let file = Declared::new("d.toml", &text);
        file.root();
        let faults = file.into_faults();
        assert_eq!(faults.len(), 1, "{text}");
        assert_eq!(faults[0].found, format!("{ask} (seen: row 3 \"x\" [site])"));
        assert_eq!(faults[0].expected, "\"zero\" (nothing ripe) · \"missed\"");
    }

    proptest::proptest! {
        #[test]
        fn any_text_comes_back_from_toml(text in "\\PC{0,20}|[\\x00-\\x20\"\\\\]{0,8}") {
            let written = format!("a = {}\n", quoted(&text));
            let file = Declared::new("d.toml", &written);
            if text != "?" {
                proptest::prop_assert_eq!(file.root().text("a"), Some(text));
            }
        }
    }
}
