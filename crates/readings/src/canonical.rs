//! The dictionary of the canonical columns: name, UCUM unit, description of every column of every
//! clean table. Arrow fields carry both as metadata under [`UNIT_KEY`] and [`DESCRIPTION_KEY`].
use arrow::datatypes::{DataType, Field, Schema, TimeUnit};
use std::collections::HashMap;

mod columns;

/// Metadata key of a field's UCUM code. Text, dates and truth values have none.
pub const UNIT_KEY: &str = "unit";
/// Metadata key of a field's description.
pub const DESCRIPTION_KEY: &str = "description";

/// A clean table.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Table {
    Units,
    Harvest,
    Climate,
    RootZone,
    Diary,
}

impl Table {
    pub const ALL: [Table; 5] = [Table::Units, Table::Harvest, Table::Climate, Table::RootZone, Table::Diary];

    /// As in messages and in [`crate::SetAside::log`].
    pub fn words(self) -> &'static str {
        match self {
            Table::Units => "units",
            Table::Harvest => "harvest",
            Table::Climate => "climate",
            Table::RootZone => "root zone",
            Table::Diary => "diary",
        }
    }

    /// As in file names.
    pub fn file_stem(self) -> &'static str {
        match self {
            Table::RootZone => "root-zone",
            other => other.words(),
        }
    }
}

/// What a column holds, as far as storage goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Holds {
    Text,
    Number,
    Whole,
    YesNo,
    Day,
    /// Seconds since 1970-01-01T00:00:00Z.
    Instant,
    /// A list of codes, separated by blanks.
    Codes,
}

impl Holds {
    fn data_type(self) -> DataType {
        match self {
            Holds::Text | Holds::Codes => DataType::Utf8,
            Holds::Number => DataType::Float64,
            Holds::Whole => DataType::UInt32,
            Holds::YesNo => DataType::Boolean,
            Holds::Day => DataType::Date32,
            Holds::Instant => DataType::Timestamp(TimeUnit::Second, Some("UTC".into())),
        }
    }
}

/// One column of the dictionary.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Column {
    pub name: &'static str,
    pub holds: Holds,
    /// UCUM; "" where a unit has no meaning.
    pub unit: &'static str,
    pub description: &'static str,
    /// Whether a row may lack it.
    pub optional: bool,
}

/// The columns of a clean table, in order. Factors and free measures follow them: [`factor_field`], [`measure_field`].
pub fn columns(table: Table) -> &'static [Column] {
    match table {
        Table::Units => columns::UNITS,
        Table::Harvest => columns::HARVEST,
        Table::Climate => columns::CLIMATE,
        Table::RootZone => columns::ROOT_ZONE,
        Table::Diary => columns::DIARY,
    }
}

/// The Arrow schema of a clean table, units and descriptions in the field metadata.
pub fn schema(table: Table) -> Schema {
    schema_with(table, Vec::new())
}

/// The same with further fields after the fixed ones.
pub fn schema_with(table: Table, further: Vec<Field>) -> Schema {
    let mut fields: Vec<Field> = columns(table).iter().map(arrow_field).collect();
    fields.extend(further);
    Schema::new(fields)
}

/// A treatment factor as a column of the units table, named `factor:NAME`.
pub fn factor_field(name: &str) -> Field {
    described(Field::new(format!("factor:{name}"), DataType::Utf8, true), "", "level of the treatment factor, as the season file names it")
}

/// A free measure as a column of the harvest table, named `measure:NAME`, in the unit as declared.
pub fn measure_field(name: &str, unit: &str) -> Field {
    described(Field::new(format!("measure:{name}"), DataType::Float64, true), unit, "free measure in the unit as declared, not converted")
}

fn arrow_field(column: &Column) -> Field {
    described(Field::new(column.name, column.holds.data_type(), column.optional), column.unit, column.description)
}

fn described(field: Field, unit: &str, description: &str) -> Field {
    let mut metadata = HashMap::from([(DESCRIPTION_KEY.to_owned(), description.to_owned())]);
    if !unit.is_empty() {
        metadata.insert(UNIT_KEY.to_owned(), unit.to_owned());
    }
    field.with_metadata(metadata)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn every_column_has_a_description_and_one_name() {
        for table in Table::ALL {
            let names: BTreeSet<_> = columns(table).iter().map(|c| c.name).collect();
            assert_eq!(names.len(), columns(table).len(), "{table:?}");
            assert!(columns(table).iter().all(|c| !c.description.is_empty()), "{table:?}");
        }
    }

    #[test]
    fn the_mass_of_a_pick_is_in_kilograms_by_its_metadata() {
        let schema = schema(Table::Harvest);
        let mass = schema.field_with_name("mass").unwrap();
        assert_eq!(mass.metadata().get(UNIT_KEY).map(String::as_str), Some("kg"));
        assert_eq!(mass.data_type(), &DataType::Float64);
    }

    #[test]
    fn every_row_names_its_file_and_row() {
        for table in Table::ALL {
            let schema = schema(table);
            assert!(schema.field_with_name("source_file").is_ok() && schema.field_with_name("source_row").is_ok());
        }
    }

    #[test]
    fn every_unit_of_the_dictionary_is_the_canonical_unit_of_a_quantity_or_a_number_of_things() {
        let known: BTreeSet<_> = crate::units::UNITS.iter().map(|u| u.quantity.canonical()).collect();
        for column in Table::ALL.into_iter().flat_map(columns).filter(|c| !c.unit.is_empty()) {
            let annotated = column.unit.starts_with('{') && column.unit.ends_with('}');
            assert!(annotated || column.unit == "s" || known.contains(column.unit), "{}", column.name);
        }
    }
}
