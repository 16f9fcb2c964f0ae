//! What the run prints: where the report lies, what cannot be told, the headlines, and the rows of every file.
use crate::context::Context;
use crate::sections::not_told;
use crate::sections::rows::sums;
use crosshouse_readings::said::FileAccount;

/// Longest line, columns.
const WIDTH: usize = 100;
/// Widest file name in the table.
const NAME: usize = 56;

/// Lines of at most 100 columns, no colour; `{report}` stands for the place of the page.
pub fn text(context: &Context) -> String {
    let mut out = String::new();
    let season = &context.input.season;
    lines(&mut out, "", &format!("{} ({}, {})", season.title, season.crop, season.year));
    out.push_str("Report: {report}\n");
    what_cannot_be_told(&mut out, context);
    headlines(&mut out, context);
    rows(&mut out, &context.input.clean.files);
    let inferred = context.input.clean.inferences.len();
    if inferred > 0 {
        out.push('\n');
        let what = crate::words::number_of(inferred as u64, "thing was", "things were");
        lines(&mut out, "", &format!("{what} read as found and not as declared, each with its evidence: see “The rows” in the report."));
    }
    let faults = context.input.clean.faults.len();
    if faults > 0 {
        out.push('\n');
        let what = crate::words::number_of(faults as u64, "fault is", "faults are");
        lines(&mut out, "", &format!("{what} for someone to mend: see “The rows” in the report."));
    }
    out
}

fn what_cannot_be_told(out: &mut String, context: &Context) {
    let told = not_told::all(context);
    if told.is_empty() {
        return;
    }
    out.push_str("\nWhat the design cannot tell\n");
    for item in told {
        lines(out, "  ", &format!("{}: {}", item.what, item.why));
        for comparison in &item.comparisons {
            lines(out, "    ", &format!("· {comparison}"));
        }
        if !item.mend.is_empty() {
            lines(out, "    ", &format!("Would mend it: {}", item.mend));
        }
    }
}

fn headlines(out: &mut String, context: &Context) {
    if context.input.answers.questions.is_empty() {
        return;
    }
    out.push_str("\nAnswers\n");
    for (answer, _) in context.answers() {
        lines(out, "  ", &answer.ask);
        lines(out, "    ", &answer.headline);
        for line in answer.likelihood.iter().flat_map(|l| std::iter::once(&l.in_words).chain(&l.beside)) {
            lines(out, "    ", line);
        }
    }
}

fn rows(out: &mut String, files: &[FileAccount]) {
    let longest = files.iter().map(|f| printable(&f.file).chars().count()).max().unwrap_or(0);
    let width = longest.clamp(9, NAME);
    out.push_str("\nRows\n");
    let head = ["read", "kept", "flagged", "set aside"];
    line_of(out, width, "file", head.map(str::to_owned));
    for f in files {
        line_of(out, width, &shortened(&f.file, width), [f.read, f.kept, f.flagged, f.set_aside].map(|n| n.to_string()));
    }
    let s = sums(files);
    line_of(out, width, "all files", [s.read, s.kept, s.flagged, s.set_aside].map(|n| n.to_string()));
    out.push_str("  Read = kept + set aside, in every file.\n");
}

fn line_of(out: &mut String, width: usize, name: &str, numbers: [String; 4]) {
    let [read, kept, flagged, set_aside] = numbers;
    out.push_str(&format!("  {name:<width$} {read:>9} {kept:>9} {flagged:>8} {set_aside:>10}\n"));
}

/// The end of a long file name tells more than its start.
fn shortened(name: &str, width: usize) -> String {
    let name = printable(name);
    let length = name.chars().count();
    if length <= width {
        return name;
    }
    std::iter::once('…').chain(name.chars().skip(length - width + 1)).collect()
}

/// Without control signs and marks that turn the direction of writing: text of a log must not steer the terminal.
fn printable(text: &str) -> String {
    let steers = |c: char| c.is_control() || matches!(c, '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}');
    text.chars().map(|c| if steers(c) { ' ' } else { c }).collect()
}

/// Writes `text` in lines of at most [`WIDTH`] columns, each after `indent`.
fn lines(out: &mut String, indent: &str, text: &str) {
    let mut line = indent.to_owned();
    let mut empty = true;
    for word in printable(text).split_whitespace() {
        let longer = line.chars().count() + 1 + word.chars().count() > WIDTH;
        if longer && !empty {
            out.push_str(&line);
            out.push('\n');
            line = indent.to_owned();
            empty = true;
        }
        if !empty {
            line.push(' ');
        }
        line.push_str(word);
        empty = false;
    }
    out.push_str(&line);
    out.push('\n');
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_long_sentence_is_wrapped_and_indented() {
        let mut out = String::new();
        lines(&mut out, "  ", &"word ".repeat(40));
        assert!(out.lines().all(|l| l.chars().count() <= WIDTH && l.starts_with("  word")));
        assert_eq!(out.lines().count(), 3);
    }

    #[test]
    fn an_escape_sign_in_a_name_does_not_reach_the_terminal() {
        assert_eq!(shortened("a\u{1b}[31m.csv", 20), "a [31m.csv");
    }

    #[test]
    fn a_long_file_name_keeps_its_end() {
        assert_eq!(shortened("tarn-hollow/picks-july.csv", 11), "…s-july.csv");
    }
}
