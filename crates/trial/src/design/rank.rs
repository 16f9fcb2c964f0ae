//! Which contrasts the additive model (sites and levels of factors) can tell: rank of the incidence matrix.
//!
//! METHOD: the rank is taken over the integers modulo the prime 2⁶¹ − 1, so there is no tolerance. It could
//! differ from the true rank only if the prime divided a minor of a 0/1 matrix, which none of a trial's size does
//! but by an accident of odds 1 in 10¹⁸.

const PRIME: u64 = (1 << 61) - 1;

/// Rows of whole numbers in reduced form, to which further rows can be compared.
#[derive(Debug, Default)]
pub(super) struct RowSpace {
    /// Reduced rows with the column of their leading one.
    rows: Vec<(usize, Vec<u64>)>,
}

impl RowSpace {
    pub fn of<'r>(rows: impl IntoIterator<Item = &'r [i64]>) -> RowSpace {
        let mut space = RowSpace::default();
        for row in rows {
            space.add(row);
        }
        space
    }

    #[cfg(test)]
    pub fn rank(&self) -> usize {
        self.rows.len()
    }

    /// Whether `row` is a combination of the rows: for a contrast, whether it is estimable.
    pub fn holds(&self, row: &[i64]) -> bool {
        self.reduced(row).iter().all(|x| *x == 0)
    }

    fn add(&mut self, row: &[i64]) {
        let mut row = self.reduced(row);
        let Some((lead, value)) = row.iter().copied().enumerate().find(|(_, x)| *x != 0) else { return };
        let scale = inverse(value);
        row.iter_mut().for_each(|x| *x = times(*x, scale));
        self.rows.push((lead, row));
    }

    /// `row` less its combination of the rows held.
    fn reduced(&self, row: &[i64]) -> Vec<u64> {
        let mut left: Vec<u64> = row.iter().map(|x| x.rem_euclid(PRIME as i64) as u64).collect();
        for (lead, held) in &self.rows {
            let by = left.get(*lead).copied().unwrap_or(0);
            if by != 0 {
                left.iter_mut().zip(held).for_each(|(x, h)| *x = minus(*x, times(by, *h)));
            }
        }
        left
    }
}

fn times(a: u64, b: u64) -> u64 {
    ((u128::from(a) * u128::from(b)) % u128::from(PRIME)) as u64
}

fn minus(a: u64, b: u64) -> u64 {
    if a >= b { a - b } else { a + PRIME - b }
}

/// a⁻¹ = a^(p−2) by Fermat.
fn inverse(a: u64) -> u64 {
    let (mut base, mut power, mut out) = (a, PRIME - 2, 1);
    while power > 0 {
        if power & 1 == 1 {
            out = times(out, base);
        }
        base = times(base, base);
        power >>= 1;
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rank_of_small_matrices_is_exact() {
        let two_way: [&[i64]; 4] = [&[1, 0, 1, 0], &[1, 0, 0, 1], &[0, 1, 1, 0], &[0, 1, 0, 1]];
        assert_eq!(RowSpace::of(two_way).rank(), 3);
        let dependent: [&[i64]; 3] = [&[1, 2, 3], &[2, 4, 6], &[1, 0, -1]];
        assert_eq!(RowSpace::of(dependent).rank(), 2);
        assert_eq!(RowSpace::of([]).rank(), 0);
    }

    #[test]
    fn a_difference_within_a_connected_table_is_estimable_and_a_level_is_not() {
        let rows: [&[i64]; 3] = [&[1, 0, 1, 0], &[1, 0, 0, 1], &[0, 1, 1, 0]];
        let space = RowSpace::of(rows);
        assert!(space.holds(&[0, 0, 1, -1]) && space.holds(&[1, -1, 0, 0]));
        assert!(!space.holds(&[0, 0, 1, 0]));
    }
}
