//! Completeness calendar: what became of every unit on every pick day. A missed pick is not a zero pick.
use crate::axes;
use crate::canvas::{Anchor, Canvas, Spot, text_width};
use crate::drawing::{Caption, Drawing, Page, written};
use crate::faults::FigureFault;
use crate::fitting::{shortened, wrapped};
use crate::legend::key;
use crate::look::{BLACK, CAPS, Ink, LEADING, MUTED, ORANGE, PAGE_HEIGHT, RULE, RULE_INK, SKY, WHITE, Width, YELLOW};
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

/// States of the units (or houses) of a site by day.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct CalendarFigure {
    pub caption: Caption,
    /// What a row is, in the plural: "units", "houses".
    pub rows_are: String,
    /// What a column is, in the plural: "pick days", "weeks".
    pub columns_are: String,
    /// In order of display; rows of one group stand together.
    pub rows: Vec<CalendarRow>,
    pub days: Vec<Date>,
    #[serde(skip)]
    pub width: Width,
}

#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct CalendarRow {
    pub label: String,
    /// Block, bench or treatment; empty: no grouping.
    pub group: String,
    /// One a day of the figure; absent = not due.
    pub states: Vec<Option<CellState>>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub enum CellState {
    Picked,
    Zero,
    Missed,
    Lost,
    Dead,
    Unknown,
    /// Climate record of at least 95 % of the day, of at least 80 %, of less, none.
    Whole,
    Most,
    Part,
    Absent,
}

use CellState::{Absent, Dead, Lost, Missed, Most, Part, Picked, Unknown, Whole, Zero};

const ALL: [CellState; 10] = [Picked, Zero, Missed, Lost, Dead, Unknown, Whole, Most, Part, Absent];

impl CellState {
    fn words(self) -> &'static str {
        match self {
            Picked => "picked",
            Zero => "visited, nothing ready",
            Missed => "missed",
            Lost => "picked, record lost",
            Dead => "all plants dead",
            Unknown => "not known",
            Whole => "95 % of the day or more",
            Most => "80 to 95 %",
            Part => "less than 80 %",
            Absent => "no record",
        }
    }

    fn fill(self) -> Ink {
        match self {
            Picked | Whole => SKY.towards(WHITE, 0.5),
            Zero => WHITE,
            Missed | Absent => Ink::new(0xD5, 0x5E, 0x00),
            Lost | Part => ORANGE.towards(WHITE, 0.25),
            Dead => Ink::new(64, 64, 64),
            Unknown => YELLOW.towards(WHITE, 0.35),
            Most => SKY.towards(WHITE, 0.78),
        }
    }
}

impl CalendarFigure {
    /// The pages, none without a row or a day.
    pub fn draw(&self) -> Result<Vec<Drawing>, FigureFault> {
        if self.rows.is_empty() || self.days.is_empty() {
            return Ok(Vec::new());
        }
        written(Layout::of(self).pages())
    }

    /// How many cells have each state, in the order of the key.
    fn counts(&self) -> Vec<(CellState, usize)> {
        let of = |state: CellState| self.rows.iter().flat_map(|r| &r.states).filter(|s| **s == Some(state)).count();
        ALL.into_iter().map(|s| (s, of(s))).filter(|(_, n)| *n > 0).collect()
    }

    fn finding(&self) -> String {
        let counts = self.counts();
        let all: usize = counts.iter().map(|(_, n)| n).sum();
        let parts: Vec<String> = counts.iter().map(|(s, n)| format!("{}: {n}", s.words())).collect();
        format!("Of {all} cells ({} by {}), {}.", self.rows_are, self.columns_are, parts.join("; "))
    }
}

const MARGIN: f64 = 2.0;
const ROW: f64 = 3.4;
const GROUP_GAP: f64 = 1.4;
const CELL_LEAST: f64 = 2.3;
const CELL_MOST: f64 = 5.5;

struct Layout<'a> {
    figure: &'a CalendarFigure,
    group: f64,
    label: f64,
    cell: f64,
    days_a_page: usize,
    head: f64,
}

impl<'a> Layout<'a> {
    fn of(figure: &'a CalendarFigure) -> Self {
        let widest = |of: fn(&CalendarRow) -> &str, bold| figure.rows.iter().map(|r| text_width(of(r), bold)).fold(0.0, f64::max);
        let (group, label) = (widest(|r| &r.group, true).min(30.0), widest(|r| &r.label, false).min(34.0));
        let group = if group > 0.0 { group + 2.0 } else { 0.0 };
        let room = figure.width.mm() - 2.0 * MARGIN - group - label - 1.5;
        let pages = (figure.days.len() as f64 / (room / CELL_LEAST).floor().max(1.0)).ceil().max(1.0);
        let days_a_page = (figure.days.len() as f64 / pages).ceil().max(1.0) as usize;
        let cell = (room / days_a_page as f64).min(CELL_MOST);
        let head = text_width("28 Sep", false) + 1.5;
        Layout { figure, group, label, cell, days_a_page, head }
    }

    fn pages(&self) -> Vec<Page> {
        let key_room = 4.0 * (LEADING + 0.9);
        let room = PAGE_HEIGHT - 2.0 * MARGIN - self.head - key_room;
        let mut pages = Vec::new();
        for rows in row_runs(&self.figure.rows, room) {
            for from in (0..self.figure.days.len()).step_by(self.days_a_page) {
                pages.push(self.page(rows, from));
            }
        }
        pages
    }

    fn page(&self, rows: &[CalendarRow], from: usize) -> Page {
        let mut canvas = Canvas::default();
        let width = self.figure.width.mm();
        let left = MARGIN + self.group + self.label + 1.5;
        let days = self.figure.days.get(from..(from + self.days_a_page).min(self.figure.days.len())).unwrap_or(&[]);
        let top = MARGIN + self.key(&mut canvas, width) + self.head;
        self.days(&mut canvas, days, left, top);
        let mut y = top;
        let mut before: Option<&str> = None;
        for row in rows {
            if before != Some(row.group.as_str()) {
                y += if before.is_some() { GROUP_GAP } else { 0.0 };
                let group = shortened(&row.group, (self.group - 2.0).max(0.0), true);
                canvas.bold((MARGIN, y + ROW / 2.0 + CAPS / 2.0), &group, Anchor::Start);
                before = Some(&row.group);
            }
            self.row(&mut canvas, row, from, days.len(), (left, y));
            y += ROW;
        }
        let height = axes::notes(&mut canvas, MARGIN, y + 0.6, width - 2.0 * MARGIN, &self.notes()) + MARGIN;
        Page { caption: self.caption(), alt: self.alt(), canvas, width, height }
    }

    fn key(&self, canvas: &mut Canvas, width: f64) -> f64 {
        let counts = self.figure.counts();
        let words: Vec<String> = counts.iter().map(|(s, n)| format!("{} ({n})", s.words())).collect();
        key(canvas, (MARGIN, MARGIN), width - 2.0 * MARGIN, 3.4, &words, |canvas, i, (x, y)| {
            if let Some((state, _)) = counts.get(i) {
                cell(canvas, *state, (x, y - 1.5), (x + 3.2, y + 1.5));
            }
        }) + 1.0
    }

    /// Dates run up the page; as many as have room, the first of each month before others.
    fn days(&self, canvas: &mut Canvas, days: &[Date], left: f64, top: f64) {
        canvas.line((left, top - 0.3), (left + self.cell * days.len() as f64, top - 0.3), RULE_INK, RULE);
        let every = (3.4 / self.cell).ceil().max(1.0) as usize;
        for (i, day) in days.iter().enumerate().step_by(every) {
            let x = left + (i as f64 + 0.5) * self.cell + CAPS / 2.0;
            let text = day_words(*day);
            canvas.text_upward((x, top - 1.0 - text_width(&text, false) / 2.0), &text);
        }
    }

    fn row(&self, canvas: &mut Canvas, row: &CalendarRow, from: usize, days: usize, (left, top): Spot) {
        let label = shortened(&row.label, self.label, false);
        canvas.text((left - 1.5, top + ROW / 2.0 + CAPS / 2.0), &label, Anchor::End);
        for (i, state) in row.states.iter().skip(from).take(days).enumerate() {
            let x = left + i as f64 * self.cell;
            if let Some(state) = state {
                cell(canvas, *state, (x + 0.12, top + 0.12), (x + self.cell - 0.12, top + ROW - 0.12));
            }
        }
    }

    fn notes(&self) -> Vec<String> {
        let due: usize = self.figure.counts().iter().map(|(_, n)| n).sum();
        let cells = self.figure.rows.len() * self.figure.days.len();
        if due < cells { vec!["No cell: nothing was due.".into()] } else { Vec::new() }
    }

    fn caption(&self) -> Caption {
        let finding = if self.figure.caption.finding.is_empty() { self.figure.finding() } else { self.figure.caption.finding.clone() };
        Caption { finding, ..self.figure.caption.clone() }
    }

    fn alt(&self) -> String {
        let words: Vec<&str> = self.figure.counts().iter().map(|(s, _)| s.words()).collect();
        let ends = match (self.figure.days.first(), self.figure.days.last()) {
            (Some(first), Some(last)) => format!("{first} to {last}"),
            _ => String::new(),
        };
        let text = format!(
            "Calendar of {} {} by {} {}, {ends}. States: {}.",
            self.figure.rows.len(),
            self.figure.rows_are,
            self.figure.days.len(),
            self.figure.columns_are,
            words.join(", ")
        );
        wrapped(&text, f64::INFINITY, 1, false).join(" ")
    }
}

fn day_words(day: Date) -> String {
    const MONTHS: [&str; 12] = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];
    let month = MONTHS.get(usize::from(day.month().unsigned_abs()) - 1).copied().unwrap_or("");
    format!("{} {month}", day.day())
}

/// Runs of rows that fit a page, their group gaps counted; pages are about even and break between groups where they can.
fn row_runs(rows: &[CalendarRow], room: f64) -> Vec<&[CalendarRow]> {
    let groups = rows.windows(2).filter(|w| matches!(w, [a, b] if a.group != b.group)).count();
    let all = rows.len() as f64 * ROW + groups as f64 * GROUP_GAP;
    let even = all / (all / room).ceil().max(1.0);
    let (mut runs, mut start, mut height) = (Vec::new(), 0, 0.0);
    for (i, row) in rows.iter().enumerate() {
        let new = i > start && rows.get(i - 1).is_some_and(|before| before.group != row.group);
        let wide = ROW + if new { GROUP_GAP } else { 0.0 };
        let full = height + wide > room || (new && height + ROW > even && all > room);
        if full && i > start {
            runs.extend(rows.get(start..i));
            (start, height) = (i, 0.0);
        }
        height += wide;
    }
    runs.extend(rows.get(start..));
    runs
}

/// Fill and glyph of a state: either alone would tell it.
fn cell(canvas: &mut Canvas, state: CellState, (left, top): Spot, (right, bottom): Spot) {
    canvas.rect((left, top), (right, bottom), state.fill());
    if matches!(state, Zero | Unknown) {
        canvas.outline((left, top), (right, bottom), Ink::new(150, 150, 150), 0.4);
    }
    let (x, y) = ((left + right) / 2.0, (top + bottom) / 2.0);
    let r = ((right - left).min(bottom - top) / 2.0 - 0.45).max(0.3);
    match state {
        Picked | Whole => {}
        Zero => canvas.ring((x, y), r * 0.75, MUTED, 0.7),
        Missed | Absent => {
            canvas.line((x - r, y - r), (x + r, y + r), WHITE, 1.1);
            canvas.line((x - r, y + r), (x + r, y - r), WHITE, 1.1);
        }
        Lost | Part => canvas.line((x - r, y + r), (x + r, y - r), BLACK, 1.1),
        Dead => {
            canvas.line((x, y - r), (x, y + r), WHITE, 1.0);
            canvas.line((x - r, y), (x + r, y), WHITE, 1.0);
        }
        Unknown => canvas.disc((x, y), r * 0.45, BLACK),
        Most => canvas.line((x - r, y), (x + r, y), BLACK, 0.7),
    }
}
