//! Plan of a house: every unit in its place, shaded by its value, with its treatment's mark and the number.
use crate::axes;
use crate::canvas::{Anchor, Canvas, Spot, text_width};
use crate::drawing::{Caption, Drawing, Page, written};
use crate::faults::FigureFault;
use crate::fitting::{short_marks, shortened, wrapped};
use crate::look::{CAPS, Ink, LEADING, MUTED, PAGE_HEIGHT, WHITE, Width, ramp, text_on};
use crate::numbers::fixed;
use crate::scales::extent;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Units of one house.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct PlanFigure {
    pub caption: Caption,
    /// Such as "marketable yield" and "kg per plant".
    pub response: String,
    pub unit: String,
    /// Range of the shading where several houses share it; absent: the house's own.
    pub range: Option<(f64, f64)>,
    pub units: Vec<PlanUnit>,
    #[serde(skip)]
    pub width: Width,
}

#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct PlanUnit {
    pub unit: String,
    pub block: String,
    /// Levels of the factors, as readers know them, in the design's order.
    pub levels: Vec<String>,
    /// From 1; where any unit of the house lacks one of them, the house is laid out by block.
    pub row: Option<u32>,
    pub position: Option<u32>,
    /// Absent: could not be told.
    pub value: Option<f64>,
}

impl PlanFigure {
    /// The pages, none without a unit.
    pub fn draw(&self) -> Result<Vec<Drawing>, FigureFault> {
        if self.units.is_empty() {
            return Ok(Vec::new());
        }
        written(Layout::of(self).pages())
    }
}

const MARGIN: f64 = 2.0;
const CELL_HIGH: f64 = 8.4;
const CELL_MOST: f64 = 22.0;
const GAP: f64 = 0.6;

/// A band across the plan: a row of the house, or a block.
struct Band<'a> {
    label: String,
    /// Units at their places; an absent one leaves its place empty.
    cells: Vec<Option<&'a PlanUnit>>,
}

struct Layout<'a> {
    figure: &'a PlanFigure,
    bands: Vec<Band<'a>>,
    marks: BTreeMap<Vec<String>, String>,
    label: f64,
    cell: f64,
    /// Cells across before a band goes on below.
    across: usize,
    range: (f64, f64),
    decimals: usize,
    placed: bool,
}

impl<'a> Layout<'a> {
    fn of(figure: &'a PlanFigure) -> Self {
        let placed = figure.units.iter().all(|u| u.row.is_some() && u.position.is_some());
        let bands = if placed { by_row(figure) } else { by_block(figure) };
        let values = || figure.units.iter().filter_map(|u| u.value);
        let range = figure.range.or_else(|| extent(values())).unwrap_or((0.0, 1.0));
        let decimals = if range.1.abs() >= 100.0 {
            0
        } else if range.1.abs() >= 20.0 {
            1
        } else {
            2
        };
        let marks = treatment_marks(figure);
        let label = bands.iter().map(|b| text_width(&b.label, true)).fold(0.0, f64::max).min(28.0) + 2.0;
        let numbers = values().map(|v| text_width(&fixed(v, decimals), false));
        let least = numbers.chain(marks.values().map(|m| text_width(m, true))).fold(6.0, f64::max) + 1.6;
        let room = figure.width.mm() - 2.0 * MARGIN - label;
        let longest = bands.iter().map(|b| b.cells.len()).max().unwrap_or(1);
        let across = ((room / least).floor() as usize).clamp(1, longest.max(1));
        let cell = (room / across as f64).min(CELL_MOST);
        Layout { figure, bands, marks, label, cell, across, range, decimals, placed }
    }

    fn pages(&self) -> Vec<Page> {
        let key = self.key_lines();
        let fixed = MARGIN * 2.0 + self.ends_height() + 12.0 + (key.len() as f64 + 1.0) * LEADING;
        let mut pages = Vec::new();
        let (mut start, mut height) = (0, 0.0);
        for (i, band) in self.bands.iter().enumerate() {
            if i > start && fixed + height + self.band_height(band) > PAGE_HEIGHT {
                pages.extend(self.bands.get(start..i).map(|bands| self.page(bands, &key)));
                (start, height) = (i, 0.0);
            }
            height += self.band_height(band);
        }
        pages.extend(self.bands.get(start..).map(|bands| self.page(bands, &key)));
        pages
    }

    fn ends_height(&self) -> f64 {
        if self.placed { LEADING + 0.6 } else { 0.0 }
    }

    fn band_height(&self, band: &Band) -> f64 {
        band.cells.len().div_ceil(self.across).max(1) as f64 * (CELL_HIGH + GAP) + 1.6
    }

    fn page(&self, bands: &[Band], key: &[String]) -> Page {
        let mut canvas = Canvas::default();
        let width = self.figure.width.mm();
        let left = MARGIN + self.label;
        let mut y = MARGIN + self.ends_height();
        self.positions(&mut canvas, bands, left);
        for band in bands {
            let label = shortened(&band.label, self.label - 2.0, true);
            canvas.bold((MARGIN, y + CELL_HIGH / 2.0 + CAPS / 2.0), &label, Anchor::Start);
            for (line, cells) in band.cells.chunks(self.across).enumerate() {
                for (i, unit) in cells.iter().enumerate() {
                    let at = (left + i as f64 * self.cell, y + line as f64 * (CELL_HIGH + GAP));
                    unit.iter().for_each(|unit| self.unit(&mut canvas, unit, at));
                }
            }
            y += self.band_height(band);
        }
        y = self.ramp_key(&mut canvas, left, y + 1.5);
        let height = axes::notes(&mut canvas, MARGIN, y, width - 2.0 * MARGIN, key) + MARGIN;
        Page { caption: self.caption(), alt: self.alt(), canvas, width, height }
    }

    /// Numbers of the positions over their cells, where the band is not broken.
    fn positions(&self, canvas: &mut Canvas, bands: &[Band], left: f64) {
        let longest = bands.iter().map(|b| b.cells.len()).max().unwrap_or(0);
        if self.placed && longest <= self.across {
            for i in 0..longest {
                let x = left + (i as f64 + 0.5) * self.cell - GAP / 2.0;
                canvas.text_in((x, MARGIN + CAPS + 0.6), &(i + 1).to_string(), Anchor::Middle, MUTED, false);
            }
        }
    }

    fn unit(&self, canvas: &mut Canvas, unit: &PlanUnit, (left, top): Spot) {
        let (right, bottom) = (left + self.cell - GAP, top + CELL_HIGH);
        let fill = unit.value.map_or(WHITE, |v| self.shade(v));
        canvas.rect((left, top), (right, bottom), fill);
        canvas.outline((left, top), (right, bottom), Ink::new(140, 150, 160), 0.3);
        let (middle, ink) = ((left + right) / 2.0, text_on(fill));
        let mark = self.marks.get(&unit.levels).map_or("", String::as_str);
        let number = unit.value.map_or_else(|| "–".to_string(), |v| fixed(v, self.decimals));
        canvas.text_in((middle, top + 3.4), &shortened(mark, self.cell - GAP - 0.4, true), Anchor::Middle, ink, true);
        canvas.text_in((middle, top + 7.2), &shortened(&number, self.cell - GAP - 0.4, false), Anchor::Middle, ink, false);
    }

    fn shade(&self, value: f64) -> Ink {
        let (low, high) = self.range;
        ramp(if high > low { (value - low) / (high - low) } else { 0.5 })
    }

    /// The shading from least to greatest, with its ends in numbers; gives the place below.
    fn ramp_key(&self, canvas: &mut Canvas, left: f64, top: f64) -> f64 {
        let (steps, long, high) = (20, 40.0, 3.0);
        let low = fixed(self.range.0, self.decimals);
        let x = left + text_width(&low, false) + 1.5;
        canvas.text((left, top + high / 2.0 + CAPS / 2.0), &low, Anchor::Start);
        for i in 0..steps {
            let (from, to) = (f64::from(i) / f64::from(steps), f64::from(i + 1) / f64::from(steps));
            canvas.rect((x + from * long, top), (x + to * long, top + high), ramp((from + to) / 2.0));
        }
        canvas.outline((x, top), (x + long, top + high), Ink::new(140, 150, 160), 0.3);
        let words = format!("{}  {}, {}", fixed(self.range.1, self.decimals), self.figure.response, self.figure.unit);
        let room = self.figure.width.mm() - MARGIN - x - long - 1.5;
        canvas.text((x + long + 1.5, top + high / 2.0 + CAPS / 2.0), &shortened(&words, room, false), Anchor::Start);
        top + high + 1.5
    }

    /// What the marks mean, and what is not in the plan.
    fn key_lines(&self) -> Vec<String> {
        let width = self.figure.width.mm() - 2.0 * MARGIN;
        let factors: Vec<String> = level_marks(self.figure)
            .iter()
            .map(|marks| marks.iter().map(|(level, mark)| format!("{mark} = {level}")).collect::<Vec<_>>().join(", "))
            .collect();
        let mut lines = wrapped(&factors.join("; "), width, 12, false);
        if !self.placed {
            lines.push("Units are listed by block: the plan states no row and position for all of them.".into());
        }
        if self.figure.units.iter().any(|u| u.value.is_none()) {
            lines.push("–: the value cannot be told.".into());
        }
        lines.iter().flat_map(|line| wrapped(line, width, 2, false)).collect()
    }

    fn caption(&self) -> Caption {
        let finding = if self.figure.caption.finding.is_empty() { self.finding() } else { self.figure.caption.finding.clone() };
        Caption { finding, ..self.figure.caption.clone() }
    }

    fn finding(&self) -> String {
        let told: Vec<f64> = self.figure.units.iter().filter_map(|u| u.value).collect();
        let (low, high) = extent(told.iter().copied()).unwrap_or((0.0, 0.0));
        format!(
            "{} of {} units: {} to {} {}.",
            told.len(),
            self.figure.units.len(),
            fixed(low, self.decimals),
            fixed(high, self.decimals),
            self.figure.unit
        )
    }

    fn alt(&self) -> String {
        let place = if self.placed { "in its row and position" } else { "listed by block" };
        format!(
            "Plan of {} units, each {place}, shaded from pale to dark by {} in {}, with its treatment's mark and the number.",
            self.figure.units.len(),
            self.figure.response,
            self.figure.unit
        )
    }
}

/// One of the two numbers that place a unit.
type Place = fn(&PlanUnit) -> Option<u32>;

/// Rows of the house, positions as columns; where rows are many and short, the plan is turned.
fn by_row(figure: &PlanFigure) -> Vec<Band<'_>> {
    let most = |of: fn(&PlanUnit) -> Option<u32>| figure.units.iter().filter_map(of).max().unwrap_or(1);
    let turned = most(|u| u.position) > 16 && most(|u| u.row) <= 16;
    let (band, place): (Place, Place) = if turned { (|u| u.position, |u| u.row) } else { (|u| u.row, |u| u.position) };
    let word = if turned { "position" } else { "row" };
    let mut bands: BTreeMap<u32, BTreeMap<u32, &PlanUnit>> = BTreeMap::new();
    for unit in &figure.units {
        if let (Some(b), Some(p)) = (band(unit), place(unit)) {
            bands.entry(b).or_default().insert(p, unit);
        }
    }
    bands
        .into_iter()
        .map(|(b, units)| {
            let last = units.keys().max().copied().unwrap_or(0).min(400);
            Band { label: format!("{word} {b}"), cells: (1..=last).map(|p| units.get(&p).copied()).collect() }
        })
        .collect()
}

fn by_block(figure: &PlanFigure) -> Vec<Band<'_>> {
    let mut bands: Vec<Band> = Vec::new();
    for unit in &figure.units {
        match bands.iter_mut().find(|b| b.label == unit.block) {
            Some(band) => band.cells.push(Some(unit)),
            None => bands.push(Band { label: unit.block.clone(), cells: vec![Some(unit)] }),
        }
    }
    bands
}

/// A mark a treatment: the shortest beginnings of its levels that tell them apart, two signs or more.
fn treatment_marks(figure: &PlanFigure) -> BTreeMap<Vec<String>, String> {
    let marks = level_marks(figure);
    let mark = |levels: &Vec<String>| -> String {
        let parts: Vec<String> = levels.iter().zip(&marks).filter_map(|(l, m)| m.get(l).cloned()).collect();
        parts.join("·")
    };
    figure.units.iter().map(|u| (u.levels.clone(), mark(&u.levels))).collect()
}

/// The marks of each factor's levels.
fn level_marks(figure: &PlanFigure) -> Vec<BTreeMap<String, String>> {
    let factors = figure.units.iter().map(|u| u.levels.len()).max().unwrap_or(0);
    let mut marks: Vec<BTreeMap<String, String>> = Vec::new();
    for f in 0..factors {
        let mut names: Vec<String> = figure.units.iter().filter_map(|u| u.levels.get(f).cloned()).collect();
        names.sort();
        names.dedup();
        marks.push(names.iter().cloned().zip(short_marks(&names, 2)).collect());
    }
    marks
}
