//! A drawing as it stands inside the page: the same SVG, fitted to the page's width, its ids its own, and nothing in
//! it that could run or fetch.
use crate::context::slug;
use crate::input::ReportFault;
use crosshouse_figures::Drawing;

/// A figure on the page.
#[derive(Debug, Clone)]
pub struct DrawingView {
    pub id: String,
    pub title: String,
    pub finding: String,
    /// Checked SVG, ready to stand in HTML as it is.
    pub svg: String,
    /// Name of its CSV table, if the report has one.
    pub csv: Option<String>,
}

/// What a drawing may be made of: shapes, text and their groups.
const ELEMENTS: [&str; 22] = [
    "svg",
    "g",
    "title",
    "desc",
    "defs",
    "clippath",
    "path",
    "rect",
    "circle",
    "ellipse",
    "line",
    "polyline",
    "polygon",
    "text",
    "tspan",
    "marker",
    "pattern",
    "lineargradient",
    "radialgradient",
    "stop",
    "mask",
    "use",
];

impl DrawingView {
    /// # Errors
    /// [`ReportFault::Drawing`] for an SVG that holds anything but shapes and text, or whose tags do not balance.
    pub fn new(drawing: &Drawing, csv: Option<String>) -> Result<Self, ReportFault> {
        let fault = |why: String| ReportFault::Drawing { name: drawing.name.clone(), why };
        let id = format!("figure-{}", slug(&drawing.name));
        let svg = inline(drawing, &id).map_err(fault)?;
        Ok(DrawingView { id, title: drawing.title.clone(), finding: drawing.finding.clone(), svg, csv })
    }
}

fn inline(drawing: &Drawing, id: &str) -> Result<String, String> {
    let start = drawing.svg.find("<svg").ok_or("there is no <svg> element")?;
    let body = drawing.svg.get(start..).unwrap_or_default().trim_end();
    let mut out = String::with_capacity(body.len() + 256);
    let mut depth = 0usize;
    let mut rest = body;
    while let Some(open) = rest.find('<') {
        out.push_str(rest.get(..open).unwrap_or_default());
        let tag_onwards = rest.get(open..).unwrap_or_default();
        let tag = Tag::read(tag_onwards)?;
        tag.check()?;
        depth = tag.depth_after(depth)?;
        let root = out.is_empty();
        out.push_str(&tag.written(id, root.then_some(drawing)));
        rest = tag_onwards.get(tag.length..).unwrap_or_default();
    }
    if depth != 0 || !rest.trim().is_empty() {
        return Err("its tags do not balance".into());
    }
    Ok(out)
}

/// One tag of an SVG.
struct Tag<'a> {
    closing: bool,
    alone: bool,
    name: &'a str,
    attributes: Vec<(&'a str, &'a str)>,
    /// Bytes from `<` to `>`.
    length: usize,
}

impl<'a> Tag<'a> {
    fn read(text: &'a str) -> Result<Self, String> {
        let length = end_of_tag(text).ok_or("a tag does not end")?;
        let inner = text.get(1..length - 1).unwrap_or_default();
        if inner.starts_with(['!', '?']) {
            return Err("it holds a comment, an entity or an instruction".into());
        }
        let closing = inner.starts_with('/');
        let alone = inner.ends_with('/');
        let inner = inner.trim_start_matches('/').trim_end_matches('/').trim();
        let (name, rest) = inner.split_once(char::is_whitespace).unwrap_or((inner, ""));
        Ok(Tag { closing, alone, name, attributes: attributes(rest)?, length })
    }

    fn check(&self) -> Result<(), String> {
        let name = self.name.to_ascii_lowercase();
        if !ELEMENTS.contains(&name.as_str()) {
            return Err(format!("it holds <{name}>; expected shapes and text alone"));
        }
        for (key, value) in &self.attributes {
            let key = key.to_ascii_lowercase();
            let link = key == "href" || key.ends_with(":href");
            let outside = link && !value.starts_with('#');
            let fetches = value.to_ascii_lowercase().contains("url(") && !value.contains("url(#");
            if key.starts_with("on") || key == "style" || outside || fetches {
                return Err(format!("the attribute {key} of <{name}> could run or fetch something"));
            }
        }
        Ok(())
    }

    fn depth_after(&self, depth: usize) -> Result<usize, String> {
        match (self.closing, self.alone) {
            (true, _) => depth.checked_sub(1).ok_or_else(|| "its tags do not balance".to_owned()),
            (false, true) => Ok(depth),
            (false, false) => Ok(depth + 1),
        }
    }

    /// The tag again, ids prefixed; the root fitted to the page and described by the drawing's own words.
    fn written(&self, prefix: &str, root: Option<&Drawing>) -> String {
        let slash = if self.closing { "/" } else { "" };
        let mut out = format!("<{slash}{}", self.name);
        let dropped = ["width", "height", "role", "aria-label", "aria-labelledby", "class", "id"];
        for (key, value) in &self.attributes {
            if root.is_none() || !dropped.contains(key) {
                out.push_str(&format!(" {key}=\"{}\"", with_prefix(key, value, prefix)));
            }
        }
        if let Some(drawing) = root {
            out.push_str(&self.fitted(drawing));
        }
        out.push_str(if self.alone { "/>" } else { ">" });
        out
    }

    fn fitted(&self, drawing: &Drawing) -> String {
        let mut out = format!(" role=\"img\" aria-label=\"{}\"", attribute(&drawing.alt));
        if !self.attributes.iter().any(|(key, _)| *key == "viewBox") {
            let size = |key| self.attributes.iter().find(|(k, _)| *k == key).map_or("", |(_, v)| *v);
            out.push_str(&format!(" viewBox=\"0 0 {} {}\"", size("width"), size("height")));
        }
        out.push_str(&format!(" style=\"--width:{:.1}mm\"", drawing.width_mm));
        out
    }
}

/// Position after the `>` that closes the tag, outside quotes.
fn end_of_tag(text: &str) -> Option<usize> {
    let mut quote = None;
    for (at, c) in text.char_indices() {
        match (quote, c) {
            (None, '"' | '\'') => quote = Some(c),
            (Some(q), c) if q == c => quote = None,
            (None, '>') => return Some(at + 1),
            _ => {}
        }
    }
    None
}

fn attributes(text: &str) -> Result<Vec<(&str, &str)>, String> {
    let mut found = Vec::new();
    let mut rest = text.trim();
    while !rest.is_empty() {
        let (key, after) = rest.split_once('=').ok_or("an attribute has no value")?;
        let after = after.trim_start();
        let quote = after.chars().next().filter(|c| matches!(c, '"' | '\'')).ok_or("an attribute is not quoted")?;
        let inner = after.get(1..).unwrap_or_default();
        let (value, further) = inner.split_once(quote).ok_or("a quote does not end")?;
        found.push((key.trim(), value));
        rest = further.trim_start();
    }
    Ok(found)
}

fn with_prefix(key: &str, value: &str, prefix: &str) -> String {
    match key {
        "id" => format!("{prefix}-{value}"),
        "aria-labelledby" | "aria-describedby" => value.split_whitespace().map(|id| format!("{prefix}-{id}")).collect::<Vec<_>>().join(" "),
        "href" | "xlink:href" => value.replacen('#', &format!("#{prefix}-"), 1),
        _ => value.replace("url(#", &format!("url(#{prefix}-")).replace('"', "&quot;"),
    }
}

fn attribute(text: &str) -> String {
    text.replace('&', "&amp;").replace('"', "&quot;").replace('<', "&lt;").replace('>', "&gt;")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn drawing(svg: &str) -> Drawing {
        Drawing {
            name: "means".into(),
            title: "Means".into(),
            alt: "Means of <two> media".into(),
            finding: String::new(),
            svg: svg.into(),
            width_mm: 174.0,
            height_mm: 80.0,
            table: String::new(),
        }
    }

    #[test]
    fn ids_of_two_drawings_cannot_clash() {
        let svg = r##"<?xml version="1.0"?><svg width="10" height="5"><clipPath id="a"><rect/></clipPath><g clip-path="url(#a)"/></svg>"##;
        let view = DrawingView::new(&drawing(svg), None).unwrap();
        assert!(view.svg.contains(r#"id="figure-means-a""#));
        assert!(view.svg.contains("url(#figure-means-a)"));
        assert!(view.svg.contains(r#"viewBox="0 0 10 5""#));
        assert!(view.svg.contains("Means of &lt;two&gt; media"));
        assert!(!view.svg.contains("<?xml"));
    }

    #[test]
    fn a_drawing_with_a_script_or_a_link_outside_is_refused() {
        for bad in [
            "<svg><script>alert(1)</script></svg>",
            "<svg onload='x'></svg>",
            "<svg><use href='http://example.org/a.svg#b'/></svg>",
            "<svg><foreignObject/></svg>",
            "<svg><rect fill='url(http://example.org/x)'/></svg>",
            "<svg><g></svg>",
            "<svg></svg><p>",
        ] {
            assert!(DrawingView::new(&drawing(bad), None).is_err(), "{bad}");
        }
    }

    #[test]
    fn text_in_a_drawing_stays_as_it_was_escaped() {
        let svg = "<svg viewBox='0 0 1 1'><text x='1'>&lt;script&gt; a &amp; b</text></svg>";
        let view = DrawingView::new(&drawing(svg), None).unwrap();
        assert!(view.svg.contains("&lt;script&gt; a &amp; b"));
    }
}
