//! A finished figure: the SVG, what is said of it, and the same drawing as PNG.
use crate::canvas::Canvas;
use crate::faults::FigureFault;
use crate::{fonts, names, pixels, svg};
use resvg::{tiny_skia, usvg};
use serde::{Deserialize, Serialize};

/// Most pixels of a picture: 174 × 234 mm at 1200 dots per inch are 91 million.
const PIXEL_LIMIT: u64 = 120_000_000;

/// What the report prints beside a figure; the figure itself carries no title.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Caption {
    /// Made file-safe when drawn.
    pub name: String,
    pub title: String,
    /// One sentence: what the figure shows. Empty: the figure makes one from its data.
    pub finding: String,
    /// Name of the CSV table that the figure shows.
    pub table: String,
}

/// A figure of one page.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Drawing {
    /// File-safe: small letters, digits and hyphens.
    pub name: String,
    pub title: String,
    /// Short text alternative, also the description inside the SVG.
    pub alt: String,
    /// One sentence.
    pub finding: String,
    pub svg: String,
    pub width_mm: f64,
    pub height_mm: f64,
    /// Name of the CSV table it shows.
    pub table: String,
}

/// A laid-out page before it is written.
#[derive(Debug, Clone)]
pub(crate) struct Page {
    pub caption: Caption,
    pub alt: String,
    pub canvas: Canvas,
    pub width: f64,
    pub height: f64,
}

/// Writes pages; where there are several, names, titles and text alternatives tell them apart.
pub(crate) fn written(pages: Vec<Page>) -> Result<Vec<Drawing>, FigureFault> {
    let of = pages.len();
    pages.into_iter().enumerate().map(|(i, page)| written_page(page, i + 1, of)).collect()
}

fn written_page(mut page: Page, number: usize, of: usize) -> Result<Drawing, FigureFault> {
    page.caption.name = names::file_safe(&page.caption.name);
    page.height = (page.height * 10.0).ceil() / 10.0;
    if of > 1 {
        page.caption.name = format!("{}-{number}", page.caption.name);
        page.caption.title = format!("{} (part {number} of {of})", page.caption.title);
        page.alt = format!("Part {number} of {of}. {}", page.alt);
    }
    let svg = svg::document(&page, &page.alt)?;
    let Page { caption, alt, width, height, .. } = page;
    Ok(Drawing {
        name: caption.name,
        title: caption.title,
        alt,
        finding: caption.finding,
        svg,
        width_mm: width,
        height_mm: height,
        table: caption.table,
    })
}

impl Drawing {
    /// The same drawing as pixels: `dpi` dots per inch, written into the file as its density.
    ///
    /// # Errors
    /// [`FigureFault::Size`] for a picture of no pixel or of more than 120 million; [`FigureFault::Raster`] if the SVG cannot be read.
    pub fn png(&self, dpi: u32) -> Result<Vec<u8>, FigureFault> {
        let (width, height) = (dots(self.width_mm, dpi), dots(self.height_mm, dpi));
        let fault = |why: String| FigureFault::Raster { name: self.name.clone(), why };
        let mut picture = self.blank(width, height, dpi)?;
        let tree = usvg::Tree::from_str(&self.svg, &options()).map_err(|e| fault(e.to_string()))?;
        let scale = tiny_skia::Transform::from_scale(width as f32 / tree.size().width(), height as f32 / tree.size().height());
        resvg::render(&tree, scale, &mut picture.as_mut());
        pixels::encoded(&picture, dpi).map_err(|e| fault(e.to_string()))
    }

    fn blank(&self, width: u32, height: u32, dpi: u32) -> Result<tiny_skia::Pixmap, FigureFault> {
        let pixels = u64::from(width) * u64::from(height);
        let fault =
            || FigureFault::Size { name: self.name.clone(), width: self.width_mm, height: self.height_mm, dpi, pixels, limit: PIXEL_LIMIT };
        if pixels > PIXEL_LIMIT {
            return Err(fault());
        }
        let mut picture = tiny_skia::Pixmap::new(width, height).ok_or_else(fault)?;
        picture.fill(tiny_skia::Color::WHITE);
        Ok(picture)
    }
}

fn dots(mm: f64, dpi: u32) -> u32 {
    (mm / 25.4 * f64::from(dpi)).round().clamp(0.0, 1e6) as u32
}

fn options() -> usvg::Options<'static> {
    usvg::Options { fontdb: fonts::database(), font_family: fonts::FAMILY.into(), ..usvg::Options::default() }
}
