//! A chapter of the draft for each log.
use crate::draft::{Chapter, many, some};
use crate::known::Known;
use crate::log::Log;
use crate::understand::rules;
use crate::{ids, kinds, layout, site};
use crosshouse_logs::declare::LogKind;
use std::collections::BTreeMap;

/// `sheets`: the sheets of each workbook.
pub(crate) fn of_logs(logs: &[Log], known: &Known, sheets: &BTreeMap<String, Vec<String>>) -> Vec<Chapter> {
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
