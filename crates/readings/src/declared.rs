//! Reading a declared file (TOML) table by table: every fault of the file is collected, each
//! with its line; a key that nobody asked for is refused with the nearest known one.
use crate::{Fault, Place, Shared};
use toml::de::{DeTable, DeValue};
use toml::{Spanned, de::DeArray};

mod open;

pub use open::OPEN;

/// A parsed file and the faults found in it so far.
pub struct Declared<'t> {
    file: String,
    text: &'t str,
    faults: std::cell::RefCell<Vec<Fault>>,
}

/// One table of the file. Keys asked for are remembered, so that [`Table::finish`] can refuse the rest.
pub struct Table<'a, 't> {
    of: &'a Declared<'t>,
    /// As a person writes it: `[site]`, `[[harvest]] 2`.
    name: String,
    line: u32,
    entries: DeTable<'t>,
    asked: std::cell::RefCell<Vec<String>>,
}

impl<'t> Declared<'t> {
    /// `file` is the name told to the reader in faults.
    pub fn new(file: impl Into<String>, text: &'t str) -> Self {
        Declared { file: file.into(), text, faults: Default::default() }
    }

    /// The whole file as a table; syntax faults are collected, what could be read is returned.
    pub fn root(&self) -> Table<'_, 't> {
        let (table, errors) = DeTable::parse_recoverable(self.text);
        for e in errors {
            let line = e.span().map_or(1, |s| self.line(s.start));
            self.push(line, None, "toml-syntax", "not readable as TOML", e.message(), "TOML 1.0 text", "correct the line");
        }
        let table = table.into_inner();
        for o in open::all(&table, self.text) {
            let mend = format!("put the answer in the place of \"?\" in line {}", o.line);
            self.push(o.line, Some(&o.key), "question-open", "an open question", &o.found(), &o.expected(), &mend);
        }
        self.table("the file", 1, table)
    }

    fn table(&self, name: &str, line: u32, entries: DeTable<'t>) -> Table<'_, 't> {
        Table { of: self, name: name.into(), line, entries, asked: Default::default() }
    }

    /// The line (from 1) of a byte offset.
    fn line(&self, offset: usize) -> u32 {
        self.text.as_bytes().iter().take(offset).filter(|b| **b == b'\n').count() as u32 + 1
    }

    #[allow(clippy::too_many_arguments)]
    fn push(&self, line: u32, key: Option<&str>, code: &str, title: &str, found: &str, expected: &str, mend: &str) {
        self.faults.borrow_mut().push(Fault {
            code: code.into(),
            title: title.into(),
            place: Place { file: (&self.file).into(), row: Some(line), column: key.map(Shared::from) },
            found: found.trim().into(),
            expected: expected.into(),
            mend: mend.into(),
            also_rows: Vec::new(),
            fatal: true,
        });
    }

    /// All faults, in line order.
    pub fn into_faults(self) -> Vec<Fault> {
        let mut faults = self.faults.into_inner();
        faults.sort_by_key(|f| f.place.row);
        faults
    }
}

fn kind(value: &DeValue<'_>) -> &'static str {
    match value {
        DeValue::String(_) => "a text",
        DeValue::Integer(_) | DeValue::Float(_) => "a number",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
    }
}

fn number_of(value: &DeValue<'_>) -> Option<f64> {
    match value {
        DeValue::Integer(i) => i.as_str().parse().ok(),
        DeValue::Float(f) => f.as_str().parse().ok(),
        _ => None,
    }
}

/// A short list of words as a person reads it.
fn words(list: &[&str]) -> String {
    list.join(" · ")
}

/// The candidate nearest to `word` by edit distance, if it is near at all.
pub fn nearest<'c>(word: &str, candidates: impl IntoIterator<Item = &'c str>) -> Option<&'c str> {
    candidates
        .into_iter()
        .map(|c| (distance(&word.to_lowercase(), &c.to_lowercase()), c))
        .min()
        .filter(|(d, c)| *d <= 1 + c.chars().count().max(word.chars().count()) / 3)
        .map(|(_, c)| c)
}

/// Levenshtein's edit distance between two words.
fn distance(a: &str, b: &str) -> usize {
    let b: Vec<char> = b.chars().collect();
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, x) in a.chars().enumerate() {
        let mut diagonal = i;
        row[0] = i + 1;
        for (j, y) in b.iter().enumerate() {
            let replaced = diagonal + usize::from(x != *y);
            diagonal = row[j + 1];
            row[j + 1] = replaced.min(row[j] + 1).min(diagonal + 1);
        }
    }
    row[b.len()]
}

impl<'a, 't> Table<'a, 't> {
    pub fn line(&self) -> u32 {
        self.line
    }

    /// Line of a key, or of the table where the key is absent.
    pub fn line_of(&self, key: &str) -> u32 {
        self.entries.get(key).map_or(self.line, |v| self.of.line(v.span().start))
    }

    pub fn has(&self, key: &str) -> bool {
        self.ask(key);
        self.entries.contains_key(key)
    }

    /// All keys, in order, with the line of each.
    pub fn keys(&self) -> Vec<(String, u32)> {
        self.entries.iter().map(|(k, _)| (k.get_ref().to_string(), self.of.line(k.span().start))).collect()
    }

    fn ask(&self, key: &str) {
        self.asked.borrow_mut().push(key.to_owned());
    }

    /// An unanswered value is told once, for the whole file, and read as if it were absent.
    fn get(&self, key: &str) -> Option<&Spanned<DeValue<'t>>> {
        self.ask(key);
        self.entries.get(key).filter(|v| !open::is_open(v.get_ref()))
    }

    /// Whether a question is open in this table or below it: what else seems to lack may follow from it.
    pub fn has_open(&self) -> bool {
        open::any(&self.entries)
    }

    /// Notes a fault of a key of this table.
    pub fn fault(&self, key: &str, code: &str, title: &str, found: &str, expected: &str, mend: &str) {
        self.of.push(self.line_of(key), Some(key), code, title, found, expected, mend);
    }

    fn wrong_kind(&self, key: &str, value: &DeValue<'_>, expected: &str) {
        self.fault(
            key,
            "key-wrong-kind",
            "not what this key holds",
            kind(value),
            expected,
            &format!("write {key} in {} as {expected}", self.name),
        );
    }

    fn missing(&self, key: &str, expected: &str) {
        let title = format!("the key \"{key}\" is missing in {}", self.name);
        self.of.push(self.line, Some(key), "key-missing", &title, "nothing", expected, &format!("add {key} = … to {}", self.name));
    }

    pub fn text(&self, key: &str) -> Option<String> {
        let value = self.get(key)?.get_ref();
        let found = value.as_str().map(str::to_owned);
        if found.is_none() {
            self.wrong_kind(key, value, "a text in quotes");
        }
        found
    }

    pub fn required_text(&self, key: &str) -> Option<String> {
        if !self.has(key) {
            self.missing(key, "a text in quotes");
        }
        self.text(key)
    }

    /// One of a closed list of words.
    pub fn one_of(&self, key: &str, allowed: &[&'static str]) -> Option<&'static str> {
        let text = self.text(key)?;
        let known = allowed.iter().find(|a| **a == text).copied();
        if known.is_none() {
            let near = nearest(&text, allowed.iter().copied())
                .map_or("use one of the words listed".to_owned(), |n| format!("did you mean \"{n}\"?"));
            self.fault(key, "key-unknown-word", "not a word that this key knows", &format!("\"{text}\""), &words(allowed), &near);
        }
        known
    }

    pub fn number(&self, key: &str) -> Option<f64> {
        let value = self.get(key)?.get_ref();
        let found = number_of(value).filter(|x| x.is_finite());
        if found.is_none() {
            self.wrong_kind(key, value, "a number");
        }
        found
    }

    /// A whole number from 0 up.
    pub fn count(&self, key: &str) -> Option<u64> {
        let x = self.number(key)?;
        let whole = x >= 0.0 && x.fract() == 0.0 && x < 9.0e15;
        if !whole {
            self.fault(key, "key-not-a-count", "not a whole number", &x.to_string(), "a whole number from 0 up", "correct the number");
        }
        whole.then_some(x as u64)
    }

    pub fn flag(&self, key: &str) -> Option<bool> {
        let value = self.get(key)?.get_ref();
        let found = value.as_bool();
        if found.is_none() {
            self.wrong_kind(key, value, "true or false");
        }
        found
    }

    /// A civil date written as TOML's own date, or as a text `2031-03-24`.
    pub fn date(&self, key: &str) -> Option<jiff::civil::Date> {
        let value = self.get(key)?.get_ref();
        let text = match value {
            DeValue::Datetime(d) => d.to_string(),
            DeValue::String(s) => s.to_string(),
            _ => String::new(),
        };
        let found = text.parse().ok();
        if found.is_none() {
            self.wrong_kind(key, value, "a date such as 2031-03-24");
        }
        found
    }

    fn array(&self, key: &str, expected: &str) -> Option<&DeArray<'t>> {
        let value = self.get(key)?.get_ref();
        let found = value.as_array();
        if found.is_none() {
            self.wrong_kind(key, value, expected);
        }
        found
    }

    /// A list of texts.
    pub fn texts(&self, key: &str) -> Option<Vec<String>> {
        let array = self.array(key, "a list of texts")?;
        let list: Vec<String> = array.iter().filter_map(|v| v.get_ref().as_str().map(str::to_owned)).collect();
        if list.len() != array.len() {
            self.fault(
                key,
                "key-wrong-kind",
                "not all of the list are texts",
                "another kind of value",
                "a list of texts",
                "put each entry in quotes",
            );
        }
        Some(list)
    }

    /// A list of lists of texts, such as effects.
    pub fn text_lists(&self, key: &str) -> Option<Vec<Vec<String>>> {
        let array = self.array(key, "a list of lists of texts")?;
        let inner = |v: &Spanned<DeValue<'t>>| -> Option<Vec<String>> {
            v.get_ref().as_array()?.iter().map(|w| w.get_ref().as_str().map(str::to_owned)).collect()
        };
        let list: Vec<_> = array.iter().filter_map(inner).collect();
        if list.len() != array.len() {
            self.fault(
                key,
                "key-wrong-kind",
                "not all of the list are lists of texts",
                "another kind of value",
                "such as [[\"site\"], [\"site\", \"block\"]]",
                "put each entry in brackets",
            );
        }
        Some(list)
    }

    pub fn numbers(&self, key: &str) -> Option<Vec<f64>> {
        let array = self.array(key, "a list of numbers")?;
        let list: Vec<f64> = array.iter().filter_map(|v| number_of(v.get_ref())).collect();
        if list.len() != array.len() {
            self.fault(
                key,
                "key-wrong-kind",
                "not all of the list are numbers",
                "another kind of value",
                "a list of numbers",
                "correct the list",
            );
        }
        Some(list)
    }

    /// A table under this one.
    pub fn table(&self, key: &str) -> Option<Table<'a, 't>> {
        let value = self.get(key)?;
        match value.get_ref() {
            DeValue::Table(t) => Some(self.of.table(&format!("[{}]", self.path(key)), self.of.line(value.span().start), t.clone())),
            other => {
                self.wrong_kind(key, other, "a table");
                None
            }
        }
    }

    /// The tables of `[[key]]`, in order; a single `[key]` counts as a list of one.
    pub fn tables(&self, key: &str) -> Vec<Table<'a, 't>> {
        let Some(value) = self.get(key) else { return Vec::new() };
        let named = |i: usize| format!("[[{}]] {}", self.path(key), i + 1);
        let one = |i: usize, v: &Spanned<DeValue<'t>>| match v.get_ref() {
            DeValue::Table(t) => Some(self.of.table(&named(i), self.of.line(v.span().start), t.clone())),
            other => {
                self.wrong_kind(key, other, "a table");
                None
            }
        };
        match value.get_ref() {
            DeValue::Array(list) => list.iter().enumerate().filter_map(|(i, v)| one(i, v)).collect(),
            _ => one(0, value).into_iter().collect(),
        }
    }

    fn path(&self, key: &str) -> String {
        match self.name.strip_prefix('[').and_then(|n| n.strip_suffix(']')) {
            Some(parent) => format!("{parent}.{key}"),
            None if self.name.starts_with("[[") => format!("{}.{key}", self.name.trim_start_matches('[').split(']').next().unwrap_or("")),
            None => key.to_owned(),
        }
    }

    /// Refuses every key that nobody asked for.
    pub fn finish(&self) {
        let asked = self.asked.borrow();
        for (key, line) in self.keys() {
            if asked.contains(&key) {
                continue;
            }
            let known = asked.iter().map(String::as_str);
            let mend = nearest(&key, known.clone()).map_or("remove it".to_owned(), |n| format!("did you mean \"{n}\"?"));
            let mut expected: Vec<&str> = known.collect();
            expected.sort_unstable();
            expected.dedup();
            self.of.push(
                line,
                Some(&key),
                "key-unknown",
                &format!("a key that {} does not know", self.name),
                &format!("\"{key}\""),
                &expected.join(", "),
                &mend,
            );
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn all_faults_of_a_file_are_told_at_once_with_their_lines() {
        let text = "[season]\ntitel = \"x\"\nyear = 2031\nseed = -1\n";
        let file = Declared::new("season.toml", text);
        let root = file.root();
        let season = root.table("season").unwrap();
        season.required_text("title");
        season.text("year");
        season.count("seed");
        season.finish();
        let faults = file.into_faults();
        let lines: Vec<_> = faults.iter().map(|f| (f.place.row.unwrap(), f.code.as_str())).collect();
        assert_eq!(lines, [(1, "key-missing"), (2, "key-unknown"), (3, "key-wrong-kind"), (4, "key-not-a-count")]);
        assert_eq!(faults[1].mend, "did you mean \"title\"?");
    }

    #[test]
    fn broken_syntax_is_a_fault_and_not_the_end() {
        let file = Declared::new("s.toml", "a = 1\nb = = 2\nc = 3\n");
        let root = file.root();
        assert_eq!(root.number("c"), Some(3.0));
        assert_eq!(file.into_faults()[0].place.row, Some(2));
    }
}
