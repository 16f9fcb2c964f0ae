//! A generated season on disk: raw logs, the recorded truth, and the declarations beside them.
use super::logs::{self, Files, WriteResult};
use super::season::{Generated, Parts};
use std::error::Error;
use std::fs;
use std::path::{Component, Path, PathBuf};

const SEASON_FILE: &str = include_str!("../../../pipelines/four-stations/season.toml");
const SITE_FILES: [(&str, &str); 4] = [
    ("tarn-hollow.toml", include_str!("../../../pipelines/four-stations/tarn-hollow.toml")),
    ("sedge-flats.toml", include_str!("../../../pipelines/four-stations/sedge-flats.toml")),
    ("marl-ridge.toml", include_str!("../../../pipelines/four-stations/marl-ridge.toml")),
    ("withy-end.toml", include_str!("../../../pipelines/four-stations/withy-end.toml")),
];
const COMMITTED_LOGS: &str = "\"../../fixtures/four-stations\"";

/// The folder of logs: every station's raw logs, and `truth.toml` for the tests alone.
///
/// # Errors
/// A workbook or a time zone that the libraries refuse.
pub fn files(season: &Generated) -> WriteResult {
    let mut files = Files::new();
    for station in &season.stations {
        files.extend(logs::of_station(station, season.seed)?);
    }
    files.insert("truth.toml".into(), toml::to_string(&season.truth)?.into_bytes());
    Ok(files)
}

/// The season file and the site files for logs at `logs` (a path relative to them). Without climate and root zone
/// generated, the site files do not declare them.
///
/// # Errors
/// None for the committed declarations.
pub fn pipeline_files(parts: Parts, logs: &str) -> WriteResult {
    let mut files = Files::new();
    let season = SEASON_FILE.replace(COMMITTED_LOGS, &format!("'{logs}'"));
    files.insert("season.toml".into(), season.into_bytes());
    for (name, text) in SITE_FILES {
        let text = if parts == Parts::All { text.to_owned() } else { harvest_alone(text)? };
        files.insert(name.into(), text.into_bytes());
    }
    Ok(files)
}

fn harvest_alone(site_file: &str) -> Result<String, Box<dyn Error>> {
    let mut site: toml::Table = site_file.parse()?;
    site.remove("climate");
    site.remove("root_zone");
    Ok(toml::to_string(&site)?)
}

/// Writes the logs of a season to `dir_logs` and its declarations to `dir_pipeline`; both folders are made if
/// they are not there.
///
/// # Errors
/// As [`files`], or a folder that cannot be written.
pub fn write(season: &Generated, dir_logs: &Path, dir_pipeline: &Path) -> Result<(), Box<dyn Error>> {
    put_all(dir_logs, &files(season)?)?;
    fs::create_dir_all(dir_pipeline)?;
    let between = way(&dir_pipeline.canonicalize()?, &dir_logs.canonicalize()?);
    put_all(dir_pipeline, &pipeline_files(season.parts, &between)?)
}

/// Writes each file under `folder`.
///
/// # Errors
/// A folder or file that cannot be written.
#[allow(clippy::disallowed_methods, reason = "fixtures are no results: the generator writes them in place")]
pub fn put_all(folder: &Path, files: &Files) -> Result<(), Box<dyn Error>> {
    for (name, bytes) in files {
        let path = folder.join(name);
        if let Some(parent) = path.parent() {
            fs::create_dir_all(parent)?;
        }
        fs::write(path, bytes)?;
    }
    Ok(())
}

/// The way from one folder to another, with forward slashes.
fn way(from: &Path, to: &Path) -> String {
    let (from, to): (Vec<Component>, Vec<Component>) = (from.components().collect(), to.components().collect());
    let shared = from.iter().zip(&to).take_while(|(a, b)| a == b).count();
    let up = std::iter::repeat_n(Component::ParentDir, from.len() - shared);
    let path: PathBuf = up.chain(to.into_iter().skip(shared)).collect();
    path.to_string_lossy().replace('\\', "/")
}
