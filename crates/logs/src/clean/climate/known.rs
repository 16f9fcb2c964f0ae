//! Which files of a log an earlier run kept the rows of.
use super::kept::{Kept, Packed};
use super::stream::Task;
use crate::loggers::{ClimateFile, Loggers};
use crate::source::Found;
use crosshouse_readings::FileId;

pub(super) struct Known<'t, L> {
    task: &'t Task<'t>,
    loggers: &'t L,
    /// By file.
    rows: Vec<Option<Kept>>,
}

impl<'t, L: Loggers> Known<'t, L> {
    pub fn of(task: &'t Task<'t>, loggers: &'t L) -> Self {
        let recalled = |found: &Found| loggers.recall_file(&file(task, found)).filter(|_| !task.alone).map(Kept::of);
        let rows = task.files.iter().map(recalled);
        Known { task, loggers, rows: rows.collect() }
    }

    /// The rows of a file that need not be read again.
    pub fn rows(&self, file: FileId) -> Option<&Kept> {
        self.rows.get(file.0 as usize)?.as_ref()
    }

    /// The files to be read.
    pub fn unknown(&self) -> impl Iterator<Item = &'t Found> {
        self.task.files.iter().zip(&self.rows).filter(|(_, rows)| rows.is_none()).map(|(found, _)| found)
    }

    /// Whether the rows of a file are to be kept.
    pub fn wants(&self, file: FileId) -> bool {
        !self.task.alone && self.loggers.keeps_files() && self.rows(file).is_none()
    }

    pub fn keep(&self, of: FileId, packed: Packed) {
        if let Some(found) = self.task.files.get(of.0 as usize) {
            self.loggers.keep_file(&file(self.task, found), &packed.sha256, packed.rows);
        }
    }
}

fn file<'t>(task: &Task<'t>, found: &'t Found) -> ClimateFile<'t> {
    ClimateFile { site: task.site, log: task.log, number: task.number, name: &found.name, path: &found.path }
}
