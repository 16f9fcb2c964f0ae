//! Letters that say which means differ.

use std::cmp::Reverse;

/// Letter columns kept while inserting; beyond, the cover is built column by column, since
/// the number of largest groups can grow exponentially.
const MOST_COLUMNS: usize = 2000;

/// One text for each mean: two means share a letter just when their adjusted p is at
/// least 1 − `level`.
///
/// * `estimates`: the means; "a" belongs to the largest, the other letters follow in
///   falling order of the means (equal means in the order given)
/// * `p_adjusted(i, j)`: asked with i < j
/// * `level`: for example 0.95
///
/// With more than 26 letters every letter is written with two signs (aa, ab, …), or more,
/// and a blank stands between them. `None` where an estimate or a p value is missing: means
/// that cannot be compared have no letters.
///
/// # Source
/// Piepho (2004), Journal of Computational and Graphical Statistics 13:456–466: insert and
/// absorb, then sweep.
pub fn letters(estimates: &[f64], p_adjusted: impl Fn(usize, usize) -> Option<f64>, level: f64) -> Option<Vec<String>> {
    let order = falling_order(estimates)?;
    let differ = Differences::new(&order, p_adjusted, level)?;
    let columns = match insert_and_absorb(&differ) {
        Some(columns) => columns,
        None => greedy_cover(&differ),
    };
    let columns = swept(columns, order.len());
    Some(written(&columns, &order))
}

/// Indices of the means from the largest to the smallest.
fn falling_order(estimates: &[f64]) -> Option<Vec<usize>> {
    if estimates.iter().any(|estimate| !estimate.is_finite()) {
        return None;
    }
    let mut order: Vec<(usize, f64)> = estimates.iter().copied().enumerate().collect();
    order.sort_by(|a, b| b.1.total_cmp(&a.1));
    Some(order.into_iter().map(|(index, _)| index).collect())
}

/// Which means differ, by their rank among the means.
struct Differences {
    count: usize,
    differ: Vec<bool>,
}

impl Differences {
    fn new(order: &[usize], p_adjusted: impl Fn(usize, usize) -> Option<f64>, level: f64) -> Option<Self> {
        let count = order.len();
        let mut differ = vec![false; count * count];
        for (i, one) in order.iter().enumerate() {
            for (j, other) in order.iter().enumerate().skip(i + 1) {
                let p = p_adjusted(*one.min(other), *one.max(other))?;
                if p.is_nan() {
                    return None;
                }
                // Not p < 1 − level: 1 − 0.95 is a little more than 0.05.
                differ[i * count + j] = p + level < 1.0;
                differ[j * count + i] = p + level < 1.0;
            }
        }
        Some(Self { count, differ })
    }

    fn between(&self, one: usize, other: usize) -> bool {
        self.differ.get(one * self.count + other).is_some_and(|differ| *differ)
    }

    /// Pairs (i, j), i < j, that differ (or not).
    fn pairs(&self, differing: bool) -> impl Iterator<Item = (usize, usize)> {
        let all = (0..self.count).flat_map(move |i| (i + 1..self.count).map(move |j| (i, j)));
        all.filter(move |(i, j)| self.between(*i, *j) == differing)
    }
}

/// The means that have a letter, by rank, rising.
type Column = Vec<usize>;

/// Starts with one letter for all; for each differing pair, splits every letter that both
/// have into one without the first and one without the second, and drops what lies inside
/// another. `None` if the letters become too many.
fn insert_and_absorb(differ: &Differences) -> Option<Vec<Column>> {
    let mut columns: Vec<Column> = vec![(0..differ.count).collect()];
    for (i, j) in differ.pairs(true) {
        let (both, mut kept): (Vec<Column>, Vec<Column>) = columns.into_iter().partition(|column| has(column, i) && has(column, j));
        for column in both {
            absorb(&mut kept, without(&column, i));
            absorb(&mut kept, without(&column, j));
        }
        if kept.len() > MOST_COLUMNS {
            return None;
        }
        columns = kept;
    }
    Some(columns)
}

fn has(column: &Column, mean: usize) -> bool {
    column.binary_search(&mean).is_ok()
}

fn without(column: &Column, mean: usize) -> Column {
    column.iter().copied().filter(|other| *other != mean).collect()
}

/// Adds a column unless it lies inside one that is there; drops those inside it.
fn absorb(columns: &mut Vec<Column>, new: Column) {
    let inside = |one: &Column, other: &Column| one.iter().all(|mean| has(other, *mean));
    if columns.iter().any(|column| inside(&new, column)) {
        return;
    }
    columns.retain(|column| !inside(column, &new));
    columns.push(new);
}

/// A letter for each pair not yet joined, given to every further mean that differs from
/// none that has it.
fn greedy_cover(differ: &Differences) -> Vec<Column> {
    let alone = (0..differ.count).map(|mean| (mean, mean));
    let mut columns: Vec<Column> = Vec::new();
    for (i, j) in differ.pairs(false).chain(alone) {
        if columns.iter().any(|column| has(column, i) && has(column, j)) {
            continue;
        }
        let mut column = vec![i, j];
        for mean in 0..differ.count {
            if column.iter().all(|other| *other != mean && !differ.between(*other, mean)) {
                column.push(mean);
            }
        }
        column.sort_unstable();
        column.dedup();
        columns.push(column);
    }
    columns
}

/// Drops letters whose joins are all made by others: whole columns first, the smallest
/// first, then single entries. Columns come back in order of their means.
fn swept(mut columns: Vec<Column>, count: usize) -> Vec<Column> {
    columns.sort_by_key(|column| (column.len(), Reverse(column.clone())));
    let mut joins = Joins::of(&columns, count);
    columns.retain(|column| !joins.take_if_spare(column, column));
    for column in columns.iter_mut() {
        for mean in column.clone().into_iter().rev() {
            if joins.take_if_spare(&[mean], column) {
                column.retain(|other| *other != mean);
            }
        }
    }
    columns.sort();
    columns
}

/// How many columns join each pair of means; on the diagonal, how many have the mean.
struct Joins {
    count: usize,
    joins: Vec<usize>,
}

impl Joins {
    fn of(columns: &[Column], count: usize) -> Self {
        let mut joins = Self { count, joins: vec![0; count * count] };
        for column in columns {
            for (i, j) in pairs_of(column, column) {
                joins.joins[i * count + j] += 1;
            }
        }
        joins
    }

    /// If every join of `means` with `column` is made elsewhere too, takes them off.
    fn take_if_spare(&mut self, means: &[usize], column: &[usize]) -> bool {
        let spare = pairs_of(means, column).all(|(i, j)| self.joins[i * self.count + j] > 1);
        if spare {
            for (i, j) in pairs_of(means, column) {
                self.joins[i * self.count + j] -= 1;
                if !means.contains(&j) {
                    self.joins[j * self.count + i] -= 1;
                }
            }
        }
        spare
    }
}

fn pairs_of<'a>(means: &'a [usize], column: &'a [usize]) -> impl Iterator<Item = (usize, usize)> + 'a {
    means.iter().flat_map(move |i| column.iter().map(move |j| (*i, *j)))
}

/// The letters of each mean, in the order the means were given.
fn written(columns: &[Column], order: &[usize]) -> Vec<String> {
    let signs = signs_needed(columns.len());
    let between = if signs > 1 { " " } else { "" };
    let mut texts = vec![String::new(); order.len()];
    for (rank, index) in order.iter().enumerate() {
        let having = columns.iter().enumerate().filter(|(_, column)| has(column, rank));
        let own: Vec<String> = having.map(|(number, _)| letter(number, signs)).collect();
        if let Some(text) = texts.get_mut(*index) {
            *text = own.join(between);
        }
    }
    texts
}

fn signs_needed(columns: usize) -> usize {
    let mut signs = 1;
    let mut room = 26;
    while room < columns {
        room *= 26;
        signs += 1;
    }
    signs
}

/// The letter with this number, in `signs` signs: a, b, … or aa, ab, ….
fn letter(mut number: usize, signs: usize) -> String {
    let mut text = vec!['a'; signs];
    for sign in text.iter_mut().rev() {
        *sign = char::from(b'a' + (number % 26) as u8);
        number /= 26;
    }
    text.into_iter().collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn shares(one: &str, other: &str, signs: usize) -> bool {
        let parts = |text: &str| -> Vec<String> {
            if signs > 1 { text.split(' ').map(String::from).collect() } else { text.chars().map(String::from).collect() }
        };
        let others = parts(other);
        parts(one).iter().any(|letter| others.contains(letter))
    }

    fn from_matrix(estimates: &[f64], p: &[Vec<f64>], level: f64) -> Vec<String> {
        letters(estimates, |i, j| Some(p[i][j]), level).unwrap()
    }

    #[test]
    fn no_difference_gives_one_letter_to_all() {
        assert_eq!(letters(&[3.0, 1.0, 2.0], |_, _| Some(0.4), 0.95).unwrap(), ["a"; 3]);
    }

    #[test]
    fn all_different_means_are_lettered_from_the_largest() {
        assert_eq!(letters(&[1.0, 3.0, 2.0], |_, _| Some(0.001), 0.95).unwrap(), ["c", "a", "b"]);
    }

    #[test]
    fn neighbours_alike_and_ends_different_share_by_steps() {
        let p = |i: usize, j: usize| Some(if j - i == 1 { 0.3 } else { 0.01 });
        assert_eq!(letters(&[9.0, 7.0, 5.0, 3.0], p, 0.95).unwrap(), ["a", "ab", "bc", "c"]);
    }

    #[test]
    fn a_p_of_exactly_alpha_is_no_difference() {
        assert_eq!(letters(&[2.0, 1.0], |_, _| Some(0.05), 0.95).unwrap(), ["a", "a"]);
        assert_eq!(letters(&[2.0, 1.0], |_, _| Some(0.01), 0.99).unwrap(), ["a", "a"]);
        assert_eq!(letters(&[2.0, 1.0], |_, _| Some(0.0499), 0.95).unwrap(), ["a", "b"]);
    }

    #[test]
    fn a_pair_that_cannot_be_compared_leaves_no_letters() {
        let p = |i, j| if (i, j) == (0, 2) { None } else { Some(0.5) };
        assert!(letters(&[1.0, 2.0, 3.0], p, 0.95).is_none());
        assert!(letters(&[1.0, f64::NAN], |_, _| Some(0.5), 0.95).is_none());
        assert!(letters(&[1.0, 2.0], |_, _| Some(f64::NAN), 0.95).is_none());
    }

    #[test]
    fn one_mean_has_the_letter_a_and_none_has_none() {
        assert_eq!(letters(&[1.0], |_, _| None, 0.95).unwrap(), ["a"]);
        assert!(letters(&[], |_, _| None, 0.95).unwrap().is_empty());
    }

    #[test]
    fn more_than_26_letters_are_written_with_two_signs() {
        let estimates: Vec<f64> = (0..30).map(|i| -f64::from(i)).collect();
        let found = letters(&estimates, |_, _| Some(0.0), 0.95).unwrap();
        assert_eq!(found[0], "aa");
        assert_eq!(found[29], "bd");
        let steps = |i: usize, j: usize| Some(if j - i == 1 { 0.3 } else { 0.01 });
        assert_eq!(letters(&estimates, steps, 0.95).unwrap()[27], "ba bb");
    }

    /// Five means where a letter of three is spare once its pairs are joined elsewhere.
    #[test]
    fn a_letter_whose_pairs_are_joined_elsewhere_is_swept_away() {
        // The three middle triangles of a triangle divided in four: the inner one is spare.
        let alike = [(0, 1), (0, 2), (1, 2), (1, 3), (1, 4), (2, 4), (2, 5), (3, 4), (4, 5)];
        let p = |i, j| Some(if alike.contains(&(i, j)) { 0.5 } else { 0.001 });
        let found = letters(&[6.0, 5.0, 4.0, 3.0, 2.0, 1.0], p, 0.95).unwrap();
        assert_eq!(found, ["a", "ab", "ac", "b", "bc", "c"]);
    }

    #[test]
    fn a_family_with_very_many_groups_is_lettered_all_the_same() {
        // 24 means in pairs that differ, all else alike: 2¹² largest groups.
        let estimates: Vec<f64> = (0..24).map(|i| -f64::from(i)).collect();
        let p = |i: usize, j: usize| Some(if j == i + 1 && i.is_multiple_of(2) { 0.001 } else { 0.5 });
        let found = letters(&estimates, p, 0.95).unwrap();
        let signs = if found.iter().any(|text| text.contains(' ')) { 2 } else { 1 };
        for i in 0..24 {
            for j in i + 1..24 {
                let alike = p(i, j).unwrap() >= 0.05;
                assert_eq!(shares(&found[i], &found[j], signs), alike);
            }
        }
    }

    fn matrix() -> impl Strategy<Value = (Vec<f64>, Vec<Vec<f64>>)> {
        (1_usize..10).prop_flat_map(|count| {
            let p = proptest::collection::vec(0.0..0.12_f64, count);
            let estimates = proptest::collection::vec(-5.0..5.0_f64, count);
            (estimates, proptest::collection::vec(p, count))
        })
    }

    proptest! {
        #[test]
        fn two_means_share_a_letter_just_when_p_is_at_least_alpha((estimates, p) in matrix()) {
            let found = from_matrix(&estimates, &p, 0.95);
            let signs = if found.iter().any(|text| text.contains(' ')) { 2 } else { 1 };
            for i in 0..estimates.len() {
                prop_assert!(!found[i].is_empty());
                for j in i + 1..estimates.len() {
                    prop_assert_eq!(shares(&found[i], &found[j], signs), p[i][j] + 0.95 >= 1.0);
                }
            }
        }

        #[test]
        fn the_greedy_cover_says_the_same((estimates, p) in matrix()) {
            let order = falling_order(&estimates).unwrap();
            let differ = Differences::new(&order, |i, j| Some(p[i][j]), 0.95).unwrap();
            let columns = swept(greedy_cover(&differ), order.len());
            for i in 0..order.len() {
                prop_assert!(columns.iter().any(|column| has(column, i)));
                for j in i + 1..order.len() {
                    let joined = columns.iter().any(|c| has(c, i) && has(c, j));
                    prop_assert_eq!(joined, !differ.between(i, j));
                }
            }
        }

        #[test]
        fn a_belongs_to_the_largest_mean((estimates, p) in matrix()) {
            let found = from_matrix(&estimates, &p, 0.95);
            let largest = falling_order(&estimates).unwrap()[0];
            prop_assert!(found[largest].starts_with('a'));
        }

        #[test]
        fn the_order_in_which_means_are_given_does_not_matter((estimates, p) in matrix()) {
            let count = estimates.len();
            let found = from_matrix(&estimates, &p, 0.95);
            let turned: Vec<f64> = estimates.iter().rev().copied().collect();
            let again = letters(&turned, |i, j| Some(p[count - 1 - j][count - 1 - i]), 0.95).unwrap();
            let back: Vec<String> = again.into_iter().rev().collect();
            let mut distinct = estimates.clone();
            distinct.sort_by(f64::total_cmp);
            distinct.dedup();
            if distinct.len() == count {
                prop_assert_eq!(found, back);
            }
        }
    }
}
