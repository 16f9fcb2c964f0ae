//! The allowed word nearest to a misspelt one.

/// Number of single-letter changes (insert, delete, replace) from one word to another.
fn changes(from: &str, to: &str) -> usize {
    let to: Vec<char> = to.chars().collect();
    let mut row: Vec<usize> = (0..=to.len()).collect();
    for (i, a) in from.chars().enumerate() {
        let mut corner = i;
        let mut left = i + 1;
        let mut next = vec![left];
        for (above, b) in row.iter().skip(1).zip(&to) {
            left = (left + 1).min(above + 1).min(corner + usize::from(a != *b));
            corner = *above;
            next.push(left);
        }
        row = next;
    }
    row.last().copied().unwrap_or(0)
}

/// The known word that takes the fewest changes, if these are fewer than half its letters.
pub(super) fn nearest<'a>(word: &str, known: &[&'a str]) -> Option<&'a str> {
    let lower = word.to_lowercase();
    let best = known.iter().min_by_key(|candidate| changes(&lower, candidate))?;
    (changes(&lower, best) * 2 <= best.chars().count().max(2)).then_some(*best)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_misspelt_key_finds_its_neighbour_and_nonsense_finds_none() {
        let known = ["response", "family", "effects"];
        assert_eq!(nearest("respnse", &known), Some("response"));
        assert_eq!(nearest("Efects", &known), Some("effects"));
        assert_eq!(nearest("zzzzzz", &known), None);
        assert_eq!(changes("kitten", "sitting"), 3);
    }
}
