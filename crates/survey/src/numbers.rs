//! How a log writes its numbers: every decimal mark is tried on every cell.
use crate::body::{Body, Spot};
use crate::codes::{is_code, is_silent_sensor};
use crosshouse_logs::raw::RawKind;
use crosshouse_readings::quantity::{NumberStyle, number, pounds_ounces};

const fn style(decimal: char, thousands: Option<char>) -> NumberStyle {
    NumberStyle { decimal, thousands }
}

/// Without thousands marks first: such a mark is needed or it is not there.
const STYLES: [NumberStyle; 7] = [
    style('.', None),
    style(',', None),
    style('.', Some(',')),
    style(',', Some('.')),
    style(',', Some(' ')),
    style('.', Some(' ')),
    style('.', Some('\'')),
];

/// What the marks of a log's numbers show.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Decimal {
    /// No number has a mark.
    Unmarked,
    Only {
        style: NumberStyle,
        fits: usize,
        of: usize,
        example: String,
    },
    /// Every mark may part decimals or thousands.
    Either {
        point: NumberStyle,
        comma: NumberStyle,
        examples: Vec<String>,
    },
}

impl Decimal {
    /// The style to read by for now.
    pub fn first(&self) -> NumberStyle {
        match self {
            Decimal::Unmarked => NumberStyle::default(),
            Decimal::Only { style, .. } => *style,
            Decimal::Either { point, comma, .. } => {
                if point.thousands.is_none() {
                    *point
                } else {
                    *comma
                }
            }
        }
    }
}

/// Whether some style reads the cell as a number.
pub(crate) fn is_number(spot: &Spot<'_>) -> bool {
    matches!(spot.cell.is, RawKind::Number(_)) || STYLES.iter().any(|s| number(spot.cell.text, *s).is_ok())
}

pub(crate) fn is_pounds_ounces(text: &str) -> bool {
    let named = text.contains(|c: char| c.is_alphabetic());
    named && (pounds_ounces(text, STYLES[0]).is_ok() || pounds_ounces(text, STYLES[1]).is_ok())
}

/// The number in a cell; `None` for a blank, a code or anything else.
pub(crate) fn value(spot: &Spot<'_>, style: NumberStyle) -> Option<f64> {
    match spot.cell.is {
        RawKind::Number(x) => Some(x),
        _ if is_code(spot.cell.text) || is_silent_sensor(spot.cell.text) => None,
        _ => number(spot.cell.text, style).ok(),
    }
}

/// The marks of all the numeric columns together: a log has one habit.
pub(crate) fn judge(body: &Body, columns: &[usize]) -> Decimal {
    let cells = || columns.iter().flat_map(|c| body.filled(*c)).filter(|s| s.cell.is == RawKind::Text && !is_code(s.cell.text));
    let marked = || cells().filter(|s| has_mark(s.cell.text) && is_number(s));
    let of = marked().count();
    if of == 0 {
        return Decimal::Unmarked;
    }
    let fits: Vec<usize> = STYLES.iter().map(|s| marked().filter(|spot| reads(spot.cell.text, *s)).count()).collect();
    let most = fits.iter().copied().max().unwrap_or(0);
    let best: Vec<NumberStyle> = STYLES.iter().zip(&fits).filter(|(_, n)| **n == most).map(|(s, _)| *s).collect();
    let of_mark = |mark: char| best.iter().find(|s| s.decimal == mark).copied();
    match (of_mark('.'), of_mark(',')) {
        (Some(point), Some(comma)) => {
            let examples = marked().take(3).map(|s| format!("{} \"{}\"", body.place(&s), s.cell.text)).collect();
            Decimal::Either { point, comma, examples }
        }
        (Some(style), None) | (None, Some(style)) => {
            let example = marked().find(|s| reads(s.cell.text, style)).map_or_else(String::new, |s| s.cell.text.to_owned());
            Decimal::Only { style, fits: most, of, example }
        }
        (None, None) => Decimal::Unmarked,
    }
}

fn has_mark(text: &str) -> bool {
    let inside = text.trim().trim_start_matches(['-', '+']);
    inside.starts_with(|c: char| c.is_ascii_digit()) && inside.contains(['.', ',', '\''])
}

/// "0.035" parts no thousands: nobody writes thirty-five so.
fn reads(text: &str, style: NumberStyle) -> bool {
    let zero = text.trim().trim_start_matches(['-', '+']).starts_with('0');
    let grouped = style.thousands.is_some_and(|mark| text.contains(mark));
    !(zero && grouped) && number(text, style).is_ok()
}

/// Sorted finite values of a column.
pub(crate) fn sorted(body: &Body, column: usize, style: NumberStyle) -> Vec<f64> {
    let mut values: Vec<f64> = body.filled(column).filter_map(|s| value(&s, style)).filter(|x| x.is_finite()).collect();
    values.sort_by(f64::total_cmp);
    values
}

/// The value below which a share of the sorted values lies.
pub(crate) fn quantile(sorted: &[f64], share: f64) -> f64 {
    let last = sorted.len().saturating_sub(1);
    sorted.get((last as f64 * share).round() as usize).copied().unwrap_or(f64::NAN)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::body;

    fn judged(text: &str) -> Decimal {
        let body = body(text);
        judge(&body, &[1])
    }

    fn only(text: &str) -> NumberStyle {
        match judged(text) {
            Decimal::Only { style, .. } => style,
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn the_mark_that_reads_every_number_is_found() {
        assert_eq!(only("Plot;kg\nA;1,25\nB;0,7\n").decimal, ',');
        assert_eq!(only("Plot;g\nA;1.250,5\nB;980\n"), style(',', Some('.')));
        assert_eq!(only("Plot\tkg\nA\t0.035\nB\t0.250\n"), style('.', None));
    }

    #[test]
    fn three_digits_behind_every_mark_are_a_question() {
        let Decimal::Either { point, comma, examples } = judged("Plot;kg\nA;1.250\nB;2.125\n") else { panic!() };
        assert_eq!((point, comma), (style('.', None), style(',', Some('.'))));
        assert_eq!(examples, ["row 2 \"1.250\"", "row 3 \"2.125\""]);
    }

    #[test]
    fn whole_numbers_show_no_mark() {
        assert_eq!(judged("Plot;kg\nA;1\nB;2\n"), Decimal::Unmarked);
    }
}
