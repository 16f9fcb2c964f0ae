//! Seeded random numbers, one independent stream a purpose: leaving the climate out of a season moves
//! no digit of its harvest.
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};
use std::f64::consts::TAU;

/// One stream of random numbers.
pub struct Chance(ChaCha8Rng);

impl Chance {
    /// The stream of `purpose` (any text that is used once) under `seed`.
    pub fn of(seed: u64, purpose: &str) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        rng.set_stream(fnv1a(purpose));
        Chance(rng)
    }

    /// Uniform on [0, 1).
    pub fn uniform(&mut self) -> f64 {
        (self.0.next_u64() >> 11) as f64 / (1u64 << 53) as f64
    }

    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.uniform()
    }

    /// Normal with mean 0 and this standard deviation (Box & Muller 1958, Ann. Math. Stat. 29:610–611).
    pub fn normal(&mut self, sd: f64) -> f64 {
        let radius = (-2.0 * (1.0 - self.uniform()).ln()).sqrt();
        sd * radius * (TAU * self.uniform()).cos()
    }

    /// A number of events of this mean (Knuth's product of uniforms, in pieces).
    pub fn poisson(&mut self, mean: f64) -> u32 {
        let (mut left, mut count) = (mean, 0);
        while left > 0.0 {
            let piece = left.min(30.0);
            let (least, mut product) = ((-piece).exp(), self.uniform());
            while product > least {
                count += 1;
                product *= self.uniform();
            }
            left -= piece;
        }
        count
    }

    /// True with this probability.
    pub fn happens(&mut self, probability: f64) -> bool {
        self.uniform() < probability
    }

    /// A whole number below `n` (0 for `n` = 0).
    pub fn below(&mut self, n: usize) -> usize {
        ((self.uniform() * n as f64) as usize).min(n.saturating_sub(1))
    }

    /// Fisher–Yates.
    pub fn shuffle<T>(&mut self, items: &mut [T]) {
        for i in (1..items.len()).rev() {
            items.swap(i, self.below(i + 1));
        }
    }
}

/// FNV-1a, 64 bits: a stable number for a text.
fn fnv1a(text: &str) -> u64 {
    text.bytes().fold(0xcbf2_9ce4_8422_2325, |h, b| (h ^ u64::from(b)).wrapping_mul(0x0100_0000_01b3))
}
