//! The rows: every file's account, and what was set aside, flagged, worked out or found faulty.
use crate::context::Context;
use crate::number;
use crate::page::PageTable;
use crate::words;
use crosshouse_readings::SetAsides;
use crosshouse_readings::said::{Fault, FileAccount, SetAside};

/// Examples shown of each reason.
const EXAMPLES: usize = 5;

pub struct Rows {
    pub sentence: String,
    pub accounts: Option<PageTable>,
    /// Said where the list of set-aside rows does not name as many as the accounts count.
    pub mismatch: String,
    pub reasons: Vec<Reason>,
    pub flags: Option<PageTable>,
    /// Limits of doubts that the season changed, and doubts whose rows it leaves out.
    pub season_says: Option<PageTable>,
    pub inferences: Option<PageTable>,
    pub faults: Vec<FaultView>,
}

/// One reason for setting aside, with how often it came and a few examples.
pub struct Reason {
    pub place: String,
    pub why: String,
    pub count: String,
    pub examples: Vec<String>,
    pub more: String,
}

/// One fault with its mend.
pub struct FaultView {
    pub title: String,
    pub place: String,
    pub found: String,
    pub expected: String,
    pub mend: String,
    pub also: String,
}

pub fn view(context: &Context) -> Rows {
    let told = context.input.clean;
    Rows {
        sentence: sentence(&told.files),
        accounts: accounts(context),
        mismatch: mismatch(&told.files, &told.set_aside),
        reasons: reasons(context),
        flags: flags(context),
        season_says: season_says(context),
        inferences: inferences(context),
        faults: told.faults.iter().map(fault_view).collect(),
    }
}

/// Rows read, kept, flagged and set aside over files.
pub struct Sums {
    pub read: u64,
    pub kept: u64,
    pub flagged: u64,
    pub set_aside: u64,
}

pub fn sums(files: &[FileAccount]) -> Sums {
    let of = |get: fn(&FileAccount) -> u64| files.iter().map(get).sum();
    Sums { read: of(|f| f.read), kept: of(|f| f.kept), flagged: of(|f| f.flagged), set_aside: of(|f| f.set_aside) }
}

fn sentence(files: &[FileAccount]) -> String {
    let s = sums(files);
    format!(
        "{} held {}: {} kept ({} of them with a flag) and {} set aside. No row is in neither place.",
        words::capital(&words::number_of(files.len() as u64, "file", "files")),
        words::number_of(s.read, "row", "rows"),
        number::count(s.kept),
        number::count(s.flagged),
        number::count(s.set_aside)
    )
}

fn accounts(context: &Context) -> Option<PageTable> {
    let mut table = PageTable::new("rows-table", "Rows of every file").csv("rows.csv").words("File").words("Log");
    for head in ["Read", "Kept", "Of these flagged", "Set aside"] {
        table = table.number(head);
    }
    table = table.words("Other lines");
    let mut site = None;
    for f in &context.input.clean.files {
        if site != Some(&f.site) {
            table.group(context.words.site(&f.site));
            site = Some(&f.site);
        }
        table.row(account_row(f));
    }
    let s = sums(&context.input.clean.files);
    let total = [s.read, s.kept, s.flagged, s.set_aside].map(number::count);
    let mut row = vec!["All files".to_owned(), String::new()];
    row.extend(total);
    row.push(String::new());
    table.sum(row);
    table.note(
        "Read = kept + set aside, in every line. Other lines (headers, blank lines, totals and the like) are no data rows \
         and were explained by the site file. The table file holds the SHA-256 of every file as it was read.",
    );
    table.if_any()
}

fn account_row(f: &FileAccount) -> Vec<String> {
    let other: Vec<String> =
        f.other_lines.iter().filter(|(_, n)| *n > 0).map(|(kind, n)| format!("{} {kind}", number::count(*n))).collect();
    let mut row = vec![f.file.clone(), f.log.clone()];
    row.extend([f.read, f.kept, f.flagged, f.set_aside].map(number::count));
    row.push(if other.is_empty() { "none".to_owned() } else { other.join(", ") });
    row
}

fn mismatch(files: &[FileAccount], set_aside: &SetAsides) -> String {
    let counted = sums(files).set_aside;
    let named = set_aside.iter().filter(|s| s.whole_row).count() as u64;
    if counted == named {
        return String::new();
    }
    format!(
        "The accounts count {} set aside, and set-aside.csv names {}: please report this.",
        words::number_of(counted, "row", "rows"),
        number::count(named)
    )
}

fn reasons(context: &Context) -> Vec<Reason> {
    let mut groups: Vec<Vec<&SetAside>> = Vec::new();
    for s in &context.input.clean.set_aside {
        let like = |g: &Vec<&SetAside>| {
            g.first().is_some_and(|f| f.site == s.site && f.log == s.log && f.code == s.code && f.whole_row == s.whole_row)
        };
        match groups.iter_mut().find(|g| like(g)) {
            Some(group) => group.push(s),
            None => groups.push(vec![s]),
        }
    }
    groups.iter().filter_map(|g| reason(context, g)).collect()
}

fn reason(context: &Context, group: &[&SetAside]) -> Option<Reason> {
    let first = group.first()?;
    let (one, many) = if first.whole_row { ("row", "rows") } else { ("cell", "cells") };
    let alike = group.iter().all(|s| s.why == first.why);
    let example = |s: &&SetAside| {
        let found = if s.found.is_empty() { "an empty cell".to_owned() } else { format!("“{}”", s.found) };
        if alike { format!("{}: found {found}", s.place) } else { format!("{}: found {found}. {}", s.place, s.why) }
    };
    let left = group.len().saturating_sub(EXAMPLES);
    Some(Reason {
        place: format!("{}, {} log", context.words.site(&first.site), first.log),
        why: if alike { first.why.to_string() } else { format!("Reasons of the kind “{}”.", first.code.replace('-', " ")) },
        count: words::number_of(group.len() as u64, one, many),
        examples: group.iter().take(EXAMPLES).map(example).collect(),
        more: if left > 0 { format!("and {} more", number::count(left as u64)) } else { String::new() },
    })
}

fn flags(context: &Context) -> Option<PageTable> {
    let mut table = PageTable::new("flags-table", "Rows kept with a doubt")
        .csv("flags.csv")
        .words("File")
        .words("Doubt")
        .words("Rows")
        .number("Number");
    for f in &context.input.clean.flags {
        let rows = if f.first_row == f.last_row { f.first_row.to_string() } else { format!("{} to {}", f.first_row, f.last_row) };
        table.row(vec![f.file.clone(), f.text.clone(), rows, number::count(f.rows.into())]);
    }
    table.if_any()
}

fn season_says(context: &Context) -> Option<PageTable> {
    let mut table = PageTable::new("doubts-table", "What the season file says of doubts")
        .csv("doubts.csv")
        .words("Doubt")
        .words("Said")
        .words("In place of")
        .words("Where")
        .words("Because");
    let place = |site: &Option<String>| site.as_ref().map_or_else(|| "all sites".to_owned(), |s| context.words.site(s).to_owned());
    for c in &context.input.clean.limit_changes {
        let said = c.limit.as_ref().map_or_else(|| "not raised".to_owned(), |l| format!("{l}: {} {}", c.value, c.unit).trim().to_owned());
        let before = c.instead_of.map_or_else(String::new, |x| format!("{x} {}", c.unit).trim().to_owned());
        table.row(vec![c.rule.clone(), said, before, place(&c.site), c.reason.clone()]);
    }
    for l in &context.input.clean.left_out {
        table.row(vec![l.doubt.clone(), "its rows are left out".to_owned(), "kept".to_owned(), place(&l.site), l.reason.clone()]);
    }
    table.if_any()
}

fn inferences(context: &Context) -> Option<PageTable> {
    let mut table = PageTable::new("inferences-table", "What was worked out because no one declared it")
        .csv("inferences.csv")
        .words("File")
        .words("What")
        .words("Read as")
        .words("Because");
    for i in &context.input.clean.inferences {
        let file = if i.file.is_empty() { context.words.site(&i.site).to_owned() } else { i.file.clone() };
        table.row(vec![file, i.what.clone(), i.as_read.clone(), i.because.clone()]);
    }
    table.if_any()
}

fn fault_view(f: &Fault) -> FaultView {
    let also: Vec<String> = f.also_rows.iter().take(12).map(ToString::to_string).collect();
    let more = f.also_rows.len().saturating_sub(12);
    let mut also = if also.is_empty() { String::new() } else { format!("rows {}", words::list(&also)) };
    if more > 0 {
        also = format!("{also}, and {more} more");
    }
    FaultView {
        title: words::capital(&f.title),
        place: f.place.to_string(),
        found: f.found.clone(),
        expected: f.expected.clone(),
        mend: f.mend.clone(),
        also,
    }
}
