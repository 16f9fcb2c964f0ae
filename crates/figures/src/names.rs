//! File names from names people gave.

/// Small letters, digits and single hyphens, 80 signs at most; never empty, never a path.
pub fn file_safe(name: &str) -> String {
    let mut safe = String::new();
    for c in name.chars().flat_map(char::to_lowercase) {
        if c.is_ascii_alphanumeric() {
            safe.push(c);
        } else if !safe.is_empty() && !safe.ends_with('-') {
            safe.push('-');
        }
        if safe.len() >= 80 {
            break;
        }
    }
    let safe = safe.trim_end_matches('-');
    if safe.is_empty() { "figure".into() } else { safe.into() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_that_climbs_out_of_its_folder_stays_a_name() {
        assert_eq!(file_safe("../../etc/Plan <b>"), "etc-plan-b");
        assert_eq!(file_safe("  "), "figure");
    }
}
