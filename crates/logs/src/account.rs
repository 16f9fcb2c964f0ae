//! The book of a run: one account a file, and everything that was said of rows, cells and files.
mod said;

use crate::declare::LogKind;
use crate::flags::FileRows;
use crate::loggers::Told;
use crate::source::Unreadable;
use crosshouse_readings::said::FileAccount;
use crosshouse_readings::shared::Texts;
use crosshouse_readings::{Fault, FileId, Flag, Inference, Place, SetAside, SetAsides, Shared, Source};
pub(crate) use said::{Said, Saying};
use std::collections::BTreeMap;

/// A fault before it is joined with others of its kind.
#[derive(Debug, Clone, Default)]
pub(crate) struct Draft {
    pub code: String,
    pub title: String,
    pub file: String,
    pub row: Option<u32>,
    pub column: Option<String>,
    pub found: String,
    pub expected: String,
    pub mend: String,
    pub fatal: bool,
    /// Rows with one `group` in one column share a fault: the text found, where it tells rows apart.
    pub group: String,
}

/// Codes and words of a row or cell kept out.
pub(crate) struct Why<'w> {
    pub code: &'w str,
    pub found: &'w str,
    pub why: String,
}

#[derive(Debug, Default)]
pub(crate) struct Book {
    /// Id of the site being read.
    pub site: String,
    pub files: Vec<FileAccount>,
    pub set_aside: SetAsides,
    pub flags: Vec<Flag>,
    pub inferences: Vec<Inference>,
    pub faults: Vec<Fault>,
    joined: BTreeMap<FaultKey, usize>,
    texts: Texts,
}

/// Cells of so many bytes are often written again: codes for missing values.
const SHORT: usize = 8;

/// Code, file, column and group of a fault.
type FaultKey = (String, String, String, String);

impl Book {
    pub fn open_file(&mut self, kind: LogKind, file: &str, sha256: &str, bytes: u64) -> FileId {
        self.files.push(FileAccount {
            site: self.site.clone(),
            log: kind.word().to_owned(),
            file: file.to_owned(),
            sha256: sha256.to_owned(),
            bytes,
            read: 0,
            kept: 0,
            set_aside: 0,
            flagged: 0,
            other_lines: Vec::new(),
        });
        FileId(self.files.len() as u32 - 1)
    }

    pub fn account(&mut self, file: FileId) -> Option<&mut FileAccount> {
        self.files.get_mut(file.0 as usize)
    }

    pub fn name(&self, file: FileId) -> &str {
        self.files.get(file.0 as usize).map_or("", |f| f.file.as_str())
    }

    fn log(&self, file: FileId) -> &str {
        self.files.get(file.0 as usize).map_or("", |f| f.log.as_str())
    }

    /// A place as a person reads it: the last row of "file, row 12".
    pub fn place(&self, at: Source) -> String {
        format!("{}, row {}", self.name(at.file), at.row)
    }

    pub fn fault(&mut self, draft: Draft) {
        let key = (draft.code.clone(), draft.file.clone(), draft.column.clone().unwrap_or_default(), draft.group.clone());
        if let Some(fault) = self.joined.get(&key).and_then(|i| self.faults.get_mut(*i)) {
            fault.also_rows.extend(draft.row);
            fault.fatal |= draft.fatal;
            return;
        }
        self.joined.insert(key, self.faults.len());
        self.faults.push(Fault {
            code: draft.code,
            title: draft.title,
            place: Place { file: draft.file.into(), row: draft.row, column: draft.column.map(Shared::from) },
            found: draft.found,
            expected: draft.expected,
            mend: draft.mend,
            also_rows: Vec::new(),
            fatal: draft.fatal,
        });
    }

    /// A file that could not be read at all.
    pub fn unreadable(&mut self, file: &str, why: Unreadable) {
        self.fault(Draft {
            code: why.code.to_owned(),
            title: why.title.to_owned(),
            file: file.to_owned(),
            row: why.row,
            found: why.found,
            expected: why.expected,
            mend: why.mend,
            fatal: true,
            ..Draft::default()
        });
    }

    fn aside(&mut self, at: Source, column: Option<&str>, whole_row: bool, why: Why<'_>) {
        let account = self.files.get(at.file.0 as usize);
        let (file, log) = account.map_or(("", ""), |f| (f.file.as_str(), f.log.as_str()));
        let texts = &mut self.texts;
        let place = Place { file: texts.one(file), row: Some(at.row), column: column.map(|c| texts.one(c)) };
        self.set_aside.push(SetAside {
            site: texts.one(&self.site),
            log: texts.one(log),
            place,
            whole_row,
            code: texts.one(why.code),
            found: if why.found.len() <= SHORT { texts.one(why.found) } else { why.found.into() },
            why: texts.one(&why.why),
        });
    }

    pub fn row_aside(&mut self, at: Source, column: Option<&str>, why: Why<'_>) {
        self.aside(at, column, true, why);
        if let Some(account) = self.account(at.file) {
            account.set_aside += 1;
        }
    }

    pub fn cell_aside(&mut self, at: Source, column: &str, why: Why<'_>) {
        self.aside(at, Some(column), false, why);
    }

    /// A doubt about rows of one file.
    pub fn flag(&mut self, file: FileId, code: &str, text: String, rows: &[u32]) {
        let (Some(first), Some(last)) = (rows.iter().min(), rows.iter().max()) else { return };
        self.flag_counted(FileRows { file, first: *first, last: *last, rows: rows.len() as u32 }, code, text);
    }

    /// The same of rows that are counted already.
    pub fn flag_counted(&mut self, of: FileRows, code: &str, text: String) {
        self.flags.push(Flag {
            site: self.site.clone(),
            log: self.log(of.file).to_owned(),
            code: code.to_owned(),
            text,
            file: self.name(of.file).to_owned(),
            first_row: of.first,
            last_row: of.last,
            rows: of.rows,
        });
    }

    pub fn infer(&mut self, file: &str, what: impl Into<String>, as_read: impl Into<String>, because: impl Into<String>) {
        self.inferences.push(Inference {
            site: self.site.clone(),
            file: file.to_owned(),
            what: what.into(),
            as_read: as_read.into(),
            because: because.into(),
        });
    }

    /// Counts a kept row, and whether it carries a flag.
    pub fn keep(&mut self, at: Source, flagged: bool) {
        if let Some(account) = self.account(at.file) {
            account.kept += 1;
            account.flagged += u64::from(flagged);
        }
    }

    pub fn of_site(site: &str) -> Book {
        Book { site: site.to_owned(), ..Book::default() }
    }

    /// An empty book of the same site and files, to be joined later.
    pub fn beside(&self) -> Book {
        let empty = |f: &FileAccount| FileAccount { read: 0, kept: 0, set_aside: 0, flagged: 0, other_lines: Vec::new(), ..f.clone() };
        Book { site: self.site.clone(), files: self.files.iter().map(empty).collect(), ..Book::default() }
    }

    /// Takes over what a book [`beside`](Self::beside) this one says, after what is said already.
    pub fn join(&mut self, other: Book) {
        for (mine, theirs) in self.files.iter_mut().zip(other.files) {
            mine.read += theirs.read;
            mine.kept += theirs.kept;
            mine.set_aside += theirs.set_aside;
            mine.flagged += theirs.flagged;
            mine.other_lines.extend(theirs.other_lines);
        }
        self.hear(Book { files: Vec::new(), ..other });
    }

    /// Takes over the book of further files; returns how far their [`FileId`]s move.
    pub fn follow(&mut self, mut other: Book) -> u32 {
        let moved = self.files.len() as u32;
        self.files.append(&mut other.files);
        self.hear(other);
        moved
    }

    /// Takes over what is said beside the accounts.
    fn hear(&mut self, other: Book) {
        self.set_aside.append(other.set_aside);
        self.flags.extend(other.flags);
        self.inferences.extend(other.inferences);
        let mut keys: Vec<Option<FaultKey>> = vec![None; other.faults.len()];
        for (key, index) in other.joined {
            if let Some(slot) = keys.get_mut(index) {
                *slot = Some(key);
            }
        }
        for (fault, key) in other.faults.into_iter().zip(keys) {
            match key.as_ref().and_then(|k| self.joined.get(k)).and_then(|i| self.faults.get_mut(*i)) {
                // A fault of a declaration that several files meet is one.
                Some(mine) if mine.place == fault.place => {}
                Some(mine) => {
                    mine.also_rows.extend(fault.place.row);
                    mine.also_rows.extend(fault.also_rows);
                    mine.fatal |= fault.fatal;
                }
                None => {
                    self.joined.extend(key.map(|k| (k, self.faults.len())));
                    self.faults.push(fault);
                }
            }
        }
    }

    /// Takes over what was told of further files; returns how far their [`FileId`]s move.
    pub fn append(&mut self, other: Told) -> u32 {
        let moved = self.files.len() as u32;
        self.files.extend(other.files);
        self.set_aside.append(other.set_aside);
        self.flags.extend(other.flags);
        self.inferences.extend(other.inferences);
        self.faults.extend(other.faults);
        moved
    }

    /// What the book says, as plain data.
    pub fn told(self) -> Told {
        Told { files: self.files, set_aside: self.set_aside, flags: self.flags, inferences: self.inferences, faults: self.faults }
    }

    /// Settles the book. The promise of every run: rows read are rows kept and rows set aside. A file
    /// that breaks it is a fault of this program and told as one.
    pub fn settle(&mut self) {
        self.faults.iter_mut().for_each(|f| f.also_rows.sort_unstable());
        let broken: Vec<(String, String)> = self
            .files
            .iter()
            .filter(|f| !f.balances())
            .map(|f| (f.file.clone(), format!("{} rows read, {} kept, {} set aside", f.read, f.kept, f.set_aside)))
            .collect();
        for (file, found) in broken {
            self.fault(Draft {
                code: "account-imbalance".into(),
                title: "rows of this file are not accounted for".into(),
                file,
                found,
                expected: "rows read = rows kept + rows set aside".into(),
                mend: "this is a fault of the program, not of the log: please report it with the file".into(),
                fatal: true,
                ..Draft::default()
            });
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn draft(row: u32, group: &str) -> Draft {
        Draft {
            code: "mass-unreadable".into(),
            file: "a.csv".into(),
            row: Some(row),
            column: Some("Wt".into()),
            group: group.into(),
            ..Draft::default()
        }
    }

    #[test]
    fn the_same_fault_over_many_rows_of_a_column_is_one_fault() {
        let mut book = Book::default();
        for row in [52, 58, 77] {
            book.fault(draft(row, ""));
        }
        book.fault(draft(90, "other"));
        assert_eq!(book.faults.len(), 2);
        assert_eq!((book.faults[0].place.row, book.faults[0].also_rows.clone()), (Some(52), vec![58, 77]));
    }

    #[test]
    fn an_account_that_does_not_balance_is_told_and_not_hidden() {
        let mut book = Book::default();
        let file = book.open_file(LogKind::Harvest, "a.csv", "", 0);
        book.account(file).unwrap().read = 3;
        book.keep(Source { file, row: 2 }, false);
        book.row_aside(Source { file, row: 3 }, None, Why { code: "x", found: "", why: String::new() });
        book.settle();
        assert_eq!(book.faults[0].code, "account-imbalance");
        assert_eq!(book.faults[0].found, "3 rows read, 1 kept, 1 set aside");
    }
}
