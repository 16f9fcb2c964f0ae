//! Faults as a person at the station reads them.
use crosshouse_readings::{Fault, Place};
use std::fmt::Write;

const WIDTH: usize = 96;

/// One fault: place and title with its code, then found, expected, mend and the rows like it.
pub fn fault(fault: &Fault) -> String {
    let head = printable(&format!("{}: {}", place(&fault.place), fault.title)).split_whitespace().collect::<Vec<_>>().join(" ");
    let code = format!("[{}]", fault.code);
    let gap = WIDTH.saturating_sub(head.chars().count() + code.chars().count()).max(2);
    let mut text = format!("{head}{}{code}\n", " ".repeat(gap));
    for (label, value) in [("found", &fault.found), ("expected", &fault.expected), ("mend", &fault.mend)] {
        if !value.is_empty() {
            let _ = writeln!(text, "  {label:<10} {}", wrapped(value));
        }
    }
    if !fault.also_rows.is_empty() {
        let _ = writeln!(text, "  {:<10} {}", "also", wrapped(&rows(&fault.also_rows)));
    }
    text
}

/// Declared files have lines and keys, logs have rows and columns.
fn place(place: &Place) -> String {
    let mut text = place.file.to_string();
    let declared = text.ends_with(".toml");
    if let Some(row) = place.row {
        let _ = write!(text, ", {} {row}", if declared { "line" } else { "row" });
    }
    if let Some(column) = &place.column {
        let _ = write!(text, ", {} \"{column}\"", if declared { "key" } else { "column" });
    }
    text
}

/// Faults of files that could not be read, one after the other.
pub fn told(list: &[Fault]) -> String {
    list.iter().map(fault).collect()
}

/// All faults: first those that make a table or a declared file unusable, then those that only keep rows, cells or a column out.
pub fn faults(list: &[Fault]) -> String {
    let (fatal, others): (Vec<&Fault>, Vec<&Fault>) = list.iter().partition(|f| f.fatal);
    let mut text: String = fatal.iter().copied().map(fault).collect();
    if !fatal.is_empty() {
        let _ = writeln!(text, "{} in the way: nothing was fitted.", counted(fatal.len(), "fault stands", "faults stand"));
    }
    if !others.is_empty() {
        let _ = writeln!(
            text,
            "{}{} with what would mend it:\n",
            if fatal.is_empty() { "" } else { "\n" },
            counted(others.len(), "finding that stops nothing,", "findings that stop nothing, each")
        );
        text.extend(others.iter().copied().map(fault));
    }
    text
}

fn counted(n: usize, one: &str, several: &str) -> String {
    format!("{n} {}", if n == 1 { one } else { several })
}

fn rows(rows: &[u32]) -> String {
    let named: Vec<String> = rows.iter().take(12).map(u32::to_string).collect();
    let more = if rows.len() > 12 { format!(" and {} more", rows.len() - 12) } else { String::new() };
    let word = if rows.len() == 1 { "row" } else { "rows" };
    format!("{} {word} like it: {}{more}", rows.len(), named.join(", "))
}

/// Longest text of a cell that is told whole; the set-aside table holds all of it.
const MOST_TOLD: usize = 600;

/// Text of a log must not steer the terminal: control signs and marks that turn the direction of writing
/// become visible, and a monstrous cell is cut.
fn printable(text: &str) -> String {
    let steers = |c: char| c.is_control() || matches!(c, '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}');
    let length = text.chars().count();
    let mut shown: String = text.chars().take(MOST_TOLD).map(|c| if steers(c) && !c.is_whitespace() { '\u{fffd}' } else { c }).collect();
    if length > MOST_TOLD {
        let _ = write!(shown, "… ({length} characters)");
    }
    shown
}

/// Long texts broken at spaces, hanging under the label.
fn wrapped(text: &str) -> String {
    let text = printable(text);
    let mut lines = vec![String::new()];
    for word in text.split_whitespace() {
        let length = lines.last().map_or(0, |l| l.chars().count());
        if length > 0 && length + 1 + word.chars().count() > WIDTH - 13 {
            lines.push(String::new());
        }
        if let Some(line) = lines.last_mut() {
            if !line.is_empty() {
                line.push(' ');
            }
            line.push_str(word);
        }
    }
    lines.join(&format!("\n{}", " ".repeat(13)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sample() -> Fault {
        Fault {
            code: "mass-unreadable".into(),
            title: "not a mass".into(),
            place: Place::cell("tarn-hollow/picks.csv", 52, "Wt"),
            found: "2 lb 30z".into(),
            expected: "pounds and ounces such as \"2 lb 3 oz\"".into(),
            mend: "correct the cell".into(),
            also_rows: vec![58, 77],
            fatal: false,
        }
    }

    #[test]
    fn a_cell_neither_steers_the_terminal_nor_fills_it() {
        let cell = format!("B\u{1b}[31m\u{202e}01{}", "x".repeat(900_000));
        let place = Place::cell("picks\n\u{1b}[2J.csv", 2, "Bucket");
        let text = fault(&Fault { found: cell, place, also_rows: vec![], ..sample() });
        assert!(text.chars().all(|c| c == '\n' || !c.is_control()));
        assert!(text.len() < 2000 && text.contains("(900009 characters)"), "{}", text.len());
    }

    #[test]
    fn a_fault_names_place_found_expected_and_mend() {
        let text = fault(&sample());
        assert!(text.starts_with("tarn-hollow/picks.csv, row 52, column \"Wt\": not a mass"));
        assert!(text.contains("  found      2 lb 30z\n"));
        assert!(text.contains("2 rows like it: 58, 77"));
    }
}
