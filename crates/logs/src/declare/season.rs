//! The season file: its facts, its factors, its sites.
use super::doubts::{LeaveOut, LimitChange, left_out, limit_changes};
use super::site::{SiteDeclaration, read_site};
use crosshouse_readings::declared::{Declared, Table};
use crosshouse_readings::{Fault, Place};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// A season file with its site files, read and checked.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Season {
    pub title: String,
    pub crop: String,
    pub year: String,
    pub seed: u64,
    pub reader_units: ReaderUnits,
    /// Folder of the raw logs, as the season file writes it.
    pub logs: String,
    /// The same folder, resolved. Of this run only: not kept in any result.
    #[serde(skip)]
    pub logs_folder: PathBuf,
    pub factors: Vec<Factor>,
    pub sites: Vec<SiteDeclaration>,
    /// Limits of doubts that the season changes.
    #[serde(default)]
    pub doubts: Vec<LimitChange>,
    /// Doubts whose rows the season leaves out.
    #[serde(default)]
    pub leave_out: Vec<LeaveOut>,
}

/// Units of the report's words.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum ReaderUnits {
    #[default]
    Kg,
    Lb,
}

/// A treatment factor.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Factor {
    pub name: String,
    pub label: String,
    /// Declared order; empty: the sorted levels of the plans.
    pub levels: Vec<String>,
    pub unit_of_assignment: Assignment,
    /// Level → words of the report.
    pub level_labels: BTreeMap<String, String>,
}

/// What a factor's level was given to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Assignment {
    House,
    Line,
    Bench,
    Block,
    Unit,
    Plant,
}

/// Reads the season file and every site file that it names.
///
/// # Errors
/// All faults of all the files, each with its line.
pub fn read_declarations(season_file: &Path) -> Result<Season, Vec<Fault>> {
    let name = shown(season_file);
    let text = read_text(season_file, &name).map_err(|f| vec![*f])?;
    let folder = season_file.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let declared = Declared::new(&name, &text);
    let draft = draft_of(&declared.root(), folder);
    let mut faults = declared.into_faults();
    let Some((mut season, sites)) = draft else { return Err(faults) };
    let factors: Vec<String> = season.factors.iter().map(|f| f.name.clone()).collect();
    for path in sites {
        match site_file(&name, folder, &path, &factors) {
            Ok((site, found)) => {
                faults.extend(found);
                season.sites.extend(site);
            }
            Err(fault) => faults.push(*fault),
        }
    }
    faults.extend(twice(&season, &name));
    faults.extend(no_such_site(&season, &name));
    if faults.is_empty() { Ok(season) } else { Err(faults) }
}

/// The last part of a path: no folder of this machine is ever told.
fn shown(path: &Path) -> String {
    path.file_name().map_or_else(|| path.display().to_string(), |n| n.to_string_lossy().into_owned())
}

fn unreadable(name: &str, found: &str) -> Box<Fault> {
    Box::new(Fault {
        code: "declaration-unreadable".into(),
        title: "the file cannot be read".into(),
        place: Place::file(name),
        found: found.into(),
        expected: "a TOML file in UTF-8".into(),
        mend: "correct the path, or write the file".into(),
        also_rows: Vec::new(),
        fatal: true,
    })
}

fn read_text(path: &Path, name: &str) -> Result<String, Box<Fault>> {
    let about = std::fs::metadata(path).map_err(|e| unreadable(name, &crate::source::reason(&e)))?;
    if about.is_dir() {
        return Err(unreadable(name, "a folder"));
    }
    if !about.is_file() {
        return Err(unreadable(name, "a pipe, socket or device"));
    }
    if about.len() > 16 << 20 {
        return Err(unreadable(name, "a file of more than 16 MB"));
    }
    let bytes = std::fs::read(path).map_err(|e| unreadable(name, &crate::source::reason(&e)))?;
    let text = String::from_utf8(bytes)
        .map_err(|e| unreadable(name, &format!("a byte at offset {} that is not UTF-8", e.utf8_error().valid_up_to())))?;
    Ok(text.strip_prefix('\u{feff}').map_or(text.clone(), str::to_owned))
}

fn draft_of(root: &Table<'_, '_>, folder: &Path) -> Option<(Season, Vec<String>)> {
    let Some(season) = root.table("season") else {
        root.fault(
            "season",
            "key-missing",
            "the file has no [season]",
            "nothing",
            "a table [season]",
            "add [season] with title, crop, year, seed, logs and sites",
        );
        return None;
    };
    let logs = season.required_text("logs").unwrap_or_default();
    let logs_folder = folder.join(&logs);
    if season.has("logs") && !logs_folder.is_dir() {
        season.fault(
            "logs",
            "logs-folder-missing",
            "the folder of logs is not there",
            &format!("\"{logs}\""),
            "a folder, relative to the season file",
            "correct the path",
        );
    }
    if !season.has("sites") {
        season.fault("sites", "key-missing", "the season names no sites", "nothing", "a list of site files", "add sites = [\"…\"]");
    }
    let sites = season.texts("sites").unwrap_or_default();
    let crop = season.text("crop").unwrap_or_default();
    let read = Season {
        title: season.required_text("title").unwrap_or_default(),
        doubts: limit_changes(root, &crop),
        leave_out: left_out(root),
        crop,
        year: season.text("year").unwrap_or_default(),
        seed: season.count("seed").unwrap_or(1),
        reader_units: if season.one_of("reader_units", &["kg", "lb"]) == Some("lb") { ReaderUnits::Lb } else { ReaderUnits::Kg },
        logs,
        logs_folder,
        factors: read_factors(root),
        sites: Vec::new(),
    };
    season.finish();
    // Their own crates read and check these.
    root.has("trial");
    root.has("question");
    root.finish();
    Some((read, sites))
}

fn read_factors(root: &Table<'_, '_>) -> Vec<Factor> {
    let Some(all) = root.table("factors") else { return Vec::new() };
    let mut keys = all.keys();
    keys.sort_by_key(|(_, line)| *line);
    if keys.iter().any(|(name, _)| name.trim().is_empty()) {
        let mend = "write the factor's name: [factors.medium]";
        all.fault("", "factor-unnamed", "a factor without a name", "[factors.\"\"]", "a name", mend);
    }
    let factors = keys.into_iter().filter_map(|(name, _)| all.table(&name).map(|t| factor(name, &t))).collect();
    all.finish();
    factors
}

fn factor(name: String, table: &Table<'_, '_>) -> Factor {
    const WORDS: [&str; 6] = ["house", "line", "bench", "block", "unit", "plant"];
    if !table.has("unit_of_assignment") {
        table.fault(
            "unit_of_assignment",
            "key-missing",
            "the factor does not say what its levels were given to",
            "nothing",
            &WORDS.join(" · "),
            "add unit_of_assignment: the error terms follow from it",
        );
    }
    let unit_of_assignment = match table.one_of("unit_of_assignment", &WORDS) {
        Some("house") => Assignment::House,
        Some("line") => Assignment::Line,
        Some("bench") => Assignment::Bench,
        Some("block") => Assignment::Block,
        Some("plant") => Assignment::Plant,
        _ => Assignment::Unit,
    };
    let level_labels = table
        .table("labels")
        .map(|labels| labels.keys().into_iter().filter_map(|(level, _)| labels.text(&level).map(|l| (level, l))).collect());
    let factor = Factor {
        label: table.text("label").unwrap_or_else(|| name.clone()),
        levels: table.texts("levels").unwrap_or_default(),
        unit_of_assignment,
        level_labels: level_labels.unwrap_or_default(),
        name,
    };
    table.finish();
    factor
}

type SiteAndFaults = (Option<SiteDeclaration>, Vec<Fault>);

fn site_file(season_file: &str, folder: &Path, path: &str, factors: &[String]) -> Result<SiteAndFaults, Box<Fault>> {
    let climbs = Path::new(path).components().any(|c| !matches!(c, std::path::Component::Normal(_) | std::path::Component::CurDir));
    if path.is_empty() {
        return Err(unnamed(season_file));
    }
    if climbs {
        return Err(leaves(path));
    }
    let full = folder.join(path);
    if let (Ok(resolved), Ok(home)) = (full.canonicalize(), folder.canonicalize())
        && !resolved.starts_with(home)
    {
        return Err(leaves(path));
    }
    let text = read_text(&full, path)?;
    let stem = full.file_stem().map_or_else(|| path.to_owned(), |s| s.to_string_lossy().into_owned());
    Ok(read_site(path, &stem, &text, factors))
}

fn unnamed(season_file: &str) -> Box<Fault> {
    Box::new(Fault {
        code: "site-file-unnamed".into(),
        title: "a site file without a name".into(),
        place: Place { file: season_file.into(), row: None, column: Some("sites".into()) },
        found: "\"\"".into(),
        expected: "the path of a site file".into(),
        mend: "write the path, or take the \"\" out of sites".into(),
        also_rows: Vec::new(),
        fatal: true,
    })
}

fn leaves(path: &str) -> Box<Fault> {
    Box::new(Fault {
        code: "path-leaves-folder".into(),
        title: "a site file outside the season file's folder".into(),
        place: Place { file: path.into(), row: None, column: None },
        found: format!("\"{path}\""),
        expected: "a path inside the folder of the season file, links resolved".into(),
        mend: "move the site file beside the season file".into(),
        also_rows: Vec::new(),
        fatal: true,
    })
}

/// Sites that the season's words on doubts name and that it does not have.
fn no_such_site(season: &Season, name: &str) -> Vec<Fault> {
    let ids: Vec<&str> = season.sites.iter().map(|s| s.id.as_str()).collect();
    let named = season.doubts.iter().map(|d| (&d.rule, &d.site)).chain(season.leave_out.iter().map(|l| (&l.doubt, &l.site)));
    let unknown = named.filter_map(|(code, site)| Some((code, site.as_deref()?))).filter(|(_, site)| !ids.contains(site));
    unknown
        .map(|(code, site)| Fault {
            code: "site-unknown".into(),
            title: format!("a word on the doubt \"{code}\" at a site that the season does not have"),
            place: Place::file(name),
            found: format!("\"{site}\""),
            expected: super::listed(&ids, "a site of the season, which has none"),
            mend: crosshouse_readings::declared::nearest(site, ids.iter().copied())
                .map_or_else(|| "correct the site, or remove it".to_owned(), |n| format!("did you mean \"{n}\"?")),
            also_rows: Vec::new(),
            fatal: true,
        })
        .collect()
}

fn twice(season: &Season, name: &str) -> Vec<Fault> {
    let mut seen: Vec<&str> = Vec::new();
    let mut faults = Vec::new();
    for site in &season.sites {
        if seen.contains(&site.id.as_str()) {
            faults.push(Fault {
                code: "site-twice".into(),
                title: "two sites have one id".into(),
                place: Place::file(name),
                found: format!("\"{}\" again, in {}", site.id, site.file),
                expected: "an id of its own for each site".into(),
                mend: "change the id in one of the site files".into(),
                also_rows: Vec::new(),
                fatal: true,
            });
        }
        seen.push(&site.id);
    }
    faults
}
