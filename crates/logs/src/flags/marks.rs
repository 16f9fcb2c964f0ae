//! Which records a doubt is about, kept as runs and as counts by file: a few numbers a spell, however
//! long it is.
use crosshouse_readings::{FileId, Source};
use std::ops::Range;

/// One record: its place among the logger's records in time order, its instant, its row.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Spot {
    pub record: usize,
    /// Seconds since 1970-01-01T00:00:00Z.
    pub instant: i64,
    pub source: Source,
}

/// Rows of one file: the first, the last, how many.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct FileRows {
    pub file: FileId,
    pub first: u32,
    pub last: u32,
    pub rows: u32,
}

#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Marks {
    /// Places of the records, in order, successive ones together.
    pub runs: Vec<Range<usize>>,
    pub files: Vec<FileRows>,
}

impl Marks {
    #[inline]
    pub fn add(&mut self, spot: &Spot) {
        // Most records follow the last one in its file.
        if let (Some(run), Some(rows)) = (self.runs.last_mut(), self.files.last_mut())
            && run.end == spot.record
            && rows.file == spot.source.file
            && rows.last < spot.source.row
        {
            run.end += 1;
            rows.last = spot.source.row;
            rows.rows += 1;
            return;
        }
        self.add_apart(spot);
    }

    /// Marks the records from `first` to `last`, which follow each other in one file, row after row: as many
    /// records as their places tell, whatever rows of other loggers lie between.
    pub fn add_row(&mut self, first: &Spot, last: &Spot) {
        self.add(first);
        let more = last.record - first.record;
        if let (Some(run), Some(rows)) = (self.runs.last_mut(), self.files.iter_mut().find(|f| f.file == first.source.file)) {
            run.end += more;
            rows.last = rows.last.max(last.source.row);
            rows.rows += u32::try_from(more).unwrap_or(u32::MAX);
        }
    }

    fn add_apart(&mut self, spot: &Spot) {
        match self.runs.last_mut() {
            Some(run) if run.end == spot.record => run.end += 1,
            _ => self.runs.push(spot.record..spot.record + 1),
        }
        let Source { file, row } = spot.source;
        self.count(FileRows { file, first: row, last: row, rows: 1 });
    }

    pub fn join(&mut self, other: &Marks) {
        for run in &other.runs {
            match self.runs.last_mut() {
                Some(last) if last.end == run.start => last.end = run.end,
                _ => self.runs.push(run.clone()),
            }
        }
        for rows in &other.files {
            self.count(*rows);
        }
    }

    fn count(&mut self, more: FileRows) {
        let known = self.files.iter_mut().rev().find(|f| f.file == more.file);
        match known {
            Some(f) => *f = FileRows { first: f.first.min(more.first), last: f.last.max(more.last), rows: f.rows + more.rows, ..more },
            None => self.files.push(more),
        }
    }

    pub fn clear(&mut self) {
        self.runs.clear();
        self.files.clear();
    }

    pub fn is_empty(&self) -> bool {
        self.files.is_empty()
    }

    pub fn records(&self) -> impl Iterator<Item = usize> + '_ {
        self.runs.iter().flat_map(Clone::clone)
    }
}

/// Records that hang together in time, from the first to the last.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Spell {
    pub marks: Marks,
    pub records: usize,
    pub from: i64,
    pub to: i64,
}

impl Spell {
    pub fn add(&mut self, spot: &Spot) {
        if self.records == 0 {
            self.from = spot.instant;
        }
        self.to = spot.instant;
        self.records += 1;
        self.marks.add(spot);
    }

    /// From its first record to its last, s.
    pub fn length(&self) -> i64 {
        self.to - self.from
    }

    pub fn clear(&mut self) {
        self.marks.clear();
        self.records = 0;
    }

    pub fn is_open(&self) -> bool {
        self.records > 0
    }
}

/// Spells of a condition that last long enough, collected while records go by.
#[derive(Debug, Clone, Default)]
pub(crate) struct LongSpells {
    /// A spell must last longer than this, s.
    pub least: i64,
    pub now: Spell,
    pub found: Marks,
    pub spells: usize,
    pub longest: i64,
}

impl LongSpells {
    pub fn lasting(hours: f64) -> Self {
        // A limit that is not a number is never reached.
        let least = if hours.is_finite() { (hours * 3600.0).round() as i64 } else { i64::MAX };
        LongSpells { least, ..LongSpells::default() }
    }

    /// `joined`: the record follows the one before without a gap.
    #[inline]
    pub fn see(&mut self, fits: bool, joined: bool, spot: &Spot) {
        if self.now.is_open() && !(fits && joined) {
            self.close();
        }
        if fits {
            self.now.add(spot);
        }
    }

    pub fn close(&mut self) {
        let length = self.now.length();
        if self.now.is_open() && length > self.least {
            self.found.join(&self.now.marks);
            self.spells += 1;
            self.longest = self.longest.max(length);
        }
        self.now.clear();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn spot(record: usize, file: u32, row: u32) -> Spot {
        Spot { record, instant: record as i64 * 300, source: Source { file: FileId(file), row } }
    }

    #[test]
    fn rows_of_two_files_are_counted_apart_and_successive_records_are_one_run() {
        let mut marks = Marks::default();
        for s in [spot(3, 0, 10), spot(4, 1, 2), spot(5, 0, 11), spot(9, 1, 7)] {
            marks.add(&s);
        }
        assert_eq!(marks.runs, [3..6, 9..10]);
        let told: Vec<_> = marks.files.iter().map(|f| (f.file.0, f.first, f.last, f.rows)).collect();
        assert_eq!(told, [(0, 10, 11, 2), (1, 2, 7, 2)]);
        assert_eq!(marks.records().collect::<Vec<_>>(), [3, 4, 5, 9]);
    }

    #[test]
    fn a_gap_ends_a_spell() {
        let mut long = LongSpells::lasting(0.2);
        for i in 0..4 {
            long.see(true, i != 2, &spot(i, 0, i as u32));
        }
        long.close();
        assert!(long.found.is_empty());
        for i in 4..8 {
            long.see(true, true, &spot(i, 0, i as u32));
        }
        long.close();
        assert_eq!((long.found.runs.as_slice(), long.longest), (std::slice::from_ref(&(4..8)), 900));
    }
}
