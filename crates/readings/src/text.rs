//! Untrusted text that goes into a table for spreadsheets.

/// Text that a spreadsheet shows as text: a cell that would start a formula gets a leading apostrophe.
///
/// A plain number ("-0.8") stays as it is: it is no formula, and tables of differences need it.
pub fn spreadsheet_safe(cell: &str) -> std::borrow::Cow<'_, str> {
    let starts_formula = cell.starts_with(['=', '+', '-', '@', '\t', '\r', '\n', '\u{ff1d}', '\u{ff0b}', '\u{ff0d}', '\u{ff20}']);
    if starts_formula && !is_plain_number(cell) { format!("'{cell}").into() } else { cell.into() }
}

fn is_plain_number(cell: &str) -> bool {
    let digits = cell.bytes().all(|b| b.is_ascii_digit() || matches!(b, b'.' | b'-' | b'+' | b'e' | b'E'));
    digits && cell.parse::<f64>().is_ok()
}

#[cfg(test)]
mod tests {
    use super::spreadsheet_safe;

    #[test]
    fn a_cell_that_starts_a_formula_is_neutralised() {
        for cell in ["=1+1", "+cmd", "-cmd|x", "@SUM(A1)", "\tx", "\r=1", "-1+1", "--1"] {
            assert_eq!(spreadsheet_safe(cell), format!("'{cell}"));
        }
    }

    #[test]
    fn words_and_negative_numbers_stay_as_they_are() {
        for cell in ["", "B2-07", "-0.8", "+1.5", "-1e-3", "2 lb 3 oz", "a=b"] {
            assert_eq!(spreadsheet_safe(cell), cell);
        }
    }
}
