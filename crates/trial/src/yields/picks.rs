//! Pick rows summed by unit and day, in one table query. Rows are sorted by content first, so that the
//! order of rows in the logs moves no digit.
use crate::calendar::{day_number, from_day_number};
use crosshouse_logs::tables::{GradeKind, Pick};
use jiff::civil::Date;
use polars::prelude::*;

/// One unit's picks of one day.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct PickDay {
    pub unit: usize,
    pub day: Date,
    /// kg
    pub marketable: f64,
    pub cull: f64,
    /// fruit, marketable and cull
    pub fruit: f64,
    pub fruit_marketable: f64,
    /// kg and fruit of marketable rows that have both: the mean fruit mass is the ratio of their sums
    pub paired_mass: f64,
    pub paired_fruit: f64,
    /// Rows without a mass, rows with fruit but without a count, rows with a flag.
    pub unweighed: u32,
    pub uncounted: u32,
    pub flagged: u32,
}

impl PickDay {
    pub fn total(&self) -> f64 {
        self.marketable + self.cull
    }

    /// Whether fruit came off.
    pub fn bears(&self) -> bool {
        self.total() > 0.0 || self.fruit > 0.0
    }
}

/// Sums by unit and day, in that order; without `flagged`, of rows that carry no flag.
///
/// # Errors
/// The table engine's own error.
pub(super) fn by_day(picks: &[Pick], flagged: bool) -> PolarsResult<Vec<PickDay>> {
    if picks.is_empty() {
        return Ok(Vec::new());
    }
    let rows = frame(picks)?.lazy().filter(lit(flagged).or(col("flagged").not()));
    let content = ["unit", "day", "marketable", "mass", "count", "flagged"];
    let sums = rows.sort(content, SortMultipleOptions::default()).group_by_stable([col("unit"), col("day")]).agg(sums()).collect()?;
    read(&sums)
}

fn frame(picks: &[Pick]) -> PolarsResult<DataFrame> {
    df![
        "unit" => picks.iter().map(|p| p.unit as u32).collect::<Vec<_>>(),
        "day" => picks.iter().map(|p| day_number(p.day)).collect::<Vec<_>>(),
        "marketable" => picks.iter().map(|p| p.kind == GradeKind::Marketable).collect::<Vec<_>>(),
        "mass" => picks.iter().map(|p| p.mass).collect::<Vec<_>>(),
        "count" => picks.iter().map(|p| p.count).collect::<Vec<_>>(),
        "flagged" => picks.iter().map(|p| !p.flags.is_empty()).collect::<Vec<_>>(),
    ]
}

fn sums() -> Vec<Expr> {
    let (mass, count, marketable) = (|| col("mass"), || col("count"), || col("marketable"));
    let paired = || marketable().and(mass().is_not_null()).and(count().is_not_null()).and(count().gt(lit(0.0)));
    let number = |e: Expr, name: &str| e.cast(DataType::Float64).alias(name);
    vec![
        number(mass().filter(marketable()).sum(), "marketable_kg"),
        number(mass().filter(marketable().not()).sum(), "cull_kg"),
        number(count().sum(), "fruit"),
        number(count().filter(marketable()).sum(), "fruit_marketable"),
        number(mass().filter(paired()).sum(), "paired_mass"),
        number(count().filter(paired()).sum(), "paired_fruit"),
        number(mass().is_null().sum(), "unweighed"),
        number(mass().gt(lit(0.0)).and(count().is_null()).sum(), "uncounted"),
        number(col("flagged").sum(), "flagged_rows"),
    ]
}

fn read(sums: &DataFrame) -> PolarsResult<Vec<PickDay>> {
    let units = sums.column("unit")?.u32()?;
    let days = sums.column("day")?.i32()?;
    let numbers = |name: &str| -> PolarsResult<Vec<f64>> { Ok(sums.column(name)?.f64()?.iter().map(|x| x.unwrap_or(0.0)).collect()) };
    let names =
        ["marketable_kg", "cull_kg", "fruit", "fruit_marketable", "paired_mass", "paired_fruit", "unweighed", "uncounted", "flagged_rows"];
    let columns = names.into_iter().map(numbers).collect::<PolarsResult<Vec<_>>>()?;
    let keys = units.iter().zip(days.iter()).enumerate();
    let row = |(i, key): (usize, (Option<u32>, Option<i32>))| {
        let at = |k: usize| columns.get(k).and_then(|c| c.get(i)).copied().unwrap_or(0.0);
        Some(PickDay {
            unit: key.0? as usize,
            day: from_day_number(key.1?),
            marketable: at(0),
            cull: at(1),
            fruit: at(2),
            fruit_marketable: at(3),
            paired_mass: at(4),
            paired_fruit: at(5),
            unweighed: at(6) as u32,
            uncounted: at(7) as u32,
            flagged: at(8) as u32,
        })
    };
    Ok(keys.filter_map(row).collect())
}
