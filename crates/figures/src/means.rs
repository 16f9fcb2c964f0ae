//! Adjusted means with their intervals, one panel a site.
use crate::axes::{self, Area, TICK_ROOM};
use crate::canvas::{Anchor, Canvas, text_width};
use crate::drawing::{Caption, Drawing, Page, written};
use crate::faults::FigureFault;
use crate::fitting::{shortened, wrapped};
use crate::legend::marker_key;
use crate::look::{CAPS, GRID, HAIRLINE, Hand, LEADING, MUTED, PAGE_HEIGHT, STROKE, TOLD_APART, Width};
use crate::markers::marker;
use crate::scales::{Scale, Ticks, extent, padded, ticks_across};
use serde::{Deserialize, Serialize};

/// Means of one response by site and levels of any number of factors.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct MeansFigure {
    pub caption: Caption,
    /// Such as "marketable yield" and "kg per plant".
    pub response: String,
    pub unit: String,
    /// Confidence level of the intervals, %.
    pub level: f64,
    /// The first factor takes shape and colour, the others make the rows.
    pub factors: Vec<FactorWords>,
    /// In order of display: sites, then what is said across them.
    pub panels: Vec<MeansPanel>,
    /// Printed at the foot: what the means are, where they are not plain means.
    pub notes: Vec<String>,
    #[serde(skip)]
    pub width: Width,
}

/// A factor as readers know it, its levels in order of display.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct FactorWords {
    pub label: String,
    pub levels: Vec<String>,
}

#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct MeansPanel {
    pub title: String,
    pub rows: Vec<MeanRow>,
}

/// One mean: `levels` holds a level of each factor, in the figure's order of factors.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct MeanRow {
    pub levels: Vec<String>,
    pub value: MeanValue,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub enum MeanValue {
    /// In the response's unit; letters where the comparison gave them.
    Told { estimate: f64, low: f64, high: f64, letters: Option<String> },
    /// In a few words: "not grown".
    NotTold { why: String },
}

impl MeansFigure {
    /// The pages, none if no mean can be told.
    pub fn draw(&self) -> Result<Vec<Drawing>, FigureFault> {
        match Layout::of(self) {
            Some(layout) => written(layout.pages()),
            None => Ok(Vec::new()),
        }
    }
}

const MARGIN: f64 = 2.0;
const GAP: f64 = 5.0;
const LABEL_MOST: f64 = 42.0;
const PANEL_LEAST: f64 = 34.0;

/// A row label with what stands in it: one sub-row a level of the coloured factor.
struct Category {
    lines: Vec<String>,
    levels: Vec<String>,
    height: f64,
}

struct Layout<'a> {
    figure: &'a MeansFigure,
    /// Levels that colour tells apart; empty: the rows alone tell.
    series: Vec<String>,
    categories: Vec<Category>,
    pitch: f64,
    label: f64,
    letters: f64,
    columns: usize,
    panel: f64,
    scale: Scale,
    ticks: Ticks,
}

impl<'a> Layout<'a> {
    fn of(figure: &'a MeansFigure) -> Option<Self> {
        let series = coloured(figure);
        let letters = letters_width(figure);
        let words = figure.panels.iter().flat_map(|p| &p.rows).any(|r| matches!(r.value, MeanValue::NotTold { .. }));
        let pitch = if letters > 0.0 || words { LEADING } else { 2.8 };
        let categories = categories(figure, &series, pitch);
        let label = categories.iter().flat_map(|c| &c.lines).map(|l| text_width(l, false)).fold(0.0, f64::max) + 2.0;
        let room = figure.width.mm() - 2.0 * MARGIN - label;
        let columns = balanced(figure.panels.len(), ((room + GAP) / (PANEL_LEAST + letters + GAP)).floor() as usize);
        let panel = (room - GAP * (columns as f64 - 1.0)) / columns as f64;
        let (low, high) = padded(extent(told(figure).flat_map(|(l, e, h)| [l, e, h]))?, 0.05);
        let ticks = ticks_across(low, high, panel - letters);
        let scale = Scale { low, high, from: 0.0, to: panel - letters };
        Some(Layout { figure, series, categories, pitch, label, letters, columns, panel, scale, ticks })
    }

    /// Categories that fit on one page, then rows of panels that do.
    fn pages(&self) -> Vec<Page> {
        let head = self.head_lines();
        let fixed = axes::head_height(head) + 1.0 + TICK_ROOM + 2.0;
        let room = PAGE_HEIGHT - 26.0;
        let mut pages = Vec::new();
        for chunk in chunks(&self.categories, room - fixed) {
            let height = fixed + chunk.iter().map(|c| c.height).sum::<f64>();
            let rows_a_page = (room / height).floor().max(1.0) as usize;
            for panels in self.figure.panels.chunks(rows_a_page * self.columns) {
                pages.push(self.page(panels, chunk, head));
            }
        }
        pages
    }

    fn head_lines(&self) -> usize {
        self.figure.panels.iter().map(|p| wrapped(&p.title, self.panel, 2, true).len()).max().unwrap_or(1)
    }

    fn page(&self, panels: &[MeansPanel], categories: &[Category], head: usize) -> Page {
        let mut canvas = Canvas::default();
        let width = self.figure.width.mm();
        let mut y = MARGIN + self.key(&mut canvas, width);
        for row in panels.chunks(self.columns) {
            y = self.panel_row(&mut canvas, row, categories, y, head);
        }
        y += LEADING;
        let middle = (MARGIN + self.label + width - MARGIN) / 2.0;
        for line in wrapped(&format!("{}, {}", self.figure.response, self.figure.unit), width - 2.0 * MARGIN, 2, false) {
            canvas.text((middle, y), &line, Anchor::Middle);
            y += LEADING;
        }
        let height = axes::notes(&mut canvas, MARGIN, y - LEADING + 1.5, width - 2.0 * MARGIN, &self.notes()) + MARGIN;
        Page { caption: self.caption(), alt: self.alt(), canvas, width, height }
    }

    fn key(&self, canvas: &mut Canvas, width: f64) -> f64 {
        let Some(factor) = self.figure.factors.first().filter(|_| !self.series.is_empty() && self.figure.factors.len() > 1) else {
            return 0.0;
        };
        let entries: Vec<(String, Hand)> = self.series.iter().enumerate().map(|(i, s)| (s.clone(), Hand::of(i, 0))).collect();
        marker_key(canvas, (MARGIN, MARGIN), width - 2.0 * MARGIN, &factor.label, &entries) + 1.5
    }

    /// Draws one row of panels from `top` and gives the place below its tick labels.
    fn panel_row(&self, canvas: &mut Canvas, panels: &[MeansPanel], categories: &[Category], top: f64, head: usize) -> f64 {
        let rule = top + axes::head_height(head);
        let bottom = rule + 1.0 + categories.iter().map(|c| c.height).sum::<f64>();
        let mut y = rule + 1.0;
        for category in categories {
            let first = y + category.height / 2.0 + CAPS / 2.0 - (category.lines.len() as f64 - 1.0) * LEADING / 2.0;
            for (i, line) in category.lines.iter().enumerate() {
                canvas.text((MARGIN, first + i as f64 * LEADING), line, Anchor::Start);
            }
            y += category.height;
        }
        for (i, panel) in panels.iter().enumerate() {
            let left = MARGIN + self.label + i as f64 * (self.panel + GAP);
            let area = Area { left, top: rule, right: left + self.panel, bottom };
            self.panel(canvas, panel, categories, area);
        }
        bottom + TICK_ROOM + 2.0
    }

    fn panel(&self, canvas: &mut Canvas, panel: &MeansPanel, categories: &[Category], area: Area) {
        axes::head(canvas, area.left, area.right, area.top, &wrapped(&panel.title, self.panel, 2, true));
        let scale = self.scale.over(area.left, area.right - self.letters);
        axes::grid_upright(canvas, area, &scale, &self.ticks);
        let mut y = area.top + 1.0;
        for (i, category) in categories.iter().enumerate() {
            if i > 0 {
                canvas.line((area.left, y), (area.right, y), GRID, HAIRLINE);
            }
            self.category(canvas, panel, category, i, Area { top: y, bottom: y + category.height, ..area });
            y += category.height;
        }
        axes::labels_below(canvas, area, &scale, &self.ticks);
    }

    /// The sub-rows of one category in one panel.
    fn category(&self, canvas: &mut Canvas, panel: &MeansPanel, category: &Category, index: usize, area: Area) {
        let rows: Vec<(usize, &MeanRow)> = self.rows_of(panel, category);
        if let Some(why) = one_reason(&rows) {
            self.reason(canvas, why, (area.top + area.bottom) / 2.0, area);
            return;
        }
        let slots = self.slots();
        let first = (area.top + area.bottom) / 2.0 - (slots as f64 - 1.0) / 2.0 * self.pitch;
        for (slot, row) in rows {
            let y = first + slot as f64 * self.pitch;
            match &row.value {
                MeanValue::Told { estimate, low, high, letters } => {
                    let hand = self.hand(slot, index);
                    let scale = self.scale.over(area.left, area.right - self.letters);
                    canvas.line((scale.at(*low), y), (scale.at(*high), y), hand.ink, STROKE);
                    marker(canvas, &hand, (scale.at(*estimate), y), 1.05);
                    let letters = letters.as_deref().unwrap_or_default();
                    canvas.text((area.right - self.letters + 1.5, y + CAPS / 2.0), letters, Anchor::Start);
                }
                MeanValue::NotTold { why } => self.reason(canvas, why, y, area),
            }
        }
    }

    fn reason(&self, canvas: &mut Canvas, why: &str, y: f64, area: Area) {
        let why = shortened(why, self.panel - 2.0, false);
        canvas.text_in((area.left + 1.0, y + CAPS / 2.0), &why, Anchor::Start, MUTED, false);
    }

    fn slots(&self) -> usize {
        if self.figure.factors.len() > 1 { self.series.len().max(1) } else { 1 }
    }

    fn hand(&self, slot: usize, category: usize) -> Hand {
        if self.series.is_empty() {
            Hand::of(0, 0)
        } else if self.figure.factors.len() > 1 {
            Hand::of(slot, 0)
        } else {
            Hand::of(category, 0)
        }
    }

    /// Rows of the panel in the category, each with its sub-row.
    fn rows_of<'p>(&self, panel: &'p MeansPanel, category: &Category) -> Vec<(usize, &'p MeanRow)> {
        let of_rest = self.slots() > 1;
        let slot = |row: &MeanRow| {
            let level = row.levels.first();
            if of_rest { self.series.iter().position(|s| Some(s) == level) } else { Some(0) }
        };
        let fits =
            |row: &&MeanRow| if of_rest { row.levels.get(1..).unwrap_or(&[]) == category.levels } else { row.levels == category.levels };
        panel.rows.iter().filter(fits).filter_map(|row| slot(row).map(|s| (s, row))).collect()
    }

    fn notes(&self) -> Vec<String> {
        let mut notes = vec![format!("Bars: {} % interval of each mean; whether bars overlap does not compare a pair.", self.figure.level)];
        notes.extend(self.figure.notes.iter().cloned());
        if self.letters > 0.0 {
            notes.push("Letters: means of one panel that share a letter were not shown to differ.".into());
        }
        notes
    }

    fn caption(&self) -> Caption {
        let finding = if self.figure.caption.finding.is_empty() { self.finding() } else { self.figure.caption.finding.clone() };
        Caption { finding, ..self.figure.caption.clone() }
    }

    fn finding(&self) -> String {
        let (low, high) = extent(told(self.figure).map(|(_, e, _)| e)).unwrap_or((0.0, 0.0));
        let show = |v: f64| crate::numbers::fixed(v, self.ticks.decimals.max(1));
        format!("Adjusted means of {} range from {} to {} {}.", self.figure.response, show(low), show(high), self.figure.unit)
    }

    fn alt(&self) -> String {
        let factors: Vec<&str> = self.figure.factors.iter().map(|f| f.label.as_str()).collect();
        let panels: Vec<&str> = self.figure.panels.iter().map(|p| p.title.as_str()).collect();
        format!(
            "Adjusted means of {} in {} with {} % intervals, by {}; panels: {}. Overlapping bars do not compare pairs.",
            self.figure.response,
            self.figure.unit,
            self.figure.level,
            factors.join(" and "),
            panels.join(", ")
        )
    }
}

/// Low, estimate and high of every mean that was told.
fn told(figure: &MeansFigure) -> impl Iterator<Item = (f64, f64, f64)> + '_ {
    figure.panels.iter().flat_map(|p| &p.rows).filter_map(|row| match row.value {
        MeanValue::Told { estimate, low, high, .. } => Some((low, estimate, high)),
        MeanValue::NotTold { .. } => None,
    })
}

fn coloured(figure: &MeansFigure) -> Vec<String> {
    let levels = figure.factors.first().map(|f| f.levels.clone()).unwrap_or_default();
    if levels.len() <= TOLD_APART { levels } else { Vec::new() }
}

fn letters_width(figure: &MeansFigure) -> f64 {
    let letters = figure.panels.iter().flat_map(|p| &p.rows).filter_map(|row| match &row.value {
        MeanValue::Told { letters, .. } => letters.as_deref(),
        MeanValue::NotTold { .. } => None,
    });
    let widest = letters.map(|l| text_width(l, false)).fold(0.0, f64::max);
    if widest > 0.0 { widest + 2.0 } else { 0.0 }
}

/// Combinations of the factors that make rows, in the order of their levels, as far as any panel has them.
fn categories(figure: &MeansFigure, series: &[String], pitch: f64) -> Vec<Category> {
    let skip = usize::from(figure.factors.len() > 1 && series.len() > 1);
    let slots = if skip == 1 { series.len() } else { 1 };
    let factors = figure.factors.get(skip..).unwrap_or(&[]);
    let mut seen: Vec<Vec<String>> = Vec::new();
    for row in figure.panels.iter().flat_map(|p| &p.rows) {
        let levels = row.levels.get(skip..).unwrap_or(&[]).to_vec();
        if !seen.contains(&levels) {
            seen.push(levels);
        }
    }
    let place = |levels: &Vec<String>| -> Vec<usize> {
        factors.iter().zip(levels).map(|(f, l)| f.levels.iter().position(|x| x == l).unwrap_or(usize::MAX)).collect()
    };
    seen.sort_by_key(place);
    seen.into_iter()
        .map(|levels| {
            let lines = wrapped(&levels.join(", "), LABEL_MOST, 3, false);
            let height = (slots as f64 * pitch + 1.6).max(lines.len() as f64 * LEADING + 1.0);
            Category { lines, levels, height }
        })
        .collect()
}

/// The reason all rows of a category share, where none was told.
fn one_reason<'r>(rows: &[(usize, &'r MeanRow)]) -> Option<&'r str> {
    let mut whys = rows.iter().map(|(_, row)| match &row.value {
        MeanValue::NotTold { why } => Some(why.as_str()),
        MeanValue::Told { .. } => None,
    });
    let first = whys.next()??;
    whys.all(|why| why == Some(first)).then_some(first)
}

/// Columns for `n` panels, at most `most`, such that the last row is not left nearly empty.
fn balanced(n: usize, most: usize) -> usize {
    let most = most.clamp(1, 4).min(n.max(1));
    n.max(1).div_ceil(n.max(1).div_ceil(most))
}

/// Runs of categories no higher than `room` (at least one each).
fn chunks(categories: &[Category], room: f64) -> Vec<&[Category]> {
    let (mut chunks, mut start, mut height) = (Vec::new(), 0, 0.0);
    for (i, category) in categories.iter().enumerate() {
        if i > start && height + category.height > room {
            chunks.extend(categories.get(start..i));
            (start, height) = (i, 0.0);
        }
        height += category.height;
    }
    chunks.extend(categories.get(start..));
    chunks
}
