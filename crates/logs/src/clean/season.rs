//! A whole season: every file of every site, in the order of the declarations.
use super::site::{SiteFiles, read_site};
use crate::account::Book;
use crate::declare::Season;
use crate::source::{Found, expand};
use crate::tables::CleanTables;

/// Told before each file is read.
pub trait Progress {
    /// `index` counts from 0.
    fn file(&self, name: &str, index: usize, of: usize);
}

/// Progress that no one watches.
pub struct Silent;

impl Progress for Silent {
    fn file(&self, _name: &str, _index: usize, _of: usize) {}
}

/// The book and the count of files, while they are read.
pub(super) struct Reading<'p> {
    pub season: &'p Season,
    pub book: Book,
    pub progress: &'p dyn Progress,
    pub index: usize,
    pub of: usize,
}

impl Reading<'_> {
    /// The tables of a file, with the progress told.
    pub fn open(&mut self, log: &crate::declare::Log, found: &Found) -> Vec<crate::shape::Table> {
        self.progress.file(&found.name, self.index, self.of);
        self.index += 1;
        crate::shape::open(log, found, &mut self.book)
    }
}

/// Reads and cleans every log of the season. Never fails: what is wrong is in
/// [`CleanTables::faults`], fatal where a table as a whole cannot be used.
pub fn read_season(season: &Season, progress: &dyn Progress) -> CleanTables {
    let mut reading = Reading { season, book: Book::default(), progress, index: 0, of: 0 };
    let files: Vec<SiteFiles> = season
        .sites
        .iter()
        .map(|site| {
            reading.book.site.clone_from(&site.id);
            SiteFiles::find(site, &season.logs_folder, &mut reading.book)
        })
        .collect();
    reading.of = files.iter().map(SiteFiles::count).sum();
    let mut sites = Vec::new();
    for (site, files) in season.sites.iter().zip(&files) {
        reading.book.site.clone_from(&site.id);
        sites.push(read_site(season, site, files, &mut reading));
    }
    let mut book = reading.book;
    book.settle();
    CleanTables {
        sites,
        files: book.files,
        set_aside: book.set_aside,
        flags: book.flags,
        inferences: book.inferences,
        faults: book.faults,
        limit_changes: season.doubts.clone(),
        left_out: season.leave_out.clone(),
    }
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
