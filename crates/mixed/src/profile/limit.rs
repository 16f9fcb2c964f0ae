//! Where the profile has fallen by a given drop.
//!
//! METHOD: Newton's steps on the root of twice the fall, whose slope the held parameter's own derivative gives,
//! kept inside the bracket found so far. Random variances move as standard deviations, which pass through zero
//! smoothly; residual variances as logarithms; correlations by their inverse hyperbolic tangent.

use super::climb::{Best, climb};
use super::space::Space;
use crate::freedom::{Natural, jacobian};
use crate::likelihood::{Likelihood, Point};
use crate::linear::dot;

/// Which limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// The lower.
    Low,
    /// The upper.
    High,
}

/// The profile around the best point.
pub struct Profile<'l> {
    /// The likelihood, filled with the response.
    pub likelihood: &'l Likelihood<'l>,
    /// Where it is highest, in absolute units.
    pub top: Point,
    value: f64,
    drop: f64,
}

/// Refits allowed for one limit.
const REFITS: usize = 40;

/// A limit is found when twice the fall is this close to what is asked.
const CLOSE: f64 = 1e-9;

/// Where a correlation counts as ±1, as its inverse hyperbolic tangent.
const ONE: f64 = 7.0;

/// A standard deviation beyond this multiple of the response's spread, or a log-variance beyond this below it, is no limit.
const ENDLESS: f64 = 1e4;

impl<'l> Profile<'l> {
    /// The profile whose best point is `top`; `drop`: twice the fall asked for.
    pub fn new(likelihood: &'l Likelihood<'l>, top: Point, drop: f64) -> Option<Self> {
        // With a value held where it is, the best beside it is the top itself.
        let held = Natural::Stratum(0);
        let (space, start) = Space::new(likelihood.design, &top, held, top.strata[0]);
        let best = climb(likelihood, &space, &start)?;
        Some(Self { likelihood, top, value: best.value, drop })
    }

    /// A limit of a parameter in absolute units: `Some(None)` where there is none on that side, `None` where the
    /// profile cannot be followed.
    pub fn limit(&self, parameter: Natural, side: Side) -> Option<Option<f64>> {
        let scale = Scale::of(parameter);
        let from = scale.inward(value(&self.top, parameter));
        let (low, high) = scale.range();
        if side == Side::Low && from <= low || side == Side::High && from >= high {
            return Some(Some(scale.edge(if side == Side::Low { low } else { high })));
        }
        let bound = if side == Side::Low { low } else { high };
        if scale.has_edge(side) {
            let best = self.best(parameter, scale.edge(bound), &self.top);
            if best.as_ref().is_some_and(|best| self.fall(best) <= self.drop) {
                return Some(Some(scale.edge(bound)));
            }
        }
        self.seek(parameter, scale, from, bound)
    }

    /// Twice the fall at the best point beside a held value.
    fn fall(&self, best: &Best) -> f64 {
        2.0 * (self.value - best.value)
    }

    fn best(&self, parameter: Natural, at: f64, near: &Point) -> Option<Best> {
        let (space, start) = Space::new(self.likelihood.design, near, parameter, at);
        climb(self.likelihood, &space, &start)
    }

    fn seek(&self, parameter: Natural, scale: Scale, from: f64, bound: f64) -> Option<Option<f64>> {
        let sign = (bound - from).signum();
        let target = self.drop.sqrt();
        // Distances from the top, and the roots of twice the fall there.
        let mut inside = (0.0, 0.0);
        let mut outside: Option<(f64, f64)> = None;
        let mut near = self.top.clone();
        let mut distance = scale.first_step(from, &self.top);
        let last = (bound - from).abs();
        for _ in 0..REFITS {
            distance = distance.min(last);
            let at = scale.outward(from + sign * distance);
            let Some(mut best) = self.best(parameter, at, &near) else {
                outside = Some((distance, f64::INFINITY));
                distance = 0.5 * (inside.0 + distance);
                continue;
            };
            if self.is_found(&best) {
                // The last point's neighbourhood may have led to a lower top than the best point's own does.
                match self.best(parameter, at, &self.top).filter(|other| self.fall(other) < self.fall(&best)) {
                    Some(other) => best = other,
                    None => return Some(Some(at)),
                }
                if self.is_found(&best) {
                    return Some(Some(at));
                }
            }
            let fall = self.fall(&best).max(0.0);
            let zeta = fall.sqrt();
            if zeta < target && distance >= last {
                return Some(scale.has_edge(if sign < 0.0 { Side::Low } else { Side::High }).then(|| scale.edge(bound)));
            }
            if zeta < target {
                inside = (distance, zeta)
            } else {
                outside = Some((distance, zeta))
            }
            let slope = -self.slope(parameter, &best) * scale.slope(from + sign * distance) * sign / zeta;
            near = best.point;
            distance = next(distance, (target - zeta) / slope, target, inside, outside);
            if outside.is_some_and(|outside| outside.0 - inside.0 <= 1e-13 * (from.abs() + outside.0)) {
                return Some(Some(scale.outward(from + sign * distance)));
            }
        }
        None
    }

    fn is_found(&self, best: &Best) -> bool {
        (self.fall(best) - self.drop).abs() < CLOSE * self.drop
    }

    /// The derivative of the profile by the parameter.
    fn slope(&self, parameter: Natural, best: &Best) -> f64 {
        dot(jacobian(&best.point, &self.likelihood.elements, &[parameter]).col(0), &best.gradient)
    }
}

/// The next distance to try: Newton's where it lies in the bracket, else the chord's, else the middle.
fn next(distance: f64, newton: f64, target: f64, inside: (f64, f64), outside: Option<(f64, f64)>) -> f64 {
    let by_newton = distance + newton;
    match outside {
        None if by_newton.is_finite() && by_newton > distance => by_newton.min(4.0 * distance),
        None => 3.0 * distance,
        Some(outside) => {
            let width = outside.0 - inside.0;
            let fits = |d: f64| d > inside.0 + 1e-3 * width.min(1e-3) && d < outside.0 - 1e-3 * width.min(1e-3);
            let chord = inside.0 + width * (target - inside.1) / (outside.1 - inside.1);
            [by_newton, chord].into_iter().find(|d| d.is_finite() && fits(*d)).unwrap_or(inside.0 + 0.5 * width)
        }
    }
}

/// The value of a parameter at a point.
fn value(point: &Point, parameter: Natural) -> f64 {
    match parameter {
        Natural::Variance { term, a } => point.sigma[term][(a, a)],
        Natural::Correlation { term, a, b } => {
            let sigma = &point.sigma[term];
            (sigma[(a, b)] / (sigma[(a, a)] * sigma[(b, b)]).sqrt()).clamp(-1.0, 1.0)
        }
        Natural::Stratum(stratum) => point.strata[stratum],
        Natural::Rho => point.rho,
    }
}

/// The scale on which a limit is sought.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Scale {
    Root,
    Log,
    Tanh,
    /// An autocorrelation: as a correlation, but one is out of reach.
    OpenTanh,
}

impl Scale {
    fn of(parameter: Natural) -> Self {
        match parameter {
            Natural::Variance { .. } => Self::Root,
            Natural::Stratum(_) => Self::Log,
            Natural::Correlation { .. } => Self::Tanh,
            Natural::Rho => Self::OpenTanh,
        }
    }

    fn inward(self, value: f64) -> f64 {
        match self {
            Self::Root => value.sqrt(),
            Self::Log => value.ln(),
            Self::Tanh | Self::OpenTanh => value.atanh().clamp(-ONE, ONE),
        }
    }

    fn outward(self, x: f64) -> f64 {
        match self {
            Self::Root => x * x,
            Self::Log => x.exp(),
            Self::Tanh | Self::OpenTanh => x.tanh(),
        }
    }

    fn slope(self, x: f64) -> f64 {
        match self {
            Self::Root => 2.0 * x,
            Self::Log => x.exp(),
            Self::Tanh | Self::OpenTanh => 1.0 - x.tanh().powi(2),
        }
    }

    fn range(self) -> (f64, f64) {
        match self {
            Self::Root => (0.0, ENDLESS),
            Self::Log => (-60.0, 60.0),
            Self::Tanh | Self::OpenTanh => (-ONE, ONE),
        }
    }

    /// Whether the end of the range is itself a value to try.
    fn has_edge(self, side: Side) -> bool {
        match self {
            Self::Root => side == Side::Low,
            Self::Tanh | Self::OpenTanh => true,
            Self::Log => false,
        }
    }

    /// The value that the end of the range stands for.
    fn edge(self, bound: f64) -> f64 {
        match self {
            Self::Tanh => bound.signum(),
            _ => self.outward(bound),
        }
    }

    fn first_step(self, from: f64, top: &Point) -> f64 {
        match self {
            Self::Root => 0.3 * from + 0.1 * top.strata.iter().fold(0.0_f64, |most, v| most.max(*v)).sqrt(),
            _ => 0.3,
        }
    }
}
