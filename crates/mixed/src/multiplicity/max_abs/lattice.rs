//! Fixed, evenly spread directions in any number of dimensions.

use std::f64::consts::PI;

/// Sizes of the lattice rules, each about twice as fine as the one before, and their
/// generators for 2, 3, 4, up to 6, up to 9 and more coordinates.
///
/// Points are (k·aʲ/n + shift) mod 1 in coordinate j. Each `a` has the least mean square
/// error (the P₂ criterion) among the generators tried, all of them up to n = 4093.
///
/// # Source
/// Korobov's rule: Sloan & Joe (1994), Lattice Methods for Multiple Integration, Oxford;
/// shifts: Cranley & Patterson (1976), SIAM Journal on Numerical Analysis 13:904–914.
const GENERATORS: [(u64, [u64; 6]); 11] = [
    (17, [7, 3, 5, 5, 7, 7]),
    (31, [12, 14, 7, 7, 7, 7]),
    (61, [17, 21, 21, 16, 19, 10]),
    (127, [29, 26, 36, 57, 56, 18]),
    (251, [104, 19, 44, 19, 71, 37]),
    (509, [209, 220, 193, 54, 132, 129]),
    (1021, [374, 94, 223, 467, 331, 288]),
    (2039, [790, 653, 182, 59, 42, 172]),
    (4093, [1715, 806, 162, 861, 1692, 1570]),
    (8191, [3386, 3902, 3842, 743, 3788, 566]),
    (16381, [6789, 6943, 2994, 4622, 6030, 5073]),
];

/// `(n, a)` of the rules in this many coordinates, from coarse to fine.
pub(super) fn rules(dimensions: usize) -> impl Iterator<Item = (u64, u64)> {
    let column = match dimensions {
        0..=2 => 0,
        3 => 1,
        4 => 2,
        5 | 6 => 3,
        7..=9 => 4,
        _ => 5,
    };
    GENERATORS.iter().map(move |(size, generators)| (*size, generators[column]))
}

/// The points of one shifted lattice in `dimensions` coordinates, each in [0, 1), handed
/// to `visit` one after another.
pub(super) fn points((size, generator): (u64, u64), dimensions: usize, shift_seed: u64, mut visit: impl FnMut(&[f64])) {
    let shifts = shifts(dimensions, shift_seed);
    let steps: Vec<u64> = std::iter::successors(Some(1), |step| Some(step * generator % size)).take(dimensions).collect();
    let mut place = vec![0; dimensions];
    let mut point = vec![0.0; dimensions];
    for _ in 0..size {
        for (((x, at), step), shift) in point.iter_mut().zip(&mut place).zip(&steps).zip(&shifts) {
            *x = (*at as f64 / size as f64 + shift).fract();
            *at = (*at + step) % size;
        }
        visit(&point);
    }
}

/// Numbers in [0, 1) from the SplitMix64 sequence of the seed: the shifts are fixed once for all.
///
/// # Source
/// Steele, Lea & Flood (2014), OOPSLA '14, 453–472.
fn shifts(dimensions: usize, seed: u64) -> Vec<f64> {
    let mut state = seed.wrapping_mul(0x9e37_79b9_7f4a_7c15);
    let mut next = || {
        state = state.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = state;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    };
    (0..dimensions).map(|_| next()).collect()
}

/// Turns a point of the unit cube in `direction.len() − 1` coordinates into a direction,
/// evenly over all directions.
///
/// The squared lengths of successive pairs of coordinates divide 1 by breaking off shares
/// 1 − u^{1/k}, and each pair has a free angle; an odd last triple is a point of the
/// ordinary sphere. Shares are folded (u → |2u − 1|) so that the lattice meets no jump.
///
/// # Source
/// Fang & Wang (1994), Number-theoretic Methods in Statistics, Chapman & Hall, section 1.5.
pub(super) fn direction(point: &[f64], direction: &mut [f64]) {
    let rank = direction.len();
    let mut rest = 1.0_f64;
    let mut coordinates = point.iter().copied();
    let mut next = || coordinates.next().unwrap_or(0.5);
    let mut left = direction;
    let mut remaining = rank;
    while let [first, second, others @ ..] = left {
        let share = match remaining {
            2 => rest,
            3 => {
                let height = 2.0 * folded(next()) - 1.0;
                if let [third] = others {
                    *third = rest.sqrt() * height;
                }
                rest * (1.0 - height * height)
            }
            _ => rest * (1.0 - folded(next()).powf(2.0 / (remaining as f64 - 2.0))),
        };
        let (sine, cosine) = (2.0 * PI * next()).sin_cos();
        *first = share.sqrt() * cosine;
        *second = share.sqrt() * sine;
        if remaining <= 3 {
            return;
        }
        rest -= share;
        remaining -= 2;
        left = others;
    }
}

fn folded(u: f64) -> f64 {
    (2.0 * u - 1.0).abs()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn directions_have_length_one_and_even_moments() {
        for rank in 2..9 {
            let (mut second, mut fourth) = (0.0, 0.0);
            let mut u = vec![0.0; rank];
            let last = rank - 1;
            let rule = rules(rank - 1).nth(8).unwrap();
            points(rule, rank - 1, 1, |point| {
                direction(point, &mut u);
                assert!((u.iter().map(|x| x * x).sum::<f64>() - 1.0).abs() < 1e-12);
                second += u[last] * u[last] / 4093.0;
                fourth += u[0].powi(4) / 4093.0;
            });
            // E u² = 1/r and E u⁴ = 3/(r(r+2)) on the unit sphere of r dimensions.
            let r = rank as f64;
            assert!((second - 1.0 / r).abs() < 2e-4, "{rank}: {second}");
            assert!((fourth - 3.0 / (r * (r + 2.0))).abs() < 2e-4, "{rank}: {fourth}");
        }
    }

    #[test]
    fn the_same_seed_gives_the_same_points() {
        let gather = || {
            let mut all = Vec::new();
            points((1021, 94), 3, 7, |point| all.extend_from_slice(point));
            all
        };
        assert_eq!(gather(), gather());
        assert!(gather().iter().all(|x| (0.0..1.0).contains(x)));
    }
}
