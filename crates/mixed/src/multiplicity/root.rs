//! The point where a falling tail passes a given probability.

/// The x ≥ 0 with `tail(x) = alpha`, for a tail that falls from 1 to 0.
///
/// `low` and `high` are guesses of two points around x; they are moved apart until they
/// enclose it. The search is on ln tail, where tails are nearly straight, and stops at a
/// relative width of 1e-13.
///
/// # Source
/// Chandrupatla (1997), Advances in Engineering Software 28:145–149.
pub(super) fn falling_root(tail: impl Fn(f64) -> f64, alpha: f64, low: f64, high: f64) -> f64 {
    let excess = |x: f64| (tail(x) / alpha).ln();
    let (mut a, mut b) = (low.max(f64::MIN_POSITIVE), high.max(f64::MIN_POSITIVE));
    let (mut at_a, mut at_b) = (excess(a), excess(b));
    let mut step = 1e-6;
    while at_a < 0.0 && a > 1e-300 {
        a *= 1.0 - step;
        at_a = excess(a);
        step = f64::min(0.9, 8.0 * step);
    }
    step = 1e-6;
    while at_b > 0.0 && b < 1e300 {
        b *= 1.0 + step;
        at_b = excess(b);
        step = f64::min(1.0, 8.0 * step);
    }
    enclosed_root(excess, (a, at_a), (b, at_b))
}

/// As [`falling_root`], from a point near the root and the slope of ln tail there, both rough.
///
/// The secant rule converges in a few steps; where it does not, the enclosing search takes over.
pub(super) fn falling_root_near(tail: impl Fn(f64) -> f64, alpha: f64, start: f64, slope: f64) -> f64 {
    let excess = |x: f64| (tail(x) / alpha).ln();
    let (mut x, mut here) = (start, excess(start));
    let mut step = -here / slope;
    for _ in 0..12 {
        // The next step would be about the product of the last two.
        let next = x + step;
        if !(next.is_finite() && next > 0.0) {
            break;
        }
        let there = excess(next);
        let secant = -there * step / (there - here);
        if there == 0.0 || secant.abs() <= 1e-16 * next {
            return next;
        }
        if secant.abs() * step.abs() <= 1e-14 * next * next && secant.abs() < 1e-2 * step.abs() {
            return next + secant;
        }
        (x, here, step) = (next, there, secant);
    }
    falling_root(tail, alpha, start, 1.1 * start)
}

/// Chandrupatla's root search between two points whose values differ in sign.
fn enclosed_root(f: impl Fn(f64) -> f64, first: (f64, f64), second: (f64, f64)) -> f64 {
    let ((mut a, mut fa), (mut b, mut fb)) = (first, second);
    let mut t = 0.5;
    for _ in 0..200 {
        let x = a + t * (b - a);
        let fx = f(x);
        let (c, fc);
        if (fx > 0.0) == (fa > 0.0) {
            (c, fc) = (a, fa);
        } else {
            (c, fc) = (b, fb);
            (b, fb) = (a, fa);
        }
        (a, fa) = (x, fx);
        let (best, at_best) = if fa.abs() < fb.abs() { (a, fa) } else { (b, fb) };
        let width = 1e-13 * best.abs() / (b - a).abs();
        if width > 0.5 || at_best == 0.0 || !at_best.is_finite() {
            return best;
        }
        t = next_fraction((a, fa), (b, fb), (c, fc)).clamp(width, 1.0 - width);
    }
    a
}

/// Where to look next, as a fraction of the way from `a` to `b`: inverse quadratic
/// interpolation where the three points allow it, else the middle.
fn next_fraction((a, fa): (f64, f64), (b, fb): (f64, f64), (c, fc): (f64, f64)) -> f64 {
    let xi = (a - b) / (c - b);
    let phi = (fa - fb) / (fc - fb);
    if !(phi * phi < xi && (1.0 - phi) * (1.0 - phi) < 1.0 - xi) {
        return 0.5;
    }
    fa / (fb - fa) * fc / (fb - fc) + (c - a) / (b - a) * fa / (fc - fa) * fb / (fc - fb)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_exponential_tail_is_inverted_to_twelve_digits() {
        for alpha in [0.9, 0.05, 1e-8] {
            let root = falling_root(|x| (-x).exp(), alpha, 1e-3, 1.0);
            assert!((root / -f64::ln(alpha) - 1.0).abs() < 1e-12);
        }
    }

    #[test]
    fn a_rough_start_and_a_wrong_one_end_at_the_root() {
        for (start, slope) in [(2.9, -1.1), (2.0, -0.5), (400.0, -1.0), (1e-3, 1.0)] {
            let root = falling_root_near(|x| (-x * x / 3.0).exp(), 0.05, start, slope);
            assert!((root / (-3.0 * f64::ln(0.05)).sqrt() - 1.0).abs() < 1e-12, "{start} {slope}: {root}");
        }
    }

    #[test]
    fn wrong_guesses_are_moved_until_they_enclose_the_root() {
        let root = falling_root(|x| 1.0 / (1.0 + x), 0.01, 500.0, 501.0);
        assert!((root - 99.0).abs() < 1e-9);
    }
}
