//! From sheets to logs: the plan first, since what it lists tells units and zones of the other logs.
use crate::body::{self, Part};
use crate::draft::some;
use crate::known::{Factor, Known};
use crate::log::Log;
use crate::{assign, columns, ids, kinds, site};
use crosshouse_logs::declare::LogKind;
use std::collections::BTreeMap;

/// The logs, what is known of the site, and the bodies that are no log of any kind.
pub(crate) fn understand(parts: Vec<Part>, factors: Option<Vec<Factor>>) -> (Vec<Log>, Known, Vec<(String, String)>) {
    let mut known = Known { factors, ..Known::default() };
    let bodies: Vec<_> = body::grouped(parts).into_iter().map(|b| (columns::of(&b), b)).collect();
    let (mut logs, mut strange, mut others) = (Vec::new(), Vec::new(), Vec::new());
    for (columns, body) in bodies {
        match assign::assign(&columns, &known).filter(|_| body.heads().is_empty()) {
            Some(assigned) if assigned.kind == LogKind::Plan => logs.push(Log::new(body, columns, assigned)),
            _ => others.push((columns, body)),
        }
    }
    if let Some(plan) = logs.first() {
        learn(plan, &mut known);
    }
    for (columns, body) in others {
        let wide = !body.heads().is_empty();
        let assigned = if wide { kinds::wide::assign(&columns, &known) } else { assign::assign(&columns, &known) };
        match assigned {
            Some(assigned) => {
                let log = Log::new(body, columns, assigned);
                if log.assigned.kind == LogKind::Climate { logs.extend(kinds::climate::by_interval(log)) } else { logs.push(log) }
            }
            None => {
                let name = body.parts.first().map_or_else(String::new, Part::name);
                strange.push((name, format!("the headers {}", some(body.headers().iter().map(String::as_str), 8))));
            }
        }
    }
    known.houses = site::house_names(&logs);
    known.rules = rules(&logs, &known).map(|m| m.rules).unwrap_or_default();
    logs.sort_by_key(|l| order(l.assigned.kind));
    (logs, known, strange)
}

fn order(kind: LogKind) -> u8 {
    match kind {
        LogKind::Plan => 0,
        LogKind::Harvest => 1,
        LogKind::Climate => 2,
        LogKind::RootZone => 3,
        LogKind::Diary => 4,
    }
}

fn learn(plan: &Log, known: &mut Known) {
    if let Some(unit) = plan.column("unit") {
        let guard = plan.column("guard");
        for row in plan.rows() {
            let id = row.cell(unit).text.to_owned();
            let word = guard.map_or("", |g| row.cell(g).text).to_lowercase();
            if !matches!(word.as_str(), "" | "no" | "n" | "0" | "false" | "nein" | "non") {
                known.guards.insert(id.clone());
            }
            known.units.push(id);
        }
    }
    for is in ["line", "bench", "row", "house"] {
        if let Some(column) = plan.column(is) {
            known.zones.insert(is, column.words.keys().cloned().collect());
        }
    }
}

/// The identity rules that the ids of all the logs need.
pub(crate) fn rules(logs: &[Log], known: &Known) -> Option<ids::Match> {
    let mut written: BTreeMap<String, usize> = BTreeMap::new();
    for log in logs.iter().filter(|l| matches!(l.assigned.kind, LogKind::Harvest | LogKind::Diary)) {
        for (word, n) in log.column("unit").iter().flat_map(|c| &c.words) {
            *written.entry(word.clone()).or_default() += n;
        }
    }
    (!known.units.is_empty() && !written.is_empty()).then(|| ids::find(&known.units, &written))
}
