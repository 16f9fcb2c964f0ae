//! Canvas to SVG through plotters' SVG backend, then what that backend leaves out: real size, role, title, description.
use crate::canvas::{Anchor, Canvas, MM_PER_POINT, Mark, Spot};
use crate::drawing::Page;
use crate::faults::FigureFault;
use crate::fonts::{self, FAMILIES, FAMILY};
use crate::look::{Ink, TEXT};
use plotters::backend::{DrawingBackend, SVGBackend};
use plotters::style::text_anchor::{HPos, Pos, VPos};
use plotters::style::{Color, FontDesc, FontFamily, FontStyle, FontTransform, RGBAColor, ShapeStyle, TextStyle};

/// Units of the view box in a millimetre: the backend knows whole numbers only.
pub const UNITS: f64 = 100.0;

/// The backend writes a font size of `size / 1.24`, and puts the base line 0.76 em below a top anchor.
const BACKEND_SIZE: f64 = 1.24;
const BACKEND_DROP: f64 = 0.76;

/// [`TEXT`] in view-box units, rounded up: never smaller than stated.
fn text_units() -> f64 {
    (TEXT * MM_PER_POINT * UNITS).ceil()
}

/// The whole document of one page.
pub fn document(page: &Page, alt: &str) -> Result<String, FigureFault> {
    let name = &page.caption.name;
    if !fonts::registered() {
        return Err(FigureFault::Font { name: name.clone() });
    }
    let size = (units(page.width), units(page.height));
    let mut body = String::new();
    write_marks(&mut body, size, &page.canvas).map_err(|why| FigureFault::Draw { name: name.clone(), why })?;
    Ok(finished(&body, page, alt, size))
}

fn write_marks(body: &mut String, size: (i32, i32), canvas: &Canvas) -> Result<(), String> {
    let whole = (size.0.max(1).unsigned_abs(), size.1.max(1).unsigned_abs());
    let mut backend = SVGBackend::with_string(body, whole);
    let white = shape(crate::look::WHITE, 0.0);
    backend.draw_rect((0, 0), size, &white, true).map_err(|e| e.to_string())?;
    for mark in &canvas.marks {
        write_mark(&mut backend, mark)?;
    }
    backend.present().map_err(|e| e.to_string())
}

fn write_mark(backend: &mut SVGBackend, mark: &Mark) -> Result<(), String> {
    match mark {
        Mark::Path { spots, ink, width } => backend.draw_path(places(spots), &shape(*ink, *width)),
        Mark::Polygon { spots, ink } => backend.fill_polygon(places(spots), &shape(*ink, 0.0)),
        Mark::Rect { left, top, right, bottom, ink } => {
            let (from, to) = ((units(*left), units(*top)), (units(*right), units(*bottom)));
            if from.0 >= to.0 || from.1 >= to.1 {
                return Ok(());
            }
            backend.draw_rect(from, to, &shape(*ink, 0.0), true)
        }
        Mark::Disc { centre, radius, ink } => backend.draw_circle(place(*centre), radius_units(*radius), &shape(*ink, 0.0), true),
        Mark::Ring { centre, radius, ink, width } => {
            backend.draw_circle(place(*centre), radius_units(*radius), &shape(*ink, *width), false)
        }
        Mark::Text { at, text, bold, anchor, upward, ink } => {
            backend.draw_text(text, &text_style(*ink, *bold, *anchor, *upward), text_place(*at, *upward))
        }
    }
    .map_err(|e| e.to_string())
}

/// Top anchor that puts the base line on `at`. Turned text falls along x.
fn text_place(at: Spot, upward: bool) -> (i32, i32) {
    let drop = (BACKEND_DROP * text_units()).round() as i32;
    let (x, y) = place(at);
    if upward { (x - drop, y) } else { (x, y - drop) }
}

fn text_style(ink: Ink, bold: bool, anchor: Anchor, upward: bool) -> TextStyle<'static> {
    let style = if bold { FontStyle::Bold } else { FontStyle::Normal };
    let font = FontDesc::new(FontFamily::Name(FAMILY), text_units() * BACKEND_SIZE, style);
    let font = if upward { font.transform(FontTransform::Rotate270) } else { font };
    let h_pos = match anchor {
        Anchor::Start => HPos::Left,
        Anchor::Middle => HPos::Center,
        Anchor::End => HPos::Right,
    };
    TextStyle { font, color: colour(ink).to_backend_color(), pos: Pos::new(h_pos, VPos::Top) }
}

fn shape(ink: Ink, points: f64) -> ShapeStyle {
    let width = (points * MM_PER_POINT * UNITS).ceil().max(0.0) as u32;
    ShapeStyle { color: colour(ink), filled: false, stroke_width: width }
}

fn colour(ink: Ink) -> RGBAColor {
    RGBAColor(ink.rgb.0, ink.rgb.1, ink.rgb.2, ink.alpha)
}

/// Whole units; a value without a place (not finite) lies at the edge.
fn units(mm: f64) -> i32 {
    if mm.is_finite() { (mm * UNITS).round().clamp(-1e8, 1e8) as i32 } else { 0 }
}

fn radius_units(mm: f64) -> u32 {
    units(mm).max(1).unsigned_abs()
}

fn place((x, y): Spot) -> (i32, i32) {
    (units(x), units(y))
}

fn places(spots: &[Spot]) -> Vec<(i32, i32)> {
    spots.iter().copied().map(place).collect()
}

/// Puts the document's own head on the backend's marks, and leaves out what says nothing.
///
/// Replacing is safe: the backend writes `"`, `<` and `>` of any text as entities, so the patterns occur in its own marks only.
fn finished(body: &str, page: &Page, alt: &str, size: (i32, i32)) -> String {
    let marks = body.split_once(">\n").map_or("", |(_, rest)| rest);
    let marks = marks
        .replace(" opacity=\"1\"", "")
        .replace(&format!(" font-family=\"{FAMILY}\""), "")
        .replace(" stroke=\"none\"", "")
        .replace(" stroke-width=\"0\"", "")
        .replace(" text-anchor=\"start\"", "")
        .replace(&format!(" font-size=\"{}\"", text_units()), "")
        .replace(" \"/>", "\"/>")
        .replace("\n</text>", "</text>");
    let marks = joined_text(&marks);
    let (name, title) = (escaped(&page.caption.name), escaped(&page.caption.title));
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" role=\"img\" aria-labelledby=\"{name}-title {name}-desc\" \
         width=\"{}mm\" height=\"{}mm\" viewBox=\"0 0 {} {}\" font-family=\"{FAMILIES}\" font-size=\"{}\" \
         stroke-linejoin=\"round\">\n<title id=\"{name}-title\">{title}</title>\n<desc id=\"{name}-desc\">{}</desc>\n{marks}",
        f64::from(size.0) / UNITS,
        f64::from(size.1) / UNITS,
        size.0,
        size.1,
        text_units(),
        escaped(alt),
    )
}

/// The backend breaks the line after each opening text tag; a reader could take that for a space.
fn joined_text(marks: &str) -> String {
    let mut out = String::with_capacity(marks.len());
    for line in marks.lines() {
        out.push_str(line);
        if !line.starts_with("<text ") || line.ends_with("</text>") {
            out.push('\n');
        }
    }
    out
}

/// Text as XML content or attribute.
pub fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '&' => out.push_str("&amp;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&apos;"),
            c if c.is_control() => out.push(' '),
            c => out.push(c),
        }
    }
    out
}
