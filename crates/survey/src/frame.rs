//! What each line of a sheet is: preamble, header, unit row, comment, total, or a row.
use crate::{weeks, words};
use crosshouse_logs::raw::{Days, RawCell, RawKind, RawSheet, styles_tried};

/// The structure found in one sheet.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Frame {
    /// Index of the header's last row.
    pub header: usize,
    /// Lines that make the header: one or two.
    pub header_lines: usize,
    /// Of two lines, joined with " / ".
    pub headers: Vec<String>,
    /// Columns whose heads are days or weeks: a wide sheet. Empty: a long one.
    pub heads: Vec<usize>,
    /// Index of the row of the heads: the upper one, where two lines make the header.
    pub head_row: usize,
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
    let chosen = header_of(sheet, &used)?;
    let lines = header_rows(sheet, &used, chosen);
    let (first, header) = (lines.first().copied().unwrap_or(chosen), lines.last().copied().unwrap_or(chosen));
    let headers = joined(sheet, &lines);
    let above: Vec<usize> = used.iter().copied().take_while(|r| *r < first).collect();
    let mut frame = Frame {
        header,
        header_lines: lines.len(),
        heads: heads(sheet, &lines),
        head_row: first,
        skip_lines: if above.is_empty() { 0 } else { sheet.number(first).saturating_sub(1) },
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
    if frame.header_lines == 1 && frame.headers.iter().enumerate().all(|(c, h)| sheet.cell(row, c).text == h) {
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
    let days = cells.iter().filter(|c| is_day(c)).count();
    // A head of days needs three: a row of a log has one or two.
    let heads = if days >= MOST_DAYS_OF_A_ROW && words > 0 { words + days } else { words };
    if cells.len() < 2 || heads * 5 < cells.len() * 4 {
        return None;
    }
    let known = cells.iter().filter(|c| words::is_known(c.text)).count();
    Some(known * 4 + heads.min(usual) * 2)
}

const MOST_DAYS_OF_A_ROW: usize = 3;

fn is_day(cell: &RawCell<'_>) -> bool {
    let written = |text: &str| {
        text.chars().any(|c| c.is_ascii_digit()) && styles_tried().iter().filter_map(|s| Days::of(s, true)).any(|d| d.has_day(*cell))
    };
    match cell.is {
        RawKind::Serial(days) => days >= 1.0,
        RawKind::Text => written(cell.text),
        _ => false,
    }
}

/// The chosen row, with the one above or below it where that is the other half of the header.
fn header_rows(sheet: &RawSheet, used: &[usize], chosen: usize) -> Vec<usize> {
    let at = used.iter().position(|r| *r == chosen).unwrap_or(0);
    let above = at.checked_sub(1).and_then(|i| used.get(i)).copied();
    let below = used.get(at + 1).copied();
    let poor = |rows: &[usize]| unnamed(&joined(sheet, rows));
    let alone = poor(&[chosen]);
    for pair in [above.map(|a| vec![a, chosen]), below.map(|b| vec![chosen, b])].into_iter().flatten() {
        let words = pair.iter().all(|r| is_all_words(sheet, *r));
        if words && poor(&pair) < alone {
            return pair;
        }
    }
    // Days above repeated names: two columns or more for each day.
    match above.filter(|a| alone > 0 && days_in(sheet, *a) > 1) {
        Some(above) => vec![above, chosen],
        None => vec![chosen],
    }
}

/// Two filled cells or more, and none of them a number or a day.
fn is_all_words(sheet: &RawSheet, row: usize) -> bool {
    let cells: Vec<RawCell<'_>> = (0..sheet.width(row)).map(|c| sheet.cell(row, c)).filter(|c| !c.text.is_empty()).collect();
    cells.len() > 1 && cells.iter().all(|c| c.is == RawKind::Text && is_word(c.text))
}

/// Headers that are blank or stand twice.
fn unnamed(headers: &[String]) -> usize {
    let blank_or_again = |(i, h): (usize, &String)| h.is_empty() || headers.iter().take(i).any(|g| g == h);
    headers.iter().enumerate().filter(|(i, h)| blank_or_again((*i, h))).count()
}

/// The words of each column, top to bottom; a word repeated below itself stands once.
fn joined(sheet: &RawSheet, rows: &[usize]) -> Vec<String> {
    let width = rows.iter().map(|r| sheet.width(*r)).max().unwrap_or(0);
    let of = |column: usize| {
        let mut words: Vec<&str> = rows.iter().map(|r| sheet.cell(*r, column).text).filter(|t| !t.is_empty()).collect();
        words.dedup();
        words.join(" / ")
    };
    (0..width).map(of).collect()
}

fn is_head(cell: &RawCell<'_>) -> bool {
    is_day(cell) || weeks::is_named(cell.text)
}

fn days_in(sheet: &RawSheet, row: usize) -> usize {
    (0..sheet.width(row)).filter(|c| is_head(&sheet.cell(row, *c))).count()
}

/// Columns headed by days or named weeks, where there are three at least; under two lines, all the
/// columns from one head to the next.
fn heads(sheet: &RawSheet, lines: &[usize]) -> Vec<usize> {
    match lines {
        [header] => {
            let found: Vec<usize> = (0..sheet.width(*header)).filter(|c| is_head(&sheet.cell(*header, *c))).collect();
            if found.len() >= MOST_DAYS_OF_A_ROW { found } else { Vec::new() }
        }
        [above, below] if days_in(sheet, *above) > 1 => {
            let mut under = false;
            let held = |c: &usize| {
                let head = sheet.cell(*above, *c);
                under = is_head(&head) || (under && head.text.is_empty());
                under && !sheet.cell(*below, *c).text.is_empty()
            };
            (0..sheet.width(*below)).filter(held).collect()
        }
        _ => Vec::new(),
    }
}

/// Neither a number nor a day.
fn is_word(text: &str) -> bool {
    let number = text.chars().next().is_some_and(|c| c.is_ascii_digit() || c == '-') && text.chars().all(|c| !c.is_alphabetic());
    !number && !is_day(&RawCell { text, is: RawKind::Text })
}

/// Every filled cell is a unit, under a header.
fn is_unit_row(sheet: &RawSheet, row: usize, headers: &[String]) -> bool {
    let cells: Vec<&str> = (0..sheet.width(row)).map(|c| sheet.cell(row, c).text).collect();
    let filled = cells.iter().filter(|t| !t.is_empty()).count();
    filled > 0
        && cells.iter().enumerate().all(|(c, t)| t.is_empty() || (words::unit_like(t) && headers.get(c).is_some_and(|h| !h.is_empty())))
}

#[cfg(test)]
mod tests {
    use crate::testing::body;

    fn frame(text: &str) -> super::Frame {
        body(text).parts.remove(0).frame
    }

    #[test]
    fn a_header_of_two_lines_is_joined_where_the_lower_repeats_itself() {
        let found = frame("North\nFeed,Feed,Drain,Drain,Date\nEC,pH,EC,pH,\n2.2,5.8,2.9,6.1,2031-06-13\n");
        assert_eq!((found.header_lines, found.skip_lines, found.rows.len()), (2, 1, 1));
        assert_eq!(found.headers, ["Feed / EC", "Feed / pH", "Drain / EC", "Drain / pH", "Date"]);
    }

    #[test]
    fn a_header_of_one_line_stays_one() {
        let found = frame("Marl,snack pepper,harvest\nDate,Plot,Class,kg\n,,,kg\n2031-06-13,B1,I,1.2\n");
        assert_eq!((found.header_lines, found.skip_lines, found.unit_row.is_some()), (1, 1, true));
        assert!(found.heads.is_empty());
    }

    #[test]
    fn days_or_weeks_as_heads_make_a_wide_sheet() {
        assert_eq!(frame("Tag,13.6.,13.06.2031,20.06.2031,27.06.2031,Note\nB1,x,1.2,0.8,0.5,\n").heads, [2, 3, 4]);
        assert_eq!(frame("Tag,KW 24,KW 25,KW 26\nB1,1.2,0.8,0.5\n").heads, [1, 2, 3]);
        let pairs = frame("Picks\n,13.06.2031,,20.06.2031,\nTag,lb,oz,lb,oz\nB1,1,4,0,12\n");
        assert_eq!((pairs.header_lines, pairs.skip_lines, pairs.heads), (2, 1, vec![1, 2, 3, 4]));
        assert!(frame("Date,Until,Tag,What\n2031-06-13,2031-06-14,B1,note\n").heads.is_empty());
    }
}
