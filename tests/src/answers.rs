//! A person at the station: answers put into a drafted declaration.
use crosshouse_readings::declared::Declared;

/// Puts the answers into a draft. Each stands by its table and key, a column's by table, header and key:
/// `harvest.unlisted`, `root_zone.columns.Feed gal.unit`. An empty answer takes the line out.
///
/// # Panics
/// Where a question has no answer here, an answer no question, or an answer is none of those offered.
pub fn answered(draft: &str, answers: &[(&str, &str)]) -> String {
    let file = Declared::new("draft.toml", draft);
    file.root();
    let open = file.into_faults();
    assert!(open.iter().all(|f| f.code == "question-open" && !f.found.is_empty() && f.found != "\"?\""), "{open:#?}");
    let mut lines: Vec<String> = draft.lines().map(str::to_owned).collect();
    let mut used: Vec<&str> = Vec::new();
    for fault in &open {
        let at = fault.place.row.map_or(0, |r| r as usize - 1);
        let key = fault.place.column.clone().unwrap_or_default();
        let path = path(&lines, at, &key);
        let Some((known, answer)) = answers.iter().find(|(p, _)| *p == path) else { panic!("no answer to {path}: {}", fault.found) };
        let offered = fault.expected.contains(answer) || fault.expected.contains("such as");
        assert!(offered, "{answer} is not offered for {path}: {}", fault.expected);
        used.push(known);
        put(&mut lines, at, &key, answer);
    }
    let idle: Vec<&str> = answers.iter().map(|(p, _)| *p).filter(|p| !used.contains(p)).collect();
    assert!(idle.is_empty(), "answers to nothing: {idle:?}");
    lines.join("\n") + "\n"
}

/// How many questions a drafted file leaves open.
pub fn open_questions(draft: &str) -> usize {
    let file = Declared::new("draft.toml", draft);
    file.root();
    file.into_faults().iter().filter(|f| f.code == "question-open").count()
}

fn path(lines: &[String], at: usize, key: &str) -> String {
    let head = lines.iter().take(at + 1).rev().find(|l| l.starts_with('[')).map_or("", |l| l.as_str());
    let table = head.trim_matches(['[', ']']);
    let line = lines.get(at).map_or("", |l| l.as_str());
    match line.split_once(" = {") {
        Some((header, _)) => format!("{table}.{}.{key}", header.trim_matches('"')),
        None => format!("{table}.{key}"),
    }
}

fn put(lines: &mut [String], at: usize, key: &str, answer: &str) {
    let Some(line) = lines.get_mut(at) else { return };
    if answer.is_empty() {
        line.clear();
        return;
    }
    let written = [format!("{key} = \"?\""), format!("\"{key}\" = \"?\"")];
    if let Some(open) = written.iter().find(|w| line.contains(w.as_str())) {
        *line = line.replacen(open.as_str(), &open.replace("\"?\"", answer), 1);
    }
}
