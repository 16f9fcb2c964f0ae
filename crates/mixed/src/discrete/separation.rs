//! Records without a finite predictor: where they are, by the levels that set them apart, and what can be said of
//! them without a standard error.
//!
//! METHOD: where a direction of the fixed effects takes the predictors of some records, all at the edge of their
//! range, toward infinity and leaves the others, the likelihood rises along it whatever the random effects are. Its
//! supremum is the likelihood of the others alone, and what these estimate is estimated (Barndorff-Nielsen's
//! completion; Geyer 2009, Electron. J. Stat. 3:259–289). Exact limits: Clopper & Pearson (1934), Biometrika
//! 26:404–413; Garwood (1936), Biometrika 28:437–442.

use std::collections::BTreeMap;

use super::law::Record;
use crate::cannot_fit::CannotFit;
use crate::design::{Design, combine, levels};
use crate::model::Family;
use crate::result::{Levels, NotEstimable, SeparatedCell};

/// Combinations named at most.
const NAMED: usize = 5;

/// Counts or successes with what they were counted on.
#[derive(Clone, Copy)]
pub struct Counted<'c> {
    /// The family.
    pub family: Family,
    /// The records, one for each row used.
    pub records: &'c [Record],
    /// Their offsets.
    pub offset: &'c [f64],
    /// Level of the exact limits.
    pub level: f64,
}

/// Why a fit stops.
pub enum Stopped {
    /// For good.
    Cannot(CannotFit),
    /// These records, of the rows used, have no finite predictor.
    Separated(Vec<bool>),
}

impl From<CannotFit> for Stopped {
    fn from(why: CannotFit) -> Self {
        Self::Cannot(why)
    }
}

/// Which end of its range a record is at.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum End {
    Zero,
    Full,
    Neither,
}

fn end(record: &Record) -> End {
    match (record.y == 0.0, record.n > 0.0 && record.y == record.n) {
        (true, _) => End::Zero,
        (_, true) => End::Full,
        _ => End::Neither,
    }
}

/// Whether every record set `apart` is at the end of its range toward which `step` moves its predictor.
pub fn is_recession(records: &[Record], apart: &[bool], step: impl Fn(usize) -> f64) -> bool {
    let goes_out = |(row, record): (usize, &Record)| match end(record) {
        End::Zero => step(row) < 0.0,
        End::Full => step(row) > 0.0,
        End::Neither => false,
    };
    records.iter().enumerate().filter(|(row, _)| apart[*row]).all(goes_out)
}

impl Counted<'_> {
    /// The cells of the records set `apart`.
    pub fn cells(&self, design: &Design, apart: &[bool]) -> Vec<SeparatedCell> {
        let names = place(design, apart).unwrap_or_default();
        let (codes, combinations) = combine(&design.table, &names);
        let mut rows: BTreeMap<(u32, End), Vec<usize>> = BTreeMap::new();
        for row in (0..apart.len()).filter(|row| apart[*row]) {
            rows.entry((codes[row], end(&self.records[row]))).or_default().push(row);
        }
        let of = |code: u32| combinations.get(code as usize).map(|codes| levels(&design.table, &names, codes)).unwrap_or_default();
        rows.into_iter().map(|((code, end), rows)| self.cell(design, of(code), end, &rows)).collect()
    }

    fn cell(&self, design: &Design, of: Levels, end: End, rows: &[usize]) -> SeparatedCell {
        let sum = |value: &dyn Fn(usize) -> f64| rows.iter().map(|row| value(*row)).sum::<f64>();
        let has_trials = self.family.has_trials();
        let size = if has_trials { sum(&|row| self.records[row].n) } else { sum(&|row| self.offset[row].exp()) };
        let outside = 0.5 * (1.0 - self.level);
        let (low, high) = match end {
            End::Neither => (0.0, if has_trials { 1.0 } else { f64::INFINITY }),
            // Of n trials without a success: (1 − p)ⁿ = α/2; of an exposure without a count: exp(−λE) = α/2.
            End::Zero if has_trials => (0.0, 1.0 - outside.powf(1.0 / size)),
            End::Full => (outside.powf(1.0 / size), 1.0),
            End::Zero => (0.0, -outside.ln() / size),
        };
        SeparatedCell {
            of,
            rows: rows.iter().map(|row| design.table.rows[*row]).collect(),
            count: sum(&|row| self.records[row].y),
            trials: has_trials.then_some(size),
            exposure: (!has_trials).then_some(size),
            low,
            high,
        }
    }

    /// What is found in the records set apart, in words.
    fn found(&self, apart: &[bool]) -> &'static str {
        let has_trials = self.family.has_trials();
        let all = |which: End| self.records.iter().zip(apart).filter(|(_, apart)| **apart).all(|(record, _)| end(record) == which);
        match (all(End::Zero), all(End::Full)) {
            (true, _) if has_trials => "there is no success at all",
            (true, _) => "every count is 0",
            (_, true) => "every trial is a success",
            _ => "the effects separate the records without a remainder",
        }
    }

    fn scale(&self) -> &'static str {
        if self.family.has_trials() { "logit" } else { "log" }
    }

    /// The reason for the records set `apart`, where nothing else can be fitted.
    pub fn refuse(&self, design: &Design, apart: &[bool]) -> CannotFit {
        CannotFit::Separation {
            cells: named(design, apart),
            found: self.found(apart).to_owned(),
            scale: self.scale().to_owned(),
            separated: self.cells(design, apart),
        }
    }

    /// What was done about the records set `apart`.
    pub fn notice(&self, design: &Design, apart: &[bool]) -> String {
        let count = apart.iter().filter(|apart| **apart).count();
        format!(
            "{} {}: on the {} scale there is no finite estimate and no standard error; what leans on these {count} records is listed \
             under not_estimable with an exact limit, and all else is estimated from the other records, as maximum likelihood has it",
            named(design, apart),
            self.found(apart),
            self.scale()
        )
    }

    /// Gives what the records set apart make inestimable its reason; `before` is inestimable whatever was counted.
    pub fn explain(&self, entries: &mut [NotEstimable], before: &[NotEstimable], cells: &[SeparatedCell]) {
        let is_old = |entry: &NotEstimable| before.iter().any(|old| key(old) == key(entry));
        for entry in entries.iter_mut().filter(|entry| !is_old(entry)) {
            let own: Vec<&SeparatedCell> = cells.iter().filter(|cell| concerns(entry, &cell.of)).collect();
            let own = if own.is_empty() { cells.iter().collect() } else { own };
            let text = self.sentences(&own);
            match entry {
                NotEstimable::Effect { why, .. } | NotEstimable::Mean { why, .. } | NotEstimable::Difference { why, .. } => *why = text,
            }
        }
    }

    fn sentences(&self, cells: &[&SeparatedCell]) -> String {
        let mut sentences: Vec<String> = cells.iter().take(NAMED).map(|cell| self.sentence(cell)).collect();
        if cells.len() > NAMED {
            sentences.push(format!("{} cells more are so", cells.len() - NAMED));
        }
        format!("no finite estimate on the {} scale: {}", self.scale(), sentences.join("; "))
    }

    fn sentence(&self, cell: &SeparatedCell) -> String {
        let place = if cell.of.is_empty() { "at one end of a covariate".to_owned() } else { format!("at {}", cell.of) };
        let percent = 100.0 * self.level;
        match (cell.trials, cell.exposure) {
            (Some(trials), _) => {
                let (count, low, high) = (cell.count, cell.low, cell.high);
                format!(
                    "{place} {count} of {trials} (exact {percent}% interval of one share common to all these trials: {low:.4} to {high:.4}; \
                     Clopper and Pearson 1934)"
                )
            }
            (None, Some(exposure)) => format!(
                "{place} a count of 0 in {} records (exact {percent}% upper limit of one Poisson mean common to them: {:.4} for one unit of \
                 exposure, of which there are {exposure:.4})",
                cell.rows.len(),
                cell.high
            ),
            (None, None) => place,
        }
    }
}

/// An entry without its reason.
fn key(entry: &NotEstimable) -> NotEstimable {
    let mut bare = entry.clone();
    match &mut bare {
        NotEstimable::Effect { why, .. } | NotEstimable::Mean { why, .. } | NotEstimable::Difference { why, .. } => why.clear(),
    }
    bare
}

/// Whether a cell lies within what an entry names.
fn concerns(entry: &NotEstimable, cell: &Levels) -> bool {
    let agrees = |named: &Levels| named.0.iter().all(|(category, level)| cell.get(category).is_none_or(|own| own == level));
    match entry {
        NotEstimable::Effect { .. } => true,
        NotEstimable::Mean { of, within, .. } => agrees(of) && agrees(within),
        NotEstimable::Difference { of, minus, within, .. } => agrees(within) && (agrees(of) || minus.is_empty() || agrees(minus)),
    }
}

/// Where the records set apart are, in words.
fn named(design: &Design, apart: &[bool]) -> String {
    if apart.iter().all(|apart| *apart) {
        return "in the whole table".to_owned();
    }
    let Some(names) = place(design, apart) else {
        let count = apart.iter().filter(|apart| **apart).count();
        return format!("in {count} of the records, at one end of a covariate");
    };
    let (codes, combinations) = combine(&design.table, &names);
    let mut which: Vec<u32> = codes.iter().zip(apart).filter(|(_, apart)| **apart).map(|(code, _)| *code).collect();
    which.sort_unstable();
    which.dedup();
    let cells = which.iter().filter_map(|code| combinations.get(*code as usize));
    let named: Vec<String> = cells.map(|codes| levels(&design.table, &names, codes).to_string()).collect();
    let more = named.len().saturating_sub(NAMED);
    let shown = named.iter().take(NAMED).cloned().collect::<Vec<_>>().join("; ");
    if more > 0 { format!("at {shown} and {more} more") } else { format!("at {shown}") }
}

/// The categories of the smallest effect whose levels hold exactly the records set apart.
fn place(design: &Design, apart: &[bool]) -> Option<Vec<String>> {
    let mut candidates: Vec<Vec<String>> = design.coding.terms.iter().map(|term| term.categories.clone()).collect();
    candidates.push(design.coding.levels.keys().cloned().collect());
    candidates.sort_by_key(Vec::len);
    candidates.into_iter().find(|names| !names.is_empty() && holds(design, names, apart))
}

fn holds(design: &Design, names: &[String], apart: &[bool]) -> bool {
    let (codes, _) = combine(&design.table, names);
    let mut whole: BTreeMap<u32, bool> = BTreeMap::new();
    codes.iter().zip(apart).all(|(code, apart)| *whole.entry(*code).or_insert(*apart) == *apart)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn limits(family: Family, end: End, records: &[(f64, f64)]) -> (f64, f64) {
        let records: Vec<Record> = records.iter().map(|(y, n)| Record::new(family, *y, *n)).collect();
        let counted = Counted { family, records: &records, offset: &vec![0.0; records.len()], level: 0.95 };
        let mut columns = crate::columns::Columns::new(records.len());
        columns.number("y", records.iter().map(|record| record.y).collect()).unwrap();
        let model = crate::model::Model::from_toml("response = \"y\"\nfamily = \"poisson\"\ncategories = []\neffects = []\n").unwrap();
        let design = Design::new(&columns, &model).unwrap();
        let cell = counted.cell(&design, Levels::default(), end, &(0..records.len()).collect::<Vec<_>>());
        (cell.low, cell.high)
    }

    #[test]
    fn limits_of_nothing_are_the_printed_ones() {
        // Clopper & Pearson (1934), 0 of 10 at 95 %: 0 to 0.3085; Garwood (1936), a count of 0: 0 to 3.6889.
        let (low, high) = limits(Family::Binomial, End::Zero, &[(0.0, 4.0), (0.0, 6.0)]);
        assert!(low == 0.0 && (high - 0.3085).abs() < 5e-5, "{high}");
        let (low, high) = limits(Family::Binomial, End::Full, &[(4.0, 4.0), (6.0, 6.0)]);
        assert!(high == 1.0 && (low - 0.6915).abs() < 5e-5, "{low}");
        let (_, high) = limits(Family::Poisson, End::Zero, &[(0.0, 0.0)]);
        assert!((high - 3.6889).abs() < 5e-5, "{high}");
    }
}
