//! A key in rows across the page: icon, words, icon, words; never wider than its space.
use crate::canvas::{Anchor, Canvas, Spot, text_width};
use crate::fitting::shortened;
use crate::look::{CAPS, Hand, LEADING, STROKE};
use crate::markers::marker;

const GAP: f64 = 5.0;
const ICON_GAP: f64 = 1.4;
const ROW: f64 = LEADING + 0.9;

/// Draws the key and gives its height, mm. `icon` draws the nth icon around a left middle place.
pub fn key(canvas: &mut Canvas, at: Spot, width: f64, icon_width: f64, words: &[String], icon: impl Fn(&mut Canvas, usize, Spot)) -> f64 {
    let (mut x, mut row) = (at.0, 0);
    for (i, text) in words.iter().enumerate() {
        let text = shortened(text, width - icon_width - ICON_GAP, false);
        let wide = icon_width + ICON_GAP + text_width(&text, false);
        if x > at.0 && x + wide > at.0 + width {
            x = at.0;
            row += 1;
        }
        let middle = at.1 + ROW * (f64::from(row) + 0.5);
        icon(canvas, i, (x, middle));
        canvas.text((x + icon_width + ICON_GAP, middle + CAPS / 2.0), &text, Anchor::Start);
        x += wide + GAP;
    }
    if words.is_empty() { 0.0 } else { ROW * f64::from(row + 1) }
}

/// A key of markers after the name of what they tell apart.
pub fn marker_key(canvas: &mut Canvas, at: Spot, width: f64, name: &str, entries: &[(String, Hand)]) -> f64 {
    let name = shortened(&format!("{name}:"), width / 3.0, false);
    canvas.text((at.0, at.1 + ROW / 2.0 + CAPS / 2.0), &name, Anchor::Start);
    let words: Vec<String> = entries.iter().map(|(text, _)| text.clone()).collect();
    let shift = text_width(&name, false) + 3.0;
    key(canvas, (at.0 + shift, at.1), width - shift, 2.6, &words, |canvas, i, (x, y)| {
        if let Some((_, hand)) = entries.get(i) {
            marker(canvas, hand, (x + 1.3, y), 1.05);
        }
    })
}

/// A stretch of line with its marker, 7 mm long.
pub fn line_icon(canvas: &mut Canvas, hand: &Hand, (x, y): Spot) {
    canvas.dashed(&[(x, y), (x + 7.0, y)], hand.dash, hand.ink, STROKE);
    marker(canvas, hand, (x + 3.5, y), 0.95);
}
