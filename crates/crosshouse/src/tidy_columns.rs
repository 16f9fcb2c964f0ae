//! A tidy table of text, as the columns of numbers and categories that a model uses.
use crosshouse_logs::tidy::TidyTable;
use crosshouse_mixed::{Columns, Model};
use crosshouse_readings::{Fault, Place};

/// The columns that `model` names and the table has; absent ones are the engine's to tell.
///
/// # Errors
/// Every cell of a numeric column that is not a finite number, told column by column.
pub fn columns(table: &TidyTable, model: &Model) -> Result<Columns, Vec<Fault>> {
    let mut columns = Columns::new(table.row_numbers.len());
    let mut faults = Vec::new();
    for name in names(model) {
        let Some(cells) = table.column(&name) else { continue };
        let added = if model.categories.contains(&name) {
            columns.category_with_missing(&name, cells)
        } else {
            columns.number_with_missing(&name, &numbers(table, &name, cells, &mut faults))
        };
        if let Err(why) = added {
            faults.push(fault(table, &name, None, "not a usable column", &why.to_string(), "one column of this name", vec![]));
        }
    }
    if faults.is_empty() { Ok(columns) } else { Err(faults) }
}

/// Every column that the model names, once.
fn names(model: &Model) -> Vec<String> {
    let terms = model.effects.iter().chain(&model.groups).flatten();
    let varying = model.varying.iter().flat_map(|v| v.over.iter().chain(v.effects.iter().flatten()));
    let serial = model.residual.serial.iter().flat_map(|s| s.within.iter().chain([&s.order]));
    let compared = model.compare.iter().flat_map(|c| c.means_of.iter().chain(&c.within));
    let singles = [Some(&model.response), model.trials.as_ref(), model.offset.as_ref()];
    let all = singles
        .into_iter()
        .flatten()
        .chain(&model.categories)
        .chain(terms)
        .chain(varying)
        .chain(&model.residual.variance_by)
        .chain(serial)
        .chain(compared);
    let mut names: Vec<String> = all.cloned().collect();
    names.sort();
    names.dedup();
    names
}

fn numbers(table: &TidyTable, name: &str, cells: &[Option<String>], faults: &mut Vec<Fault>) -> Vec<Option<f64>> {
    let read: Vec<Option<Result<f64, &str>>> = cells.iter().map(|c| c.as_deref().map(number)).collect();
    let bad: Vec<(u32, &str)> =
        read.iter().zip(&table.row_numbers).filter_map(|(r, row)| Some((*row, r.as_ref()?.as_ref().err().copied()?))).collect();
    if let Some(((row, found), rest)) = bad.split_first() {
        let also = rest.iter().map(|(r, _)| *r).collect();
        faults.push(fault(
            table,
            name,
            Some(*row),
            "not a number",
            found,
            "a finite number with a decimal point; missing cells are empty or NA",
            also,
        ));
    }
    read.into_iter().map(|r| r.and_then(Result::ok)).collect()
}

/// A finite decimal number; words that stand for infinity or for no number are refused.
fn number(text: &str) -> Result<f64, &str> {
    let text = text.trim();
    let digits = text.bytes().any(|b| b.is_ascii_digit())
        && text.bytes().all(|b| b.is_ascii_digit() || matches!(b, b'.' | b'-' | b'+' | b'e' | b'E'));
    text.parse().ok().filter(|x: &f64| digits && x.is_finite()).ok_or(text)
}

fn fault(table: &TidyTable, column: &str, row: Option<u32>, title: &str, found: &str, expected: &str, also_rows: Vec<u32>) -> Fault {
    Fault {
        code: "table-not-a-number".into(),
        title: title.into(),
        place: Place { file: table.name.as_str().into(), row, column: Some(column.into()) },
        found: found.into(),
        expected: expected.into(),
        mend: "correct the cell, or list the column under `categories` if it names groups".into(),
        also_rows,
        fatal: true,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn infinity_and_words_are_no_numbers() {
        for text in ["inf", "NaN", "1e999", "1,5", "12 kg", ""] {
            assert!(number(text).is_err(), "{text}");
        }
        assert_eq!(number(" -1.5e2 "), Ok(-150.0));
    }
}
