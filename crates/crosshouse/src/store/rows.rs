//! The rows of single climate files, kept so that a file is not read again where others of its site, or what
//! is asked of them, change.
use super::{RULES, Store};
use crosshouse_audit::sha256;
use crosshouse_logs::loggers::ClimateFile;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Folder of the store.
pub(super) const FOLDER: &str = "climate-rows";

/// What decided the kept rows of one file, and their hash.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct RowsKept {
    /// Hash of what is declared of the log and its site, and of the rules.
    decided_by: String,
    /// SHA-256 of the raw file.
    raw: String,
    /// SHA-256 of the packed rows.
    sha256: String,
}

fn decided_by(file: &ClimateFile<'_>) -> String {
    let site = file.site;
    let declared = serde_json::json!({
        "rules": RULES,
        "site": [&site.id, &site.time_zone],
        "dates": [site.seeded, site.transplanted, site.ended],
        "houses": site.houses,
        "log": file.log,
        "file": file.name,
    });
    sha256(declared.to_string().as_bytes())
}

impl Store<'_> {
    /// A file's name may be longer, packed for a path, than a path may be: its hash stands for it.
    fn rows_path(&self, file: &ClimateFile<'_>) -> String {
        let name: String = sha256(file.name.as_bytes()).chars().take(16).collect();
        self.path(FOLDER, &file.site.id, &format!("log-{}-{name}.parquet", file.number + 1))
    }

    /// Remembers what the earlier run kept of a site's files.
    pub(super) fn know_rows(&self, rows: &BTreeMap<String, RowsKept>) {
        let mut known = self.former_rows.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
        known.extend(rows.iter().map(|(path, about)| (path.clone(), about.clone())));
    }

    /// The packed rows at a path of the earlier store, where they are as they were written.
    pub(super) fn rows_of(&self, path: &str, about: &RowsKept) -> Option<Vec<u8>> {
        let rows = std::fs::read(self.former.folder.as_ref()?.join(path)).ok()?;
        (sha256(&rows) == about.sha256).then_some(rows)
    }

    pub(super) fn recalled_rows(&self, file: &ClimateFile<'_>) -> Option<Vec<u8>> {
        if !self.by_file {
            return None;
        }
        let path = self.rows_path(file);
        let about = self.former_rows.lock().unwrap_or_else(std::sync::PoisonError::into_inner).get(&path).cloned()?;
        if about.decided_by != decided_by(file) {
            return None;
        }
        let stamp = self.unchanged(file.name, file.path, &about.raw)?;
        let rows = self.rows_of(&path, &about)?;
        self.with(|now| {
            now.stamps.insert(file.name.to_owned(), stamp);
            now.files.insert(path.clone(), rows.clone());
            now.rows.insert(path, about);
        });
        Some(rows)
    }

    /// `raw`: SHA-256 of the file they were read from.
    pub(super) fn keep_rows(&self, file: &ClimateFile<'_>, raw: &str, rows: Vec<u8>) {
        let path = self.rows_path(file);
        let about = RowsKept { decided_by: decided_by(file), raw: raw.to_owned(), sha256: sha256(&rows) };
        self.with(|now| {
            now.files.insert(path.clone(), rows);
            now.rows.insert(path, about);
        });
    }

    /// What this run keeps of a site's files.
    pub(super) fn rows_now(&self, site: &str) -> BTreeMap<String, RowsKept> {
        let folder = self.path(FOLDER, site, "");
        self.with(|now| now.rows.iter().filter(|(path, _)| path.starts_with(&folder)).map(|(p, r)| (p.clone(), r.clone())).collect())
    }
}
