//! The store of an earlier run: in its results folder, or in a folder of its own.
use super::Finished;
use super::stamps::Stamps;
use crate::writer;
use crosshouse_audit::OutFile;
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

/// The store's folder inside a results folder.
pub const FOLDER: &str = "store";
/// In a folder of its own: what was known of the raw files, and the mark by which the folder is known.
const SEEN: &str = "seen.json";

/// Where an earlier run's store lies, and what it knew of the raw files.
#[derive(Debug, Clone, Default)]
pub struct Former {
    pub folder: Option<PathBuf>,
    pub stamps: Stamps,
}

/// The store inside a results folder; the stamps of the raw files are in its provenance.
pub fn of_results(out: &Path) -> Former {
    let provenance = std::fs::read(out.join(writer::MARK)).unwrap_or_default();
    Former { folder: Some(out.join(FOLDER)), stamps: crate::provenance::stamps(&provenance) }
}

/// A store in a folder of its own.
pub fn of_store(folder: &Path) -> Former {
    let seen = std::fs::read(folder.join(SEEN)).unwrap_or_default();
    Former { folder: Some(folder.to_path_buf()), stamps: serde_json::from_slice(&seen).unwrap_or_default() }
}

/// Writes a store in a folder of its own: a table first, what is told of it after, so that a store of which
/// only a part was written is read anew.
///
/// # Errors
/// A sentence; no file is ever half written.
pub fn write(folder: &Path, store: &Finished) -> Result<(), String> {
    let mut stamps = of_store(folder).stamps;
    stamps.extend(store.stamps.clone());
    let seen = serde_json::to_vec_pretty(&stamps).map_err(|e| e.to_string())?;
    let (told, tables): (Vec<&OutFile>, Vec<&OutFile>) = store.files.iter().partition(|f| f.path.starts_with("climate-told/"));
    let seen = OutFile::new(SEEN, seen);
    writer::update(folder, SEEN, &[&tables, &told, &[&seen]])?;
    let sites = told.iter().filter_map(|f| Path::new(&f.path).parent()?.strip_prefix("climate-told").ok());
    let kept: BTreeSet<PathBuf> = store.files.iter().map(|f| folder.join(&f.path)).collect();
    // Rows of a raw file that is gone would be read beside those of the file that took its place.
    sites.map(|site| folder.join(super::rows::FOLDER).join(site)).try_for_each(|of_site| writer::leave_only(&of_site, &kept))
}
