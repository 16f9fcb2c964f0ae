//! Why there is no fit: an unusable model or table, or data that cannot carry the model.

use crate::model::ModelFaults;
use crate::result::SeparatedCell;

/// The reason that no fit exists. Each has a stable [`code`](CannotFit::code), a
/// [`mend`](CannotFit::mend) and an [`exit_status`](CannotFit::exit_status).
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum CannotFit {
    /// The model contradicts itself.
    #[error("{0}")]
    Model(#[from] ModelFaults),
    /// A column that the model names is not in the table.
    #[error("column \"{column}\", which the model uses as {role}, is not in the table; its columns are {found}")]
    ColumnAbsent {
        /// The column.
        column: String,
        /// What the model uses it for.
        role: String,
        /// The columns there are.
        found: String,
    },
    /// A column that must hold numbers holds categories.
    #[error("column \"{column}\" is used as {role} and must be numeric; it holds categories")]
    NotNumeric {
        /// The column.
        column: String,
        /// What the model uses it for.
        role: String,
    },
    /// A column that must hold categories holds numbers.
    #[error("column \"{column}\" is used as {role} and must be read as categories; it holds numbers")]
    NotCategories {
        /// The column.
        column: String,
        /// What the model uses it for.
        role: String,
    },
    /// An infinite value.
    #[error("column \"{column}\", row {row}: found an infinite value; expected a finite number or a missing cell")]
    Infinite {
        /// The column.
        column: String,
        /// Row of the table, from 1.
        row: usize,
    },
    /// A value outside what the column is used for.
    #[error("column \"{column}\", row {row}: found {found}; expected {expected}")]
    ValueOutside {
        /// The column.
        column: String,
        /// Row of the table, from 1.
        row: usize,
        /// The value.
        found: String,
        /// What may stand there.
        expected: String,
    },
    /// Several faults of one table, each of the kinds above.
    #[error("{}", together(.faults))]
    Several {
        /// The faults, column by column.
        faults: Vec<CannotFit>,
    },
    /// `against X` where X is no level.
    #[error("`pairs = \"against {level}\"`: \"{level}\" is no level of \"{category}\"; its levels are {levels}")]
    LevelAbsent {
        /// The level named.
        level: String,
        /// The category.
        category: String,
        /// The levels there are.
        levels: String,
    },
    /// Counts or shares that no finite effect describes.
    #[error("{cells} {found}: on the {scale} scale the effects have no finite estimate there, and no standard error")]
    Separation {
        /// Where, by the levels of the categories.
        cells: String,
        /// What is found there.
        found: String,
        /// The link.
        scale: String,
        /// The same as data.
        separated: Vec<SeparatedCell>,
    },
    /// The search for the parameters of a discrete family found no rest.
    #[error("the search for the maximum of the likelihood did not settle: a derivative of {gradient:e} is left")]
    NotSettled {
        /// The largest derivative left.
        gradient: f64,
    },
    /// No complete row.
    #[error("no row is complete in the columns that the model uses ({rows} rows in the table)")]
    NoRows {
        /// Rows of the table.
        rows: usize,
    },
    /// As many effects as rows.
    #[error("{rows} rows cannot estimate {effects} effect columns and a residual variance: no freedom is left")]
    NoFreedom {
        /// Rows used.
        rows: usize,
        /// Rank of the effects.
        effects: usize,
    },
    /// Nothing is left unexplained.
    #[error("{explained} reproduce every record exactly: no residual variation is left to judge anything by")]
    NoResidualVariation {
        /// What does.
        explained: String,
    },
    /// Each level of a grouping has one record.
    #[error("each combination of {group} holds one record: its variance cannot be told from the residual's")]
    GroupIsResidual {
        /// The grouping.
        group: String,
    },
    /// Two groupings divide the records alike.
    #[error("{first} and {second} divide the records in the same way: their variances cannot be told apart")]
    GroupsAlike {
        /// One grouping.
        first: String,
        /// The other.
        second: String,
    },
    /// A grouping varies only as fixed effects do.
    #[error("the effects {effects} already account for every combination of {group}: nothing is left to estimate its variance from")]
    GroupWithinEffects {
        /// The grouping.
        group: String,
        /// The effects.
        effects: String,
    },
    /// Variances that cannot be told apart for another reason.
    #[error("the variances of {terms} cannot be told apart by these records")]
    VariancesConfounded {
        /// The terms.
        terms: String,
    },
    /// Two records of a series at one place.
    #[error("the series {series} has two records at {order} = {value}")]
    SeriesRepeated {
        /// The series.
        series: String,
        /// The order column.
        order: String,
        /// The place.
        value: String,
    },
    /// No series with two records.
    #[error("no combination of {within} holds two records: there is nothing to estimate an autocorrelation from")]
    SeriesOfOne {
        /// The categories of the series.
        within: String,
    },
    /// Two searches, two answers.
    #[error("the search has no single answer: log-likelihood {first} at {first_at}, {second} at {second_at}")]
    NoSingleAnswer {
        /// The first log-likelihood.
        first: f64,
        /// Its variance parameters.
        first_at: String,
        /// The second log-likelihood.
        second: f64,
        /// Its variance parameters.
        second_at: String,
    },
    /// The arithmetic broke down.
    #[error("the likelihood of these data is not finite at {place}")]
    NotFinite {
        /// Where.
        place: String,
    },
}

/// Faults told in one sentence at most.
const TOLD: usize = 20;

fn together(faults: &[CannotFit]) -> String {
    let told: Vec<String> = faults.iter().take(TOLD).map(ToString::to_string).collect();
    let more = faults.len().saturating_sub(TOLD);
    let rest = if more > 0 { format!("; and {more} more") } else { String::new() };
    format!("{} faults: {}{rest}", faults.len(), told.join("; "))
}

impl CannotFit {
    /// Nothing, the one fault, or all of them together.
    pub(crate) fn all_of(mut faults: Vec<Self>) -> Result<(), Self> {
        match faults.len() {
            0 => Ok(()),
            1 => Err(faults.remove(0)),
            _ => Err(Self::Several { faults }),
        }
    }

    /// Each fault by itself.
    pub fn each(&self) -> &[Self] {
        match self {
            Self::Several { faults } => faults,
            one => std::slice::from_ref(one),
        }
    }

    /// The stable code; of several faults that of the first.
    pub fn code(&self) -> &'static str {
        match self {
            Self::Several { faults } => faults.first().map_or("value-outside", Self::code),
            Self::Model(_) => "model-unusable",
            Self::ColumnAbsent { .. } => "column-absent",
            Self::NotNumeric { .. } => "column-not-numeric",
            Self::NotCategories { .. } => "column-not-categories",
            Self::Infinite { .. } => "value-infinite",
            Self::ValueOutside { .. } => "value-outside",
            Self::LevelAbsent { .. } => "level-absent",
            Self::Separation { .. } => "separation",
            Self::NotSettled { .. } => "not-settled",
            Self::NoRows { .. } => "no-rows",
            Self::NoFreedom { .. } => "no-freedom",
            Self::NoResidualVariation { .. } => "no-residual-variation",
            Self::GroupIsResidual { .. } => "group-is-residual",
            Self::GroupsAlike { .. } => "groups-alike",
            Self::GroupWithinEffects { .. } => "group-within-effects",
            Self::VariancesConfounded { .. } => "variances-confounded",
            Self::SeriesRepeated { .. } => "series-repeated",
            Self::SeriesOfOne { .. } => "series-of-one",
            Self::NoSingleAnswer { .. } => "no-single-answer",
            Self::NotFinite { .. } => "not-finite",
        }
    }

    /// 2: the model or the table is unusable. 3: the model cannot be fitted from these data.
    pub fn exit_status(&self) -> u8 {
        match self {
            Self::Model(_)
            | Self::ColumnAbsent { .. }
            | Self::NotNumeric { .. }
            | Self::NotCategories { .. }
            | Self::Infinite { .. }
            | Self::ValueOutside { .. }
            | Self::Several { .. }
            | Self::LevelAbsent { .. } => 2,
            _ => 3,
        }
    }

    /// What can be done about it.
    pub fn mend(&self) -> &'static str {
        match self {
            Self::Several { .. } => "mend each place named",
            Self::Model(_) => "mend the model at the keys named",
            Self::ColumnAbsent { .. } => "correct the name in the model, or add the column to the table",
            Self::NotNumeric { .. } => "take the column out of `categories`, or name another",
            Self::NotCategories { .. } => "list the column under `categories`",
            Self::Infinite { .. } => "correct the cell, or leave it empty",
            Self::ValueOutside { .. } => "correct the cell, leave it empty, or choose another family or scale",
            Self::LevelAbsent { .. } => "name one of the levels",
            Self::Separation { .. } => {
                "leave these levels out and report what was counted there as it is, join them with others, or leave out the effect that sets them apart"
            }
            Self::NotSettled { .. } => "leave out a random term or an interaction, or bring more records",
            Self::NoRows { .. } => "fill the missing cells, or leave their columns out of the model",
            Self::NoFreedom { .. } => "leave out an effect, or bring more records",
            Self::NoResidualVariation { .. } => "look whether the response is constant, copied or rounded away",
            Self::GroupIsResidual { .. } => "leave the grouping out: the residual already is its variation",
            Self::GroupsAlike { .. } => "keep one of the two",
            Self::GroupWithinEffects { .. } => "make it an effect or a grouping, not both",
            Self::VariancesConfounded { .. } => "leave one of them out, or bring records that tell them apart",
            Self::SeriesRepeated { .. } => "add to `within` what tells the two records apart, or average them",
            Self::SeriesOfOne { .. } => "leave `residual.serial` out, or name the categories of the repeated unit",
            Self::NoSingleAnswer { .. } => "leave out the term whose variance differs between the two answers",
            Self::NotFinite { .. } => "look for values of absurd size in the columns used",
        }
    }
}
