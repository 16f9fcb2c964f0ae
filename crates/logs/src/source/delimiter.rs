//! Which mark separates the cells, where nobody declared it.

/// The mark and the evidence for it.
pub(crate) struct Agreed {
    pub delimiter: char,
    pub because: String,
}

const MARKS: [char; 4] = [',', ';', '\t', '|'];
const LINES: usize = 200;

/// The mark by which most declared headers are found, then by which the lines agree on their number of cells.
pub(crate) fn agree(text: &str, skip: usize, comment: Option<&str>, headers: &[&str]) -> Agreed {
    let lines: Vec<&str> = text
        .split('\n')
        .flat_map(|line| line.strip_suffix('\r').unwrap_or(line).split('\r'))
        .skip(skip)
        .filter(|l| !l.trim().is_empty() && comment.is_none_or(|c| !l.trim_start().starts_with(c)))
        .take(LINES)
        .collect();
    let mut best = judge(&lines, ',', headers);
    for mark in MARKS {
        let other = judge(&lines, mark, headers);
        if (other.named, other.agreeing, other.cells) > (best.named, best.agreeing, best.cells) {
            best = other;
        }
    }
    let because = format!(
        "{} of the first {} lines have {} cells by it; {} of {} declared headers are found",
        best.agreeing,
        lines.len(),
        best.cells,
        best.named,
        headers.len()
    );
    Agreed { delimiter: best.mark, because }
}

struct Judged {
    mark: char,
    /// Declared headers found on the best of the first lines.
    named: usize,
    /// Lines with the commonest number of cells, if that is above one.
    agreeing: usize,
    cells: usize,
}

fn judge(lines: &[&str], mark: char, headers: &[&str]) -> Judged {
    let counts: Vec<usize> = lines.iter().map(|l| cells(l, mark)).collect();
    let votes = |n: usize| counts.iter().filter(|c| **c == n).count();
    let commonest = counts.iter().copied().max_by_key(|n| (votes(*n), *n)).unwrap_or(1);
    let named = |line: &&str| {
        let written: Vec<&str> = line.split(mark).map(|c| c.trim().trim_matches('"').trim()).collect();
        headers.iter().filter(|h| written.contains(h)).count()
    };
    Judged {
        mark,
        named: lines.iter().take(40).map(named).max().unwrap_or(0),
        agreeing: if commonest > 1 { votes(commonest) } else { 0 },
        cells: commonest,
    }
}

/// Cells of a line, marks inside quotes left out.
fn cells(line: &str, mark: char) -> usize {
    let mut quoted = false;
    let mut cells = 1;
    for c in line.chars() {
        if c == '"' {
            quoted = !quoted;
        } else if c == mark && !quoted {
            cells += 1;
        }
    }
    cells
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn decimal_commas_do_not_hide_the_semicolon() {
        let agreed = agree("Datum;Gewicht\n1.7.2031;1,25\n2.7.2031;0,75\n", 0, None, &["Datum", "Gewicht"]);
        assert_eq!(agreed.delimiter, ';');
        assert_eq!(agreed.because, "3 of the first 3 lines have 2 cells by it; 2 of 2 declared headers are found");
    }

    #[test]
    fn the_line_ends_of_old_machines_part_lines_too() {
        let agreed = agree("Site\r\rDatum;kg\r1.7.2031;1,25\r2.7.2031;0,75\r", 2, None, &["Datum", "kg"]);
        assert_eq!(agreed.delimiter, ';');
        assert!(agreed.because.starts_with("3 of the first 3 lines have 2 cells"), "{}", agreed.because);
    }

    #[test]
    fn agreement_decides_where_no_header_fits() {
        assert_eq!(agree("a\tb, c\n1\t2\n3\t4\n", 0, None, &["x"]).delimiter, '\t');
    }
}
