//! Vulgar fractions, as scales and tape measures are read: "2 1/4", "3/8", "2¼".

const GLYPHS: [(char, u32, u32); 9] =
    [('½', 1, 2), ('¼', 1, 4), ('¾', 3, 4), ('⅓', 1, 3), ('⅔', 2, 3), ('⅛', 1, 8), ('⅜', 3, 8), ('⅝', 5, 8), ('⅞', 7, 8)];

/// Denominators met on scales and tapes. Others ("3/24") are more likely a date that a spreadsheet made.
const UNDER: [u32; 8] = [2, 3, 4, 5, 8, 16, 32, 64];

/// The value of a whole number and a proper fraction, or of a fraction alone; `None` if `text` is neither.
pub(super) fn vulgar(text: &str) -> Option<f64> {
    let (whole, over, under) = glyph(text).or_else(|| slashed(text))?;
    let sound = UNDER.contains(&under) && over < under;
    sound.then(|| (f64::from(whole) * f64::from(under) + f64::from(over)) / f64::from(under))
}

fn glyph(text: &str) -> Option<(u32, u32, u32)> {
    let last = text.chars().next_back()?;
    let (sign, over, under) = GLYPHS.into_iter().find(|g| g.0 == last)?;
    let whole = text.strip_suffix(sign)?.trim_end();
    Some((if whole.is_empty() { 0 } else { digits(whole)? }, over, under))
}

fn slashed(text: &str) -> Option<(u32, u32, u32)> {
    let (left, under) = text.split_once(['/', '\u{2044}'])?;
    let (whole, over) = match left.trim_end().rsplit_once(|c: char| c == '-' || c.is_whitespace()) {
        Some((whole, over)) => (digits(whole.trim_end())?, over),
        None => (0, left.trim_end()),
    };
    Some((whole, digits(over)?, digits(under.trim_start())?))
}

fn digits(text: &str) -> Option<u32> {
    let sound = !text.is_empty() && text.len() <= 6 && text.bytes().all(|b| b.is_ascii_digit());
    if sound { text.parse().ok() } else { None }
}
