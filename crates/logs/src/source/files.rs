//! Patterns to files: `*` and `?` inside the season's folder of logs, links resolved.
use super::Unreadable;
use std::path::{Component, Path, PathBuf};

/// A file that a pattern names.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Found {
    /// Relative to the folder of logs, with `/`.
    pub name: String,
    pub path: PathBuf,
}

/// Files of a pattern, in name order, and lock files that office programs leave behind.
pub(crate) fn expand(folder: &Path, pattern: &str) -> Result<(Vec<Found>, Vec<String>), Unreadable> {
    let parts = parts_of(pattern)?;
    let mut at = vec![Found { name: String::new(), path: folder.to_path_buf() }];
    let mut locks = Vec::new();
    for (i, part) in parts.iter().enumerate() {
        let last = i + 1 == parts.len();
        let mut next: Vec<Found> = at.iter().flat_map(|f| step(f, part, last, &mut locks)).collect();
        next.sort();
        at = next;
    }
    if at.is_empty() {
        return Err(none_found(folder, pattern, &parts));
    }
    inside(folder, pattern, &at)?;
    Ok((at, locks))
}

fn outside(pattern: &str) -> Unreadable {
    Unreadable::new(
        "path-leaves-folder",
        "a path that leaves the folder of logs",
        format!("\"{pattern}\""),
        "a path inside the season's folder of logs, links resolved",
        "copy the file into the folder of logs and name it there",
    )
}

fn parts_of(pattern: &str) -> Result<Vec<String>, Unreadable> {
    let mut parts = Vec::new();
    for component in Path::new(pattern).components() {
        match component {
            Component::Normal(part) => parts.push(part.to_string_lossy().into_owned()),
            Component::CurDir => {}
            _ => return Err(outside(pattern)),
        }
    }
    if parts.is_empty() || pattern.contains('\0') { Err(outside(pattern)) } else { Ok(parts) }
}

fn is_pattern(part: &str) -> bool {
    part.contains(['*', '?'])
}

fn step(at: &Found, part: &str, last: bool, locks: &mut Vec<String>) -> Vec<Found> {
    let named = |name: &str| Found {
        name: if at.name.is_empty() { name.to_owned() } else { format!("{}/{name}", at.name) },
        path: at.path.join(name),
    };
    if !is_pattern(part) {
        let found = named(part);
        return if found.path.symlink_metadata().is_ok() { vec![found] } else { Vec::new() };
    }
    let Ok(entries) = std::fs::read_dir(&at.path) else { return Vec::new() };
    let mut list = Vec::new();
    for entry in entries.flatten() {
        let name = entry.file_name().to_string_lossy().into_owned();
        let hidden = name.starts_with('.') && !part.starts_with('.');
        if hidden || !matches(part, &name) || (!last && !entry.path().is_dir()) {
            continue;
        }
        if name.starts_with("~$") {
            locks.push(named(&name).name);
        } else {
            list.push(named(&name));
        }
    }
    list
}

/// Whether `name` fits `pattern`: `*` any run of characters, `?` one.
pub(crate) fn matches(pattern: &str, name: &str) -> bool {
    let (p, n): (Vec<char>, Vec<char>) = (pattern.chars().collect(), name.chars().collect());
    // reached[j]: the pattern read so far fits the first j characters of the name.
    let mut reached = vec![false; n.len() + 1];
    reached[0] = true;
    for c in p {
        let mut next = vec![false; n.len() + 1];
        for j in 0..=n.len() {
            next[j] = match c {
                '*' => reached[j] || (j > 0 && next[j - 1]),
                '?' => j > 0 && reached[j - 1],
                c => j > 0 && reached[j - 1] && n[j - 1] == c,
            };
        }
        reached = next;
    }
    reached[n.len()]
}

/// What the one `*` of a pattern stands for in a name that fits it; the whole name without its ending
/// where the pattern has none, or several.
pub(crate) fn starred(pattern: &str, name: &str) -> String {
    let whole = || name.rsplit('/').next().unwrap_or(name).rsplit_once('.').map_or(name, |(stem, _)| stem).trim().to_owned();
    let Some((before, after)) = pattern.split_once('*').filter(|(_, after)| !after.contains('*')) else { return whole() };
    let (skip, tail) = (before.chars().count(), after.chars().count());
    let length = name.chars().count();
    name.chars().skip(skip).take(length.saturating_sub(skip + tail)).collect::<String>().trim().to_owned()
}

fn none_found(folder: &Path, pattern: &str, parts: &[String]) -> Unreadable {
    let literal = !parts.iter().any(|p| is_pattern(p));
    let mut beside = folder.to_path_buf();
    for part in parts.iter().take(parts.len().saturating_sub(1)).take_while(|p| !is_pattern(p)) {
        beside.push(part);
    }
    let mut names: Vec<String> = std::fs::read_dir(&beside)
        .map(|entries| entries.flatten().map(|e| e.file_name().to_string_lossy().into_owned()).collect())
        .unwrap_or_default();
    names.sort();
    let wanted = parts.last().map_or("", String::as_str);
    let near = crosshouse_readings::declared::nearest(wanted, names.iter().map(String::as_str));
    let mend = near.map_or_else(
        || "correct the path in the site file, or put the file there".to_owned(),
        |n| format!("did you mean \"{n}\"? It lies in the same folder"),
    );
    let (code, title) =
        if literal { ("file-missing", "a file that is not there") } else { ("pattern-matches-nothing", "a pattern that no file fits") };
    Unreadable::new(code, title, format!("no file \"{pattern}\" in the folder of logs"), "at least one file", &mend)
}

fn inside(folder: &Path, pattern: &str, found: &[Found]) -> Result<(), Unreadable> {
    let Ok(home) = folder.canonicalize() else { return Err(outside(pattern)) };
    for file in found {
        match file.path.canonicalize() {
            Ok(resolved) if resolved.starts_with(&home) => {}
            Ok(_) => return Err(Unreadable { found: format!("\"{}\", a link to a place outside", file.name), ..outside(pattern) }),
            Err(_) => {
                return Err(Unreadable::new(
                    "file-missing",
                    "a link that leads nowhere",
                    format!("\"{}\"", file.name),
                    "a file",
                    "correct the link, or copy the file there",
                ));
            }
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_star_stands_for_any_run_and_a_question_mark_for_one_character() {
        assert!(matches("picks-*.csv", "picks-july.csv"));
        assert!(matches("picks-*.csv", "picks-.csv"));
        assert!(matches("week-??.xlsx", "week-23.xlsx"));
        assert!(!matches("week-??.xlsx", "week-3.xlsx"));
        assert!(!matches("picks-*.csv", "picks-july.csv.bak"));
    }

    #[test]
    fn the_star_of_a_pattern_stands_for_a_part_of_the_name() {
        assert_eq!(starred("Week *", "Week 19"), "19");
        assert_eq!(starred("picks/picks-*.csv", "picks/picks-2031-06-02.csv"), "2031-06-02");
        assert_eq!(starred("*", "Block B"), "Block B");
        assert_eq!(starred("picks/b.csv", "picks/b.csv"), "b");
        assert_eq!(starred("*-*.csv", "a-b.csv"), "a-b");
    }

    #[test]
    fn a_path_that_climbs_is_refused() {
        let folder = tempfile::tempdir().unwrap();
        for pattern in ["../x.csv", "/etc/passwd", "a/../../x", ""] {
            assert_eq!(expand(folder.path(), pattern).unwrap_err().code, "path-leaves-folder", "{pattern}");
        }
    }

    #[cfg(unix)]
    #[test]
    fn a_link_to_a_place_outside_is_refused() {
        let outside = tempfile::tempdir().unwrap();
        std::fs::write(outside.path().join("x.csv"), "a\n").unwrap();
        let folder = tempfile::tempdir().unwrap();
        std::os::unix::fs::symlink(outside.path().join("x.csv"), folder.path().join("in.csv")).unwrap();
        assert_eq!(expand(folder.path(), "in.csv").unwrap_err().code, "path-leaves-folder");
        assert_eq!(expand(folder.path(), "*.csv").unwrap_err().code, "path-leaves-folder");
    }

    #[test]
    fn files_come_in_name_order_and_a_near_name_is_told() {
        let folder = tempfile::tempdir().unwrap();
        for name in ["b.csv", "a.csv", "~$a.csv", ".hidden.csv"] {
            std::fs::write(folder.path().join(name), "x").unwrap();
        }
        let (found, locks) = expand(folder.path(), "*.csv").unwrap();
        assert_eq!(found.iter().map(|f| f.name.as_str()).collect::<Vec<_>>(), ["a.csv", "b.csv"]);
        assert_eq!(locks, ["~$a.csv"]);
        let missing = expand(folder.path(), "bb.csv").unwrap_err();
        assert_eq!(missing.code, "file-missing");
        assert_eq!(missing.mend, "did you mean \"b.csv\"? It lies in the same folder");
    }
}
