//! `crosshouse survey`: raw logs of unknown habit to a drafted site file.
use crate::outcome::{DONE, Outcome, UNUSABLE};
use crate::{messages, writer};
use crosshouse_survey::{Factor, Survey, factors_of};
use std::path::{Path, PathBuf};

/// What the command line asks for.
#[derive(Debug, Clone, Copy)]
pub struct Request<'r> {
    pub files: &'r [PathBuf],
    /// The site file; `None`: standard output.
    pub out: Option<&'r Path>,
    /// The season file: read if it is there, else drafted.
    pub season: Option<&'r Path>,
    pub logs: Option<&'r Path>,
    /// Whether a site file that is there already may be replaced.
    pub replace: bool,
}

/// Drafts, and writes the drafts: both files or none.
pub fn survey(request: &Request<'_>) -> Outcome {
    let known = match request.season.filter(|s| s.exists()).map(read_factors).transpose() {
        Ok(known) => known,
        Err(said) => return Outcome::failed(said, UNUSABLE),
    };
    let name = match request.out.zip(request.season).map(|(out, season)| from_season(out, season)) {
        Some(Err(said)) => return Outcome::failed(said, UNUSABLE),
        Some(Ok(name)) => name,
        None => String::new(),
    };
    let fresh = request.season.filter(|_| known.is_none()).map(|s| (folder(s), name.as_str()));
    let asked = crosshouse_survey::Request { files: request.files, logs: request.logs, factors: known.clone(), season: fresh };
    let found = match crosshouse_survey::survey(&asked) {
        Ok(found) => found,
        Err(faults) => return Outcome::failed(messages::told(&faults), UNUSABLE),
    };
    let Some(out) = request.out else { return Outcome { out: found.site, err: String::new(), status: DONE } };
    let mut files = vec![(out.to_path_buf(), found.site.clone())];
    files.extend(request.season.zip(found.season.clone()).map(|(path, text)| (path.to_path_buf(), text)));
    match writer::single(&files, request.replace) {
        Ok(()) => Outcome { out: format!("{}\n{}", found.summary, closing(request, &found)), err: String::new(), status: DONE },
        Err(said) => Outcome::failed(format!("{said}\n"), UNUSABLE),
    }
}

fn read_factors(season: &Path) -> Result<Vec<Factor>, String> {
    let text = std::fs::read_to_string(season).map_err(|e| format!("{}: cannot be read ({e})\n", season.display()))?;
    Ok(factors_of(&text))
}

/// The site file as the season file is to name it.
fn from_season(out: &Path, season: &Path) -> Result<String, String> {
    let resolved = |p: &Path| folder(p).canonicalize().map_err(|e| format!("{}: its folder cannot be read ({e})\n", p.display()));
    let (site, home) = (resolved(out)?, resolved(season)?);
    let Ok(inside) = site.strip_prefix(&home) else {
        let (out, mend) = (out.display(), "write the site file beside the season file, or in a folder below it");
        return Err(format!("{out}: not in the season file's folder\nmend        {mend}\n"));
    };
    let mut parts: Vec<String> = inside.components().map(|c| c.as_os_str().to_string_lossy().into_owned()).collect();
    parts.push(file_name(out));
    Ok(parts.join("/"))
}

fn file_name(path: &Path) -> String {
    path.file_name().map_or_else(String::new, |n| n.to_string_lossy().into_owned())
}

fn folder(path: &Path) -> &Path {
    path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."))
}

/// What was written, and what is to be done next.
fn closing(request: &Request<'_>, found: &Survey) -> String {
    let open = |n: usize| match n {
        0 => "no open question".to_owned(),
        1 => "one open question".to_owned(),
        n => format!("{n} open questions"),
    };
    let site = request.out.map(file_name).unwrap_or_default();
    let mut text = format!("{site}: drafted, {}\n", open(found.questions.0));
    if let Some(season) = request.season {
        let name = file_name(season);
        text.push_str(&match &found.season {
            Some(_) => format!("{name}: drafted, {}\n", open(found.questions.1)),
            None => format!("{name}: its factors were used; see that \"{site}\" stands in its `sites`\n"),
        });
    }
    if found.questions.0 + found.questions.1 > 0 {
        text.push_str("Next: put an answer in the place of every \"?\", then run crosshouse check.\n");
    }
    text
}
