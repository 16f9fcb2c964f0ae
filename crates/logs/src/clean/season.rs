//! A whole season: every file of every site, in the order of the declarations.
use super::climate;
use super::site::{SiteFiles, read_site};
use crate::account::Book;
use crate::declare::{Season, SiteDeclaration};
use crate::loggers::{ClimateFiles, ClimateReading, LoggerReading, Loggers, Whole};
use crate::source::{Found, expand};
use crate::tables::CleanTables;
use rayon::prelude::*;
use std::sync::atomic::{AtomicUsize, Ordering};

/// Told before each file is read; several threads may tell it at once.
pub trait Progress: Sync {
    /// `index` counts from 0.
    fn file(&self, name: &str, index: usize, of: usize);
}

/// Progress that no one watches.
pub struct Silent;

impl Progress for Silent {
    fn file(&self, _name: &str, _index: usize, _of: usize) {}
}

/// The count of files, while they are read.
struct Counted<'p> {
    progress: &'p dyn Progress,
    index: AtomicUsize,
    of: usize,
}

impl Counted<'_> {
    fn begins(&self, found: &Found) {
        self.progress.file(&found.name, self.index.fetch_add(1, Ordering::Relaxed), self.of);
    }
}

/// The book and the count of files, while they are read.
pub(super) struct Reading<'p> {
    pub season: &'p Season,
    pub book: Book,
    counted: &'p Counted<'p>,
}

impl Reading<'_> {
    /// The tables of a file, with the progress told.
    pub fn open(&mut self, log: &crate::declare::Log, found: &Found) -> Vec<crate::shape::Table> {
        self.counted.begins(found);
        crate::shape::open(log, found, &mut self.book)
    }
}

/// Reads and cleans every log of the season, every climate record kept in memory. Never fails: what is
/// wrong is in [`CleanTables::faults`], fatal where a table as a whole cannot be used.
pub fn read_season(season: &Season, progress: &dyn Progress) -> CleanTables {
    let (mut tables, climate) = read_season_through(season, progress, &Whole);
    for (site, loggers) in tables.sites.iter_mut().zip(climate) {
        site.climate = loggers.into_iter().map(|logger| logger.out.behind(logger.moved)).collect();
    }
    tables
}

/// The same, with the climate records handed to `loggers` as they pass: [`SiteTables::climate`] stays
/// empty. Beside the tables, what `loggers` made of each logger of each site.
///
/// [`SiteTables::climate`]: crate::tables::SiteTables::climate
pub fn read_season_through<L: Loggers>(
    season: &Season,
    progress: &dyn Progress,
    loggers: &L,
) -> (CleanTables, Vec<Vec<LoggerReading<L::Out>>>) {
    let mut book = Book::default();
    let files: Vec<SiteFiles> = season
        .sites
        .iter()
        .map(|site| {
            book.site.clone_from(&site.id);
            SiteFiles::find(site, &season.logs_folder, &mut book)
        })
        .collect();
    let counted = Counted { progress, index: AtomicUsize::new(0), of: files.iter().map(SiteFiles::count).sum() };
    let climate = climate_logs(season, &files, &counted, loggers);
    let mut reading = Reading { season, book, counted: &counted };
    let (mut sites, mut out) = (Vec::new(), Vec::new());
    for ((site, files), climate) in season.sites.iter().zip(&files).zip(climate) {
        reading.book.site.clone_from(&site.id);
        let mut here = climate.loggers;
        let join = |book: &mut Book| {
            let moved = book.append(climate.told);
            here.iter_mut().for_each(|logger| logger.moved += moved);
        };
        sites.push(read_site(season, site, files, join, &mut reading));
        out.push(here);
    }
    let mut book = reading.book;
    book.settle();
    let told = book.told();
    let tables = CleanTables {
        sites,
        files: told.files,
        set_aside: told.set_aside,
        flags: told.flags,
        inferences: told.inferences,
        faults: told.faults,
        limit_changes: season.doubts.clone(),
        left_out: season.leave_out.clone(),
    };
    (tables, out)
}

/// Bytes of all files that the climate logs of a season name.
pub fn climate_bytes(season: &Season) -> u64 {
    let mut book = Book::default();
    let logs = season.sites.iter().flat_map(|site| &site.climate);
    let files = logs.flat_map(|log| find(&log.log, &season.logs_folder, &mut book));
    files.filter_map(|f| std::fs::metadata(&f.path).ok()).map(|m| m.len()).sum()
}

/// The climate logs of every site, several at a time; in the order of the declarations.
fn climate_logs<L: Loggers>(season: &Season, files: &[SiteFiles], counted: &Counted<'_>, loggers: &L) -> Vec<ClimateReading<L::Out>> {
    let sites: Vec<(&SiteDeclaration, &SiteFiles)> = season.sites.iter().zip(files).collect();
    let read = |(site, files): &(&SiteDeclaration, &SiteFiles)| {
        let named = files.climate.iter().flatten().map(|f| (f.name.clone(), f.path.clone())).collect();
        let about = ClimateFiles { season, site, files: named };
        let begins = |found: &Found| counted.begins(found);
        loggers.recall(&about).unwrap_or_else(|| loggers.keep(&about, climate::read(season, site, &files.climate, loggers, &begins)))
    };
    sites.par_iter().map(read).collect()
}

/// Files of one log: every pattern, each file once.
pub(super) fn find(log: &crate::declare::Log, folder: &std::path::Path, book: &mut Book) -> Vec<Found> {
    let mut all: Vec<Found> = Vec::new();
    for pattern in &log.files {
        match expand(folder, pattern) {
            Ok((found, locks)) => {
                for lock in locks {
                    book.infer(&lock, "file not read", "a lock file of an open workbook", "its name begins with ~$");
                }
                all.extend(found);
            }
            Err(why) => {
                let place = format!("{} / line {}", log.declared_in, log.line);
                book.unreadable(
                    pattern,
                    crate::source::Unreadable {
                        expected: format!("{} (declared in {place})", why.expected).replace(" / line", ", line"),
                        ..why
                    },
                );
            }
        }
    }
    all.sort();
    all.dedup();
    all
}
