//! Words: lists, dates, levels as the season file words them.
use crosshouse_trial::tables::{Design, Factor};
use jiff::civil::Date;
use std::collections::BTreeMap;

const MONTHS: [&str; 12] =
    ["January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November", "December"];

/// "24 March 2031"
pub fn date(day: Date) -> String {
    let index = usize::try_from(day.month() - 1).unwrap_or(0);
    let month = MONTHS.get(index).copied().unwrap_or("");
    format!("{} {month} {}", day.day(), day.year())
}

/// "24 Mar 2031", unbroken, for tables.
pub fn short_date(day: Date) -> String {
    let long = date(day);
    let mut parts = long.split(' ');
    let (d, m, y) = (parts.next(), parts.next(), parts.next());
    let month: String = m.unwrap_or_default().chars().take(3).collect();
    format!("{}\u{a0}{month}\u{a0}{}", d.unwrap_or_default(), y.unwrap_or_default())
}

/// "24 Mar 2031", or "not stated".
pub fn short_date_or_not(day: Option<Date>) -> String {
    day.map_or_else(|| "not stated".to_owned(), short_date)
}

/// "a", "a and b", "a, b and c".
pub fn list<S: AsRef<str>>(items: &[S]) -> String {
    match items {
        [] => String::new(),
        [one] => one.as_ref().to_owned(),
        [first @ .., last] => {
            let first: Vec<&str> = first.iter().map(AsRef::as_ref).collect();
            format!("{} and {}", first.join(", "), last.as_ref())
        }
    }
}

/// "1 unit", "3 units".
pub fn number_of(n: u64, one: &str, many: &str) -> String {
    format!("{} {}", crate::number::count(n), if n == 1 { one } else { many })
}

/// First letter in upper case.
pub fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
}

/// How the report words factors, levels and sites.
#[derive(Debug, Clone)]
pub struct Wording<'a> {
    design: &'a Design,
    sites: BTreeMap<&'a str, &'a str>,
}

impl<'a> Wording<'a> {
    /// `sites`: identifier and name.
    pub fn new(design: &'a Design, sites: impl Iterator<Item = (&'a str, &'a str)>) -> Self {
        Wording { design, sites: sites.collect() }
    }

    pub fn site<'b>(&'b self, id: &'b str) -> &'b str {
        self.sites.get(id).copied().unwrap_or(id)
    }

    fn find(&self, factor: &str) -> Option<&Factor> {
        self.design.factors.iter().find(|f| f.name == factor)
    }

    pub fn factor<'b>(&'b self, name: &'b str) -> &'b str {
        match self.find(name) {
            Some(f) if !f.label.is_empty() => &f.label,
            _ => name,
        }
    }

    pub fn level<'b>(&'b self, factor: &str, level: &'b str) -> &'b str {
        if factor == "site" {
            return self.site(level);
        }
        self.find(factor).and_then(|f| f.level_labels.get(level)).map_or(level, String::as_str)
    }

    /// Levels in the order of the season's factors: "blend, bucket". No levels: "the average of all".
    pub fn levels(&self, of: &BTreeMap<String, String>) -> String {
        if of.is_empty() {
            return "the average of all".to_owned();
        }
        let mut named: Vec<(usize, &str)> = of.iter().map(|(f, l)| (self.rank(f), self.level(f, l))).collect();
        named.sort_by_key(|(rank, _)| *rank);
        named.iter().map(|(_, l)| *l).collect::<Vec<_>>().join(", ")
    }

    fn rank(&self, factor: &str) -> usize {
        self.design.factors.iter().position(|f| f.name == factor).unwrap_or(usize::MAX)
    }

    /// Position of a combination of levels in the season file's order of display.
    pub fn order(&self, of: &BTreeMap<String, String>) -> Vec<usize> {
        let level_rank = |f: &Factor| {
            let level = of.get(&f.name);
            level.and_then(|l| f.levels.iter().position(|x| x == l)).unwrap_or(usize::MAX)
        };
        self.design.factors.iter().map(level_rank).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date as civil;

    #[test]
    fn a_date_is_written_with_its_month_in_words() {
        assert_eq!(date(civil(2031, 3, 24)), "24 March 2031");
    }

    #[test]
    fn a_list_of_three_has_one_and() {
        assert_eq!(list(&["a", "b", "c"]), "a, b and c");
    }

    #[test]
    fn a_level_is_worded_as_the_season_file_labels_it() {
        let design = Design {
            factors: vec![Factor {
                name: "medium".into(),
                label: "growing medium".into(),
                levels: vec!["blend".into()],
                level_labels: BTreeMap::from([("blend".into(), "coir–peat blend".into())]),
                unit_of_assignment: "unit".into(),
            }],
            ..Design::default()
        };
        let words = Wording::new(&design, std::iter::empty());
        assert_eq!(words.levels(&BTreeMap::from([("medium".into(), "blend".into())])), "coir–peat blend");
        assert_eq!(words.level("medium", "perlite"), "perlite");
        assert_eq!(words.levels(&BTreeMap::new()), "the average of all");
    }
}
