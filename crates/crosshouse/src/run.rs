//! `crosshouse run`: the whole job, from a season file to a results folder.
use crate::climate::{Days, houses, is_small};
use crate::outcome::{Outcome, UNUSABLE};
use crate::season::{self, Declarations};
use crate::store::{self, Former, Store, former};
use crate::{messages, provenance, writer};
use crosshouse_audit::OutFile;
use crosshouse_figures::{Drawing, Reader};
use crosshouse_logs::Progress;
use crosshouse_logs::tables::CleanTables;
use crosshouse_questions::{Answers, Setting};
use crosshouse_trial::tables::TrialTables;
use rayon::prelude::*;
use std::path::Path;

/// Dots per inch of the PNG figures: what journals ask of combined art at the least.
pub const DPI: u32 = 300;

/// What a run has worked out, before anything is written.
pub struct Worked {
    pub declared: Declarations,
    pub clean: CleanTables,
    pub trial: TrialTables,
    pub answers: Answers,
    pub store: store::Finished,
}

/// Reads, cleans, builds and answers.
///
/// # Errors
/// The texts of all faults, where a declared file or a table as a whole is unusable.
pub fn work(path: &Path, progress: &dyn Progress) -> Result<Worked, String> {
    work_from(path, Former::default(), progress)
}

/// The same, taking from an earlier run's store what has not changed since.
///
/// # Errors
/// As [`work`].
pub fn work_from(path: &Path, former: Former, progress: &dyn Progress) -> Result<Worked, String> {
    let declared = season::read(path)?;
    let days = Days { settings: &declared.settings, keep_records: is_small(&declared.season) };
    let kept = Store::new(days, &declared.season, former);
    let (clean, climate) = crosshouse_logs::read_season_through(&declared.season, progress, &kept);
    if clean.faults.iter().any(|f| f.fatal) {
        return Err(messages::faults(&clean.faults));
    }
    let houses = houses(climate);
    let by_site = clean.sites.iter().map(|s| s.site.id.as_str()).zip(houses.iter().map(Vec::as_slice));
    let store = kept.finish(by_site)?;
    let trial = crosshouse_trial::build_with(&clean, houses, &declared.factors, &declared.settings);
    let setting = Setting { reader_units: season::word(&declared.season.reader_units), seed: declared.season.seed };
    let answers = crosshouse_questions::answer(&declared.questions, &trial, &setting);
    Ok(Worked { declared, clean, trial, answers, store })
}

/// The whole job; the former results stay untouched unless everything could be made. The store lies in
/// the results folder.
pub fn run(path: &Path, out: &Path, progress: &dyn Progress) -> Outcome {
    run_with(path, out, None, progress)
}

/// The same, with the store in a folder of its own.
pub fn run_with(path: &Path, out: &Path, store: Option<&Path>, progress: &dyn Progress) -> Outcome {
    let former = store.map_or_else(|| former::of_results(out), former::of_store);
    let worked = match work_from(path, former, progress) {
        Ok(worked) => worked,
        Err(faults) => return Outcome::failed(faults + kept(out), UNUSABLE),
    };
    match files(&worked, store.is_none()).and_then(|(files, terminal)| write(out, store, &worked, &files).map(|()| terminal)) {
        Ok(terminal) => {
            let report = out.join("report.html").display().to_string();
            Outcome::done(terminal.replace("{report}", &report), messages::faults(&worked.clean.faults))
        }
        Err(why) => Outcome::failed(format!("{why}\n"), UNUSABLE),
    }
}

/// Writes the results, then the store where it lies by itself.
fn write(out: &Path, store: Option<&Path>, worked: &Worked, files: &[OutFile]) -> Result<(), String> {
    writer::replace(out, files)?;
    store.map_or(Ok(()), |folder| former::write(folder, &worked.store))
}

/// A word about an earlier run's results, where there are any.
fn kept(out: &Path) -> &'static str {
    if out.join(writer::MARK).is_file() { "The results of the earlier run are as they were.\n" } else { "" }
}

/// Every file of the results folder, and what the terminal says.
fn files(w: &Worked, with_store: bool) -> Result<(Vec<OutFile>, String), String> {
    let reader = if season::word(&w.declared.season.reader_units) == "lb" { Reader::Pounds } else { Reader::Kilograms };
    let drawings = crosshouse_figures::season_drawings(&w.answers, &w.trial, &w.declared.settings, reader).map_err(|e| e.to_string())?;
    let report = crosshouse_report::compose(&crosshouse_report::Input {
        season: facts(w),
        clean: &w.clean,
        trial: &w.trial,
        answers: &w.answers,
        drawings: &drawings,
        version: env!("CARGO_PKG_VERSION"),
    })
    .map_err(|e| e.to_string())?;
    let mut files = figures(&drawings)?;
    files.push(OutFile::new("report.html", report.html));
    files.push(OutFile::new("set-aside.csv", report.set_aside_csv));
    files.extend(report.tables.into_iter().map(|t| OutFile::new(format!("tables/{}.csv", t.name), t.csv)));
    files.extend(crosshouse_audit::bundle(&w.declared.texts, &w.clean, &w.trial, &w.answers)?);
    if with_store {
        files.extend(w.store.files.iter().map(|f| OutFile::new(format!("{}/{}", former::FOLDER, f.path), f.bytes.clone())));
    }
    let manifest = crosshouse_audit::manifest(&files);
    files.push(manifest);
    files.push(provenance::file(&w.clean, &w.store.stamps));
    Ok((files, report.terminal))
}

fn facts(w: &Worked) -> crosshouse_report::SeasonFacts {
    let facts = &w.declared.season;
    crosshouse_report::SeasonFacts {
        title: facts.title.clone(),
        crop: facts.crop.clone(),
        year: facts.year.clone(),
        reader_units: season::word(&facts.reader_units),
        early_days: w.declared.settings.early_days,
    }
}

/// SVG and PNG of every drawing; the PNG is rastered from that SVG.
fn figures(drawings: &[Drawing]) -> Result<Vec<OutFile>, String> {
    let both = |d: &Drawing| -> Result<[OutFile; 2], String> {
        let png = d.png(DPI).map_err(|e| e.to_string())?;
        Ok([OutFile::new(format!("figures/{}.svg", d.name), d.svg.clone()), OutFile::new(format!("figures/{}.png", d.name), png)])
    };
    let pairs: Result<Vec<[OutFile; 2]>, String> = drawings.par_iter().map(both).collect();
    Ok(pairs?.into_iter().flatten().collect())
}
