//! Text that must fit a space: broken into lines first, shortened last.
use crate::canvas::text_width;

/// A text measured for its own space fits it, whatever the last digit of the sum.
fn fits(text: &str, width: f64, bold: bool) -> bool {
    text_width(text, bold) <= width + 1e-6
}

/// Lines no wider than `width` mm, `most` at the most; the last one is cut with "…" if the text goes on.
pub fn wrapped(text: &str, width: f64, most: usize, bold: bool) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    let mut words = pieces(text, width, bold).into_iter().peekable();
    while let Some(word) = words.next() {
        let joined = match lines.last() {
            Some(line) if !line.is_empty() => format!("{line} {word}"),
            _ => word.clone(),
        };
        if lines.is_empty() || !fits(&joined, width, bold) {
            if lines.len() == most.max(1) {
                let rest: Vec<String> = std::iter::once(word).chain(words.by_ref()).collect();
                let last = lines.pop().unwrap_or_default();
                lines.push(shortened(&format!("{last} {}", rest.join(" ")), width, bold));
                break;
            }
            lines.push(word);
        } else if let Some(line) = lines.last_mut() {
            *line = joined;
        }
    }
    lines
}

/// Broken after commas if that suffices, else as [`wrapped`].
pub fn wrapped_at_commas(text: &str, width: f64, most: usize) -> Vec<String> {
    let parts: Vec<&str> = text.split_inclusive(", ").map(str::trim).collect();
    if !fits(text, width, false) && parts.len() <= most && parts.iter().all(|p| fits(p, width, false)) {
        return parts.into_iter().map(String::from).collect();
    }
    wrapped(text, width, most, false)
}

/// Words; one too wide for the line is broken inside.
fn pieces(text: &str, width: f64, bold: bool) -> Vec<String> {
    let mut pieces = Vec::new();
    for word in text.split(|c: char| c.is_whitespace() && c != '\u{a0}').filter(|w| !w.is_empty()) {
        if fits(word, width, bold) {
            pieces.push(word.to_string());
            continue;
        }
        let mut piece = String::new();
        for c in word.chars() {
            piece.push(c);
            if !fits(&piece, width, bold) && piece.chars().count() > 1 {
                piece.pop();
                pieces.push(std::mem::replace(&mut piece, c.to_string()));
            }
        }
        pieces.push(piece);
    }
    pieces
}

/// The text, or as much of it as fits with "…".
pub fn shortened(text: &str, width: f64, bold: bool) -> String {
    if fits(text, width, bold) {
        return text.to_string();
    }
    let mut kept = text.to_string();
    while kept.pop().is_some() {
        let cut = format!("{}…", kept.trim_end());
        if fits(&cut, width, bold) {
            return cut;
        }
    }
    String::new()
}

/// Moves label centres apart so that each has `pitch` mm, all within `low..high`, as near as may be to where they belong.
///
/// `wanted` must be sorted; the result has its order.
pub fn spread(wanted: &[f64], pitch: f64, low: f64, high: f64) -> Vec<f64> {
    let mut groups: Vec<(f64, usize)> = Vec::new();
    let bounded = |centre: f64, n: usize| {
        let half = pitch * n as f64 / 2.0;
        centre.min(high - half).max(low + half)
    };
    for place in wanted {
        groups.push((bounded(*place, 1), 1));
        while let [.., (above, n), (below, m)] = groups.as_slice() {
            let (above, n, below, m) = (*above, *n, *below, *m);
            if below - above >= pitch * (n + m) as f64 / 2.0 - 1e-9 {
                break;
            }
            groups.truncate(groups.len() - 2);
            let centre = (above * n as f64 + below * m as f64) / (n + m) as f64;
            groups.push((bounded(centre, n + m), n + m));
        }
    }
    groups.iter().flat_map(|(centre, n)| (0..*n).map(move |i| centre + (i as f64 - (*n as f64 - 1.0) / 2.0) * pitch)).collect()
}

/// The shortest beginning of each name that tells it from the others (two names may be equal: then they stay equal).
pub fn short_marks(names: &[String], least: usize) -> Vec<String> {
    let begin = |name: &str, n: usize| name.chars().take(n).collect::<String>();
    names
        .iter()
        .map(|name| {
            let others = || names.iter().filter(|other| *other != name);
            let longest = name.chars().count();
            (least..longest).map(|n| begin(name, n)).find(|b| others().all(|o| !o.starts_with(b))).unwrap_or_else(|| name.clone())
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_long_name_is_broken_before_it_is_cut() {
        let lines = wrapped("coir and composted bark with perlite", 25.0, 3, false);
        assert!(lines.len() > 1 && lines.iter().all(|l| !l.contains('…')));
        let cut = wrapped("coir and composted bark with perlite", 25.0, 1, false);
        assert_eq!(cut.len(), 1);
        assert!(cut[0].ends_with('…'));
    }

    #[test]
    fn labels_that_would_meet_are_moved_apart_and_stay_inside() {
        let placed = spread(&[10.0, 10.1, 10.2], 3.0, 0.0, 12.0);
        assert!(placed.windows(2).all(|w| w[1] - w[0] >= 3.0 - 1e-9));
        assert!(placed[0] >= 1.5 && placed[2] <= 10.5 + 1e-9);
    }

    #[test]
    fn marks_are_the_shortest_that_differ() {
        let names = ["perlite", "peat", "blend"].map(String::from);
        assert_eq!(short_marks(&names, 1), ["per", "pea", "b"]);
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(64))]
        #[test]
        fn no_wrapped_line_is_wider_than_its_space(text in "\\PC{0,60}", width in 6.0f64..60.0, most in 1usize..4) {
            for line in wrapped(&text, width, most, false) {
                prop_assert!(text_width(&line, false) <= width + 1e-5 || line.chars().count() <= 1);
            }
        }
    }
}
