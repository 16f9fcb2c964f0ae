//! The two faces inside the binary, for measuring (plotters) and for rastering (resvg) alike.
//!
//! DejaVu Sans: free to embed, with the signs a trial needs (² ⁻ µ ± − °). Licence: `assets/LICENSE-DejaVu.txt`.
use plotters::style::{FontDesc, FontFamily, FontStyle, register_font};
use resvg::usvg::fontdb;
use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, OnceLock, PoisonError};

/// Name under which both libraries know the faces.
pub const FAMILY: &str = "DejaVu Sans";

/// What a browser may fall back on: faces of like or lesser width, so that nothing grows into its neighbour.
pub const FAMILIES: &str = "DejaVu Sans, Verdana, Geneva, Arial, sans-serif";

static REGULAR: &[u8] = include_bytes!("../assets/DejaVuSans.ttf");
static BOLD: &[u8] = include_bytes!("../assets/DejaVuSans-Bold.ttf");

/// Height of the face, ascent to descent, in units of the em square (its horizontal header: 1901 + 483 of 2048).
const FACE_HEIGHT: f64 = 2384.0;
const EM: f64 = 2048.0;

/// Registers the faces once; false if they cannot be read.
pub fn registered() -> bool {
    static DONE: OnceLock<bool> = OnceLock::new();
    *DONE.get_or_init(|| register_font(FAMILY, FontStyle::Normal, REGULAR).is_ok() && register_font(FAMILY, FontStyle::Bold, BOLD).is_ok())
}

/// The faces for the rasteriser, read once.
pub fn database() -> Arc<fontdb::Database> {
    static DATABASE: OnceLock<Arc<fontdb::Database>> = OnceLock::new();
    DATABASE
        .get_or_init(|| {
            let mut database = fontdb::Database::new();
            database.load_font_source(fontdb::Source::Binary(Arc::new(REGULAR)));
            database.load_font_source(fontdb::Source::Binary(Arc::new(BOLD)));
            database.set_sans_serif_family(FAMILY);
            Arc::new(database)
        })
        .clone()
}

/// Width of one line of text in ems: the sum of its advances. Kerning is left out; it is small and mostly draws letters together.
pub fn width_in_ems(text: &str, bold: bool) -> f64 {
    static KNOWN: Mutex<BTreeMap<(char, bool), f64>> = Mutex::new(BTreeMap::new());
    let mut known = KNOWN.lock().unwrap_or_else(PoisonError::into_inner);
    text.chars().map(|c| *known.entry((c, bold)).or_insert_with(|| advance_in_ems(c, bold))).sum()
}

/// Asked of plotters once a sign.
///
/// plotters scales a face by its height, so at a size of [`FACE_HEIGHT`] the answer is in font units, exactly.
fn advance_in_ems(sign: char, bold: bool) -> f64 {
    let style = if bold { FontStyle::Bold } else { FontStyle::Normal };
    if !registered() {
        return 0.7;
    }
    let font = FontDesc::new(FontFamily::Name(FAMILY), FACE_HEIGHT, style);
    font.layout_box(sign.encode_utf8(&mut [0; 4])).map_or(0.7, |((left, _), (right, _))| f64::from(right - left) / EM)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Advance of "M" in DejaVu Sans 2.37: 1767 of 2048 units (read from its hmtx table with another program).
    #[test]
    fn the_width_of_a_capital_m_is_its_advance() {
        assert!((width_in_ems("M", false) - 1767.0 / 2048.0).abs() < 1e-3);
        assert!((width_in_ems("MMMM", false) - 4.0 * 1767.0 / 2048.0).abs() < 1e-3);
    }

    #[test]
    fn bold_text_is_wider() {
        assert!(width_in_ems("harvest", true) > width_in_ems("harvest", false));
    }

    #[test]
    fn both_faces_reach_the_rasteriser() {
        assert_eq!(database().faces().count(), 2);
    }
}
