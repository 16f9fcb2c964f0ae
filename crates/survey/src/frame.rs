//! What each line of a sheet is: preamble, header, unit row, comment, total, or a row.
use crate::words;
use crosshouse_logs::raw::{Days, RawKind, RawSheet, styles_tried};

/// The structure found in one sheet.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Frame {
    /// Index of the header's row.
    pub header: usize,
    pub headers: Vec<String>,
    pub skip_lines: u32,
    /// Texts above the header.
    pub preamble: Vec<String>,
    /// Index of the row of units below the header.
    pub unit_row: Option<usize>,
    pub comment: Option<&'static str>,
    pub comments: usize,
    /// Words that begin a total, as written.
    pub totals: Vec<String>,
    pub total_rows: usize,
    pub repeated: usize,
    /// Indices of the data rows.
    pub rows: Vec<usize>,
}

const COMMENTS: [&str; 3] = ["#", "//", "!"];
const TOTALS: [&str; 19] = [
    "total",
    "totals",
    "grand total",
    "subtotal",
    "sub-total",
    "sum",
    "mean",
    "average",
    "avg",
    "summe",
    "gesamt",
    "gesamtsumme",
    "mittel",
    "mittelwert",
    "suma",
    "promedio",
    "somme",
    "moyenne",
    "totaal",
];
/// A header further down than this is none.
const HEADER_WITHIN: usize = 60;

/// `None`: no line of the sheet looks like a header with rows below it.
pub(crate) fn find(sheet: &RawSheet) -> Option<Frame> {
    let comment = comment_mark(sheet);
    let is_comment = |row: usize| comment.is_some_and(|mark| sheet.first_word(row).starts_with(mark));
    let used: Vec<usize> = (0..sheet.rows()).filter(|r| !sheet.is_blank(*r) && !is_comment(*r)).collect();
    let header = header_of(sheet, &used)?;
    let width = sheet.width(header);
    let headers: Vec<String> = (0..width).map(|c| sheet.cell(header, c).text.to_owned()).collect();
    let above: Vec<usize> = used.iter().copied().take_while(|r| *r < header).collect();
    let mut frame = Frame {
        header,
        skip_lines: if above.is_empty() { 0 } else { sheet.number(header).saturating_sub(1) },
        preamble: above.iter().map(|r| written(sheet, *r)).collect(),
        unit_row: used.iter().copied().find(|r| *r > header).filter(|r| is_unit_row(sheet, *r, &headers)),
        comment,
        comments: (0..sheet.rows()).filter(|r| !sheet.is_blank(*r) && is_comment(*r)).count(),
        totals: Vec::new(),
        total_rows: 0,
        repeated: 0,
        rows: Vec::new(),
        headers,
    };
    for row in used.into_iter().filter(|r| *r > header) {
        sort_row(sheet, row, &mut frame);
    }
    Some(frame)
}

fn sort_row(sheet: &RawSheet, row: usize, frame: &mut Frame) {
    if Some(row) == frame.unit_row {
        return;
    }
    if frame.headers.iter().enumerate().all(|(c, h)| sheet.cell(row, c).text == h) {
        frame.repeated += 1;
        return;
    }
    let first = sheet.first_word(row).trim_end_matches([':', '.']).trim();
    if TOTALS.contains(&first.to_lowercase().as_str()) {
        frame.total_rows += 1;
        if !frame.totals.iter().any(|t| t.eq_ignore_ascii_case(first)) {
            frame.totals.push(first.to_owned());
        }
        return;
    }
    frame.rows.push(row);
}

fn written(sheet: &RawSheet, row: usize) -> String {
    let cells: Vec<&str> = (0..sheet.width(row)).map(|c| sheet.cell(row, c).text).filter(|t| !t.is_empty()).collect();
    cells.join(" | ")
}

fn filled(sheet: &RawSheet, row: usize) -> usize {
    (0..sheet.width(row)).filter(|c| !sheet.cell(row, *c).text.is_empty()).count()
}

/// A sign at the beginning of lines that have fewer cells than the others.
fn comment_mark(sheet: &RawSheet) -> Option<&'static str> {
    let full = usual_cells(sheet);
    COMMENTS.into_iter().find(|mark| {
        let mut lines = (0..sheet.rows()).filter(|r| sheet.first_word(*r).starts_with(mark)).peekable();
        lines.peek().is_some() && lines.all(|r| filled(sheet, r) * 2 <= full.max(2))
    })
}

/// The commonest number of filled cells among the first thousand rows.
fn usual_cells(sheet: &RawSheet) -> usize {
    let counts: Vec<usize> = (0..sheet.rows().min(1000)).map(|r| filled(sheet, r)).filter(|n| *n > 0).collect();
    let votes = |n: usize| counts.iter().filter(|c| **c == n).count();
    counts.iter().copied().max_by_key(|n| (votes(*n), *n)).unwrap_or(0)
}

/// The row whose cells are words that logs use as headers, as many of them as the table is wide.
fn header_of(sheet: &RawSheet, used: &[usize]) -> Option<usize> {
    let usual = usual_cells(sheet).max(2);
    let judged = used.iter().take(HEADER_WITHIN).filter_map(|r| header_score(sheet, *r, usual).map(|s| (s, *r)));
    let best = judged.fold(None, |best: Option<(usize, usize)>, (score, row)| match best {
        Some((top, _)) if top >= score => best,
        _ => Some((score, row)),
    });
    best.map(|(_, row)| row).filter(|row| used.iter().any(|r| r > row))
}

fn header_score(sheet: &RawSheet, row: usize, usual: usize) -> Option<usize> {
    let cells: Vec<_> = (0..sheet.width(row)).map(|c| sheet.cell(row, c)).filter(|c| !c.text.is_empty()).collect();
    let words = cells.iter().filter(|c| c.is == RawKind::Text && is_word(c.text)).count();
    if cells.len() < 2 || words * 5 < cells.len() * 4 {
        return None;
    }
    let known = cells.iter().filter(|c| words::is_known(c.text)).count();
    Some(known * 4 + words.min(usual) * 2)
}

/// Neither a number nor a day.
fn is_word(text: &str) -> bool {
    let number = text.chars().next().is_some_and(|c| c.is_ascii_digit() || c == '-') && text.chars().all(|c| !c.is_alphabetic());
    let day =
        text.chars().any(|c| c.is_ascii_digit()) && styles_tried().iter().filter_map(|s| Days::of(s, true)).any(|d| d.has_day(cell(text)));
    !number && !day
}

fn cell(text: &str) -> crosshouse_logs::raw::RawCell<'_> {
    crosshouse_logs::raw::RawCell { text, is: RawKind::Text }
}

/// Every filled cell is a unit, under a header.
fn is_unit_row(sheet: &RawSheet, row: usize, headers: &[String]) -> bool {
    let cells: Vec<&str> = (0..sheet.width(row)).map(|c| sheet.cell(row, c).text).collect();
    let filled = cells.iter().filter(|t| !t.is_empty()).count();
    filled > 0
        && cells.iter().enumerate().all(|(c, t)| t.is_empty() || (words::unit_like(t) && headers.get(c).is_some_and(|h| !h.is_empty())))
}
