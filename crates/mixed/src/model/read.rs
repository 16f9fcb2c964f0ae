//! The model file: TOML text to [`Model`], every fault with its line.

use std::collections::BTreeMap;
use std::ops::Range;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::nearest::nearest;
use super::{
    Compare, Criterion, Estimation, Family, Freedom, Model, ModelFault, ModelFaultCode, ModelFaults, Pairs, Residual, ResponseScale,
    Serial, Varying, Weights,
};
use crate::multiplicity::Adjust;

const MODEL_KEYS: [&str; 12] = [
    "response",
    "family",
    "trials",
    "offset",
    "response_scale",
    "categories",
    "effects",
    "groups",
    "varying",
    "residual",
    "estimation",
    "compare",
];
const VARYING_KEYS: [&str; 4] = ["over", "effects", "correlated", "base"];
const RESIDUAL_KEYS: [&str; 2] = ["variance_by", "serial"];
const SERIAL_KEYS: [&str; 2] = ["order", "within"];
const ESTIMATION_KEYS: [&str; 4] = ["criterion", "freedom", "level", "nodes"];
const COMPARE_KEYS: [&str; 7] = ["means_of", "within", "pairs", "adjust", "weights", "margin", "letters"];

impl Model {
    /// Reads a model file's text.
    ///
    /// # Errors
    /// All its faults at once, each with its line.
    pub fn from_toml(text: &str) -> Result<Self, ModelFaults> {
        let (table, errors) = DeTable::parse_recoverable(text);
        let mut reader = Reader { text, faults: Vec::new(), lines: BTreeMap::new() };
        for error in &errors {
            reader.not_toml(error);
        }
        if !reader.faults.is_empty() {
            return Err(ModelFaults(reader.faults));
        }
        let model = reader.model(table.get_ref());
        let mut faults = reader.faults;
        if faults.is_empty() {
            faults = model.faults();
            for fault in &mut faults {
                fault.line = line_of(&reader.lines, &fault.key);
            }
        }
        faults.sort_by_key(|fault| fault.line);
        if faults.is_empty() { Ok(model) } else { Err(ModelFaults(faults)) }
    }
}

/// The line of a key, or of the nearest table that holds it.
fn line_of(lines: &BTreeMap<String, usize>, key: &str) -> Option<usize> {
    let mut key = key;
    loop {
        if let Some(line) = lines.get(key) {
            return Some(*line);
        }
        key = &key[..key.rfind(['.', '['])?];
    }
}

struct Reader<'t> {
    text: &'t str,
    faults: Vec<ModelFault>,
    lines: BTreeMap<String, usize>,
}

type Table<'t> = DeTable<'t>;
type Value<'t> = Spanned<DeValue<'t>>;

fn join(path: &str, key: &str) -> String {
    if path.is_empty() { key.to_owned() } else { format!("{path}.{key}") }
}

impl Reader<'_> {
    fn line(&self, span: &Range<usize>) -> usize {
        1 + self.text.bytes().take(span.start).filter(|byte| *byte == b'\n').count()
    }

    fn fault(&mut self, code: ModelFaultCode, key: String, span: &Range<usize>, words: [String; 3]) {
        let [found, expected, mend] = words;
        let line = Some(self.line(span));
        self.faults.push(ModelFault { code, key, line, found, expected, mend });
    }

    fn not_toml(&mut self, error: &toml::de::Error) {
        let span = error.span().unwrap_or(0..0);
        let words = [error.message().trim().to_owned(), "TOML: key = value lines and [tables]".to_owned(), "correct the line".to_owned()];
        self.fault(ModelFaultCode::NotToml, String::new(), &span, words);
    }

    fn keys(&mut self, table: &Table<'_>, path: &str, known: &[&str]) {
        for (key, value) in table.iter() {
            let name = key.get_ref().as_ref();
            let full = join(path, name);
            if known.contains(&name) {
                self.lines.insert(full, self.line(&key.span()));
                let _ = value;
                continue;
            }
            let mend = match nearest(name, known) {
                Some(near) => format!("write \"{near}\", or take the line out"),
                None => "take the line out".to_owned(),
            };
            let words = ["a key the model file does not have".to_owned(), known.join(", "), mend];
            self.fault(ModelFaultCode::UnknownKey, full, &key.span(), words);
        }
    }

    fn wrong_kind(&mut self, key: String, value: &Value<'_>, expected: &str) {
        let found = format!("a value of kind {}", value.get_ref().type_str());
        let words = [found, expected.to_owned(), format!("write {expected}")];
        self.fault(ModelFaultCode::WrongKind, key, &value.span(), words);
    }

    fn string(&mut self, table: &Table<'_>, path: &str, key: &str) -> Option<String> {
        let value = table.get(key)?;
        let text = value.get_ref().as_str().map(str::to_owned);
        if text.is_none() {
            self.wrong_kind(join(path, key), value, "a text in quotes");
        }
        text
    }

    fn flag(&mut self, table: &Table<'_>, path: &str, key: &str, default: bool) -> bool {
        let Some(value) = table.get(key) else { return default };
        let flag = value.get_ref().as_bool();
        if flag.is_none() {
            self.wrong_kind(join(path, key), value, "true or false");
        }
        flag.unwrap_or(default)
    }

    fn number(&mut self, table: &Table<'_>, path: &str, key: &str) -> Option<f64> {
        let value = table.get(key)?;
        let text = match value.get_ref() {
            DeValue::Float(float) => Some(float.as_str()),
            DeValue::Integer(integer) if integer.radix() == 10 => Some(integer.as_str()),
            _ => None,
        };
        let number = text.and_then(|text| text.replace('_', "").parse().ok());
        if number.is_none() {
            self.wrong_kind(join(path, key), value, "a number");
        }
        number
    }

    fn names(&mut self, table: &Table<'_>, path: &str, key: &str) -> Vec<String> {
        table.get(key).map(|value| self.names_of(value, join(path, key))).unwrap_or_default()
    }

    fn names_of(&mut self, value: &Value<'_>, key: String) -> Vec<String> {
        let expected = "a list of column names such as [\"site\", \"block\"]";
        let Some(items) = value.get_ref().as_array() else {
            self.wrong_kind(key, value, expected);
            return Vec::new();
        };
        let mut names = Vec::new();
        for item in items.iter() {
            match item.get_ref().as_str() {
                Some(name) => names.push(name.to_owned()),
                None => self.wrong_kind(key.clone(), item, expected),
            }
        }
        names
    }

    fn lists(&mut self, table: &Table<'_>, path: &str, key: &str) -> Vec<Vec<String>> {
        let Some(value) = table.get(key) else { return Vec::new() };
        let full = join(path, key);
        let Some(items) = value.get_ref().as_array() else {
            self.wrong_kind(full, value, "a list of lists such as [[\"medium\"], [\"container\"]]");
            return Vec::new();
        };
        let mut lists = Vec::new();
        for (index, item) in items.iter().enumerate() {
            let place = format!("{full}[{}]", index + 1);
            self.lines.insert(place.clone(), self.line(&item.span()));
            lists.push(self.names_of(item, place));
        }
        lists
    }

    fn word<T: Copy>(&mut self, table: &Table<'_>, path: &str, key: &str, words: &[(&str, T)]) -> Option<T> {
        let text = self.string(table, path, key)?;
        let found = words.iter().find(|(word, _)| *word == text).map(|(_, meaning)| *meaning);
        if found.is_none() {
            self.unknown_word(table, path, key, &text, words.iter().map(|(word, _)| *word).collect());
        }
        found
    }

    fn unknown_word(&mut self, table: &Table<'_>, path: &str, key: &str, text: &str, known: Vec<&str>) {
        let span = table.get(key).map(Spanned::span).unwrap_or(0..0);
        let mend = match nearest(text, &known) {
            Some(near) => format!("write \"{near}\""),
            None => "write one of these".to_owned(),
        };
        let words = [format!("\"{text}\""), known.join(", "), mend];
        self.fault(ModelFaultCode::UnknownWord, join(path, key), &span, words);
    }

    fn tables<'v, 't>(&mut self, table: &'v Table<'t>, key: &str) -> Vec<(String, &'v Table<'t>)> {
        let Some(value) = table.get(key) else { return Vec::new() };
        let Some(items) = value.get_ref().as_array() else {
            self.wrong_kind(key.to_owned(), value, "tables headed by double brackets");
            return Vec::new();
        };
        let mut found = Vec::new();
        for (index, item) in items.iter().enumerate() {
            let place = format!("{key}[{}]", index + 1);
            self.lines.insert(place.clone(), self.line(&item.span()));
            match item.get_ref().as_table() {
                Some(inner) => found.push((place, inner)),
                None => self.wrong_kind(place, item, "tables headed by double brackets"),
            }
        }
        found
    }

    fn table<'v, 't>(&mut self, table: &'v Table<'t>, path: &str, key: &str) -> Option<&'v Table<'t>> {
        let value = table.get(key)?;
        let inner = value.get_ref().as_table();
        if inner.is_none() {
            self.wrong_kind(join(path, key), value, "a table");
        }
        inner
    }

    fn required(&mut self, table: &Table<'_>, path: &str, keys: &[&str]) {
        for key in keys.iter().filter(|key| !table.contains_key(**key)) {
            let line = line_of(&self.lines, path).or(Some(1));
            self.faults.push(ModelFault {
                code: ModelFaultCode::KeyMissing,
                key: join(path, key),
                line,
                found: "no such key".to_owned(),
                expected: "a value".to_owned(),
                mend: format!("add a line {key} = …"),
            });
        }
    }

    fn model(&mut self, table: &Table<'_>) -> Model {
        self.keys(table, "", &MODEL_KEYS);
        self.required(table, "", &["response"]);
        Model {
            response: self.string(table, "", "response").unwrap_or_default(),
            family: self.word(table, "", "family", &FAMILIES).unwrap_or_default(),
            trials: self.string(table, "", "trials"),
            offset: self.string(table, "", "offset"),
            response_scale: self.word(table, "", "response_scale", &SCALES).unwrap_or_default(),
            categories: self.names(table, "", "categories"),
            effects: self.lists(table, "", "effects"),
            groups: self.lists(table, "", "groups"),
            varying: self.all_varying(table),
            residual: self.residual(table),
            estimation: self.estimation(table),
            compare: self.all_compare(table),
        }
    }

    fn all_varying(&mut self, table: &Table<'_>) -> Vec<Varying> {
        let tables = self.tables(table, "varying");
        tables.into_iter().map(|(path, inner)| self.varying(inner, &path)).collect()
    }

    fn varying(&mut self, table: &Table<'_>, path: &str) -> Varying {
        self.keys(table, path, &VARYING_KEYS);
        self.required(table, path, &["over", "effects"]);
        Varying {
            over: self.names(table, path, "over"),
            effects: self.lists(table, path, "effects"),
            correlated: self.flag(table, path, "correlated", true),
            base: self.flag(table, path, "base", true),
        }
    }

    fn residual(&mut self, table: &Table<'_>) -> Residual {
        let Some(inner) = self.table(table, "", "residual") else { return Residual::default() };
        self.keys(inner, "residual", &RESIDUAL_KEYS);
        let variance_by = self.names(inner, "residual", "variance_by");
        let serial = self.table(inner, "residual", "serial").map(|serial| {
            let path = "residual.serial";
            self.keys(serial, path, &SERIAL_KEYS);
            self.required(serial, path, &SERIAL_KEYS);
            let order = self.string(serial, path, "order").unwrap_or_default();
            Serial { order, within: self.names(serial, path, "within") }
        });
        Residual { variance_by, serial }
    }

    fn estimation(&mut self, table: &Table<'_>) -> Estimation {
        let Some(inner) = self.table(table, "", "estimation") else { return Estimation::default() };
        let path = "estimation";
        self.keys(inner, path, &ESTIMATION_KEYS);
        let nodes = self.number(inner, path, "nodes");
        if let (Some(count), Some(value)) = (nodes, inner.get("nodes"))
            && (count.fract() != 0.0 || !(1.0..=101.0).contains(&count))
        {
            self.wrong_kind(join(path, "nodes"), value, "a whole number from 1 to 101");
        }
        Estimation {
            criterion: self.word(inner, path, "criterion", &CRITERIA),
            freedom: self.word(inner, path, "freedom", &FREEDOMS),
            level: self.number(inner, path, "level").unwrap_or(Estimation::default().level),
            nodes: nodes.map(|count| count as u32),
        }
    }

    fn all_compare(&mut self, table: &Table<'_>) -> Vec<Compare> {
        let tables = self.tables(table, "compare");
        tables.into_iter().map(|(path, inner)| self.compare(inner, &path)).collect()
    }

    fn compare(&mut self, table: &Table<'_>, path: &str) -> Compare {
        self.keys(table, path, &COMPARE_KEYS);
        self.required(table, path, &["means_of"]);
        Compare {
            means_of: self.names(table, path, "means_of"),
            within: self.names(table, path, "within"),
            pairs: self.pairs(table, path),
            adjust: self.word(table, path, "adjust", &ADJUSTMENTS).unwrap_or(Adjust::None),
            weights: self.word(table, path, "weights", &WEIGHTS).unwrap_or_default(),
            margin: self.number(table, path, "margin"),
            letters: self.flag(table, path, "letters", false),
        }
    }

    fn pairs(&mut self, table: &Table<'_>, path: &str) -> Pairs {
        let Some(text) = self.string(table, path, "pairs") else { return Pairs::All };
        if text != "all" && text != "none" && !text.starts_with("against ") {
            let known = vec!["all", "none", "against average", "against LEVEL"];
            self.unknown_word(table, path, "pairs", &text, known);
        }
        Pairs::from(text)
    }
}

const FAMILIES: [(&str, Family); 5] = [
    ("normal", Family::Normal),
    ("poisson", Family::Poisson),
    ("negative-binomial", Family::NegativeBinomial),
    ("binomial", Family::Binomial),
    ("beta-binomial", Family::BetaBinomial),
];
const SCALES: [(&str, ResponseScale); 3] =
    [("identity", ResponseScale::Identity), ("log", ResponseScale::Log), ("sqrt", ResponseScale::Sqrt)];
const CRITERIA: [(&str, Criterion); 2] = [("reml", Criterion::Reml), ("ml", Criterion::Ml)];
const FREEDOMS: [(&str, Freedom); 3] =
    [("kenward-roger", Freedom::KenwardRoger), ("satterthwaite", Freedom::Satterthwaite), ("large-sample", Freedom::LargeSample)];
const WEIGHTS: [(&str, Weights); 2] = [("equal", Weights::Equal), ("observed", Weights::Observed)];
const ADJUSTMENTS: [(&str, Adjust); 7] = [
    ("none", Adjust::None),
    ("bonferroni", Adjust::Bonferroni),
    ("sidak", Adjust::Sidak),
    ("holm", Adjust::Holm),
    ("tukey", Adjust::Tukey),
    ("dunnett", Adjust::Dunnett),
    ("joint", Adjust::Joint),
];
