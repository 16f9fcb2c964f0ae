//! What the tests see of a drawing: its text boxes, read back from the SVG.
use crate::canvas::{MM_PER_POINT, text_width};
use crate::drawing::Drawing;
use crate::look::TEXT;
use crate::svg::UNITS;

/// A text as printed, mm.
#[derive(Debug, Clone)]
pub struct Printed {
    pub text: String,
    pub left: f64,
    pub top: f64,
    pub right: f64,
    pub bottom: f64,
}

fn attribute<'t>(tag: &'t str, name: &str) -> Option<&'t str> {
    let from = tag.find(&format!(" {name}=\""))? + name.len() + 3;
    tag[from..].split('"').next()
}

fn plain(text: &str) -> String {
    text.replace("&lt;", "<").replace("&gt;", ">").replace("&quot;", "\"").replace("&apos;", "'").replace("&amp;", "&")
}

/// All texts of the drawing. Their boxes reach from the base line to cap height: what must not be touched.
pub fn printed(drawing: &Drawing) -> Vec<Printed> {
    let em = TEXT * MM_PER_POINT;
    let lines = drawing.svg.lines().filter(|l| l.starts_with("<text "));
    lines
        .map(|line| {
            let (tag, rest) = line.split_once('>').unwrap();
            let text = plain(rest.strip_suffix("</text>").unwrap());
            let number = |name| attribute(tag, name).unwrap().parse::<f64>().unwrap() / UNITS;
            let wide = text_width(&text, tag.contains("font-weight"));
            let shift = match attribute(tag, "text-anchor") {
                Some("middle") => wide / 2.0,
                Some("end") => wide,
                _ => 0.0,
            };
            let (x, y) = (number("x"), number("y"));
            let (cap, base) = (0.76 * em - 0.729 * em, 0.76 * em);
            if tag.contains("rotate(270") {
                Printed { text, left: x + cap, right: x + base, top: y - wide + shift, bottom: y + shift }
            } else {
                Printed { text, left: x - shift, right: x - shift + wide, top: y + cap, bottom: y + base }
            }
        })
        .collect()
}

/// Texts that leave the sheet.
pub fn outside(drawing: &Drawing) -> Vec<String> {
    let slack = 0.05;
    let out =
        |p: &&Printed| p.left < -slack || p.top < -slack || p.right > drawing.width_mm + slack || p.bottom > drawing.height_mm + slack;
    printed(drawing).iter().filter(out).map(|p| format!("{p:?}")).collect()
}

/// Pairs of texts that touch.
pub fn collisions(drawing: &Drawing) -> Vec<(String, String)> {
    let all = printed(drawing);
    let meet = |a: &Printed, b: &Printed| a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom;
    let mut found = Vec::new();
    for (i, a) in all.iter().enumerate() {
        for b in all.iter().skip(i + 1).filter(|b| meet(a, b)) {
            found.push((format!("{a:?}"), format!("{b:?}")));
        }
    }
    found
}
