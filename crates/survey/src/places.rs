//! Where the files lie, and by which names the site file calls them.
use crosshouse_readings::{Fault, Place};
use std::path::{Path, PathBuf};

/// A file to be surveyed.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Placed {
    /// Relative to the folder of logs, with `/`.
    pub name: String,
    pub path: PathBuf,
}

#[derive(Debug)]
pub(crate) struct Places {
    pub files: Vec<Placed>,
    /// The folder of logs, links resolved.
    pub logs: PathBuf,
    /// Name of the folder that holds all the files.
    pub folder: String,
}

/// Names the files relative to the folder of logs: the one given, else the folder above their own.
///
/// # Errors
/// Every file that is not there, or lies outside.
pub(crate) fn place(files: &[PathBuf], logs: Option<&Path>) -> Result<Places, Vec<Fault>> {
    let mut faults = Vec::new();
    let mut paths: Vec<PathBuf> = Vec::new();
    for file in files {
        match file.canonicalize() {
            Ok(path) => paths.push(path),
            Err(_) => faults.push(fault(&shown(file), "file-missing", "a file that is not there", "no such file", "correct the path")),
        }
    }
    paths.sort();
    paths.dedup();
    let common = common_folder(&paths);
    let home = match logs {
        None => common.parent().map_or_else(|| common.clone(), Path::to_path_buf),
        Some(given) => given.canonicalize().unwrap_or_else(|_| {
            faults.push(fault(&shown(given), "logs-folder-missing", "the folder of logs is not there", "no such folder", "correct --logs"));
            common.clone()
        }),
    };
    let mut placed = Vec::new();
    for path in paths {
        match path.strip_prefix(&home) {
            Ok(inside) => placed.push(Placed { name: slashed(inside), path }),
            Err(_) => faults.push(fault(
                &shown(&path),
                "path-leaves-folder",
                "a file outside the folder of logs",
                "a file elsewhere",
                "copy it into the folder of logs, or name another with --logs",
            )),
        }
    }
    if !faults.is_empty() {
        return Err(faults);
    }
    let folder = common.file_name().map_or_else(|| "site".to_owned(), |n| n.to_string_lossy().into_owned());
    Ok(Places { files: placed, logs: home, folder })
}

fn fault(file: &str, code: &str, title: &str, found: &str, mend: &str) -> Fault {
    Fault {
        code: code.into(),
        title: title.into(),
        place: Place::file(file),
        found: found.into(),
        expected: "files inside one folder of logs".into(),
        mend: mend.into(),
        also_rows: Vec::new(),
        fatal: true,
    }
}

fn shown(path: &Path) -> String {
    path.file_name().map_or_else(|| path.display().to_string(), |n| n.to_string_lossy().into_owned())
}

fn slashed(path: &Path) -> String {
    path.components().map(|c| c.as_os_str().to_string_lossy()).collect::<Vec<_>>().join("/")
}

fn common_folder(paths: &[PathBuf]) -> PathBuf {
    let mut folders = paths.iter().filter_map(|p| p.parent());
    let mut common = folders.next().map(Path::to_path_buf).unwrap_or_default();
    for folder in folders {
        while !folder.starts_with(&common) {
            if !common.pop() {
                break;
            }
        }
    }
    common
}

/// The way from one folder to another, with `/`: `../../logs`.
pub(crate) fn relative(from: &Path, to: &Path) -> String {
    let (a, b): (Vec<_>, Vec<_>) = (from.components().collect(), to.components().collect());
    let shared = a.iter().zip(&b).take_while(|(x, y)| x == y).count();
    let mut parts: Vec<String> = vec!["..".to_owned(); a.len() - shared];
    parts.extend(b.iter().skip(shared).map(|c| c.as_os_str().to_string_lossy().into_owned()));
    if parts.is_empty() { ".".to_owned() } else { parts.join("/") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_way_from_folder_to_folder() {
        assert_eq!(relative(Path::new("/a/b/c"), Path::new("/a/d")), "../../d");
        assert_eq!(relative(Path::new("/a"), Path::new("/a")), ".");
        assert_eq!(relative(Path::new("/a"), Path::new("/a/logs")), "logs");
    }

    #[test]
    fn names_start_with_the_sites_folder_and_every_absent_file_is_told() {
        let folder = tempfile::tempdir().unwrap();
        std::fs::create_dir(folder.path().join("north")).unwrap();
        let file = |n: &str| folder.path().join("north").join(n);
        std::fs::write(file("plan.csv"), "x").unwrap();
        let places = place(&[file("plan.csv")], None).unwrap();
        assert_eq!((places.files[0].name.as_str(), places.folder.as_str()), ("north/plan.csv", "north"));
        assert_eq!(place(&[file("a"), file("plan.csv"), file("b")], None).unwrap_err().len(), 2);
    }
}
