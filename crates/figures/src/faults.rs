//! What can go wrong between an input and a drawing.

/// A drawing that could not be made. None of these comes from a value in the data.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum FigureFault {
    #[error("figure {name}: the fonts inside the program could not be read; the program file is damaged, install it again")]
    Font { name: String },
    #[error("figure {name}: the drawing could not be written: {why}; please report it with the season file")]
    Draw { name: String, why: String },
    #[error("figure {name}: the picture could not be made from the drawing: {why}; the SVG file still holds it")]
    Raster { name: String, why: String },
    #[error(
        "figure {name}: {width} × {height} mm at {dpi} dots per inch is larger than a picture may be (found {pixels} pixels, expected 1 to {limit}); ask for fewer dots per inch"
    )]
    Size { name: String, width: f64, height: f64, dpi: u32, pixels: u64, limit: u64 },
}
