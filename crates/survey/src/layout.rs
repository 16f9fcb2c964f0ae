//! The keys that every log has: files, sheet, marks, lines that are no rows, codes, dates.
use crate::body::Body;
use crate::dates::{DayColumn, Style};
use crate::draft::{Line, Question, Sure, list, many, quoted, some};
use crate::log::Log;
use crate::numbers::Decimal;
use std::collections::BTreeMap;

/// The sheets of a body, as one pattern where one fits them and no other sheet, else one by one.
pub(crate) fn sheets(body: &Body, all: &BTreeMap<String, Vec<String>>) -> Vec<Option<String>> {
    let mut names: Vec<&str> = body.parts.iter().filter_map(|p| p.sheet.name.as_deref()).collect();
    names.sort_unstable();
    names.dedup();
    match names.as_slice() {
        [] => return vec![None],
        [only] => return vec![Some((*only).to_owned())],
        _ => {}
    }
    // "KW 24" and "KW 25" share "KW ", not "KW 2": the next sheet may be "KW 30".
    let prefix = shared(&names, |n| n.chars().collect()).trim_end_matches(|c: char| c.is_ascii_digit()).to_owned();
    let suffix: String = shared(&names, |n| n.chars().rev().collect()).chars().rev().collect();
    let suffix = suffix.trim_start_matches(|c: char| c.is_ascii_digit()).to_owned();
    let pattern = format!("{prefix}*");
    let fits = |name: &str| name.starts_with(&prefix) && name.ends_with(&suffix);
    let pattern = if suffix.is_empty() { pattern } else { format!("{pattern}{suffix}") };
    let files = body.files();
    let strays =
        all.iter().filter(|(f, _)| files.contains(&f.as_str())).flat_map(|(_, s)| s).any(|s| fits(s) && !names.contains(&s.as_str()));
    if strays { names.into_iter().map(|n| Some(n.to_owned())).collect() } else { vec![Some(pattern)] }
}

fn shared(names: &[&str], chars: impl Fn(&str) -> Vec<char>) -> String {
    let lists: Vec<Vec<char>> = names.iter().map(|n| chars(n)).collect();
    let shortest = lists.iter().map(Vec::len).min().unwrap_or(0).saturating_sub(1);
    let first = lists.first().cloned().unwrap_or_default();
    first.iter().take(shortest).enumerate().take_while(|(i, c)| lists.iter().all(|l| l.get(*i) == Some(*c))).map(|(_, c)| *c).collect()
}

/// All of them, in the order in which the manual has them.
pub(crate) fn lines(log: &Log, sheet: Option<&str>) -> Vec<Line> {
    let mut lines = vec![files(log)];
    if let Some(sheet) = sheet {
        lines.push(Line::sure(format!("sheet = {}", quoted(sheet)), format!("{} with this header", sheets_of(log))));
    }
    lines.extend(marks(log));
    lines.extend(decimal(log));
    lines.extend(frame(log));
    lines.extend(codes(log));
    lines.extend(dates(log));
    lines
}

fn sheets_of(log: &Log) -> String {
    let n = log.body.parts.len();
    if n == 1 { "one sheet".to_owned() } else { format!("{n} sheets") }
}

fn files(log: &Log) -> Line {
    let files: Vec<String> = log.body.files().into_iter().map(str::to_owned).collect();
    if log.assigned.kind == crosshouse_logs::declare::LogKind::Plan {
        return Line::plain(format!("file = {}", quoted(files.first().map_or("", String::as_str))));
    }
    let text = format!("files = {}", list(&files));
    if files.len() > 1 { Line::sure(text, "one header, one way of writing") } else { Line::plain(text) }
}

fn marks(log: &Log) -> Vec<Line> {
    let mut lines = Vec::new();
    let Some(part) = log.body.parts.first() else { return lines };
    if let Some(mark) = part.delimiter {
        let width = part.frame.headers.len();
        let fit = |p: &crate::body::Part| p.frame.rows.iter().filter(|r| p.sheet.width(**r) == width).count();
        let fitting: usize = log.body.parts.iter().map(fit).sum();
        let shown = if mark == '\t' { "tab".to_owned() } else { mark.to_string() };
        let because = format!("{} of {} rows have {width} cells by it", many(fitting), many(log.body.rows()));
        let text = format!("delimiter = {}", quoted(&shown));
        lines.push(match log.body.parts.iter().find_map(|p| p.unclosed.first()) {
            Some(row) => Line::likely(text, format!("{because}; a quotation mark of row {row} is never closed")),
            None => Line::sure(text, because),
        });
    }
    if let Some((encoding, because)) = log.body.parts.iter().find_map(|p| p.encoding.as_ref()) {
        let guessed = log.body.parts.iter().any(|p| p.guessed);
        let text = format!("encoding = {}", quoted(&encoding.to_lowercase()));
        let because = if guessed { format!("{because}; see whether {} reads right", foreign(log)) } else { because.clone() };
        lines.push(if guessed { Line::likely(text, because) } else { Line::sure(text, because) });
    }
    lines
}

/// A text with a letter beyond ASCII, by which a person can judge the encoding.
fn foreign(log: &Log) -> String {
    let headers = log.body.headers().iter().map(String::as_str);
    let preamble = log.body.parts.iter().flat_map(|p| p.frame.preamble.iter().map(String::as_str));
    let words = log.columns.iter().flat_map(|c| c.words.keys().map(String::as_str));
    let found = headers.chain(preamble).chain(words).find(|t| !t.is_ascii());
    found.map_or_else(|| "every letter".to_owned(), |t| format!("\"{}\"", t.chars().take(40).collect::<String>()))
}

fn decimal(log: &Log) -> Vec<Line> {
    match &log.decimal {
        Decimal::Unmarked => Vec::new(),
        Decimal::Only { style, fits, of, example } => {
            let because = match &log.decimal_by_size {
                Some(because) => because.clone(),
                None => format!("{} of {} numbers with a mark are read so, such as {example}", many(*fits), many(*of)),
            };
            let mut lines = vec![Line::sure(format!("decimal = \"{}\"", style.decimal), because)];
            if let Some(mark) = style.thousands {
                lines.push(Line::sure(format!("thousands = \"{mark}\""), "it parts groups of three digits"));
            }
            lines
        }
        Decimal::Either { point, examples, .. } => {
            // The mark that stands there parts decimals, or else thousands.
            let here = if point.thousands.is_none() { '.' } else { ',' };
            let other = if here == '.' { ',' } else { '.' };
            let ask = format!("does \"{here}\" part decimals or thousands?");
            let question = Question::new("decimal", ask, format!("every \"{here}\" stands before three digits: {}", examples.join(", ")))
                .or(&here.to_string(), "decimals")
                .or(&other.to_string(), format!("thousands; then add the line thousands = \"{here}\""));
            vec![Line::asked(question)]
        }
    }
}

fn frame(log: &Log) -> Vec<Line> {
    let mut lines = Vec::new();
    let Some(part) = log.body.parts.first() else { return lines };
    let frame = &part.frame;
    if frame.skip_lines > 0 {
        let because = format!("the header follows after {}", some(frame.preamble.iter().map(String::as_str), 2));
        lines.push(Line::sure(format!("skip_lines = {}", frame.skip_lines), because));
    }
    if frame.header_lines > 1 {
        let because = format!("the lines together name the columns: {}", some(frame.headers.iter().map(String::as_str), 3));
        lines.push(Line::sure(format!("header_lines = {}", frame.header_lines), because));
    }
    if frame.unit_row.is_some() {
        let units: Vec<&str> = log.columns.iter().map(|c| c.unit_below.as_str()).filter(|u| !u.is_empty()).collect();
        lines.push(Line::sure("unit_row = true", format!("below the header stand {}", some(units, 6))));
    }
    if let Some(mark) = log.body.parts.iter().find_map(|p| p.frame.comment) {
        let n: usize = log.body.parts.iter().map(|p| p.frame.comments).sum();
        lines.push(Line::sure(format!("comment = {}", quoted(mark)), format!("{} begin so", counted(n, "line"))));
    }
    let mut totals: Vec<String> = Vec::new();
    for word in log.body.parts.iter().flat_map(|p| &p.frame.totals) {
        if !totals.iter().any(|t| t.eq_ignore_ascii_case(word)) {
            totals.push(word.clone());
        }
    }
    if !totals.is_empty() {
        let n: usize = log.body.parts.iter().map(|p| p.frame.total_rows).sum();
        lines.push(Line::sure(format!("totals = {}", list(&totals)), format!("{} of totals", counted(n, "row"))));
    }
    lines
}

pub(crate) fn counted(n: usize, word: &str) -> String {
    if n == 1 { format!("one {word}") } else { format!("{} {word}s", many(n)) }
}

fn codes(log: &Log) -> Vec<Line> {
    let mut found: BTreeMap<&str, usize> = BTreeMap::new();
    for (column, _) in log.chosen().filter(|(_, c)| c.is != "ignored") {
        column.codes.iter().for_each(|(code, n)| *found.entry(code).or_default() += n);
    }
    if found.is_empty() {
        return Vec::new();
    }
    let mut texts = vec![String::new()];
    texts.extend(found.keys().map(|c| (*c).to_owned()));
    let because = found
        .iter()
        .map(|(c, n)| format!("\"{c}\" stands in {} among numbers or days", counted(*n, "cell")))
        .collect::<Vec<_>>()
        .join("; ");
    vec![Line::sure(format!("missing = {}", list(&texts)), because)]
}

fn dates(log: &Log) -> Vec<Line> {
    let Some(column) = log.day_column() else { return Vec::new() };
    let Some(day) = &column.day else { return Vec::new() };
    let mut lines = date_style(&column.header, day);
    let clock = log.column("time").is_some_and(|c| c.twelve_hour_times);
    if (day.twelve_hour && day.timed > 0) || clock {
        lines.push(Line::sure("time_style = \"12-hour\"", "am and pm stand behind the times"));
    }
    lines
}

/// The style of days in a column, or of weeks with the day that they stand for.
pub(crate) fn date_style(header: &str, day: &DayColumn) -> Vec<Line> {
    let Style::Weeks(weeks) = day.style else { return vec![day_style(header, day)] };
    let because = format!("all {} cells of \"{header}\" are weeks", many(day.filled));
    let style = Line::sure(format!("date_style = {}", quoted(weeks.style)), because);
    let mut lines = vec![style.saying(format!("\"{header}\" is the week"))];
    if !weeks.with_year {
        let question = Question::new("year", format!("the weeks of which year are in \"{header}\"?"), "");
        lines.push(Line::asked(question.or_plain("a number such as 2031", "without quotes")));
    }
    let days = ["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"];
    let ask = "on which day of its week was each pick or reading made?";
    lines.push(Line::asked(Question::new("week_day", ask, "").or_each(days)));
    lines
}

fn day_style(header: &str, day: &DayColumn) -> Line {
    let counts = format!("{} of {} cells of \"{header}\"", many(day.days), many(day.filled));
    let but = if day.not_days.is_empty() { String::new() } else { format!("; {} is no day", day.not_days.join(" nor ")) };
    match &day.style {
        Style::Workbook | Style::Weeks(_) => Line::sure("date_style = \"workbook\"", format!("{counts} are days of the workbook{but}"))
            .saying(format!("\"{header}\" holds days of the workbook")),
        Style::Only(style) => {
            Line::sure(format!("date_style = {}", quoted(style)), format!("the only style tried that reads {counts}{but}"))
                .saying(format!("\"{header}\" is {style}"))
        }
        Style::Several { styles, examples, in_order } => {
            let mut seen = examples.join("; ");
            if let [only] = in_order.as_slice() {
                seen.push_str(&format!("; the rows follow in time by {only} alone"));
            }
            Line::asked(
                Question::new("date_style", format!("how are the days of \"{header}\" written?"), seen).or_each(styles.iter().copied()),
            )
        }
        Style::Mixed { styles, fits, example } => {
            let best = styles.first().copied().unwrap_or_default();
            let seen = format!("no style reads them all: {best} reads {} of {}, but not {example}", many(*fits), many(day.days));
            let ask = format!("which style is \"{header}\" in? Rows of another are set aside until they are written alike");
            Line::asked(Question::new("date_style", ask, seen).or_each(styles.iter().copied()))
        }
    }
}

/// Whether a line is written without a question and without doubt.
pub(crate) fn is_sure(line: &Line) -> bool {
    line.sure == Some(Sure::Sure) && line.questions.is_empty()
}
