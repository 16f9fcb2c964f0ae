//! Panel and axes: a rule with the panel's name, hairline grid, labels on the ticks. No box around the data.
use crate::canvas::{Anchor, Canvas};
use crate::fitting::wrapped;
use crate::look::{CAPS, GRID, HAIRLINE, LEADING, MUTED, RULE, RULE_INK};
use crate::scales::{Scale, Ticks};

/// Where the data of a panel lie, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Area {
    pub left: f64,
    pub top: f64,
    pub right: f64,
    pub bottom: f64,
}

impl Area {
    pub fn middle(&self) -> f64 {
        (self.left + self.right) / 2.0
    }
}

/// Room that tick labels and their gap take below a panel, mm.
pub const TICK_ROOM: f64 = 1.2 + LEADING;

/// Height of a panel's head of `lines` lines, rule included, mm.
pub fn head_height(lines: usize) -> f64 {
    lines as f64 * LEADING + 1.3
}

/// Name of a panel above its rule; the rule lies on `area.top` less the gap that parts it from the data.
pub fn head(canvas: &mut Canvas, left: f64, right: f64, rule: f64, lines: &[String]) {
    for (i, line) in lines.iter().rev().enumerate() {
        canvas.bold((left, rule - 1.1 - i as f64 * LEADING), line, Anchor::Start);
    }
    canvas.line((left, rule), (right, rule), RULE_INK, RULE);
}

pub fn grid_upright(canvas: &mut Canvas, area: Area, scale: &Scale, ticks: &Ticks) {
    for value in &ticks.values {
        canvas.line((scale.at(*value), area.top), (scale.at(*value), area.bottom), GRID, HAIRLINE);
    }
}

pub fn grid_level(canvas: &mut Canvas, area: Area, scale: &Scale, ticks: &Ticks) {
    for value in &ticks.values {
        canvas.line((area.left, scale.at(*value)), (area.right, scale.at(*value)), GRID, HAIRLINE);
    }
}

pub fn labels_below(canvas: &mut Canvas, area: Area, scale: &Scale, ticks: &Ticks) {
    canvas.line((area.left, area.bottom), (area.right, area.bottom), RULE_INK, HAIRLINE);
    for value in &ticks.values {
        let x = scale.at(*value);
        canvas.line((x, area.bottom), (x, area.bottom + 0.8), RULE_INK, HAIRLINE);
        canvas.text((x, area.bottom + TICK_ROOM - 0.7), &ticks.label(*value), Anchor::Middle);
    }
}

pub fn labels_left(canvas: &mut Canvas, area: Area, scale: &Scale, ticks: &Ticks) {
    for value in &ticks.values {
        canvas.text((area.left - 1.2, scale.at(*value) + CAPS / 2.0), &ticks.label(*value), Anchor::End);
    }
}

/// Muted lines at the foot of a figure; gives the place below them.
pub fn notes(canvas: &mut Canvas, left: f64, top: f64, width: f64, notes: &[String]) -> f64 {
    let mut y = top;
    for line in notes.iter().flat_map(|note| wrapped(note, width, 6, false)) {
        y += LEADING;
        canvas.text_in((left, y), &line, Anchor::Start, MUTED, false);
    }
    y
}

pub fn notes_height(width: f64, notes: &[String]) -> f64 {
    notes.iter().map(|note| wrapped(note, width, 6, false).len() as f64 * LEADING).sum()
}
