//! Raw logs of unknown habit to a first draft of a site file.
//!
//! Nothing is guessed in silence: each line of the draft has its evidence beside it, and what the files
//! do not show is an open question, `"?"`, with the possible answers above it. The site-file reader
//! refuses such a draft until a person has answered.
#![cfg_attr(test, allow(clippy::unwrap_used))]

mod assign;
mod body;
mod codes;
mod columns;
mod dates;
mod draft;
mod frame;
mod ids;
mod kinds;
mod known;
mod layout;
mod log;
mod measured;
mod numbers;
mod places;
mod ranges;
mod season;
mod site;
mod summary;
#[cfg(test)]
mod testing;
mod weeks;
mod words;
mod write;

pub use known::Factor;
pub use season::factors_of;

use body::Part;
use crosshouse_logs::declare::LogKind;
use crosshouse_logs::raw;
use crosshouse_readings::Fault;
use draft::{Chapter, many, some};
use known::Known;
use log::Log;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// What to survey.
#[derive(Debug, Clone)]
pub struct Request<'r> {
    pub files: &'r [PathBuf],
    /// The folder that paths are relative to; `None`: the folder above the files' own.
    pub logs: Option<&'r Path>,
    /// Factors of a season file that is there already.
    pub factors: Option<Vec<Factor>>,
    /// A season file is to be drafted: its folder, and the site file's name beside it.
    pub season: Option<(&'r Path, &'r str)>,
}

/// The drafts.
#[derive(Debug, Clone, PartialEq)]
pub struct Survey {
    /// The site file.
    pub site: String,
    /// The season file, where one was asked for.
    pub season: Option<String>,
    /// In sentences, file by file.
    pub summary: String,
    /// Open questions of the site file, and of the season file.
    pub questions: (usize, usize),
}

/// Reads the files and drafts.
///
/// # Errors
/// A fault for every file that cannot be read.
pub fn survey(request: &Request<'_>) -> Result<Survey, Vec<Fault>> {
    let places = places::place(request.files, request.logs)?;
    let (parts, unknown, sheets) = read(&places.files)?;
    let (logs, known, strange) = understand(parts, request.factors.clone());
    let id = site::id_of(&places.folder);
    let mut chapters = vec![site::chapter(&id, &logs, &known)];
    if let Some(first) = chapters.first_mut() {
        first.title = "The site".into();
    }
    chapters.extend(log_chapters(&logs, &known, &sheets));
    chapters.extend(site::not_understood(&unknown.into_iter().chain(strange).collect::<Vec<_>>()));
    let drafted = request.season.map(|(folder, name)| {
        let folder = folder.canonicalize().unwrap_or_else(|_| folder.to_path_buf());
        season::draft(&logs, &known, &id, &places::relative(&folder, &places.logs), name)
    });
    let mut told = summary::text(&chapters);
    let open = summary::questions(&chapters);
    let of_season = drafted.as_ref().map_or(0, |(_, c)| summary::questions(std::slice::from_ref(c)));
    if let Some((_, chapter)) = &drafted {
        told.push_str(&summary::text(std::slice::from_ref(chapter)));
    }
    let mut intro = vec![
        "Drafted by crosshouse survey from the files named below. \"sure\" and \"likely\" say why a line is as it is; read them."
            .to_owned(),
        "Answer every \"?\": its question and the possible answers stand above it. Until then the file does not run.".to_owned(),
        String::new(),
    ];
    intro.extend(chapters.iter().filter(|c| !c.title.is_empty() && c.title != "The site").map(|c| c.title.clone()));
    Ok(Survey { site: write::toml(&intro, &chapters), season: drafted.map(|(text, _)| text), summary: told, questions: (open, of_season) })
}

type Read = (Vec<Part>, Vec<(String, String)>, BTreeMap<String, Vec<String>>);

/// Every sheet with a frame, those without, and the sheets of each workbook.
fn read(files: &[places::Placed]) -> Result<Read, Vec<Fault>> {
    let (mut parts, mut unknown, mut sheets, mut faults) = (Vec::new(), Vec::new(), BTreeMap::<String, Vec<String>>::new(), Vec::new());
    for file in files {
        let found = match raw::read(&file.path, &file.name) {
            Ok(found) => found,
            Err(fault) => {
                faults.push(*fault);
                continue;
            }
        };
        for sheet in found.sheets {
            if let Some(name) = &sheet.name {
                sheets.entry(file.name.clone()).or_default().push(name.clone());
            }
            let shown = sheet.name.as_ref().map_or_else(|| file.name.clone(), |s| format!("{} / {s}", file.name));
            match frame::find(&sheet) {
                Some(frame) => parts.push(Part {
                    file: file.name.clone(),
                    sheet,
                    frame,
                    encoding: found.encoding.clone(),
                    guessed: found.guessed,
                    delimiter: found.delimiter,
                    unclosed: found.unclosed.clone(),
                }),
                None => unknown.push((shown, "no line looks like a header with rows below it".to_owned())),
            }
        }
    }
    if faults.is_empty() { Ok((parts, unknown, sheets)) } else { Err(faults) }
}

/// The plan first: what it lists tells units and zones of the other logs.
fn understand(parts: Vec<Part>, factors: Option<Vec<Factor>>) -> (Vec<Log>, Known, Vec<(String, String)>) {
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
fn rules(logs: &[Log], known: &Known) -> Option<ids::Match> {
    let mut written: BTreeMap<String, usize> = BTreeMap::new();
    for log in logs.iter().filter(|l| matches!(l.assigned.kind, LogKind::Harvest | LogKind::Diary)) {
        for (word, n) in log.column("unit").iter().flat_map(|c| &c.words) {
            *written.entry(word.clone()).or_default() += n;
        }
    }
    (!known.units.is_empty() && !written.is_empty()).then(|| ids::find(&known.units, &written))
}

fn log_chapters(logs: &[Log], known: &Known, sheets: &BTreeMap<String, Vec<String>>) -> Vec<Chapter> {
    let mut chapters = Vec::new();
    let row_is_zone = logs
        .iter()
        .filter(|l| l.assigned.kind == LogKind::RootZone)
        .any(|l| l.column("zone").is_some_and(|c| known.zone_of(c) == Some("row")));
    let mut plans = 0;
    for log in logs {
        for sheet in layout::sheets(&log.body, sheets) {
            let sheet = sheet.as_deref();
            let mut chapter = match log.assigned.kind {
                LogKind::Plan if plans > 0 => Chapter::default(),
                LogKind::Plan => kinds::plan::chapter(log, sheet, known, row_is_zone),
                LogKind::Harvest if !log.body.heads().is_empty() => kinds::wide::chapter(log, sheet, known),
                LogKind::Harvest => kinds::harvest::chapter(log, sheet, known),
                LogKind::Climate => kinds::climate::chapter(log, sheet, known),
                LogKind::RootZone => kinds::root_zone::chapter(log, sheet, known),
                LogKind::Diary => kinds::diary::chapter(log, sheet, known),
            };
            chapter.title = title(log, plans);
            if log.assigned.kind == LogKind::Plan {
                plans += 1;
            }
            chapters.push(chapter);
        }
        if log.assigned.kind == LogKind::Plan && plans == 1 {
            let section = rules(logs, known).and_then(|m| ids::section(&m));
            chapters.extend(section.map(|s| Chapter { title: "The ids of the units".into(), sections: vec![s] }));
        }
    }
    if plans == 0 {
        chapters.insert(0, site::no_plan());
    }
    chapters
}

fn title(log: &Log, plans: usize) -> String {
    let files = some(log.body.files(), 6).replace('"', "");
    let what = match log.assigned.kind {
        LogKind::Plan if plans > 0 => "a second plan, not declared",
        LogKind::Plan => "the plan",
        LogKind::Harvest => "picks",
        LogKind::Climate => "climate",
        LogKind::RootZone => "feed and drain",
        LogKind::Diary => "the diary",
    };
    let sheets = if log.body.is_workbook() { format!(", {}", layout::counted(log.body.parts.len(), "sheet")) } else { String::new() };
    let merged: u32 = log.body.parts.iter().map(|p| p.sheet.merged).sum();
    let merged = if merged > 0 { format!(", {} cells filled within merged blocks", many(merged as usize)) } else { String::new() };
    format!("{files}: {what}, {}{sheets}{merged}", layout::counted(log.body.rows(), "row"))
}
