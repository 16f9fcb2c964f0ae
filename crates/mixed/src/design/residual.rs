//! The residual's structure: strata with a variance each, series of autocorrelated records.

use std::collections::BTreeMap;

use super::random::combine;
use super::table::Table;
use crate::cannot_fit::CannotFit;
use crate::model::Model;
use crate::result::Levels;

/// One part of the residual's inverse covariance: a sum over records, or over successive records,
/// that is multiplied by one function of the variances and of ρ.
///
/// With r = ρᵍ for a gap g, a series has  e₁²/σ² + Σ (eⱼ₊₁/σ′ − r eⱼ/σ)²/(1 − r²).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Class {
    /// Σ e², weight 1/σ².
    Alone {
        /// Stratum of the record.
        stratum: u32,
    },
    /// Σ e² of the later of two records, weight 1/(σ²(1 − r²)).
    Later {
        /// Stratum of the record.
        stratum: u32,
        /// Gap to the record before.
        gap: i32,
    },
    /// Σ e² of the earlier of two records, weight r²/(σ²(1 − r²)).
    Earlier {
        /// Stratum of the record.
        stratum: u32,
        /// Gap to the record after.
        gap: i32,
    },
    /// Σ (e e′ + e′ e) of two successive records, weight −r/(σσ′(1 − r²)).
    Between {
        /// Strata of the two, the lower first.
        strata: (u32, u32),
        /// The gap.
        gap: i32,
    },
}

/// The structure over the rows used.
#[derive(Debug, Clone, PartialEq)]
pub struct ResidualStructure {
    /// Stratum of each row.
    pub stratum: Vec<u32>,
    /// The strata; one, unnamed, where there is one variance.
    pub strata: Vec<Levels>,
    /// Rows in each stratum.
    pub counts: Vec<usize>,
    /// The series, where records are autocorrelated.
    pub series: Option<Series>,
}

/// Series of records.
#[derive(Debug, Clone, PartialEq)]
pub struct Series {
    /// For each row, its series.
    pub of_row: Vec<u32>,
    /// For each series its rows, in order.
    pub rows: Vec<Vec<usize>>,
    /// For each series the place of each of its rows in the order column.
    pub places: Vec<Vec<i64>>,
    /// Number of successive pairs by gap.
    pub gaps: BTreeMap<i32, usize>,
    /// For each series the first one of equal gaps and strata: the two have one covariance.
    pub like: Vec<usize>,
}

impl ResidualStructure {
    /// The structure that a model asks for.
    pub fn new(model: &Model, table: &Table) -> Result<Self, CannotFit> {
        let names = &model.residual.variance_by;
        let (stratum, combinations) = combine(table, names);
        let strata: Vec<Levels> = combinations.iter().map(|codes| levels(table, names, codes)).collect();
        let mut counts = vec![0; strata.len()];
        stratum.iter().for_each(|code| counts[*code as usize] += 1);
        let mut series = Series::new(model, table)?;
        if let Some(series) = &mut series {
            series.find_like(&stratum);
        }
        Ok(Self { stratum, strata, counts, series })
    }

    /// The parts of the inverse covariance that one record, and the pair it makes with the record
    /// before it in its series, belong to: (class, first row, second row).
    pub fn parts(&self, row: usize, before: Option<(usize, i32)>) -> impl Iterator<Item = (Class, usize, usize)> {
        let stratum = self.stratum[row];
        let parts = match before {
            None => [Some((Class::Alone { stratum }, row, row)), None, None],
            Some((earlier, gap)) => {
                let other = self.stratum[earlier];
                let strata = (stratum.min(other), stratum.max(other));
                [
                    Some((Class::Later { stratum, gap }, row, row)),
                    Some((Class::Earlier { stratum: other, gap }, earlier, earlier)),
                    Some((Class::Between { strata, gap }, earlier, row)),
                ]
            }
        };
        parts.into_iter().flatten()
    }
}

/// The names and levels of one combination.
pub fn levels(table: &Table, names: &[String], codes: &[u32]) -> Levels {
    let level = |(name, code): (&String, &u32)| {
        let level = table.factors.get(name).and_then(|factor| factor.levels.get(*code as usize));
        (name.clone(), level.cloned().unwrap_or_default())
    };
    Levels(names.iter().zip(codes).map(level).collect())
}

impl Series {
    fn new(model: &Model, table: &Table) -> Result<Option<Self>, CannotFit> {
        let Some(serial) = &model.residual.serial else { return Ok(None) };
        let order = table.numbers.get(&serial.order).cloned().unwrap_or_default();
        check_whole(&serial.order, &order, table)?;
        let (of_row, combinations) = combine(table, &serial.within);
        let mut rows: Vec<Vec<usize>> = vec![Vec::new(); combinations.len()];
        of_row.iter().enumerate().for_each(|(row, series)| rows[*series as usize].push(row));
        let mut series = Self { of_row, rows, places: Vec::new(), gaps: BTreeMap::new(), like: Vec::new() };
        for (rows, codes) in series.rows.iter_mut().zip(&combinations) {
            rows.sort_by(|a, b| order[*a].total_cmp(&order[*b]).then(a.cmp(b)));
            let places: Vec<i64> = rows.iter().map(|row| order[*row] as i64).collect();
            for pair in places.windows(2) {
                let gap = i32::try_from(pair[1] - pair[0]).unwrap_or(i32::MAX);
                if gap == 0 {
                    let (order, value) = (serial.order.clone(), pair[0].to_string());
                    let series = levels(table, &serial.within, codes).to_string();
                    return Err(CannotFit::SeriesRepeated { series, order, value });
                }
                *series.gaps.entry(gap).or_insert(0) += 1;
            }
            series.places.push(places);
        }
        if series.gaps.is_empty() {
            return Err(CannotFit::SeriesOfOne { within: serial.within.join(" × ") });
        }
        Ok(Some(series))
    }
}

impl Series {
    fn find_like(&mut self, stratum: &[u32]) {
        let mut seen: BTreeMap<(Vec<i64>, Vec<u32>), usize> = BTreeMap::new();
        for (index, (rows, places)) in self.rows.iter().zip(&self.places).enumerate() {
            let from = places.first().copied().unwrap_or(0);
            let gaps = places.iter().map(|place| place - from).collect();
            let strata = rows.iter().map(|row| stratum[*row]).collect();
            self.like.push(*seen.entry((gaps, strata)).or_insert(index));
        }
    }
}

fn check_whole(name: &str, order: &[f64], table: &Table) -> Result<(), CannotFit> {
    let bad = order.iter().position(|place| place.fract() != 0.0 || place.abs() > 9e15);
    match bad {
        None => Ok(()),
        Some(index) => Err(CannotFit::ValueOutside {
            column: name.to_owned(),
            row: table.rows[index] + 1,
            found: order[index].to_string(),
            expected: "a whole number: the column orders the records of a series".to_owned(),
        }),
    }
}
