//! Components of equal Z′KZ share one pattern: what is factored for one serves all.

use std::collections::BTreeMap;

use super::sums::{Component, Sorted};

/// Above this size a component's Z′KZ is not compared with others.
const COMPARED_UP_TO: usize = 1000;

impl Sorted {
    /// Numbers the patterns and tells each component its own.
    pub(super) fn find_patterns(&mut self) {
        let mut seen: BTreeMap<u64, Vec<usize>> = BTreeMap::new();
        for index in 0..self.components.len() {
            let component = &self.components[index];
            let like = seen.entry(fingerprint(component)).or_default();
            let known = like.iter().copied().find(|pattern| is_alike(component, &self.components[self.patterns[*pattern].0]));
            let pattern = known.unwrap_or_else(|| {
                like.push(self.patterns.len());
                self.patterns.push((index, 0));
                self.patterns.len() - 1
            });
            self.patterns[pattern].1 += 1;
            self.components[index].pattern = pattern;
        }
    }
}

/// Everything that makes two components one pattern.
fn traits(component: &Component) -> impl Iterator<Item = u64> + '_ {
    let blocks = component.blocks.iter().map(|block| block.len as u64);
    let sums = component.classes.iter().zip(&component.sums);
    blocks.chain(sums.flat_map(|(class, sums)| std::iter::once(*class as u64).chain(sums.zz.bits())))
}

fn is_alike(one: &Component, other: &Component) -> bool {
    one.random() <= COMPARED_UP_TO && other.random() <= COMPARED_UP_TO && traits(one).eq(traits(other))
}

/// Equal for components of one pattern, different for most others.
fn fingerprint(component: &Component) -> u64 {
    if component.random() > COMPARED_UP_TO {
        return 0;
    }
    // Multiplier from Knuth, MMIX.
    traits(component).fold(0, |hash: u64, bits| (hash.rotate_left(23) ^ bits).wrapping_mul(6_364_136_223_846_793_005))
}
