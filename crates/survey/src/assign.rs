//! Which kind of log a body is, and what each of its columns means.
use crate::columns::Column;
use crate::known::Known;
use crate::words::{Meant, meanings};
use crosshouse_logs::declare::LogKind::{self, Climate, Diary, Harvest, Plan, RootZone};

/// The meaning chosen for a column.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Choice {
    pub is: &'static str,
    pub weight: u32,
    /// Another column has as good a claim to the same meaning.
    pub rival: bool,
}

/// Meanings of the columns of a body as a log of one kind.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Assigned {
    pub kind: LogKind,
    /// In the order of the columns.
    pub choices: Vec<Option<Choice>>,
    pub score: u32,
}

const KINDS: [LogKind; 5] = [Plan, Harvest, Climate, RootZone, Diary];

impl Assigned {
    pub fn position(&self, is: &str) -> Option<usize> {
        self.choices.iter().position(|c| c.is_some_and(|c| c.is == is))
    }

    fn has(&self, is: &str) -> bool {
        self.position(is).is_some()
    }

    /// The column of a meaning.
    pub fn column<'c>(&self, columns: &'c [Column], is: &str) -> Option<&'c Column> {
        self.position(is).and_then(|i| columns.get(i))
    }

    /// Whether the columns without which the log is none are there.
    fn is_whole(&self) -> bool {
        let any = |list: &[&str]| list.iter().any(|is| self.has(is));
        match self.kind {
            Plan => self.has("unit") && any(&["plants", "medium", "container", "treatment", "block"]),
            Harvest => any(&["date", "date-time"]) && self.has("unit") && any(&["mass", "count"]),
            Climate => {
                (self.has("date-time") || (self.has("date") && self.has("time"))) && any(&["temperature", "humidity", "light", "co2"])
            }
            RootZone => {
                let measured = ["feed-volume", "drain-volume", "feed-ec", "drain-ec", "feed-ph", "drain-ph", "moisture"];
                any(&["date", "date-time"]) && any(&measured)
            }
            Diary => self.has("date") && any(&["event", "note"]),
        }
    }
}

/// The kind in which most columns have a meaning; `None`: no kind's needed columns are all there.
pub(crate) fn assign(columns: &[Column], known: &Known) -> Option<Assigned> {
    let whole = KINDS.into_iter().map(|kind| as_kind(columns, kind, known)).filter(Assigned::is_whole);
    whole.fold(None, |best: Option<Assigned>, next| match best {
        Some(top) if top.score >= next.score => Some(top),
        _ => Some(next),
    })
}

/// The strongest claims first; one column a meaning, but for masses and measures.
pub(crate) fn as_kind(columns: &[Column], kind: LogKind, known: &Known) -> Assigned {
    let mut claims: Vec<(usize, Meant)> =
        columns.iter().enumerate().flat_map(|(i, c)| candidates(c, kind, known).into_iter().map(move |m| (i, m))).collect();
    claims.sort_by_key(|(i, m)| (std::cmp::Reverse(m.weight), *i));
    let mut choices: Vec<Option<Choice>> = vec![None; columns.len()];
    for (i, meant) in &claims {
        let held = choices.iter().flatten().find(|c| c.is == meant.is).copied();
        let several = matches!(meant.is, "mass" | "measure" | "ignored");
        let Some(place) = choices.get_mut(*i) else { continue };
        if place.is_some() {
            continue;
        }
        match held {
            None => *place = Some(Choice { is: meant.is, weight: meant.weight, rival: false }),
            Some(_) if several => *place = Some(Choice { is: meant.is, weight: meant.weight, rival: false }),
            Some(first) if first.weight == meant.weight && !matches!(meant.is, "date" | "unit" | "note") => {
                *place = Some(Choice { is: meant.is, weight: meant.weight, rival: true });
            }
            Some(_) => {}
        }
    }
    let rivals: Vec<&'static str> = choices.iter().flatten().filter(|c| c.rival).map(|c| c.is).collect();
    choices.iter_mut().flatten().filter(|c| rivals.contains(&c.is)).for_each(|c| c.rival = true);
    let score = choices.iter().flatten().filter(|c| c.is != "ignored").map(|c| c.weight).sum();
    Assigned { kind, choices, score }
}

/// What a column may be in a log of this kind: its header's words as far as its cells bear them out,
/// and what the cells say by themselves.
fn candidates(column: &Column, kind: LogKind, known: &Known) -> Vec<Meant> {
    if column.day.is_some() {
        return days(column, kind);
    }
    let mut list: Vec<Meant> = meanings(&column.header, kind).into_iter().filter(|m| fits(m.is, column)).collect();
    if kind == Plan {
        identify(column, &mut list);
    }
    if column.is_time() && matches!(kind, Climate | RootZone) {
        list.push(Meant { is: "time", weight: 2 });
    }
    if matches!(kind, Harvest | Diary) && known.share_of_units(column) >= 0.8 {
        list.push(Meant { is: "unit", weight: 5 });
    }
    if kind == RootZone && known.zone_of(column).is_some() {
        list.push(Meant { is: "zone", weight: 4 });
    }
    if kind == Harvest && column.is_pounds_ounces() {
        list.push(Meant { is: "mass", weight: 4 });
    }
    list
}

/// In a plan every unit has a row of its own: its id never repeats, a level does.
fn identify(column: &Column, list: &mut Vec<Meant>) {
    let distinct = column.filled > 1 && column.words.len() == column.filled;
    list.retain(|m| match m.is {
        "unit" => column.words.len() * 2 > column.filled,
        "medium" | "container" | "treatment" => !distinct,
        _ => true,
    });
    match list.iter_mut().find(|m| m.is == "unit") {
        Some(unit) if distinct => unit.weight += 2,
        None if distinct && column.is_text() => list.push(Meant { is: "unit", weight: 1 }),
        _ => {}
    }
}

fn days(column: &Column, kind: LogKind) -> Vec<Meant> {
    let words = meanings(&column.header, kind);
    let weight = |list: &[&str]| words.iter().filter(|m| list.contains(&m.is)).map(|m| m.weight).max().unwrap_or(0);
    match kind {
        Plan => Vec::new(),
        Diary => {
            let date = Meant { is: "date", weight: weight(&["date"]).max(1) + 1 };
            let until = Meant { is: "until", weight: weight(&["until"]).max(1) };
            if weight(&["until"]) > 0 { vec![until] } else { vec![date, until] }
        }
        _ => {
            let is = if column.is_timed_day() { "date-time" } else { "date" };
            vec![Meant { is, weight: weight(&["date", "time", "date-time"]).max(2) }]
        }
    }
}

/// Whether the cells bear the meaning out. A column without a single cell may be anything.
fn fits(is: &str, column: &Column) -> bool {
    let empty = column.filled == 0;
    match is {
        "date" | "until" | "date-time" => column.day.is_some(),
        "time" => column.is_time(),
        "mass" => column.is_numeric() || column.is_pounds_ounces(),
        "count" | "measure" | "temperature" | "humidity" | "light" | "co2" | "moisture" | "feed-volume" | "drain-volume" | "feed-ec"
        | "drain-ec" | "feed-ph" | "drain-ph" => column.is_numeric(),
        "plants" | "area" | "row" | "position" => column.is_numeric() || empty,
        "medium" | "container" | "treatment" | "grade" => !column.is_time() && !column.is_pounds_ounces() && column.words.len() <= 24,
        "event" => column.is_text() && column.words.len() <= 60,
        "note" | "ignored" | "guard" => true,
        _ => !column.is_time(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::columns;
    use crate::testing::body;

    fn kind(text: &str) -> Option<LogKind> {
        assign(&columns::of(&body(text)), &Known::default()).map(|a| a.kind)
    }

    #[test]
    fn the_kind_follows_from_the_columns() {
        for (text, expected) in [
            ("Tag,Block,Medium,Plants\nA,1,peat,2\nB,1,coir,2\n", Plan),
            ("Date,Tag,kg\n2031-06-13,A,1.2\n2031-06-13,B,1.3\n", Harvest),
            ("Zeit;Temperatur;Feuchte\n13.06.2031 06:00;18,2;80\n13.06.2031 06:05;18,3;81\n", Climate),
            ("Date,Line,EC in,EC out\n2031-06-13,1,2.2,2.9\n2031-06-13,2,2.2,2.9\n", RootZone),
            ("Date,What,Note\n2031-06-13,note,strings lowered\n2031-06-14,note,again\n", Diary),
        ] {
            assert_eq!(kind(text), Some(expected), "{text}");
        }
        assert_eq!(kind("a,b\nx,1\ny,2\n"), None);
    }

    #[test]
    fn the_units_of_a_plan_are_the_column_that_never_repeats() {
        let columns = columns::of(&body("No,Container,Substrate,Plants\n1,C-01,peat,2\n1,C-02,coir,2\n2,C-03,peat,2\n2,C-04,coir,2\n"));
        let assigned = assign(&columns, &Known::default()).unwrap();
        let is: Vec<&str> = assigned.choices.iter().map(|c| c.map_or("", |c| c.is)).collect();
        assert_eq!((assigned.kind, is.as_slice()), (Plan, ["", "unit", "medium", "plants"].as_slice()));
    }

    #[test]
    fn two_temperatures_are_rivals() {
        let columns = columns::of(&body("Time,Temp in,Temp out\n2031-06-13 06:00,18.2,9.1\n2031-06-13 06:05,18.3,9.0\n"));
        let assigned = assign(&columns, &Known::default()).unwrap();
        assert_eq!(assigned.choices.iter().flatten().filter(|c| c.rival && c.is == "temperature").count(), 2);
    }
}
