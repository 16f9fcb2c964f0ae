//! A sheet measured in millimetres: marks in the order they are laid down.
//!
//! Figures put marks on it; [`crate::svg`] writes them out. Kept apart, so that a page can be measured before it is drawn.
use crate::fonts;
use crate::look::{Ink, TEXT, TEXT_INK};

pub const MM_PER_POINT: f64 = 25.4 / 72.0;

/// A place on the sheet, mm from its left and top edge.
pub type Spot = (f64, f64);

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Anchor {
    Start,
    Middle,
    End,
}

#[derive(Debug, Clone, PartialEq)]
pub enum Mark {
    /// Open or closed path; width in points.
    Path {
        spots: Vec<Spot>,
        ink: Ink,
        width: f64,
    },
    Polygon {
        spots: Vec<Spot>,
        ink: Ink,
    },
    Rect {
        left: f64,
        top: f64,
        right: f64,
        bottom: f64,
        ink: Ink,
    },
    Disc {
        centre: Spot,
        radius: f64,
        ink: Ink,
    },
    Ring {
        centre: Spot,
        radius: f64,
        ink: Ink,
        width: f64,
    },
    /// `at` is on the base line; `upward` text is turned a quarter to the left around it.
    Text {
        at: Spot,
        text: String,
        bold: bool,
        anchor: Anchor,
        upward: bool,
        ink: Ink,
    },
}

/// Marks in drawing order.
#[derive(Debug, Clone, Default)]
pub struct Canvas {
    pub marks: Vec<Mark>,
}

impl Canvas {
    pub fn path(&mut self, spots: Vec<Spot>, ink: Ink, width: f64) {
        if spots.len() > 1 {
            self.marks.push(Mark::Path { spots, ink, width });
        }
    }

    pub fn line(&mut self, from: Spot, to: Spot, ink: Ink, width: f64) {
        self.marks.push(Mark::Path { spots: vec![from, to], ink, width });
    }

    pub fn rect(&mut self, (left, top): Spot, (right, bottom): Spot, ink: Ink) {
        self.marks.push(Mark::Rect { left, top, right, bottom, ink });
    }

    /// Outline drawn inside the box, so that neighbours touch and do not overlap.
    pub fn outline(&mut self, (left, top): Spot, (right, bottom): Spot, ink: Ink, width: f64) {
        let inset = width * MM_PER_POINT / 2.0;
        let (l, t, r, b) = (left + inset, top + inset, right - inset, bottom - inset);
        // One step past the start closes the corner.
        self.path(vec![(l, t), (r, t), (r, b), (l, b), (l, t), (r, t)], ink, width);
    }

    pub fn polygon(&mut self, spots: Vec<Spot>, ink: Ink) {
        if spots.len() > 2 {
            self.marks.push(Mark::Polygon { spots, ink });
        }
    }

    pub fn disc(&mut self, centre: Spot, radius: f64, ink: Ink) {
        self.marks.push(Mark::Disc { centre, radius, ink });
    }

    pub fn ring(&mut self, centre: Spot, radius: f64, ink: Ink, width: f64) {
        self.marks.push(Mark::Ring { centre, radius, ink, width });
    }

    pub fn text(&mut self, at: Spot, text: &str, anchor: Anchor) {
        self.text_in(at, text, anchor, TEXT_INK, false);
    }

    pub fn bold(&mut self, at: Spot, text: &str, anchor: Anchor) {
        self.text_in(at, text, anchor, TEXT_INK, true);
    }

    pub fn text_in(&mut self, at: Spot, text: &str, anchor: Anchor, ink: Ink, bold: bool) {
        let text = printable(text);
        if !text.trim().is_empty() {
            self.marks.push(Mark::Text { at, text, bold, anchor, upward: false, ink });
        }
    }

    /// Text that runs up the page, centred on `at`.
    pub fn text_upward(&mut self, at: Spot, text: &str) {
        let text = printable(text);
        self.marks.push(Mark::Text { at, text, bold: false, anchor: Anchor::Middle, upward: true, ink: TEXT_INK });
    }

    /// A dashed path: `dash` holds lengths of stroke and space in turn, mm; empty means solid.
    pub fn dashed(&mut self, spots: &[Spot], dash: &[f64], ink: Ink, width: f64) {
        if dash.is_empty() {
            self.path(spots.to_vec(), ink, width);
            return;
        }
        for piece in dashes(spots, dash) {
            self.path(piece, ink, width);
        }
    }
}

/// Width of a line of text as printed, mm.
pub fn text_width(text: &str, bold: bool) -> f64 {
    fonts::width_in_ems(text, bold) * TEXT * MM_PER_POINT
}

/// Control signs have no shape and no place in XML: they become spaces.
fn printable(text: &str) -> String {
    let seen = |c: char| !c.is_control() && !matches!(c, '\u{FFFE}' | '\u{FFFF}' | '\u{202A}'..='\u{202E}' | '\u{2066}'..='\u{2069}');
    text.chars().map(|c| if seen(c) { c } else { ' ' }).collect()
}

/// Cuts a path into strokes; a stroke goes round corners.
fn dashes(spots: &[Spot], dash: &[f64]) -> Vec<Vec<Spot>> {
    let mut pieces = Vec::new();
    let mut piece: Vec<Spot> = Vec::new();
    let (mut part, mut left) = (0, dash.first().copied().unwrap_or(1.0));
    for pair in spots.windows(2) {
        let [from, to] = pair else { continue };
        let length = (to.0 - from.0).hypot(to.1 - from.1);
        let at = |run: f64| (from.0 + (to.0 - from.0) * run / length, from.1 + (to.1 - from.1) * run / length);
        let mut run = 0.0;
        while length > 0.0 && run < length {
            let stroke = part % 2 == 0;
            if stroke && piece.is_empty() {
                piece.push(at(run));
            }
            let step = left.min(length - run);
            run += step;
            left -= step;
            if stroke {
                piece.push(at(run));
            }
            if left <= 1e-9 {
                if stroke {
                    pieces.push(std::mem::take(&mut piece));
                }
                part = (part + 1) % dash.len();
                left = dash.get(part).copied().unwrap_or(1.0).max(0.05);
            }
        }
    }
    if piece.len() > 1 {
        pieces.push(piece);
    }
    pieces
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn strokes_and_spaces_fill_the_path_in_turn() {
        let pieces = dashes(&[(0.0, 0.0), (10.0, 0.0)], &[2.0, 1.0]);
        let lengths: Vec<f64> = pieces.iter().map(|p| p[p.len() - 1].0 - p[0].0).collect();
        assert_eq!(lengths.len(), 4);
        assert!(lengths.iter().take(3).all(|l| (l - 2.0).abs() < 1e-9));
        assert!((lengths[3] - 1.0).abs() < 1e-9);
    }

    #[test]
    fn control_signs_become_spaces() {
        assert_eq!(printable("Tarn\u{1}Hollow\n2"), "Tarn Hollow 2");
    }
}
