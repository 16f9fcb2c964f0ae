//! Raw logs of unknown habit to a first draft of a site file.
//!
//! Nothing is guessed in silence: each line of the draft has its evidence beside it, and what the files
//! do not show is an open question, `"?"`, with the possible answers above it. The site-file reader
//! refuses such a draft until a person has answered.
#![cfg_attr(test, allow(clippy::unwrap_used, clippy::disallowed_methods))]

mod assign;
mod body;
mod chapters;
mod codes;
mod columns;
mod dates;
mod draft;
mod frame;
mod ids;
mod kinds;
mod known;
mod layout;
mod log;
mod measured;
mod numbers;
mod places;
mod ranges;
mod read;
mod season;
mod site;
mod summary;
#[cfg(test)]
mod testing;
mod understand;
mod weeks;
mod words;
mod write;

pub use known::Factor;
pub use season::factors_of;

use crosshouse_readings::Fault;
use std::path::{Path, PathBuf};

/// What to survey.
#[derive(Debug, Clone)]
pub struct Request<'r> {
    pub files: &'r [PathBuf],
    /// The folder that paths are relative to; `None`: the folder above the files' own.
    pub logs: Option<&'r Path>,
    /// Factors of a season file that is there already.
    pub factors: Option<Vec<Factor>>,
    /// A season file is to be drafted: its folder, and the site file's name beside it.
    pub season: Option<(&'r Path, &'r str)>,
}

/// The drafts.
#[derive(Debug, Clone, PartialEq)]
pub struct Survey {
    /// The site file.
    pub site: String,
    /// The season file, where one was asked for.
    pub season: Option<String>,
    /// In sentences, file by file.
    pub summary: String,
    /// Open questions of the site file, and of the season file.
    pub questions: (usize, usize),
}

/// Reads the files and drafts.
///
/// # Errors
/// A fault for every file that cannot be read.
pub fn survey(request: &Request<'_>) -> Result<Survey, Vec<Fault>> {
    let places = places::place(request.files, request.logs)?;
    let (parts, unknown, sheets) = read::read(&places.files)?;
    let (logs, known, strange) = understand::understand(parts, request.factors.clone());
    let id = site::id_of(&places.folder);
    let mut chapters = vec![site::chapter(&id, &logs, &known)];
    if let Some(first) = chapters.first_mut() {
        first.title = "The site".into();
    }
    chapters.extend(chapters::of_logs(&logs, &known, &sheets));
    chapters.extend(site::not_understood(&unknown.into_iter().chain(strange).collect::<Vec<_>>()));
    let drafted = request.season.map(|(folder, name)| {
        let folder = folder.canonicalize().unwrap_or_else(|_| folder.to_path_buf());
        season::draft(&logs, &known, &id, &places::relative(&folder, &places.logs), name)
    });
    let mut told = summary::text(&chapters);
    let open = summary::questions(&chapters);
    let of_season = drafted.as_ref().map_or(0, |(_, c)| summary::questions(std::slice::from_ref(c)));
    if let Some((_, chapter)) = &drafted {
        told.push_str(&summary::text(std::slice::from_ref(chapter)));
    }
    let mut intro = vec![
        "Drafted by crosshouse survey from the files named below. \"sure\" and \"likely\" say why a line is as it is; read them."
            .to_owned(),
        "Answer every \"?\": its question and the possible answers stand above it. Until then the file does not run.".to_owned(),
        String::new(),
    ];
    intro.extend(chapters.iter().filter(|c| !c.title.is_empty() && c.title != "The site").map(|c| c.title.clone()));
    Ok(Survey { site: write::toml(&intro, &chapters), season: drafted.map(|(text, _)| text), summary: told, questions: (open, of_season) })
}
