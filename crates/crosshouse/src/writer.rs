//! The all-or-nothing writer: results are written beside the target and moved in at the end.
//! Only this module writes files.
use crosshouse_audit::OutFile;
use rayon::prelude::*;
use std::collections::BTreeSet;
use std::io;
use std::path::{Path, PathBuf};

/// The file that marks a folder as one of ours, so that nothing else is ever replaced.
pub const MARK: &str = "audit/provenance.json";

/// Replaces `target` by a folder that holds exactly `files`.
///
/// # Errors
/// A sentence; the former results are then untouched.
pub fn replace(target: &Path, files: &[OutFile]) -> Result<(), String> {
    may_replace(target)?;
    let parent = target.parent().filter(|p| !p.as_os_str().is_empty()).map_or_else(|| PathBuf::from("."), Path::to_path_buf);
    std::fs::create_dir_all(&parent).map_err(|e| said(&parent, "cannot be made", &e))?;
    let beside =
        tempfile::Builder::new().prefix(".crosshouse-").tempdir_in(&parent).map_err(|e| said(&parent, "cannot be written to", &e))?;
    let fresh = beside.path().join("new");
    for file in files {
        write(&fresh.join(&file.path), &file.bytes)?;
    }
    swap(target, &fresh, &beside.path().join("old"))
}

/// Puts files into a folder that holds others of ours, each of them whole or not at all, the sets one after
/// the other; those that are there already are left. `mark`: the file by which the folder is known as ours.
///
/// # Errors
/// A sentence.
pub fn update(folder: &Path, mark: &str, sets: &[&[&OutFile]]) -> Result<(), String> {
    std::fs::create_dir_all(folder).map_err(|e| said(folder, "cannot be made", &e))?;
    let empty = std::fs::read_dir(folder).map_err(|e| said(folder, "cannot be read", &e))?.next().is_none();
    if !empty && !folder.join(mark).is_file() {
        return Err(format!("{}: holds other files\nmend        choose another folder with --store", folder.display()));
    }
    let beside =
        tempfile::Builder::new().prefix(".crosshouse-").tempdir_in(folder).map_err(|e| said(folder, "cannot be written to", &e))?;
    sets.iter().try_for_each(|files| files.par_iter().enumerate().try_for_each(|(i, file)| place(folder, beside.path(), i, file)))
}

/// Deletes the files of a folder that are not in `kept`; a folder that is not there has none.
///
/// # Errors
/// A sentence.
pub fn leave_only(folder: &Path, kept: &BTreeSet<PathBuf>) -> Result<(), String> {
    let Ok(entries) = std::fs::read_dir(folder) else { return Ok(()) };
    let gone = entries.filter_map(|e| Some(e.ok()?.path())).filter(|path| path.is_file() && !kept.contains(path));
    gone.into_iter().try_for_each(|path| std::fs::remove_file(&path).map_err(|e| said(&path, "cannot be deleted", &e)))
}

/// Puts one file into a folder; `i`: its number among those that are written beside it at one time.
fn place(folder: &Path, beside: &Path, i: usize, file: &OutFile) -> Result<(), String> {
    let path = folder.join(&file.path);
    if std::fs::read(&path).is_ok_and(|bytes| bytes == file.bytes) {
        return Ok(());
    }
    let fresh = beside.join(i.to_string());
    write(&fresh, &file.bytes)?;
    if let Some(parent) = path.parent() {
        std::fs::create_dir_all(parent).map_err(|e| said(parent, "cannot be made", &e))?;
    }
    std::fs::rename(&fresh, &path).map_err(|e| said(&path, "cannot be moved in", &e))
}

/// A results folder of ours, an empty folder, or nothing at all may be replaced.
fn may_replace(target: &Path) -> Result<(), String> {
    let Ok(kind) = std::fs::symlink_metadata(target) else { return Ok(()) };
    let expected = "expected    a folder that does not exist yet, is empty, or holds results of an earlier run\nmend        choose another folder with --out";
    if !kind.is_dir() {
        return Err(format!("{}: not a folder\n{expected}", target.display()));
    }
    let empty = std::fs::read_dir(target).map_err(|e| said(target, "cannot be read", &e))?.next().is_none();
    if empty || target.join(MARK).is_file() {
        return Ok(());
    }
    Err(format!("{}: holds other files, which a run would delete\n{expected}", target.display()))
}

#[allow(clippy::disallowed_methods)] // the one place that writes
fn write(path: &Path, bytes: &[u8]) -> Result<(), String> {
    if let Some(parent) = path.parent() {
        std::fs::create_dir_all(parent).map_err(|e| said(parent, "cannot be made", &e))?;
    }
    std::fs::write(path, bytes).map_err(|e| said(path, "cannot be written", &e))
}

/// Writes single files, all or none: each beside its target first, then moved in.
///
/// # Errors
/// A sentence; no target is then touched. One that is there already is replaced only where `replace` says so.
pub fn single(files: &[(PathBuf, String)], replace: bool) -> Result<(), String> {
    for (path, _) in files {
        if path.is_dir() {
            return Err(format!("{}: a folder\nexpected    the name of a file\nmend        name a file in it", path.display()));
        }
        if !replace && std::fs::symlink_metadata(path).is_ok() {
            let path = path.display();
            return Err(format!(
                "{path}: is there already\nexpected    a file that does not exist yet\nmend        choose another name, or add --replace"
            ));
        }
    }
    let beside: Vec<_> = files.iter().map(|(path, text)| written_beside(path, text)).collect::<Result<_, _>>()?;
    for ((path, _), file) in files.iter().zip(beside) {
        file.persist(path).map_err(|e| said(path, "cannot be written", &e.error))?;
    }
    Ok(())
}

fn written_beside(path: &Path, text: &str) -> Result<tempfile::NamedTempFile, String> {
    let folder = path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let mut file = tempfile::Builder::new().prefix(".crosshouse-").tempfile_in(folder).map_err(|e| said(path, "cannot be written", &e))?;
    io::Write::write_all(&mut file, text.as_bytes()).map_err(|e| said(path, "cannot be written", &e))?;
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        let readable = std::fs::Permissions::from_mode(0o644);
        file.as_file().set_permissions(readable).map_err(|e| said(path, "cannot be written", &e))?;
    }
    Ok(file)
}

/// Moves the former folder aside and the fresh one in; puts the former back if that fails.
fn swap(target: &Path, fresh: &Path, old: &Path) -> Result<(), String> {
    let existed = target.exists();
    if existed {
        std::fs::rename(target, old).map_err(|e| said(target, "cannot be moved aside", &e))?;
    }
    std::fs::rename(fresh, target).map_err(|e| {
        if existed {
            let _ = std::fs::rename(old, target);
        }
        said(target, "cannot be moved in", &e)
    })
}

fn said(path: &Path, what: &str, error: &io::Error) -> String {
    format!("{}: {what} ({error})", path.display())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ours(text: &str) -> Vec<OutFile> {
        vec![OutFile::new(MARK, "{}"), OutFile::new("report.html", text)]
    }

    #[test]
    fn a_second_run_replaces_the_first_and_leaves_nothing_beside_it() {
        let folder = tempfile::tempdir().unwrap();
        let target = folder.path().join("out");
        replace(&target, &[ours("one"), vec![OutFile::new("stale.csv", "x")]].concat()).unwrap();
        replace(&target, &ours("two")).unwrap();
        assert_eq!(std::fs::read_to_string(target.join("report.html")).unwrap(), "two");
        assert!(!target.join("stale.csv").exists());
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
    }

    #[test]
    fn a_folder_of_other_files_is_never_replaced() {
        let folder = tempfile::tempdir().unwrap();
        replace(&folder.path().join("home"), &[OutFile::new("thesis.doc", "dear")]).unwrap();
        let said = replace(&folder.path().join("home"), &ours("two")).unwrap_err();
        assert!(said.contains("holds other files"));
        assert!(folder.path().join("home/thesis.doc").exists());
    }
}
