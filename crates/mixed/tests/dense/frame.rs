//! The rows used, the fixed effects in sum-to-zero coding with covariates as measured, and the weights of
//! adjusted means and effects.

use std::collections::BTreeMap;

use crosshouse_mixed::{Column, Columns, Compare, Levels, Model, Weights};

use super::covariance::Term;
use super::matrix::{Table, complement, dot, span, turned, unit};

/// The complete rows of a table.
pub struct Frame<'m> {
    pub model: &'m Model,
    /// Levels that occur, and the level of each row.
    pub factors: BTreeMap<String, (Vec<String>, Vec<usize>)>,
    pub numbers: BTreeMap<String, Vec<f64>>,
    /// X with all its columns.
    pub x: Table,
    /// The columns that depend on no earlier one.
    pub kept: Vec<usize>,
    /// An orthonormal basis of X's row space.
    row_space: Table,
}

impl<'m> Frame<'m> {
    /// The drawn tables miss nothing but responses.
    pub fn new(model: &'m Model, table: &Columns) -> Self {
        let Some(Column::Numbers(response)) = table.get(&model.response) else { panic!("a numeric response") };
        let rows: Vec<usize> = (0..table.rows()).filter(|row| !response[*row].is_nan()).collect();
        let mut frame =
            Self { model, factors: BTreeMap::new(), numbers: BTreeMap::new(), x: Vec::new(), kept: Vec::new(), row_space: Vec::new() };
        for name in table.names() {
            match table.get(name).unwrap() {
                Column::Numbers(values) => {
                    frame.numbers.insert(name.to_owned(), rows.iter().map(|row| values[*row]).collect());
                }
                Column::Categories(column) => {
                    let texts: Vec<&String> = rows.iter().map(|row| &column.levels()[column.codes()[*row].unwrap() as usize]).collect();
                    let mut levels: Vec<String> = texts.iter().map(|text| (*text).clone()).collect();
                    levels.sort();
                    levels.dedup();
                    let codes = texts.iter().map(|text| levels.binary_search(text).unwrap()).collect();
                    frame.factors.insert(name.to_owned(), (levels, codes));
                }
            }
        }
        frame.x = (0..rows.len()).map(|row| frame.coded(&|name| frame.factors[name].1[row], &|name| frame.numbers[name][row])).collect();
        frame.kept = span(&turned(&frame.x)).1;
        frame.row_space = span(&frame.x).0;
        frame
    }

    pub fn rows(&self) -> usize {
        self.numbers[&self.model.response].len()
    }

    pub fn y(&self) -> &[f64] {
        &self.numbers[&self.model.response]
    }

    /// X's independent columns.
    pub fn x_kept(&self) -> Table {
        self.x.iter().map(|row| self.kept_of(row)).collect()
    }

    pub fn kept_of(&self, whole: &[f64]) -> Vec<f64> {
        self.kept.iter().map(|column| whole[*column]).collect()
    }

    pub fn product(&self, covariates: &[String]) -> Vec<f64> {
        (0..self.rows()).map(|row| covariates.iter().map(|name| self.numbers[name][row]).product()).collect()
    }

    pub fn term(&self, group: &[String], z: Vec<Vec<f64>>) -> Term {
        Term { codes: self.combined(group).0, coefficients: z.len(), z }
    }

    /// The combinations of some categories that occur, in the order of their levels.
    pub fn combined(&self, names: &[String]) -> (Vec<usize>, usize) {
        let key = |row: usize| names.iter().map(|name| self.factors[name].1[row]).collect::<Vec<_>>();
        let mut all: Vec<Vec<usize>> = (0..self.rows()).map(key).collect();
        all.sort();
        all.dedup();
        ((0..self.rows()).map(|row| all.binary_search(&key(row)).unwrap()).collect(), all.len())
    }

    /// A row of X. Where columns of an interaction depend on one another, the restricted likelihood depends on
    /// which go: names in alphabetical order, the first running fastest.
    fn coded(&self, level: &dyn Fn(&str) -> usize, value: &dyn Fn(&str) -> f64) -> Vec<f64> {
        let mut row = vec![1.0];
        for effect in &self.model.effects {
            let mut names = effect.clone();
            names.sort();
            let mut columns = vec![1.0];
            for name in &names {
                columns = match self.factors.get(name) {
                    Some((levels, _)) => {
                        let codes = sum_to_zero(level(name), levels.len());
                        codes.iter().flat_map(|code| columns.iter().map(move |x| x * code)).collect()
                    }
                    None => columns.iter().map(|x| x * value(name)).collect(),
                };
            }
            row.extend(columns);
        }
        row
    }

    /// The columns of each effect, the overall mean's left out.
    pub fn columns_of_effects(&self) -> Vec<std::ops::Range<usize>> {
        let mut start = 1;
        let size = |name: &String| self.factors.get(name).map_or(1, |(levels, _)| levels.len() - 1);
        let mut range = |effect: &Vec<String>| {
            let from = start;
            start += effect.iter().map(size).product::<usize>();
            from..start
        };
        self.model.effects.iter().map(&mut range).collect()
    }

    /// Whether a combination of the effects is one of rows of X.
    pub fn is_estimable(&self, l: &[f64]) -> bool {
        let inside: f64 = self.row_space.iter().map(|b| dot(b, l).powi(2)).sum();
        dot(l, l) - inside < 1e-8 * dot(l, l)
    }

    /// The weights of an adjusted mean: the average of X over the categories not named, covariates at their mean.
    pub fn mean(&self, compare: &Compare, of: &Levels, within: &Levels) -> Vec<f64> {
        let named = |name: &str| of.get(name).or(within.get(name));
        let in_effects = |name: &&String| self.model.effects.iter().any(|effect| effect.contains(name));
        let others: Vec<&String> = self.factors.keys().filter(in_effects).filter(|name| named(name).is_none()).collect();
        let mut settings: Vec<Vec<usize>> = vec![Vec::new()];
        if compare.weights == Weights::Observed {
            settings = (0..self.rows()).map(|row| others.iter().map(|name| self.factors[*name].1[row]).collect()).collect();
        } else {
            for name in &others {
                let levels = self.factors[*name].0.len();
                settings = settings.iter().flat_map(|s| (0..levels).map(move |l| [s.clone(), vec![l]].concat())).collect();
            }
        }
        let mut total = vec![0.0; self.x[0].len()];
        for setting in &settings {
            let level = |name: &str| match named(name) {
                Some(text) => self.factors[name].0.iter().position(|level| level == text).unwrap(),
                None => setting[others.iter().position(|other| *other == name).unwrap()],
            };
            let middle = |name: &str| self.numbers[name].iter().sum::<f64>() / self.rows() as f64;
            total.iter_mut().zip(self.coded(&level, &middle)).for_each(|(t, x)| *t += x / settings.len() as f64);
        }
        total
    }

    /// The contrasts on which an effect is tested, an orthonormal basis of them where not all can be estimated;
    /// empty where it cannot be tested.
    pub fn contrasts(&self, index: usize) -> Table {
        let columns = self.columns_of_effects()[index].clone();
        let size = self.x[0].len();
        let units: Table = columns.clone().map(|column| unit(size, column)).collect();
        if units.iter().all(|l| self.is_estimable(l)) {
            return units;
        }
        let own = &self.model.effects[index];
        let is_larger = |other: &Vec<String>| other.len() > own.len() && own.iter().all(|name| other.contains(name));
        if self.model.effects.iter().any(is_larger) {
            return Vec::new();
        }
        // Those combinations of the effect's own columns that are orthogonal to every direction X cannot see.
        let unseen = complement(&self.row_space, size);
        let reach: Table = unseen.iter().map(|direction| direction[columns.clone()].to_vec()).collect();
        let reach = reach.into_iter().filter(|r| dot(r, r) > 1e-12).collect::<Table>();
        let free = complement(&span(&reach).0, columns.len());
        let whole = |w: &Vec<f64>| {
            let mut l = vec![0.0; size];
            l[columns.clone()].copy_from_slice(w);
            l
        };
        free.iter().map(whole).collect()
    }
}

fn sum_to_zero(level: usize, levels: usize) -> Vec<f64> {
    let code = |contrast: usize| if level + 1 == levels { -1.0 } else { f64::from(u8::from(level == contrast)) };
    (0..levels - 1).map(code).collect()
}
