//! One look for all figures: inks, sizes, widths, and how a series is told from another without colour.
//!
//! Palette: Okabe & Ito, "Color Universal Design" (2008). Contrast on white, computed after WCAG 2.2: black 21, blue 5.2,
//! vermillion 3.9, green 3.4, purple 3.1; the light three stand only as fills with a dark outline.
use crate::markers::Shape;

/// Column widths of printed journals, mm.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Width {
    /// 84 mm
    Single,
    /// 129 mm
    Middle,
    /// 174 mm
    #[default]
    Double,
}

impl Width {
    pub fn mm(self) -> f64 {
        match self {
            Width::Single => 84.0,
            Width::Middle => 129.0,
            Width::Double => 174.0,
        }
    }
}

/// Greatest height of a page, mm.
pub const PAGE_HEIGHT: f64 = 234.0;

/// Text, points. Nothing printed is smaller.
pub const TEXT: f64 = 8.0;
/// Height from one line of text to the next, mm.
pub const LEADING: f64 = 3.5;
/// Cap height of [`TEXT`], mm (0.729 em).
pub const CAPS: f64 = 2.06;

/// Line widths, points.
pub const HAIRLINE: f64 = 0.3;
pub const RULE: f64 = 0.6;
pub const STROKE: f64 = 1.0;

/// A colour as printed on white.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ink {
    pub rgb: (u8, u8, u8),
    /// 0 (clear) to 1
    pub alpha: f64,
}

impl Ink {
    pub const fn new(r: u8, g: u8, b: u8) -> Self {
        Ink { rgb: (r, g, b), alpha: 1.0 }
    }

    /// Contrast against white after WCAG 2.2.
    #[cfg(test)]
    pub fn contrast_on_white(self) -> f64 {
        1.05 / (self.luminance() + 0.05)
    }

    /// Relative luminance after WCAG 2.2, 0 to 1.
    pub fn luminance(self) -> f64 {
        let part = |c: u8| {
            let c = f64::from(c) / 255.0;
            if c <= 0.040_45 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
        };
        0.2126 * part(self.rgb.0) + 0.7152 * part(self.rgb.1) + 0.0722 * part(self.rgb.2)
    }

    /// The colour part of the way to `other`: 0 is `self`, 1 is `other`.
    pub fn towards(self, other: Ink, share: f64) -> Ink {
        let mix = |a: u8, b: u8| (f64::from(a) + (f64::from(b) - f64::from(a)) * share).round().clamp(0.0, 255.0) as u8;
        Ink { rgb: (mix(self.rgb.0, other.rgb.0), mix(self.rgb.1, other.rgb.1), mix(self.rgb.2, other.rgb.2)), alpha: self.alpha }
    }
}

pub const WHITE: Ink = Ink::new(255, 255, 255);
pub const BLACK: Ink = Ink::new(0, 0, 0);
pub const TEXT_INK: Ink = Ink::new(26, 26, 26);
/// Notes and what could not be told: 5.7 against white.
pub const MUTED: Ink = Ink::new(102, 102, 102);
pub const RULE_INK: Ink = Ink::new(77, 77, 77);
pub const GRID: Ink = Ink::new(222, 222, 222);
pub const ZONE: Ink = Ink::new(232, 238, 243);

pub const BLUE: Ink = Ink::new(0x00, 0x72, 0xB2);
pub const VERMILLION: Ink = Ink::new(0xD5, 0x5E, 0x00);
pub const GREEN: Ink = Ink::new(0x00, 0x9E, 0x73);
pub const PURPLE: Ink = Ink::new(0xCC, 0x79, 0xA7);
pub const SKY: Ink = Ink::new(0x56, 0xB4, 0xE9);
pub const ORANGE: Ink = Ink::new(0xE6, 0x9F, 0x00);
pub const YELLOW: Ink = Ink::new(0xF0, 0xE4, 0x42);

const LINE_INKS: [Ink; 5] = [BLACK, BLUE, VERMILLION, GREEN, PURPLE];
const DASHES: [&[f64]; 4] = [&[], &[2.2, 1.0], &[0.6, 0.8], &[3.2, 0.8, 0.6, 0.8]];

/// How many series colour and shape can tell apart in one panel.
pub const TOLD_APART: usize = 5;

/// Colour, marker and dash of a series: always all three, so that print without colour still tells.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hand {
    pub ink: Ink,
    pub shape: Shape,
    pub hollow: bool,
    pub dash: &'static [f64],
}

impl Hand {
    /// Of the `first`th level of the factor that is coloured, with the `second`th of what else differs.
    pub fn of(first: usize, second: usize) -> Hand {
        Hand {
            ink: LINE_INKS.get(first % LINE_INKS.len()).copied().unwrap_or(BLACK),
            shape: Shape::nth(first),
            hollow: second % 2 == 1,
            dash: DASHES.get(second % DASHES.len()).copied().unwrap_or(&[]),
        }
    }

    /// Where only one running number tells them apart (sites).
    pub fn nth(index: usize) -> Hand {
        Hand { hollow: (index / LINE_INKS.len()) % 2 == 1, ..Hand::of(index, index / LINE_INKS.len()) }
    }
}

/// Sequential ramp for unit values: pale to dark blue, lightness falling evenly, so it also reads in grey.
pub fn ramp(share: f64) -> Ink {
    const STOPS: [Ink; 4] = [Ink::new(243, 247, 251), Ink::new(166, 203, 227), Ink::new(49, 130, 189), Ink::new(8, 48, 107)];
    let share = if share.is_finite() { share.clamp(0.0, 1.0) } else { 0.0 };
    let place = share * (STOPS.len() - 1) as f64;
    let below = (place.floor() as usize).min(STOPS.len() - 2);
    let pick = |i: usize| STOPS.get(i).copied().unwrap_or(WHITE);
    pick(below).towards(pick(below + 1), place - below as f64)
}

/// Text ink that can be read on `ground`: at least 4.5 to 1.
pub fn text_on(ground: Ink) -> Ink {
    if ground.luminance() > 0.179 { BLACK } else { WHITE }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_line_ink_has_three_to_one_contrast_on_white() {
        for ink in LINE_INKS {
            assert!(ink.contrast_on_white() >= 3.0, "{ink:?}");
        }
        assert!(MUTED.contrast_on_white() >= 4.5);
    }

    #[test]
    fn the_ramp_grows_darker_all_the_way() {
        let steps: Vec<f64> = (0..=50).map(|i| ramp(f64::from(i) / 50.0).luminance()).collect();
        assert!(steps.windows(2).all(|w| w[0] > w[1]));
    }

    #[test]
    fn text_on_the_ramp_is_readable_everywhere() {
        for i in 0..=100 {
            let ground = ramp(f64::from(i) / 100.0);
            let (a, b) = (ground.luminance(), text_on(ground).luminance());
            let contrast = (a.max(b) + 0.05) / (a.min(b) + 0.05);
            assert!(contrast >= 4.5, "share {i}: {contrast}");
        }
    }

    #[test]
    fn forty_sites_have_forty_hands() {
        let hands: Vec<Hand> = (0..40).map(Hand::nth).collect();
        for (i, a) in hands.iter().enumerate() {
            assert!(hands.iter().skip(i + 1).all(|b| a.ink != b.ink || a.shape != b.shape || a.hollow != b.hollow), "{i}");
        }
    }
}
