//! Rank of a table of zeros and ones, exactly: by elimination modulo the prime 2⁶¹ − 1.

const PRIME: u64 = (1 << 61) - 1;

fn times(a: u64, b: u64) -> u64 {
    ((u128::from(a) * u128::from(b)) % u128::from(PRIME)) as u64
}

fn power(base: u64, mut exponent: u64) -> u64 {
    let (mut square, mut result) = (base, 1);
    while exponent > 0 {
        if exponent & 1 == 1 {
            result = times(result, square);
        }
        square = times(square, square);
        exponent >>= 1;
    }
    result
}

/// Vectors seen so far, reduced: each has its first entry at a place of its own.
#[derive(Debug, Clone, Default)]
pub struct Span {
    rows: Vec<(usize, Vec<u64>)>,
}

impl Span {
    pub fn rank(&self) -> usize {
        self.rows.len()
    }

    /// Adds the indicator columns of a classification of the records.
    pub fn add_classes<K: Ord>(&mut self, classes: &[K]) {
        let mut keys: Vec<&K> = classes.iter().collect();
        keys.sort_unstable();
        keys.dedup();
        for key in keys {
            self.add(classes.iter().map(|k| u64::from(k == key)).collect());
        }
    }

    fn add(&mut self, mut vector: Vec<u64>) {
        for (at, row) in &self.rows {
            let factor = vector.get(*at).copied().unwrap_or(0);
            if factor != 0 {
                let taken = PRIME - factor;
                vector.iter_mut().zip(row).for_each(|(v, r)| *v = (*v + times(taken, *r)) % PRIME);
            }
        }
        if let Some((at, first)) = vector.iter().copied().enumerate().find(|(_, v)| *v != 0) {
            let inverse = power(first, PRIME - 2);
            vector.iter_mut().for_each(|v| *v = times(*v, inverse));
            self.rows.push((at, vector));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_and_columns_of_a_square_span_one_less_than_their_number() {
        let cells: Vec<(u8, u8)> = (0..4).flat_map(|r| (0..3).map(move |c| (r, c))).collect();
        let mut span = Span::default();
        span.add_classes(&cells.iter().map(|c| c.0).collect::<Vec<_>>());
        assert_eq!(span.rank(), 4);
        span.add_classes(&cells.iter().map(|c| c.1).collect::<Vec<_>>());
        assert_eq!(span.rank(), 6);
        span.add_classes(&cells);
        assert_eq!(span.rank(), 12);
    }
}
