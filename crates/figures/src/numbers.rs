//! Numbers as printed in figures.

/// Fixed decimals with a true minus sign; no "−0.0".
pub fn fixed(value: f64, decimals: usize) -> String {
    if !value.is_finite() {
        return "–".into();
    }
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(rest) if rest.chars().all(|c| c == '0' || c == '.') => rest.into(),
        Some(rest) => format!("−{rest}"),
        None => text,
    }
}

/// Decimals at which a typical half-width of an interval shows two figures.
pub fn decimals_for(half_widths: &mut [f64]) -> usize {
    half_widths.sort_by(f64::total_cmp);
    let middle = half_widths.get(half_widths.len() / 2).copied().unwrap_or(1.0);
    if middle <= 0.0 || !middle.is_finite() {
        return 2;
    }
    (1.0 - middle.log10().floor()).clamp(0.0, 6.0) as usize
}

/// Standard normal quantile, |error| < 4.5 × 10⁻⁴: enough for the place of a dot.
///
/// # Source
/// Abramowitz & Stegun (1964), Handbook of Mathematical Functions, formula 26.2.23.
pub fn normal_quantile(p: f64) -> f64 {
    let tail = p.min(1.0 - p).max(1e-300);
    let t = (-2.0 * tail.ln()).sqrt();
    let x = t - (2.515_517 + t * (0.802_853 + t * 0.010_328)) / (1.0 + t * (1.432_788 + t * (0.189_269 + t * 0.001_308)));
    if p < 0.5 { -x } else { x }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_rounded_zero_has_no_sign() {
        assert_eq!(fixed(-0.004, 2), "0.00");
        assert_eq!(fixed(-1.26, 1), "−1.3");
    }

    #[test]
    fn decimals_show_two_figures_of_the_half_width() {
        assert_eq!(decimals_for(&mut [0.63]), 2);
        assert_eq!(decimals_for(&mut [6.3]), 1);
        assert_eq!(decimals_for(&mut [63.0]), 0);
        assert_eq!(decimals_for(&mut []), 1);
    }

    /// 97.5 % point of the standard normal: 1.959964 (any printed table).
    #[test]
    fn the_975th_part_in_a_thousand_lies_at_1_96() {
        assert!((normal_quantile(0.975) - 1.959_964).abs() < 4.5e-4);
        assert!((normal_quantile(0.025) + 1.959_964).abs() < 4.5e-4);
        assert!(normal_quantile(0.5).abs() < 1e-3);
    }
}
