//! Grades that say themselves what they are. A letter or a number does not: it is asked.

const MARKETABLE: [&str; 12] = [
    "marketable",
    "market",
    "saleable",
    "salable",
    "good",
    "vermarktbar",
    "marktfähig",
    "comercial",
    "comerciable",
    "commercial",
    "commercialisable",
    "verkoopbaar",
];
const CULL: [&str; 17] = [
    "cull",
    "culls",
    "unmarketable",
    "non-marketable",
    "waste",
    "reject",
    "rejects",
    "rejected",
    "discard",
    "abfall",
    "ausschuss",
    "nicht vermarktbar",
    "destrío",
    "destrio",
    "no comercial",
    "déchet",
    "afval",
];

pub(crate) fn is_marketable(word: &str) -> bool {
    MARKETABLE.contains(&word.trim().to_lowercase().as_str())
}

pub(crate) fn is_cull(word: &str) -> bool {
    CULL.contains(&word.trim().to_lowercase().as_str())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_letter_is_neither() {
        assert!(is_cull("Waste") && is_marketable("good"));
        assert!(!is_cull("C") && !is_marketable("1"));
    }
}
