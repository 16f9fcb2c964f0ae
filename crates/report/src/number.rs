//! Numbers as the report prints them. Every number is computed at full precision and rounded once, here;
//! halves go to the even digit (ISO 80000-1, annex B).

const MINUS: &str = "\u{2212}";
/// What stands where a number cannot be given.
pub const NONE: &str = "–";

/// Decimal places that show `se` to two significant digits. Negative: tens, hundreds …
///
/// `None` where there is no standard error to round by (zero or not finite).
pub fn decimals_by_error(se: f64) -> Option<i32> {
    let se = se.abs();
    if !se.is_finite() || se == 0.0 {
        return None;
    }
    let places = |x: f64| 1 - x.log10().floor() as i32;
    let first = places(se);
    // Rounding may carry: 0.0996 becomes 0.10, which needs two decimals, not three.
    let carried = rounded(se, first).log10().floor() as i32;
    Some((1 - carried).clamp(-12, 12).min(first))
}

fn rounded(value: f64, decimals: i32) -> f64 {
    fixed_ascii(value, decimals).parse().unwrap_or(value)
}

fn fixed_ascii(value: f64, decimals: i32) -> String {
    if decimals >= 0 {
        return format!("{value:.*}", decimals.unsigned_abs() as usize);
    }
    let step = 10f64.powi(-decimals);
    format!("{:.0}", (value / step).round_ties_even() * step)
}

/// `value` with `decimals` places, a true minus sign, and never a minus zero.
pub fn fixed(value: f64, decimals: i32) -> String {
    if !value.is_finite() {
        return NONE.to_owned();
    }
    let text = fixed_ascii(value, decimals);
    match text.strip_prefix('-') {
        Some(digits) if digits.chars().all(|c| c == '0' || c == '.') => digits.to_owned(),
        Some(digits) => format!("{MINUS}{digits}"),
        None => text,
    }
}

/// An optional value with fixed decimals; a dash where there is none.
pub fn fixed_or_dash(value: Option<f64>, decimals: i32) -> String {
    value.map_or_else(|| NONE.to_owned(), |v| fixed(v, decimals))
}

/// `value` to `digits` significant digits, for numbers without a standard error.
pub fn significant(value: f64, digits: i32) -> String {
    if value == 0.0 {
        return "0".to_owned();
    }
    if !value.is_finite() {
        return NONE.to_owned();
    }
    let places = |x: f64| digits - 1 - x.abs().log10().floor() as i32;
    let carried = rounded(value, places(value));
    fixed(value, places(if carried == 0.0 { value } else { carried }))
}

/// An estimate, its standard error and its limits, all to the decimal that the error bears.
#[derive(Debug, Clone, Copy)]
pub struct ByError {
    decimals: i32,
}

impl ByError {
    /// Rounds by `se`; without one, `value` keeps three significant digits.
    pub fn of(value: f64, se: f64) -> Self {
        let three_digits = |v: f64| decimals_by_error(v).map_or(2, |d| d + 1);
        ByError { decimals: decimals_by_error(se).unwrap_or_else(|| three_digits(value)) }
    }

    pub fn show(self, value: f64) -> String {
        fixed(value, self.decimals)
    }

    /// "0.17 to 1.43"; a dash where a limit is missing.
    pub fn interval(self, low: f64, high: f64) -> String {
        if !low.is_finite() || !high.is_finite() {
            return NONE.to_owned();
        }
        format!("{} to {}", self.show(low), self.show(high))
    }
}

/// A p value to two significant digits, "<0.001" below that and ">0.99" near one.
pub fn p_value(p: f64) -> String {
    match p {
        p if !(0.0..=1.0).contains(&p) => NONE.to_owned(),
        p if p < 0.001 => "<0.001".to_owned(),
        p if p >= 0.995 => ">0.99".to_owned(),
        p => significant(p, 2),
    }
}

/// "p = 0.016" or "p < 0.001", unbroken, for running text.
pub fn p_words(p: f64) -> String {
    let text = p_value(p);
    match text.chars().next() {
        Some(sign @ ('<' | '>')) => format!("p\u{a0}{sign}\u{a0}{}", text.trim_start_matches(sign)),
        _ => format!("p\u{a0}=\u{a0}{text}"),
    }
}

/// Degrees of freedom: whole as whole, else one decimal; none = the normal distribution.
pub fn degrees(df: Option<f64>) -> String {
    match df {
        None => "large sample".to_owned(),
        Some(df) if !df.is_finite() => NONE.to_owned(),
        Some(df) if (df - df.round()).abs() < 0.05 => fixed(df, 0),
        Some(df) => fixed(df, 1),
    }
}

/// A count with groups of three from five digits on: 9876, 12 345 (narrow no-break space).
pub fn count(n: u64) -> String {
    let digits = n.to_string();
    if digits.len() < 5 {
        return digits;
    }
    let mut out = String::new();
    for (i, c) in digits.chars().enumerate() {
        if i > 0 && (digits.len() - i).is_multiple_of(3) {
            out.push('\u{202f}');
        }
        out.push(c);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_estimate_is_rounded_to_two_digits_of_its_error() {
        let by = ByError::of(0.80432, 0.3017);
        assert_eq!(by.show(0.80432), "0.80");
        assert_eq!(by.interval(0.1704, 1.4298), "0.17 to 1.43");
    }

    #[test]
    fn an_error_that_carries_to_the_next_decade_loses_a_decimal() {
        assert_eq!(decimals_by_error(0.0996), Some(2));
        assert_eq!(decimals_by_error(0.0994), Some(3));
        assert_eq!(decimals_by_error(9.96), Some(0));
    }

    #[test]
    fn a_large_error_rounds_to_tens() {
        assert_eq!(ByError::of(12347.0, 412.0).show(12347.0), "12350");
    }

    #[test]
    fn halves_go_to_the_even_digit() {
        assert_eq!(fixed(0.125, 2), "0.12");
        assert_eq!(fixed(0.375, 2), "0.38");
        assert_eq!(fixed(25.0, -1), "20");
    }

    #[test]
    fn a_negative_number_has_a_true_minus_and_zero_has_none() {
        assert_eq!(fixed(-1.25, 1), "\u{2212}1.2");
        assert_eq!(fixed(-0.001, 2), "0.00");
    }

    #[test]
    fn p_has_two_digits_and_a_floor() {
        assert_eq!(p_value(0.016_34), "0.016");
        assert_eq!(p_value(0.5), "0.50");
        assert_eq!(p_value(0.000_2), "<0.001");
        assert_eq!(p_value(1.0), ">0.99");
        assert_eq!(p_words(0.000_2), "p\u{a0}<\u{a0}0.001");
    }

    #[test]
    fn what_is_not_a_number_is_a_dash() {
        assert_eq!(fixed(f64::NAN, 2), NONE);
        assert_eq!(ByError::of(1.0, f64::NAN).interval(f64::NEG_INFINITY, 1.0), NONE);
        assert_eq!(p_value(f64::NAN), NONE);
        assert_eq!(degrees(Some(f64::INFINITY)), NONE);
    }

    #[test]
    fn without_an_error_three_digits_are_kept() {
        assert_eq!(ByError::of(5.6789, 0.0).show(5.6789), "5.68");
    }

    #[test]
    fn counts_are_grouped_from_five_digits_on() {
        assert_eq!(count(9876), "9876");
        assert_eq!(count(1_234_567), "1\u{202f}234\u{202f}567");
    }
}
