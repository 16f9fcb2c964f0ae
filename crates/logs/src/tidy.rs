//! A plain table for `crosshouse fit`: a header and rows of text, each with its row number.
use crate::source::{self, Broken, Unreadable, agree_on_delimiter, decode, split};
use crosshouse_readings::{Fault, Place};
use std::path::Path;

/// Columns of text by header, rows in file order.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TidyTable {
    /// Last part of the path.
    pub name: String,
    pub headers: Vec<String>,
    /// One a header, each with one cell a row; `None` = missing (a blank cell or `NA`).
    pub columns: Vec<Vec<Option<String>>>,
    /// Row numbers as an editor shows them.
    pub row_numbers: Vec<u32>,
}

impl TidyTable {
    /// The cells of the column with this header.
    pub fn column(&self, header: &str) -> Option<&[Option<String>]> {
        let index = self.headers.iter().position(|h| h == header)?;
        self.columns.get(index).map(Vec::as_slice)
    }
}

/// Reads a delimited table: UTF-8 (or with a byte-order mark), quotes, any of `,` `;` tab `|`.
///
/// # Errors
/// All faults of the file: not a file, empty, not text, header or rows missing, a header twice,
/// rows with more or fewer cells than the header.
pub fn read(path: &Path) -> Result<TidyTable, Vec<Fault>> {
    let name = path.file_name().map_or_else(|| path.display().to_string(), |n| n.to_string_lossy().into_owned());
    let whole = |why: Unreadable| vec![fault(&name, why.code, why.title, why.row, why.found, why.expected, why.mend)];
    let raw = source::read_bytes(path).map_err(whole)?;
    let text = decode(raw.bytes, Some("utf-8")).map_err(whole)?.text;
    let agreed = agree_on_delimiter(&text, 0, None, &[]);
    let parts = split(&text, agreed.delimiter);
    let mut faults: Vec<Fault> = parts.broken.iter().map(|b| broken(&name, *b)).collect();
    let grid = parts.grid;
    let used: Vec<usize> = (0..grid.len()).filter(|r| !grid.is_blank(*r)).collect();
    let Some((header, rows)) = used.split_first() else {
        faults.push(fault(
            &name,
            "header-missing",
            "no header in the file",
            None,
            "only blank lines".into(),
            "a header and rows".into(),
            "write the table again".into(),
        ));
        return Err(faults);
    };
    let headers: Vec<String> = grid.row(*header).map(|c| c.text.to_owned()).collect();
    faults.extend(header_faults(&name, grid.number(*header), &headers));
    if rows.is_empty() {
        faults.push(fault(
            &name,
            "no-rows",
            "a header and no rows",
            None,
            "no row below the header".into(),
            "at least one row".into(),
            "write the table again".into(),
        ));
    }
    let ragged: Vec<(u32, usize)> =
        rows.iter().filter(|r| grid.width(**r) != headers.len()).map(|r| (grid.number(*r), grid.width(*r))).collect();
    faults.extend(ragged_fault(&name, headers.len(), &ragged));
    if !faults.is_empty() {
        return Err(faults);
    }
    let value = |text: &str| (!text.is_empty() && text != "NA").then(|| text.to_owned());
    let columns = (0..headers.len()).map(|c| rows.iter().map(|r| value(grid.cell(*r, c).text)).collect()).collect();
    Ok(TidyTable { name, headers, columns, row_numbers: rows.iter().map(|r| grid.number(*r)).collect() })
}

fn fault(file: &str, code: &str, title: &str, row: Option<u32>, found: String, expected: String, mend: String) -> Fault {
    Fault {
        code: code.into(),
        title: title.into(),
        place: Place { file: file.into(), row, column: None },
        found,
        expected,
        mend,
        also_rows: Vec::new(),
        fatal: true,
    }
}

fn broken(name: &str, broken: Broken) -> Fault {
    let (code, title, row, found) = match broken {
        Broken::Unclosed(row) => {
            ("quote-unclosed", "a quotation mark that is never closed", row, "a cell that begins with \" and has no closing \"")
        }
        Broken::TooLong(row) => ("line-too-long", "a line too long to be a row", row, "more than 1 MB"),
        Broken::TooWide(row) => ("row-too-wide", "a row too wide to be one", row, "more than 10,000 cells"),
    };
    fault(name, code, title, Some(row), found.into(), "rows of a table".into(), "correct the line, or write the table again".into())
}

fn header_faults(name: &str, row: u32, headers: &[String]) -> Vec<Fault> {
    let mut faults = Vec::new();
    for (i, header) in headers.iter().enumerate() {
        let found = if header.is_empty() {
            format!("column {} has none", i + 1)
        } else if headers.iter().take(i).any(|h| h == header) {
            format!("\"{header}\" twice")
        } else {
            continue;
        };
        faults.push(fault(
            name,
            "header-unusable",
            "not a header for every column",
            Some(row),
            found,
            "a name of its own for each column".into(),
            "correct the header".into(),
        ));
    }
    faults
}

fn ragged_fault(name: &str, width: usize, ragged: &[(u32, usize)]) -> Option<Fault> {
    let ((first, cells), further) = ragged.split_first()?;
    let mut told = fault(
        name,
        "row-ragged",
        "a row with another number of cells than the header",
        Some(*first),
        format!("{cells} cells"),
        format!("{width} cells, as the header has"),
        "put cells that hold the delimiter in quotes; write NA or nothing for a missing value".into(),
    );
    told.also_rows = further.iter().map(|(row, _)| *row).collect();
    Some(told)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn written(text: &[u8]) -> Result<TidyTable, Vec<Fault>> {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("t.csv");
        std::fs::write(&path, text).unwrap();
        read(&path)
    }

    #[test]
    fn ok_blank_and_na_are_missing_and_rows_keep_their_numbers() {
        let table = written("\u{feff}site,y\r\n\"a, b\",1.5\r\n\r\nc,NA\r\nd,\r\n".as_bytes()).unwrap();
        assert_eq!(table.headers, ["site", "y"]);
        assert_eq!(table.row_numbers, [2, 4, 5]);
        assert_eq!(table.column("site").unwrap()[0].as_deref(), Some("a, b"));
        assert_eq!(table.column("y").unwrap(), [Some("1.5".to_owned()), None, None]);
    }

    #[test]
    fn ok_semicolons_and_tabs() {
        assert_eq!(written(b"a;b\n1;2\n").unwrap().headers, ["a", "b"]);
        assert_eq!(written(b"a\tb\n1\t2\n").unwrap().headers, ["a", "b"]);
        assert_eq!(written(b"y\n1\n2\n").unwrap().headers, ["y"]);
    }

    #[test]
    fn err_ragged_rows_are_one_fault_with_all_their_rows() {
        let faults = written(b"a,b\n1,2\n1\n1,2,3\n").unwrap_err();
        assert_eq!((faults.len(), faults[0].place.row, faults[0].also_rows.as_slice()), (1, Some(3), [4].as_slice()));
    }

    #[test]
    fn err_not_utf8_empty_folder_absent() {
        assert_eq!(written(b"a,b\n\xe9,2\n").unwrap_err()[0].found, "byte 0xE9 at offset 4 (row 2) is not UTF-8");
        assert_eq!(written(b"").unwrap_err()[0].code, "file-empty");
        let folder = tempfile::tempdir().unwrap();
        assert_eq!(read(folder.path()).unwrap_err()[0].code, "file-is-folder");
        assert_eq!(read(&folder.path().join("x")).unwrap_err()[0].found, "no such file");
    }
}
