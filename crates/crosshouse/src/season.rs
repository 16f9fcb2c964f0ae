//! A season's declared files, read once: logs, trial and questions each take their own section.
use crate::messages;
use crosshouse_audit::Declared;
use crosshouse_logs::Season;
use crosshouse_questions::Question;
use crosshouse_readings::{Fault, Place, declared};
use crosshouse_trial::{FactorDecl, Settings};
use std::path::{Path, PathBuf};

/// Everything that a season declares.
pub struct Declarations {
    pub season: Season,
    pub settings: Settings,
    pub questions: Vec<Question>,
    pub factors: Vec<FactorDecl>,
    /// The files as read, for the audit bundle.
    pub texts: Vec<Declared>,
}

/// # Errors
/// All faults of the season file and its site files, as one text.
pub fn read(path: &Path) -> Result<Declarations, String> {
    let season = crosshouse_logs::read_declarations(path);
    let text = std::fs::read_to_string(path).unwrap_or_default();
    let name = path.file_name().map_or_else(|| path.display().to_string(), |n| n.to_string_lossy().into_owned());
    let mut faults = Vec::new();
    let season = keep(season, &mut faults);
    if text.is_empty() {
        return Err(messages::faults(&faults));
    }
    let settings = keep(Settings::from_toml(&name, &text), &mut faults);
    let factors: Vec<FactorDecl> = season.iter().flat_map(|s| &s.factors).map(factor).collect();
    let responses: Vec<&str> = crosshouse_trial::responses().iter().map(|r| r.key).collect();
    let questions = keep(crosshouse_questions::questions(&name, &text, &factor_names(&name, &text), &responses), &mut faults);
    match (season, settings, questions) {
        (Some(season), Some(settings), Some(questions)) if faults.is_empty() => {
            let texts = texts(path, &season);
            Ok(Declarations { season, settings, questions, factors, texts })
        }
        _ => {
            // A fault of the season file as a whole is found by each of its three readers.
            let mut told: Vec<Fault> = Vec::new();
            faults.into_iter().for_each(|f| {
                if !told.contains(&f) {
                    told.push(f)
                }
            });
            Err(messages::faults(&told))
        }
    }
}

fn keep<T>(result: Result<T, Vec<Fault>>, faults: &mut Vec<Fault>) -> Option<T> {
    result.map_err(|found| faults.extend(found)).ok()
}

/// The factors' names as the file has them, whatever else is wrong with it.
fn factor_names(name: &str, text: &str) -> Vec<String> {
    let file = declared::Declared::new(name, text);
    let factors = file.root().table("factors");
    factors.map_or_else(Vec::new, |t| t.keys().into_iter().map(|(key, _)| key).collect())
}

fn factor(f: &crosshouse_logs::Factor) -> FactorDecl {
    FactorDecl {
        name: f.name.clone(),
        label: f.label.clone(),
        levels: f.levels.clone(),
        level_labels: f.level_labels.clone(),
        unit_of_assignment: word(&f.unit_of_assignment),
    }
}

fn texts(path: &Path, season: &Season) -> Vec<Declared> {
    let folder = path.parent().unwrap_or(Path::new("."));
    let mut list: Vec<PathBuf> = vec![path.to_path_buf()];
    list.extend(season.sites.iter().map(|s| folder.join(&s.file)));
    let name = |p: &PathBuf| p.file_name().map_or_else(String::new, |n| n.to_string_lossy().into_owned());
    list.iter().map(|p| Declared { name: name(p), text: std::fs::read_to_string(p).unwrap_or_default() }).collect()
}

/// A plain fault of a file as a whole.
pub fn file_fault(file: &str, code: &str, title: &str, found: &str, expected: &str, mend: &str) -> Fault {
    Fault {
        code: code.into(),
        title: title.into(),
        place: Place::file(file),
        found: found.into(),
        expected: expected.into(),
        mend: mend.into(),
        also_rows: vec![],
        fatal: true,
    }
}

/// The word by which the season file writes a choice of a closed list.
pub fn word<T: serde::Serialize>(choice: &T) -> String {
    serde_json::to_value(choice).ok().and_then(|v| v.as_str().map(str::to_owned)).unwrap_or_default()
}
